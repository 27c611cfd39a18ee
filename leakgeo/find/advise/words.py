"""What is said of the advice: why a stop, and why no more of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.locate.status import percent

if TYPE_CHECKING:
    from leakgeo.arrays import Floats


def why(stop_m: float, place_m: Floats) -> str:
    """Say what a stop is for, from equally likely places of the leak."""
    before = float(np.mean(place_m < stop_m))
    if min(before, 1.0 - before) < 0.05:
        return "beside the likeliest stretch: fixes how fast the sound dies away"
    return (
        f"splits the likeliest stretch: given a leak, it is before it by {percent(before)}, beyond "
        f"it by {percent(1.0 - before)}"
    )


def short_enough(wanted_m: float) -> str:
    """Say that the zone is as short as was asked for."""
    return f"Enough readings: the search zone is no longer than the {wanted_m:.2f} m asked for."


# What to do where more of the same readings would not help, by what limits the line or what is
# expected to help it most.
_ACTIONS = {
    "position": "tape the stops from a known fitting, and listen again",
    "night": "repeat the readings at a quiet hour",
    "probe": "repeat the readings with a probe pushed into the ground",
    "pressure": "raise the pressure towards its rating, by the one who answers for the line, and "
    "listen again",
    None: "take another method, such as listening with air injected, on and off",
}  # fmt: skip


def more_do_not_help(zone_m: float, action: str | None, *, wants_more: bool) -> str:
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
    if not np.isfinite(zone_m):
        more = "More stops like these would say little about whether there is a leak."
    else:
        more = "More stops like these would hardly shorten the search zone."
    if not wants_more:
        return f"Enough readings. {more}"
    return f"{more} Next: {_ACTIONS[action]}."


def listen_on(count: int, zone_m: float, after_m: float) -> str:
    """Say what some more stops are expected to do."""
    stops = f"Listen at {count} more {'stop' if count == 1 else 'stops'}"
    if not np.isfinite(zone_m):
        return f"{stops} to tell whether there is a leak."
    less = percent(1.0 - after_m / zone_m)
    return f"{stops}: the search zone is expected to shrink by {less}, to about {after_m:.2f} m."


def nothing_speaks() -> str:
    """Say that a line isn't worth a walk as yet."""
    return (
        "Not listened to yet, and nothing speaks for a leak here: read the meter with all outlets "
        "closed, or listen at the fittings, before walking it."
    )


def walk_along(*, in_bracket: bool) -> str:
    """Say what a stop of the first walk is for."""
    return "first walk of the stretch that the fittings point to" if in_bracket else "first walk"


def walk_first(count: int, step_m: float, *, in_bracket: bool) -> str:
    """Say how to walk a line for the first time."""
    where = "the stretch that the fittings point to" if in_bracket else "the line"
    stops = "1 stop" if count == 1 else f"{count} stops, about {step_m:.1f} m apart"
    return f"Not listened to yet: walk {where} with {stops}, then ask again."
