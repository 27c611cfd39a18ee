"""Cramér-Rao bound of a leak's position on a line, for a given set of readings."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.advise.outlier_information import informative_variance
from leakgeo.find.posterior import kernel
from leakgeo.sound.spreading import DB, Spreading

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike

    from leakgeo.arrays import Floats, Ints
    from leakgeo.sound.constants import Constants

# The place is fitted as a shift of all readings; the level is the last parameter.
_PLACE, _COUNT = kernel.BANDS + kernel.PER_BAND, kernel.BANDS + kernel.PER_BAND + 2
# Constants that may be better known than by their prior.
_CONSTANTS = MappingProxyType({
    "place": _PLACE, "depth": kernel.DEPTH, "pipe_share": kernel.PIPED,
    "pipe_decay": kernel.BANDS + kernel.DECAY, "soil_decay": kernel.BANDS + kernel.SOIL,
})  # fmt: skip
# Prior precision of a parameter that is held fixed.
_FIXED_PRECISION = 1e12


@dataclass(frozen=True)
class Listening:
    """Readings of a line and the constants of its sound.

    Parameters
    ----------
    chainage_m, position_sd_m, smear_m : ndarray of float, shape (n,)
        Stops, their position errors (1-sigma), and the lateral smear of the surface.
    spreading : Spreading
        Medians of the constants.
    length_m : float
        Length of the line.
    known_depth : bool
        Whether the cover is on record.
    coupling_factor : float
        Factor on the assumed coupling noise.
    """

    chainage_m: Floats
    position_sd_m: Floats
    smear_m: Floats
    spreading: Spreading
    length_m: float
    known_depth: bool = False
    coupling_factor: float = 1.0


def cramer_rao_sd(
    listening: Listening, leak_m: ArrayLike, constants: Constants,
    known_sd: Mapping[str, float] = MappingProxyType({}),
) -> Floats:  # fmt: skip
    """Return the lower bound of the standard deviation of a leak's chainage, in metres.

    Parameters
    ----------
    listening : Listening
    leak_m : array_like of float, shape (m,) or ()
        Chainage of the leak.
    constants : Constants
    known_sd : mapping of str to float
        Standard deviations of constants that are better known than by their prior: ``depth``,
        ``pipe_share``, ``pipe_decay``, ``soil_decay``, as logarithms and logits.

    Returns
    -------
    ndarray of float, shape (m,)
        At most that of a uniform distribution over the line.

    Notes
    -----
    The Cramér-Rao bound with the constants as nuisance parameters with priors (Van
    Trees, Detection, Estimation, and Modulation Theory, 1968, section 2.4). The noise is that in
    the middle of the noise law; with outliers it counts as normal noise of the same information.
    The ambient floor has a trend along the whole line, so more readings never raise the bound.

    Examples
    --------
    >>> from leakgeo.sound.constants import load_constants
    >>> def walked(step):
    ...     x = np.arange(0.0, 20.0, step)
    ...     return Listening(x, 0 * x + 0.05, 0 * x, Spreading(0.9, 4.0, 0.15, 1.5, 0.04), 20.0)
    >>> fine, coarse = (cramer_rao_sd(walked(d), [9.8], load_constants())[0] for d in (0.3, 1.5))
    >>> bool(fine < coarse)
    True
    """
    # A copy, in one piece: the loop is compiled anew for arrays that lie otherwise in memory.
    places = np.array(leak_m, dtype=float, ndmin=1)
    if len(listening.chainage_m) == 0:
        return np.full(len(places), listening.length_m / 12.0**0.5)
    readings, codes = _table(listening)
    noise = _noise(listening, constants)
    return np.sqrt(kernel.posterior_variances(
        kernel.ONE, places, _middle(listening.spreading), np.ones(len(readings)), readings, codes,
        _prior(listening, constants, known_sd), noise, np.array([_PLACE]),
    )[:, 0])  # fmt: skip


def constants_sd(
    listening: Listening, source_m: float, constants: Constants, prior_sd: Mapping[str, float]
) -> dict[str, float]:
    """Return the least standard deviations of constants from a source at a known place.

    Parameters
    ----------
    listening : Listening
        Readings of the source.
    source_m : float
        Its chainage.
    constants : Constants
    prior_sd : mapping of str to float
        As `known_sd` of `cramer_rao_sd`, before the readings; ``place`` is the error of the source.

    Returns
    -------
    dict of str to float
        After the readings, for the constants in `prior_sd`.
    """
    readings, codes = _table(listening)
    prior, middle = _prior(listening, constants, prior_sd), _middle(listening.spreading)
    variance = kernel.posterior_variances(
        kernel.ONE, np.array([source_m]), middle, np.ones(len(readings)), readings, codes, prior,
        _noise(listening, constants), np.array([_CONSTANTS[name] for name in prior_sd]),
    )[0]  # fmt: skip
    return {name: float(v) for name, v in zip(prior_sd, np.sqrt(variance), strict=True)}


def _noise(listening: Listening, constants: Constants) -> Floats:
    """Return the noise vector in the middle of the noise law; outliers lose their information."""
    coupling_db, coupling_m, reading_db = constants.noise_law.centre()
    share, times = constants.noise["outlier_share"], constants.noise["outlier_times"]
    own = reading_db**2 * informative_variance(share, times)
    coupling = (listening.coupling_factor * coupling_db) ** 2
    return np.array([coupling, coupling_m, own, share, times])


def _table(listening: Listening) -> tuple[Floats, Ints]:
    """Return the readings in the kernel's layout: one walk in one band, by chainage."""
    order = np.argsort(listening.chainage_m, kind="stable")
    n, x = len(order), listening.chainage_m[order]
    readings = np.zeros((n, kernel.COLUMNS))
    readings[:, kernel.X] = readings[:, kernel.ALONG] = x
    readings[:, kernel.CENTRED] = 2.0 * x / listening.length_m - 1.0
    readings[:, kernel.READING] = 1.0
    readings[:, kernel.POSITION_VARIANCE] = listening.position_sd_m[order] ** 2
    readings[:, kernel.SMEAR_M], readings[:, kernel.LOAD] = listening.smear_m[order], 1.0
    codes = np.full((n, kernel.OFFSETS_AT + 4), -1, dtype=np.int64)
    codes[:, kernel.BAND], codes[:, kernel.STOP] = 0, 1
    codes[:, kernel.SHIFT_AT] = _PLACE
    return readings, codes


