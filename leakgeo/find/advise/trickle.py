"""A tap opened to a trickle: what a walk beside it is expected to gain, and which to open."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.advise.cramer_rao import Listening, constants_sd, cramer_rao_sd
from leakgeo.find.levels.taps import load_tap_weights
from leakgeo.find.posterior.tap_calibration import Normal, carried_over

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from leakgeo.arrays import Floats
    from leakgeo.find.survey.line_fittings import LineFittings
    from leakgeo.sound.constants import Constants

# Outlets that are opened by hand and run to waste. Valves and hydrants are the owner's.
OUTLETS = ("hose_bib", "sink")
# Errors of a trickle walk: its stops are taped from the fitting.
_TAPED_SD_M = 0.05
# Share of a tap's sound that comes by the pipe is clipped to this distance from 0 and 1.
_LEAST_SHARE = 0.01


def trickle_gain_bits(
    listening: Listening, leak_m: ArrayLike, tap_m: float, constants: Constants,
    stops: int | None = None,
) -> float:  # fmt: skip
    """Return the expected gain of a walk beside a tap that runs at a trickle, in bits.

    Parameters
    ----------
    listening : Listening
        Readings of the line without it.
    leak_m : array_like of float, shape (m,) or ()
        Likely places of the leak.
    tap_m : float
        Chainage of the fitting.
    constants : Constants
    stops : int, optional
        Number of readings with the tap open; the assumed one by default.

    Returns
    -------
    float
        Mean of the logarithm to base 2 of the least standard deviation of the leak's place before
        the walk over that after it; 0 without readings.

    Notes
    -----
    Both are Cramér-Rao bounds (`leakgeo.find.advise.cramer_rao`). After the walk the constants of
    the line are known as well as readings of a source at the fitting can show them, and as a tap
    resembles a leak.

    Examples
    --------
    >>> from leakgeo.sound.constants import load_constants
    >>> from leakgeo.sound.spreading import Spreading
    >>> x = np.arange(0.0, 20.0, 1.0)
    >>> now = Listening(x, 0 * x + 0.05, 0 * x, Spreading(0.9, 0.8, 0.4, 1.5, 0.04), 20.0)
    >>> gain = trickle_gain_bits(now, [14.0], 1.0, load_constants())
    >>> bool(0.0 <= gain < 1.0)
    True
    """
    if len(listening.chainage_m) == 0:
        return 0.0
    known = known_after_trickle(listening, tap_m, constants, stops)
    before = cramer_rao_sd(listening, leak_m, constants)
    after = cramer_rao_sd(listening, leak_m, constants, known)
    return float(np.mean(np.log2(before / after)))


def known_after_trickle(
    listening: Listening, tap_m: float, constants: Constants, stops: int | None = None
) -> dict[str, float]:
    """Return how well a trickle walk is expected to show the constants of a leak's sound.

    Parameters are those of `trickle_gain_bits`.

    Returns
    -------
    dict of str to float
        As `known_sd` of `leakgeo.find.advise.cramer_rao.cramer_rao_sd`.
    """
    spread, apart = constants.spread, load_tap_weights()["difference"]
    before = {
        "depth": spread["known_depth_ln" if listening.known_depth else "depth_ln"],
        "pipe_share": spread["pipe_share_logit"],
        "pipe_decay": spread["pipe_decay_ln"],
        "soil_decay": spread["soil_decay_ln"],
    }
    error = {
        "depth": apart["depth_ln"], "pipe_share": apart["pipe_share_logit"],
        "pipe_decay": apart["pipe_decay_ln"], "soil_decay": apart["soil_decay_ln"],
    }  # fmt: skip
    tap = {name: float(np.hypot(sd, error[name])) for name, sd in before.items()}
    heard = _trickle_walk(listening, tap_m, stops)
    after = constants_sd(heard, tap_m, constants, {**tap, "place": apart["fitting_sd_m"]})
    return {
        name: carried_over(Normal(0.0, sd), Normal(0.0, tap[name]), Normal(0.0, after[name])).sd
        for name, sd in before.items()
    }


def _trickle_walk(listening: Listening, tap_m: float, stops: int | None) -> Listening:
    """Return the stops beside an open tap, on the side on which the line is longer."""
    walk, apart = load_tap_weights()["walk"], load_tap_weights()["difference"]
    count = int(walk["stops"]) if stops is None else stops
    side = 1.0 if tap_m < 0.5 * listening.length_m else -1.0
    x = np.clip(tap_m + side * walk["step_m"] * np.arange(count), 0.0, listening.length_m)
    near = np.abs(x[:, None] - listening.chainage_m).argmin(axis=1)
    quiet = listening.spreading
    share = np.clip(quiet.pipe_share, _LEAST_SHARE, 1.0 - _LEAST_SHARE)
    odds = share / (1.0 - share) * np.exp(apart["pipe_share_more_logit"])
    sound = replace(
        quiet, pipe_share=float(odds / (1.0 + odds)), floor=10.0 ** (-walk["over_db"] / 10.0)
    )
    return replace(
        listening, chainage_m=x, position_sd_m=np.full(count, _TAPED_SD_M),
        smear_m=listening.smear_m[near], spreading=sound,
    )  # fmt: skip


def tap_to_open(fittings: LineFittings, listening: Listening, likely_m: Floats) -> int | None:
    """Return which fitting of a line to open to a trickle; None if none serves.

    Parameters
    ----------
    fittings : LineFittings
        Of the line.
    listening : Listening
        Its readings.
    likely_m : ndarray of float, shape (m,)
        Likely places of the leak.

    Returns
    -------
    int or None
        An outlet (no valve and no hydrant) away from the likely places, with the most readings near
        it, with which the walk is compared.

    Examples
    --------
    >>> from leakgeo.find.survey.line_fittings import LineFittings
    >>> from leakgeo.sound.spreading import Spreading
    >>> x = np.arange(0.0, 20.0, 1.0)
    >>> now = Listening(x, 0 * x, 0 * x, Spreading(0.9), 20.0)
    >>> names = np.array(["C-1", "C-2", "C-3"], dtype=object)
    >>> kinds = np.array(["hose_bib", "hose_bib", "main_valve"], dtype=object)
    >>> tap_to_open(LineFittings(np.array([1.0, 14.0, 8.0]), kinds, names), now, np.array([15.0]))
    0
    """
    walk, best, most = load_tap_weights()["walk"], None, int(load_tap_weights()["walk"]["stops"])
    for k, (place, kind) in enumerate(zip(fittings.chainage_m, fittings.kind, strict=True)):
        away = np.abs(likely_m - place).min(initial=np.inf)
        near = int((np.abs(listening.chainage_m - place) <= walk["near_m"]).sum())
        if kind in OUTLETS and away >= walk["apart_m"] and near >= most:
            best, most = k, near + 1
    return best
