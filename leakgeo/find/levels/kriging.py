"""Kriging: best linear unbiased interpolation with its variance."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

import numpy as np

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats


class Solver(Protocol):
    """Callable that multiplies columns, shape (n, k), by the inverse covariance of the samples."""

    def __call__(self, columns: Floats) -> Floats:
        """Return the inverse covariance times `columns`."""


@dataclass(frozen=True)
class Kriged:
    """Result of kriging.

    Parameters
    ----------
    estimate, variance : ndarray of float, shape (m,)
        At the targets. The variance is that of the field, without the nugget of a sample.
    drift : ndarray of float, shape (k,)
        Coefficients of the drift.
    drift_covariance : ndarray of float, shape (k, k)
    """

    estimate: Floats
    variance: Floats
    drift: Floats
    drift_covariance: Floats


def krige(
    solve: Solver,
    values: Floats,
    cross: Floats,
    sill: float,
    drift: Floats | None = None,
    target_drift: Floats | None = None,
    drift_precision: Floats | None = None,
) -> Kriged:
    """Interpolate by universal kriging, or by ordinary kriging if the drift is a constant.

    Parameters
    ----------
    solve : Solver
        Multiplies by the inverse covariance of the samples.
    values : ndarray of float, shape (n,)
        Samples.
    cross : ndarray of float, shape (n, m)
        Covariance between samples and targets.
    sill : float
        Variance of the field at a target.
    drift, target_drift : ndarray of float, shape (n, k) and (m, k), optional
        Drift functions at samples and targets; a constant by default.
    drift_precision : ndarray of float, shape (k,), optional
        Precision of the prior of each drift coefficient about zero; 0 (no prior) by default.

    Returns
    -------
    Kriged

    Notes
    -----
    Isaaks and Srivastava, Applied Geostatistics (1989), chapter 12, in the generalised
    least-squares form (Cressie, Statistics for Spatial Data, 1993, section 3.4).

    Examples
    --------
    >>> from functools import partial
    >>> covariance = np.array([[1.0, 0.2], [0.2, 1.0]])
    >>> solve = partial(np.linalg.solve, covariance)
    >>> krige(solve, np.array([3.0, 5.0]), covariance, 1.0).estimate
    array([3., 5.])
    """
    n, m = cross.shape
    drift = np.ones((n, 1)) if drift is None else drift
    target_drift = np.ones((m, 1)) if target_drift is None else target_drift
    precision = np.zeros(drift.shape[1]) if drift_precision is None else drift_precision
    seen = _seen(drift, target_drift, precision)
    if seen.all():
        return _kriged(solve, values, cross, sill, drift, target_drift, precision)
    own = _kriged(
        solve, values, cross, sill, drift[:, seen].copy("C"), target_drift[:, seen].copy("C"),
        precision[seen],
    )  # fmt: skip
    coefficients, covariance = np.zeros(len(seen)), np.zeros((len(seen), len(seen)))
    coefficients[seen] = own.drift
    covariance[np.ix_(seen, seen)] = own.drift_covariance
    covariance[~seen, ~seen] = 1.0 / precision[~seen]
    return replace(own, drift=coefficients, drift_covariance=covariance)


def _seen(drift: Floats, target_drift: Floats, precision: Floats) -> Bools:
    """Return which drift functions matter here; the others keep their prior, whatever is heard.

    A block of a long line has the readings of few of its walks, and time grows with the cube of
    the number of functions.
    """
    return np.asarray(drift.any(axis=0) | target_drift.any(axis=0) | (precision <= 0.0))


def _kriged(
    solve: Solver, values: Floats, cross: Floats, sill: float, drift: Floats,
    target_drift: Floats, precision: Floats,
) -> Kriged:  # fmt: skip
    solved_drift, solved_cross = solve(drift), solve(cross)
    drift_covariance = np.linalg.inv(drift.T @ solved_drift + np.diag(precision))
    coefficients = drift_covariance @ (solved_drift.T @ values)
    estimate = target_drift @ coefficients + solved_cross.T @ (values - drift @ coefficients)
    unexplained = target_drift - cross.T @ solved_drift
    variance = sill - np.sum(cross * solved_cross, axis=0)
    variance += np.sum((unexplained @ drift_covariance) * unexplained, axis=1)
    return Kriged(estimate, np.maximum(variance, 0.0), coefficients, drift_covariance)
