"""Input of the kernel for one line: readings as arrays, and the prior of the constants."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.posterior import kernel
from leakgeo.sound.spreading import DB

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.find.levels.readings import Readings
    from leakgeo.sound.constants import Constants, Material


#: Mean and standard deviation of constants of a line that are better known than by their prior:
#: ``depth``, ``pipe_share``, and for each band ``pipe_decay/BAND`` and ``soil_decay/BAND``, as
#: logarithms and logits.
Taught = Mapping[str, tuple[float, float]]
# A shared position error is fitted as a constant only if its standard deviation exceeds this.
MIN_SHIFT_SD_M = 0.05


@dataclass(frozen=True)
class Problem:
    """Arrays that `kernel` takes for one line.

    Parameters
    ----------
    readings : ndarray of float, shape (n, 14)
        Columns as in `kernel.fit_at`.
    codes : ndarray of int, shape (n, 10)
        Columns as in `kernel.fit_at`.
    mean, precision : ndarray of float, shape (p,)
        Normal prior of the constants.
    noise : ndarray of float, shape (5,)
        Entries as in `kernel.fit_at`.
    reference : int
        Index of the shift of the reference walk among the constants: places are given in the
        coordinates of that walk. Negative without a reference walk.
    common_shift_variance : float
        Variance of a shift of all walks together, which adds to that of the reference walk, in
        square metres; 0 without a reference walk.
    visit : ndarray of int, shape (n,)
        Number of the walk of each reading in order of time, or -1 where the order is not known.
    """

    readings: Floats
    codes: Ints
    mean: Floats
    precision: Floats
    noise: Floats
    reference: int = -1
    common_shift_variance: float = 0.0
    visit: Ints = field(default_factory=lambda: np.empty(0, dtype=np.int64))

    def cut(self, rows: Ints | Bools) -> Problem:
        """Return the problem with some of the readings."""
        visit = self.visit[rows] if len(self.visit) else self.visit
        return replace(self, readings=self.readings[rows], codes=self.codes[rows], visit=visit)


@dataclass(frozen=True)
class RelativePositions:
    """Positions of readings relative to a line; some of them are on other lines.

    Parameters
    ----------
    chainage_m, across_m : ndarray of float, shape (n,)
        Along and across the line, which is extended straight at the tee for readings on connected
        lines, and at its ends for readings on lines beside it. Signed for the latter.
    tee_m, branch_m : ndarray of float, shape (n,)
        Chainage of the tee of their line, and distance along their line from it; 0 for readings on
        the line itself. For a line beside: where it is near, and a negative number.
    along_m : ndarray of float, shape (n,)
        Chainage on their own line, with a large distance added between lines.
    lateral : ndarray of int, shape (n,)
        Which lateral error a reading on a line beside shares; -1 for other readings.
    lateral_sd_m : ndarray of float, shape (l,)
        Standard deviation of each lateral error, of both traces together.
    """

    chainage_m: Floats
    across_m: Floats
    tee_m: Floats
    branch_m: Floats
    along_m: Floats
    lateral: Ints
    lateral_sd_m: Floats

    @property
    def own(self) -> Bools:
        """Which readings are on the line itself."""
        return np.asarray(self.branch_m == 0.0)


def positions_on_line(readings: Readings) -> RelativePositions:
    """Return the positions of readings that are all on the line itself."""
    none = np.zeros(len(readings.chainage_m))
    beside = np.full(len(none), -1, dtype=np.int64)
    return RelativePositions(
        readings.chainage_m, none, none, none, readings.chainage_m, beside, np.empty(0)
    )


def build_problem(
    readings: Readings, material: Material, depth_m: float, constants: Constants,
    positions: RelativePositions | None = None, taught: Taught = MappingProxyType({}),
) -> Problem:  # fmt: skip
    """Arrange readings and prior as `kernel` takes them.

    Parameters
    ----------
    readings : Readings
    material : Material
        Material of the pipe.
    depth_m : float
        Cover; NaN if not known.
    constants : Constants
    positions : RelativePositions, optional
        By default all readings are on the line itself.
    taught : Taught
        What is known of the sound of the line besides the prior.

    Returns
    -------
    Problem
    """
    positions = positions or positions_on_line(readings)
    offsets, run, surfaces = readings.offsets, readings.run, int(readings.surface.max()) + 1
    lateral_from = kernel.BANDS + kernel.PER_BAND * len(offsets.bands)
    shift_from = lateral_from + len(positions.lateral_sd_m)
    shift_at = _indices(readings.shift_sd_m > MIN_SHIFT_SD_M, shift_from)
    reference = _reference_walk(readings, shift_at, positions.own)
    stretch_from = shift_from + int(np.sum(shift_at >= 0))
    stretch_at = _indices(readings.spacing_sd_m > 0.0, stretch_from)
    walk_from = stretch_from + int(np.sum(stretch_at >= 0))
    band_from = walk_from + len(offsets.walk_sd_db)
    gain_change_from = band_from + len(offsets.band_sd_db)
    surface_from = gain_change_from + len(offsets.gain_change_sd_db)
    rounding, factor, load, size = _within_stops(readings, constants)
    # On another line the direction of a walk's shift is not known, so the shift counts as an
    # independent error of each reading.
    shift = np.where(positions.own, 0.0, readings.shift_sd_m[run])
    position = readings.position_sd_m**2 + shift**2
    columns = [
        positions.chainage_m, readings.level_db, rounding, position, readings.smear_m, load,
        readings.stops_from_middle, positions.along_m, positions.across_m, positions.tee_m,
        positions.branch_m, _centred(positions), factor, np.zeros(len(factor)),
    ]  # fmt: skip
    codes = [
        offsets.band,
        size,
        np.where(positions.own, shift_at[run], -1),
        np.where(positions.own & (shift_at[run] != reference), reference, -1),
        np.where(positions.own, stretch_at[run], -1),
        np.where(positions.lateral >= 0, lateral_from + positions.lateral, -1),
        _offset_indices(offsets.walk, walk_from),
        _offset_indices(offsets.band, band_from),
        _offset_indices(offsets.gain_change, gain_change_from),
        _offset_indices(readings.surface, surface_from),
    ]
    common = _common_variance(readings, positions.own) if reference >= 0 else 0.0
    mean, sd = _prior(
        readings, surfaces, material, depth_m, constants, common, positions.lateral_sd_m,
        taught,
    )  # fmt: skip
    return Problem(
        np.ascontiguousarray(np.array(columns).T),
        np.ascontiguousarray(np.array(codes, dtype=np.int64).T),
        mean,
        sd**-2.0,
        _central_noise(constants),
        reference,
        common,
        readings.visit if positions.own.all() else np.full(len(factor), -1),
    )


def _common_variance(readings: Readings, own: Bools) -> float:
    """Return the variance of the shift that all walks on the line share.

    In the coordinates of a reference walk it does not affect the fit, and adds at the end.
    """
    runs = np.unique(readings.run[own])
    return float(readings.common_shift_sd_m[runs].min(initial=np.inf)) ** 2 if len(runs) else 0.0


def _centred(positions: RelativePositions) -> Floats:
    """Return places relative to the middle of the readings on the line, over half their span."""
    x = positions.chainage_m
    own = x[positions.own] if positions.own.any() else x
    begin, end = float(own.min()), float(own.max())
    half = 0.5 * (end - begin)
    return np.clip((x - begin) / half - 1.0, -1.0, 1.0) if half > 0.0 else np.zeros(len(x))


def _within_stops(readings: Readings, constants: Constants) -> tuple[Floats, Floats, Floats, Ints]:
    """Return rounding variance, factor, load and number of the readings, as `kernel` rotates them.

    A stop heard in several bands is rotated into a sum, which has all that the bands share, and
    contrasts, which have only what differs between bands. Both have a coupling of their own.
    """
    noise = constants.noise
    own, own_coupling = noise["own_share"], noise["own_coupling_share"]
    first = np.append(True, readings.stop[1:] != readings.stop[:-1])
    rounding = readings.rounding_sd_db**2
    if first.all():
        one = np.ones(len(first), dtype=np.int64)
        return rounding, one.astype(float), one.astype(float), one
    owner = np.cumsum(first) - 1
    count = np.bincount(owner)[owner]
    rounding = (np.bincount(owner, rounding) / np.bincount(owner))[owner]
    # Eigenvalues of an exchangeable covariance: of the sum, and of any contrast.
    factor = np.where(first, 1.0 + (count - 1) * (1.0 - own), own)
    load = np.where(first, 1.0 + (count - 1) * (1.0 - own_coupling), own_coupling)
    number = np.where(first, count, np.flatnonzero(first)[owner] - np.arange(len(owner)))
    alone = count == 1
    return rounding, np.where(alone, 1.0, factor), np.sqrt(np.where(alone, 1.0, load)), number


def _reference_walk(readings: Readings, shift_at: Ints, own: Bools) -> int:
    """Return the index of the shift of the walk with the closest stops; -1 if any has no shift.

    In the coordinates of the walk that heard the leak best the position of the leak is well
    determined. The shift of that walk is uncertain, but it doesn't affect the fit.
    """
    walk, x = readings.run[own], readings.chainage_m[own]
    walks = np.unique(walk)
    if len(walks) == 0 or np.any(shift_at[walks] < 0):
        return -1
    spacing = [np.ptp(x[walk == w]) / max(np.sum(walk == w) - 1, 0.1) for w in walks]
    return int(shift_at[walks[np.argmin(spacing)]])


def _indices(wanted: Bools, begin: int) -> Ints:
    """Return indices among the constants for those wanted; -1 for the others."""
    return np.where(wanted, begin + np.cumsum(wanted) - 1, -1)


def _offset_indices(code: Ints, begin: int) -> Ints:
    """Return indices of level offsets among the constants; code 0 has none."""
    return np.where(code > 0, begin + code - 1, -1)


def _prior(
    readings: Readings, surfaces: int, material: Material, depth_m: float,
    constants: Constants, common_shift_variance: float, lateral_sd_m: Floats,
    taught: Taught,
) -> tuple[Floats, Floats]:  # fmt: skip
    """Return means and standard deviations of the constants, in the order of `kernel`."""
    spread = constants.spread
    known = np.isfinite(depth_m) and depth_m > 0
    depth = np.log(depth_m if known else spread["depth_m"])
    share = material.pipe_share
    shared = [
        taught.get("depth", (depth, spread["known_depth_ln"] if known else spread["depth_ln"])),
        (0.0, spread["smear_ln"]),
        taught.get("pipe_share", (np.log(share / (1.0 - share)), spread["pipe_share_logit"])),
        (0.0, spread["pipe_side_ln"]),
        (0.0, spread["trend_db"] / DB),
    ]
    decay = np.log(material.pipe_decay_db_per_m / DB)
    soil = np.log(spread["soil_decay_db_per_m"] / DB)
    floor = -spread["floor_below_db"] / DB, spread["floor_db"] / DB
    band = [
        row
        for name in readings.offsets.bands
        for row in (
            taught.get(
                f"pipe_decay/{name}",
                (decay + np.log(constants.bands[name].decay_times), spread["pipe_decay_ln"]),
            ),
            floor,
            taught.get(
                f"soil_decay/{name}",
                (soil + np.log(constants.bands[name].soil_times), spread["soil_decay_ln"]),
            ),
        )
    ]
    shift = readings.shift_sd_m[readings.shift_sd_m > MIN_SHIFT_SD_M]
    if common_shift_variance > 0.0:
        shift = np.sqrt(np.maximum(shift**2 - common_shift_variance, MIN_SHIFT_SD_M**2))
    stretch = readings.spacing_sd_m[readings.spacing_sd_m > 0.0]
    errors = (*lateral_sd_m, *shift, *stretch, *readings.offsets.sd_db)
    offsets = [(0.0, float(sd)) for sd in errors]
    offsets += [(0.0, spread["surface_db"])] * (surfaces - 1)
    level = [(float(np.median(readings.level_db)), spread["level_db"])]
    # In one piece each: a loop is compiled anew for arrays that lie otherwise in memory.
    mean, sd = np.ascontiguousarray(np.array([*shared, *band, *offsets, *level]).T)
    return mean, sd


def _central_noise(constants: Constants) -> Floats:
    """Return the noise vector of `kernel` in the middle of the noise law."""
    coupling, length, reading = constants.noise_law.centre()
    noise = constants.noise
    return np.array(
        [coupling**2, length, reading**2, noise["outlier_share"], noise["outlier_times"]]
    )


def with_other_source(
    problem: Problem, place_m: float, length_m: float, constants: Constants
) -> Problem:
    """Return the problem with the constants of another source added.

    Parameters
    ----------
    problem : Problem
    place_m : float
        Place at which the fit of the other source starts.
    length_m : float
        Length of the line: standard deviation of the place of the other source.
    constants : Constants
    """
    other = constants.other
    rows = np.array([
        (-other["below_db"] / DB, other["level_db"] / DB),
        (np.log(other["away_m"]), other["away_ln"]),
        (place_m, length_m),
    ])  # fmt: skip
    return replace(
        problem,
        mean=np.append(problem.mean, rows[:, 0]),
        precision=np.append(problem.precision, rows[:, 1] ** -2.0),
    )


def hump(problem: Problem, constants: Constants) -> Problem:
    """Return the problem with the prior of a hump of any width, without a path by the pipe.

    It is the shape of a source that the physics does not foresee.
    """
    mean, precision = problem.mean.copy(), problem.precision.copy()
    mean[kernel.DEPTH] = np.log(constants.other["away_m"])
    precision[kernel.DEPTH] = constants.other["away_ln"] ** -2.0
    # A logit of -6: almost no sound comes along the pipe.
    mean[kernel.PIPED] = -6.0
    return replace(problem, mean=mean, precision=precision)
