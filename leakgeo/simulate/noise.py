"""Errors of readings: ground coupling, bursts, bad contacts, and the display."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from leakgeo.simulate.spread import Floats
    from leakgeo.simulate.truth import Noise

SCALE_TOP = 100.0
DECIBEL_TOP = 99.0


def coupling_correlation(apart_m: Floats, length_m: float) -> Floats:
    """Return the correlation of the ground coupling between two stops (Matern 3/2).

    Parameters
    ----------
    apart_m : ndarray
        Distance between the stops.
    length_m : float
        Correlation length.

    Examples
    --------
    >>> float(coupling_correlation(np.array(0.0), 1.0))
    1.0
    """
    scaled = np.sqrt(3.0) * np.abs(apart_m) / length_m
    correlation: Floats = (1.0 + scaled) * np.exp(-scaled)
    return correlation


def coupling_from(unit: Floats, stop_m: Floats, noise: Noise) -> Floats:
    """Return the coupling at stops, in decibels, from unit normals of shape (stops, bands).

    The first rows depend on the first stops only, so that later stops may depend on them.
    """
    correlation = coupling_correlation(stop_m[:, None] - stop_m, noise.coupling_length_m)
    root = np.linalg.cholesky(correlation + 1e-9 * np.eye(stop_m.size))
    coupling: Floats = noise.coupling_sd_db * root @ unit
    return coupling


def draw_shared(rng: np.random.Generator, shape: tuple[int, int], share: float) -> Floats:
    """Draw unit normals, shape (stops, bands), whose correlation along the last axis is `share`."""
    common = rng.standard_normal((shape[0], 1))
    own = rng.standard_normal(shape)
    drawn: Floats = np.sqrt(share) * common + np.sqrt(1 - share) * own
    return drawn if shape[1] > 1 else np.asarray(common)


def draw_outliers(
    rng: np.random.Generator, stops: int, noise: Noise, bands: int
) -> tuple[Floats, NDArray[np.intp]]:
    """Draw bursts and bad contacts.

    Bursts are a two-state Markov chain in the order of listening, with the stationary share and the
    mean length in `noise`.

    Returns
    -------
    shift_db : ndarray, shape (stops, bands)
        Change of each reading, in decibels.
    kind : ndarray of int, shape (stops,)
        0 for none, 1 for a burst, -1 for a bad contact.
    """
    burst = _chain(rng, stops, noise.burst_share, noise.burst_readings)
    bad = (rng.random(stops) < noise.bad_contact_share) & ~burst
    amount = rng.exponential(1.0, (stops, bands))
    shift = burst[:, None] * (2.0 + noise.burst_db * amount)
    shift = shift - bad[:, None] * (2.0 + noise.bad_contact_db * amount)
    return shift, burst.astype(np.intp) - bad


def _chain(rng: np.random.Generator, n: int, share: float, lasts: float) -> NDArray[np.bool_]:
    """Draw a two-state Markov chain with geometric durations."""
    stay, come = 1.0 - 1.0 / lasts, min(share / max(1.0 - share, 1e-9) / lasts, 1.0)
    u = rng.random(n)
    state, states = u[0] < share, np.zeros(n, dtype=bool)
    for i in range(n):
        state = bool(u[i] < (share if i == 0 else stay if state else come))
        states[i] = state
    return states


def display(level_db: Floats, unit: str, full_db: float) -> Floats:
    """Return levels as displayed: whole decibels, or 0 to 100 in linear amplitude.

    Parameters
    ----------
    level_db : ndarray
        Level before the display.
    unit : {"db", "scale"}
    full_db : float
        Level of full scale on a linear display.

    Examples
    --------
    >>> display(np.array([20.4, 120.0, -3.0]), "db", 0.0).tolist()
    [20.0, 99.0, 0.0]
    >>> display(np.array([40.0, 20.0, 60.0]), "scale", 40.0).tolist()
    [100.0, 10.0, 100.0]
    """
    if unit == "db":
        return np.clip(np.rint(level_db), 0.0, DECIBEL_TOP)
    shown: Floats = np.clip(np.rint(SCALE_TOP * 10 ** ((level_db - full_db) / 20)), 0.0, SCALE_TOP)
    return shown
