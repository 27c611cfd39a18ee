"""Why a stop is proposed, and why no more of them are, as reasons."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.arrays import Floats

# A stop that all but this share of the places lie to one side of splits nothing.
_BESIDE = 0.05


def why(stop_m: float, place_m: Floats) -> Reason:
    """Say what a stop is for, from equally likely places of the leak."""
    before = float(np.mean(place_m < stop_m))
    if min(before, 1.0 - before) < _BESIDE:
        return Reason("beside_stretch")
    return Reason("splits_stretch", before=before, beyond=1.0 - before)


def more_do_not_help(zone_m: float, action: str | None, *, wants_more: bool) -> Reason:
    """Say that more readings of the kind there are do not help, and what does.

    Parameters
    ----------
    zone_m : float
        Length of the search zones together, NaN where there is none.
    action : {"position", "night", "probe", "pressure"} or None
        What is expected to help most; None where nothing that is known of does.
    wants_more : bool
        Whether the line needs anything more: it isn't located, nor settled that it has no leak.
    """
    more = "more_stops_no_shorter" if np.isfinite(zone_m) else "more_stops_unclear"
    if not wants_more:
        return Reason("enough_readings", Reason(more))
    return Reason(more, Reason("next_action", action=action or "other_method"))


def listen_on(count: int, zone_m: float, after_m: float) -> Reason:
    """Say what some more stops are expected to do."""
    if not np.isfinite(zone_m):
        return Reason("listen_to_decide", stops=count)
    return Reason("listen_on", stops=count, less=1.0 - after_m / zone_m, after_m=after_m)
