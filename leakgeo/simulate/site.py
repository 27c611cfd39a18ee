"""A simulated line for repeated surveys with any stops."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from leakgeo.simulate.constants import Conditions, draw
from leakgeo.simulate.field import WalkedLine, draw_line, record
from leakgeo.simulate.listen import HeardLevels
from leakgeo.simulate.noise import coupling_from, draw_outliers, draw_shared

if TYPE_CHECKING:
    from leakgeo.simulate.positions import Route
    from leakgeo.simulate.recorded import Recorded, Survey
    from leakgeo.simulate.spread import Floats
    from leakgeo.simulate.truth import Truth

# Step of the grid of coupling, in metres; the coupling is interpolated between grid points.
GRID_M = 0.05
_BY_READING = {
    "stop", "walk", "seq", "chainage_m", "chainage_sd_m", "xy", "fix_sd_m", "level", "gain_db",
    "band", "surface", "true_chainage_m",
}  # fmt: skip


@dataclass(frozen=True)
class Site:
    """A line with the errors of its readings, all drawn in advance.

    The ground coupling depends on the place only, so that it is the same when a place is repeated.
    The errors of a reading (contact, bursts, stride, tape) depend on its order: first, second ...

    Parameters
    ----------
    conditions : Conditions
        Conditions that it was drawn from.
    truth : Truth
        All true constants, the place of the leak among them.
    route : Route
        The pipe and its trace.
    sensor : str
        Name of the sensor.
    coupling_db : ndarray, shape (g, bands)
        Coupling at every `GRID_M` along the line.
    error_db : ndarray, shape (most, bands)
        Error of each reading, in the order of listening.
    outlier : ndarray of int, shape (most,)
        Kinds of outliers, as returned by `draw_outliers`.
    stride_m : ndarray, shape (most,)
        Difference of each stop from its intended place.
    stride_sd_m : float
        Standard deviation of that difference.
    seed : int
        Seed of the record: units, gains, errors of positions.
    """

    conditions: Conditions
    truth: Truth
    route: Route
    sensor: str
    coupling_db: Floats
    error_db: Floats
    outlier: NDArray[np.intp]
    stride_m: Floats
    stride_sd_m: float
    seed: int

    def field(self, stop_m: Floats, walk: NDArray[np.intp]) -> Recorded:
        """Simulate readings at stops, in the given order.

        The readings at the first stops do not change when stops are added.

        Parameters
        ----------
        stop_m : ndarray, shape (n,)
            Intended chainage of each stop on the true pipe.
        walk : ndarray of int, shape (n,)
            Walk of each stop: 0 for the first walk, then 1.

        Returns
        -------
        Recorded
            The record of the crew, and the truth.

        Raises
        ------
        ValueError
            If there are more stops than errors were drawn.
        """
        n, most = len(stop_m), len(self.stride_m)
        if n > most:
            raise ValueError(f"{n} stops given, but errors were drawn for {most} only.")
        # Draws for the record must not depend on the number of stops so far.
        intended = np.append(stop_m, np.full(most - n, self._loudest_m()))
        at = np.clip(intended + self.stride_m, 0.0, self.truth.ground.length_m)
        walks = np.append(np.asarray(walk, dtype=np.intp), np.ones(most - n, dtype=np.intp))
        heard = HeardLevels(at, walks, self._levels(at), self.outlier, self.stride_sd_m)
        rng = np.random.default_rng(self.seed)
        whole = record(rng, self.conditions, WalkedLine(self.truth, self.route, heard, self.sensor))
        return _first(whole, n * len(self.truth.bands))

    def _levels(self, stop_m: Floats) -> Floats:
        return self._quiet_levels(stop_m) + self.error_db

    def _quiet_levels(self, stop_m: Floats) -> Floats:
        """Levels without the errors of readings, shape (n, bands)."""
        truth, grid = self.truth, _grid(len(self.coupling_db))
        levels: Floats = np.column_stack([
            truth.level_db(k, stop_m, truth.leak_chainage_m)
            + np.interp(stop_m, grid, self.coupling_db[:, k])
            for k in range(len(truth.bands))
        ])  # fmt: skip
        return levels

    def _loudest_m(self) -> float:
        grid = _grid(len(self.coupling_db))
        return float(grid[np.argmax(self._quiet_levels(grid)[:, 0])])


def draw_site(rng: np.random.Generator, conditions: Conditions, most: int = 160) -> Site:
    """Draw a line, and the errors of up to `most` readings.

    Parameters
    ----------
    rng : numpy.random.Generator
        Random generator; the same seed gives the same line.
    conditions : Conditions
        Shares, ranges and practice.
    most : int
        Largest number of readings.

    Returns
    -------
    Site
        The line, on which `Site.field` listens.

    Examples
    --------
    >>> import numpy as np
    >>> from leakgeo.simulate import Conditions
    >>> from leakgeo.simulate.site import draw_site
    >>> site = draw_site(np.random.default_rng(1), Conditions(tape_share=1.0))
    >>> first = site.field(np.array([2.0, 4.0]), np.array([0, 0]))
    >>> more = site.field(np.array([2.0, 4.0, 3.0]), np.array([0, 0, 1]))
    >>> bool((more.level[:2] == first.level).all())
    True
    """
    line = draw_line(rng, conditions)
    noise, bands = line.truth.noise, len(line.truth.bands)
    grid = _grid(int(np.ceil(line.truth.ground.length_m / GRID_M)) + 1)
    unit = draw_shared(rng, (grid.size, bands), noise.coupling_shared_by_bands)
    own = noise.reading_sd_db * draw_shared(rng, (most, bands), noise.reading_shared_by_bands)
    shift, outlier = draw_outliers(rng, most, noise, bands)
    stride_sd = draw(rng, conditions.constants.stride_sd_m)
    return Site(
        conditions,
        line.truth,
        line.route,
        line.sensor,
        coupling_from(unit, grid, noise),
        own + shift,
        outlier,
        stride_sd * rng.standard_normal(most),
        stride_sd,
        int(rng.integers(2**32)),
    )


def _grid(size: int) -> Floats:
    return GRID_M * np.arange(size, dtype=np.float64)


def _first(whole: Recorded, readings: int) -> Recorded:
    """Return the record of the first readings."""
    rows = {
        f.name: getattr(whole, f.name)[:readings] for f in fields(whole) if f.name in _BY_READING
    }
    made: Any = {**rows, "survey": _first_stops(whole, rows["stop"])}
    return replace(whole, **made)


def _first_stops(whole: Recorded, stop: NDArray[np.intp]) -> Survey:
    """Return the survey with the outliers of the stops that were made."""
    stops = int(stop.max(initial=-1)) + 1
    return replace(whole.survey, outlier=whole.survey.outlier[:stops])