def _middle(spreading: Spreading) -> Floats:
    """Return the medians of the constants in the kernel's order."""
    share = np.clip(spreading.pipe_share, 1e-6, 1.0 - 1e-6)
    theta = np.zeros(_COUNT)
    theta[kernel.DEPTH], theta[kernel.PIPED] = (
        np.log(spreading.depth_m),
        np.log(share / (1.0 - share)),
    )
    theta[kernel.BANDS + kernel.DECAY] = np.log(spreading.pipe_decay_db_per_m / DB)
    theta[kernel.BANDS + kernel.SOIL] = np.log(max(spreading.soil_decay_db_per_m, 1e-6) / DB)
    theta[kernel.BANDS + kernel.FLOOR] = np.log(spreading.floor)
    return theta


def _prior(listening: Listening, constants: Constants, known_sd: Mapping[str, float]) -> Floats:
    """Return the prior precision of each parameter; the place is uniform over the line."""
    spread = constants.spread
    sd = np.full(_COUNT, spread["level_db"])
    sd[_PLACE] = listening.length_m / 12.0**0.5
    sd[kernel.DEPTH] = spread["known_depth_ln" if listening.known_depth else "depth_ln"]
    sd[kernel.PIPED] = spread["pipe_share_logit"]
    sd[kernel.ASYMMETRY] = spread["pipe_side_ln"]
    sd[kernel.TREND] = spread["trend_db"] / DB
    sd[kernel.BANDS + kernel.DECAY] = spread["pipe_decay_ln"]
    sd[kernel.BANDS + kernel.SOIL] = spread["soil_decay_ln"]
    sd[kernel.BANDS + kernel.FLOOR] = spread["floor_db"] / DB
    for name, known in known_sd.items():
        sd[_CONSTANTS[name]] = known
    precision = sd**-2.0
    precision[kernel.SMEAR] = _FIXED_PRECISION
    return precision
