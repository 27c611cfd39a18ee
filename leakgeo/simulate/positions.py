"""True and recorded positions of the pipe and of the stops."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from leakgeo.simulate.constants import draw

if TYPE_CHECKING:
    from leakgeo.simulate.constants import Conditions
    from leakgeo.simulate.spread import Floats


@dataclass(frozen=True)
class Route:
    """The true pipe and its recorded trace, in a local plane in metres.

    Parameters
    ----------
    true_xy, trace_xy : ndarray, shape (vertices, 2)
        Vertices of the pipe, and of its trace.
    trace_sd_m : float
        Standard deviation of the trace on each axis.
    """

    true_xy: Floats
    trace_xy: Floats
    trace_sd_m: float

    @property
    def length_m(self) -> float:
        """Length of the true pipe."""
        return float(np.hypot(*np.diff(self.true_xy, axis=0).T).sum())

    def true_points(self, chainage_m: Floats) -> Floats:
        """Return points of the true pipe at chainages, shape (n, 2)."""
        return points_along(self.true_xy, chainage_m)

    def chainage_on_trace(self, xy: Floats) -> Floats:
        """Return the chainage on the trace of the point nearest to each of `xy`."""
        line = shapely.linestrings(self.trace_xy)
        return np.asarray(shapely.line_locate_point(line, shapely.points(xy)), dtype=np.float64)


def points_along(xy: Floats, chainage_m: Floats) -> Floats:
    """Return points at chainages along a polyline, shape (n, 2), clipped to its ends.

    Examples
    --------
    >>> points_along(np.array([[0.0, 0.0], [3.0, 4.0]]), np.array([2.5])).tolist()
    [[1.5, 2.0]]
    """
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    return np.column_stack([np.interp(chainage_m, along, xy[:, k]) for k in (0, 1)])


def draw_pipe(rng: np.random.Generator, conditions: Conditions) -> Floats:
    """Draw the vertices of a straight or slightly bent pipe that starts at the origin."""
    length_m = draw(rng, conditions.length_m)
    bends = int(rng.integers(1, 4)) if rng.random() < conditions.curved_share else 0
    turns = np.concatenate([[rng.uniform(0, 2 * np.pi)], rng.normal(0, np.radians(15), bends)])
    heading = np.cumsum(turns)
    legs = length_m / (bends + 1) * np.column_stack([np.cos(heading), np.sin(heading)])
    return np.vstack([[0.0, 0.0], np.cumsum(legs, axis=0)])


def draw_trace(rng: np.random.Generator, conditions: Conditions, pipe_xy: Floats) -> Route:
    """Draw the trace of a pipe, with a common error and an error of each vertex."""
    sd = draw(rng, conditions.constants.trace_sd_m)
    shift = rng.standard_normal(2) + rng.standard_normal(pipe_xy.shape)
    return Route(pipe_xy, pipe_xy + sd / np.sqrt(2) * shift, sd)


def draw_fix_errors(
    rng: np.random.Generator, walk: np.ndarray, sd_m: float, common_share: float, memory: float
) -> Floats:
    """Draw the errors of satellite fixes: a slow drift within a walk, and an independent part.

    The drift is a stationary first-order autoregression, independent between walks
    (correlation ``exp(-1 / memory)`` from one stop to the next); an assumption.

    Parameters
    ----------
    rng : numpy.random.Generator
    walk : ndarray of int, shape (n,)
        Walk of each stop, in the order of listening.
    sd_m : float
        Standard deviation of the total error on each axis.
    common_share : float
        Share of the drift in the variance, 0 to 1.
    memory : float
        Correlation length of the drift, in stops.

    Returns
    -------
    ndarray, shape (n, 2)
    """
    n = walk.size
    correlation = fix_correlation(walk, memory)
    root = np.linalg.cholesky(correlation + 1e-9 * np.eye(n))
    drift = root @ rng.standard_normal((n, 2))
    own = rng.standard_normal((n, 2))
    error: Floats = sd_m * (np.sqrt(common_share) * drift + np.sqrt(1 - common_share) * own)
    return error


def fix_correlation(walk: np.ndarray, memory: float) -> Floats:
    """Return the correlation of the drift between stops, shape (n, n)."""
    order = np.arange(walk.size)
    fading = np.exp(-np.abs(order[:, None] - order) / memory)
    correlation: Floats = np.where(walk[:, None] == walk, fading, 0.0)
    return correlation
