"""Information of a reading with outliers: the variance of normal noise that tells as much."""

from __future__ import annotations

from functools import cache

import numpy as np

# Steps of the integral, over this many standard deviations of the outliers.
_STEPS, _REACH_SD = 8000, 10.0


@cache
def informative_variance(share: float, times: float) -> float:
    """Return the variance of the normal noise with the Fisher information of noise with outliers.

    Parameters
    ----------
    share : float
        Share of outliers.
    times : float
        Their variance, relative to that of the other readings.

    Returns
    -------
    float
        Relative to the variance of the other readings.

    Notes
    -----
    The information of a shift of the density f is the integral of f'^2 / f (Huber, Robust
    Statistics, 1981, section 4.2), here by the trapezoidal rule, which converges exponentially for
    densities like this one.

    Examples
    --------
    >>> [round(informative_variance(share, 25.0), 3) for share in (0.0, 0.04, 1.0)]
    [1.0, 1.105, 25.0]
    """
    z, step = np.linspace(0.0, _REACH_SD * times**0.5, _STEPS + 1, retstep=True)
    inner = (1.0 - share) * np.exp(-0.5 * z**2)
    outer = share * np.exp(-0.5 * z**2 / times) / times**0.5
    density = np.maximum(inner + outer, 1e-300)
    information = z**2 * (inner + outer / times) ** 2 / density
    return float((0.5 * np.pi) ** 0.5 / (step * information.sum()))
