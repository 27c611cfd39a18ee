"""What is believed of a line before it is heard: the readings as arrays, the constants' prior."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.posterior import kernel
from leakgeo.sound.spreading import DB

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.find.levels.readings import Readings
    from leakgeo.sound.constants import Constants, Material


# A shared error below this, a hand's breadth, isn't worth a constant of its own.
SMALLEST_SHIFT_M = 0.05


@dataclass(frozen=True)
class Problem:
    """The arrays that the compiled kernel takes for one line.

    Parameters
    ----------
    readings : ndarray of float, shape (n, 11)
    codes : ndarray of int, shape (n, 9)
    mean, precision : ndarray of float, shape (p,)
        Normal prior of the constants.
    noise : ndarray of float, shape (5,)
    frame : int
        Place among the constants of the shift of the walk whose positions all others are seen from;
        negative where positions are as they stand.
    """

    readings: Floats
    codes: Ints
    mean: Floats
    precision: Floats
    noise: Floats
    frame: int = -1


@dataclass(frozen=True)
class Seen:
    """Where readings of a line, and of others that join it, are seen from that line.

    Parameters
    ----------
    chainage_m, aside_m : ndarray of float, shape (n,)
        Along and across the line, prolonged straight at the tee for those on other lines.
    tee_m, branch_m : ndarray of float, shape (n,)
        Where their line leaves this one, and how far along the pipe from there; 0 for its own.
    along_m : ndarray of float, shape (n,)
        Chainage on their own line; lines are far apart.
    """

    chainage_m: Floats
    aside_m: Floats
    tee_m: Floats
    branch_m: Floats
    along_m: Floats

    @property
    def own(self) -> Bools:
        """Which are on the line itself."""
        return np.asarray(self.branch_m == 0.0)


def on_the_line(readings: Readings) -> Seen:
    """Readings that are all on the line itself."""
    none = np.zeros(len(readings.chainage_m))
    return Seen(readings.chainage_m, none, none, none, readings.chainage_m)


def pose(
    readings: Readings, material: Material, depth_m: float, constants: Constants,
    seen: Seen | None = None,
) -> Problem:  # fmt: skip
    """Lay out readings and prior as the kernel wants them.

    Parameters
    ----------
    readings : Readings
    material : Material
        Of the pipe.
    depth_m : float
        Cover, NaN where it isn't known.
    constants : Constants
    seen : Seen, optional
        Where the readings are; all on the line itself if not given.

    Returns
    -------
    Problem
    """
    seen = seen or on_the_line(readings)
    steps, surfaces = readings.steps, int(readings.surface.max()) + 1
    shift_from = kernel.BANDS + kernel.PER_BAND * len(steps.bands)
    shift_at = _places(readings.shift_sd_m > SMALLEST_SHIFT_M, shift_from)
    frame = _frame(readings, shift_at, seen.own)
    stretch_from = shift_from + int(np.sum(shift_at >= 0))
    stretch_at = _places(readings.step_sd_m > 0.0, stretch_from)
    walk_from = stretch_from + int(np.sum(stretch_at >= 0))
    band_from = walk_from + len(steps.walk_step_db)
    turn_from = band_from + len(steps.band_step_db)
    surface_from = turn_from + len(steps.turn_step_db)
    variance, load, size = _of_stops(readings, constants)
    # Across a tee a walk's shift leads who knows where: there it is each reading's own error.
    strayed = np.where(seen.own, 0.0, readings.shift_sd_m[steps.walk])
    position = readings.position_sd_m**2 + strayed**2
    columns = [
        seen.chainage_m, readings.level_db, variance, position, readings.smear_m, load,
        readings.lever, seen.along_m, seen.aside_m, seen.tee_m, seen.branch_m,
    ]  # fmt: skip
    codes = [
        steps.band,
        size,
        np.where(seen.own, shift_at[steps.walk], -1),
        np.where(seen.own & (shift_at[steps.walk] != frame), frame, -1),
        np.where(seen.own, stretch_at[steps.walk], -1),
        _step_places(steps.walk, walk_from),
        _step_places(steps.band, band_from),
        _step_places(steps.turn, turn_from),
        _step_places(readings.surface, surface_from),
    ]
    mean, sd = _prior(readings, surfaces, material, depth_m, constants)
    return Problem(
        np.ascontiguousarray(np.array(columns).T),
        np.ascontiguousarray(np.array(codes, dtype=np.int64).T),
        mean,
        sd**-2.0,
        _noise(constants),
        frame,
    )


def _of_stops(readings: Readings, constants: Constants) -> tuple[Floats, Floats, Ints]:
    """Variance and load of the readings as `kernel` mixes them by stop, and their places in it.

    A stop heard in several bands has a sum, which carries all that the bands share, and contrasts,
    which carry only what is each band's own; both have a coupling, each its own.
    """
    noise = constants.noise
    own, coupled = noise["own_share"], noise["own_coupling_share"]
    first = np.append(True, readings.stop[1:] != readings.stop[:-1])
    if first.all():
        one = np.ones(len(first), dtype=np.int64)
        return noise["reading_db"] ** 2 + readings.rounding_sd_db**2, one.astype(float), one
    owner = np.cumsum(first) - 1
    count = np.bincount(owner)[owner]
    rounding = (np.bincount(owner, readings.rounding_sd_db**2) / np.bincount(owner))[owner]
    # Eigenvalues of an exchangeable covariance: of the sum, and of any contrast.
    times = np.where(first, 1.0 + (count - 1) * (1.0 - own), own)
    load = np.where(first, 1.0 + (count - 1) * (1.0 - coupled), coupled)
    place = np.where(first, count, np.flatnonzero(first)[owner] - np.arange(len(owner)))
    alone = count == 1
    variance = np.where(alone, 1.0, times) * noise["reading_db"] ** 2 + rounding
    return variance, np.sqrt(np.where(alone, 1.0, load)), place


def _frame(readings: Readings, shift_at: Ints, own: Bools) -> int:
    """Shift of the walk with the closest stops, if no walk stands firm; else -1.

    Seen from the walk that heard the leak best, where the leak is is known well; how far that walk
    is shifted is another question, which doesn't spoil the fit.
    """
    walk, x = readings.steps.walk[own], readings.chainage_m[own]
    walks = np.unique(walk)
    if len(walks) == 0 or np.any(shift_at[walks] < 0):
        return -1
    spacing = [np.ptp(x[walk == w]) / max(np.sum(walk == w) - 1, 0.1) for w in walks]
    return int(shift_at[walks[np.argmin(spacing)]])


def _places(wanted: Bools, begin: int) -> Ints:
    """Places among the constants of those that are wanted; -1 for the others."""
    return np.where(wanted, begin + np.cumsum(wanted) - 1, -1)


def _step_places(code: Ints, begin: int) -> Ints:
    """Places of the steps among the constants; code 0 has none."""
    return np.where(code > 0, begin + code - 1, -1)


def _prior(
    readings: Readings, surfaces: int, material: Material, depth_m: float,
    constants: Constants,
) -> tuple[Floats, Floats]:  # fmt: skip
    """Means and standard deviations of the constants, in the kernel's order."""
    spread = constants.spread
    known = np.isfinite(depth_m) and depth_m > 0
    depth = np.log(depth_m if known else spread["depth_m"])
    share = material.pipe_share
    shared = [
        (depth, spread["known_depth_ln"] if known else spread["depth_ln"]),
        (0.0, spread["smear_ln"]),
        (np.log(share / (1.0 - share)), spread["pipe_share_logit"]),
        (0.0, spread["pipe_side_ln"]),
    ]
    decay = np.log(material.pipe_decay_db_per_m / DB)
    soil = np.log(spread["soil_decay_db_per_m"] / DB)
    floor = -spread["floor_below_db"] / DB, spread["floor_db"] / DB
    band = [
        row
        for name in readings.steps.bands
        for row in (
            (decay + np.log(constants.bands[name].decay_times), spread["pipe_decay_ln"]),
            floor,
            (soil + np.log(constants.bands[name].soil_times), spread["soil_decay_ln"]),
        )
    ]
    common = readings.shift_sd_m[readings.shift_sd_m > SMALLEST_SHIFT_M]
    stretch = readings.step_sd_m[readings.step_sd_m > 0.0]
    steps = [(0.0, float(sd)) for sd in (*common, *stretch, *readings.steps.sizes_db)]
    steps += [(0.0, spread["surface_db"])] * (surfaces - 1)
    level = [(float(np.median(readings.level_db)), spread["level_db"])]
    rows = np.array([*shared, *band, *steps, *level])
    return rows[:, 0], rows[:, 1]


def _noise(constants: Constants) -> Floats:
    noise = constants.noise
    return np.array(
        [noise["coupling_db"] ** 2, noise["coupling_length_m"], 1.0, 1.0, noise["tail_degrees"]]
    )


def with_other(problem: Problem, place_m: float, length_m: float, constants: Constants) -> Problem:
    """The same readings, with another source to fit about `place_m`.

    Parameters
    ----------
    problem : Problem
    place_m : float
        Where the fit of the other source begins.
    length_m : float
        Length of the line: the other source is as likely anywhere along it.
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


def beside(problem: Problem, constants: Constants) -> Problem:
    """The same readings, heard as a source beside the pipe rather than in it."""
    mean, precision = problem.mean.copy(), problem.precision.copy()
    mean[kernel.DEPTH] = np.log(constants.other["away_m"])
    precision[kernel.DEPTH] = constants.other["away_ln"] ** -2.0
    # A logit of -6: next to none of it goes by way of the pipe.
    mean[kernel.PIPED] = -6.0
    return replace(problem, mean=mean, precision=precision)
