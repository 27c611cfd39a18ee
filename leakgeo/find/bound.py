"""The least error that any locator could have on a line, given how it is listened to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.sound.spreading import DB, Spreading, relative_level

if TYPE_CHECKING:
    from leakgeo.arrays import Floats
    from leakgeo.sound.constants import Constants

# Readings further from the leak than this tell nothing of its place.
REACH_M = 15.0
# Constants, in the order that they stand in: place, level, then logarithms or the like.
_PLACE, _LEVEL, _DEPTH, _SHARE, _DECAY, _SOIL, _FLOOR, _COUNT = range(8)


@dataclass(frozen=True)
class Listening:
    """How a line is listened to.

    Parameters
    ----------
    chainage_m, position_sd_m, smear_m : ndarray of float, shape (n,)
        Stops, their own errors, and the sideways smear of the surface.
    spreading : Spreading
        Middles of the constants.
    length_m : float
        Of the line.
    known_depth : bool
        Whether the cover is on record.
    coupling_times : float
        Times the coupling noise that is assumed.
    """

    chainage_m: Floats
    position_sd_m: Floats
    smear_m: Floats
    spreading: Spreading
    length_m: float
    known_depth: bool = False
    coupling_times: float = 1.0


def least_sd(listening: Listening, leak_m: float, constants: Constants) -> float:
    """Least standard deviation of a leak's place, in metres.

    Parameters
    ----------
    listening : Listening
    leak_m : float
        Where the leak is.
    constants : Constants

    Returns
    -------
    float
        Never more than that of a place evenly anywhere on the line.

    Notes
    -----
    The bound of Cramer and Rao with the constants as nuisances known to within their prior (Van
    Trees, Detection, Estimation, and Modulation Theory, 1968, section 2.4); Student's noise with v
    degrees counts as normal with (v + 3) / (v + 1) of its scale squared.

    Examples
    --------
    >>> from leakgeo.sound.constants import load_constants
    >>> def walked(step):
    ...     x = np.arange(0.0, 20.0, step)
    ...     return Listening(x, 0 * x + 0.05, 0 * x, Spreading(0.9, 4.0, 0.15, 1.5, 0.04), 20.0)
    >>> least_sd(walked(0.3), 9.8, load_constants()) < least_sd(walked(1.5), 9.8, load_constants())
    True
    """
    slopes = _slopes(listening, leak_m)
    near = np.abs(listening.chainage_m - leak_m) <= REACH_M
    information = _prior(listening, constants)
    if near.any():
        covariance = _covariance(listening, slopes[:, _PLACE], near, constants)
        seen = slopes[near]
        information += seen.T @ np.linalg.solve(covariance, seen)
    return float(np.sqrt(np.linalg.inv(information)[_PLACE, _PLACE]))


def _covariance(listening: Listening, slope: Floats, near: Floats, constants: Constants) -> Floats:
    """Noise of the levels: coupling, alike for stops close together, and each reading's own."""
    noise, x = constants.noise, listening.chainage_m[near]
    apart = np.abs(x[:, None] - x) / noise["coupling_length_m"]
    coupling = (listening.coupling_times * noise["coupling_db"]) ** 2
    tail = noise["tail_degrees"]
    own = noise["reading_db"] ** 2 * (tail + 3.0) / (tail + 1.0)
    moved = (slope[near] * listening.position_sd_m[near]) ** 2
    return np.asarray(coupling * np.exp(-apart) + np.diag(own + moved))


def _prior(listening: Listening, constants: Constants) -> Floats:
    """Information there is before listening: the place is evenly anywhere on the line."""
    spread = constants.spread
    sd = np.empty(_COUNT)
    sd[_PLACE] = listening.length_m / 12.0**0.5
    sd[_LEVEL] = spread["level_db"]
    sd[_DEPTH] = spread["known_depth_ln" if listening.known_depth else "depth_ln"]
    sd[_SHARE] = spread["pipe_share_logit"]
    sd[_DECAY], sd[_SOIL] = spread["pipe_decay_ln"], spread["soil_decay_ln"]
    sd[_FLOOR] = spread["floor_db"] / DB
    return np.diag(sd**-2.0)


def _slopes(listening: Listening, leak_m: float) -> Floats:
    """Derivatives of the levels by place and constants, shape (n, constants), by differences."""
    middle = listening.spreading
    share = np.clip(middle.pipe_share, 1e-6, 1.0 - 1e-6)
    true = np.array([
        leak_m, 0.0, np.log(middle.depth_m), np.log(share / (1.0 - share)),
        np.log(middle.pipe_decay_db_per_m), np.log(max(middle.soil_decay_db_per_m, 1e-6)),
        np.log(middle.floor),
    ])  # fmt: skip
    step = 1e-4 * np.eye(_COUNT)
    rows = [_level(listening, true + h) - _level(listening, true - h) for h in step]
    return np.column_stack(rows) / 2e-4


def _level(listening: Listening, theta: Floats) -> Floats:
    spreading = Spreading(
        float(np.exp(theta[_DEPTH])),
        float(np.exp(theta[_DECAY])),
        float(1.0 / (1.0 + np.exp(-theta[_SHARE]))),
        float(np.exp(theta[_SOIL])),
        float(np.exp(theta[_FLOOR])),
    )
    away = listening.chainage_m - theta[_PLACE]
    return np.asarray(theta[_LEVEL] + relative_level(away, spreading, listening.smear_m))
