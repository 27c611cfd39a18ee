"""What to mind at each dig, whether or not anything holds it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.dig.depth import BY_GROUND, ON_RECORD
from leakgeo.dig.facilities import OWN_TOLERANCE
from leakgeo.dig.said import say
from leakgeo.dig.tickets import last_days
from leakgeo.dig.words import metres

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from leakgeo.dig.rules import Rule
    from leakgeo.dig.said import Said
    from leakgeo.dig.tickets import TicketRule

# 29 CFR 1926.652(a)(1)(ii): less than 5 feet (1.52 m); 1926.651(j)(2): 2 feet (.61 m).
PROTECTION_FROM_M, SPOIL_BACK_M = 1.52, 0.61
WORTH_TELLING_M = 0.15  # covers that differ by no more are taken to agree
_SPOIL = f"keep spoil {SPOIL_BACK_M} m (2 ft) or more from the edge (29 CFR 1926.651(j)(2))"
_PRIVATE = ("lines behind a meter, on a campus or a lot, are often marked by nobody: ask whoever "
            "owns the ground, and have a private locator look")  # fmt: skip


def cautions(digs: pd.DataFrame, pairs: pd.DataFrame, rule: Rule, ticket: TicketRule) -> list[Said]:
    """Say what to mind at each dig.

    Parameters
    ----------
    digs : pandas.DataFrame
        With depth_m (of the excavation), depth_source, cover_m, cover_by_ground_m, pressure_kpa,
        air_on, drawn and azimuth_known.
    pairs : pandas.DataFrame
        As `leakgeo.dig.conflicts.find_conflicts` gives.
    rule : Rule
    ticket : TicketRule

    Returns
    -------
    list of (positions, texts)
    """
    everywhere = np.full(len(digs), True)
    return [
        *_depth_cautions(digs["depth_m"].to_numpy()),
        *_cover_cautions(digs),
        say(everywhere, _SPOIL),
        *_line_cautions(digs),
        say(digs["drawn"] & ~digs["azimuth_known"],
            "the direction of the pipe is not known: the hole is drawn round"),
        *_ticket_cautions(pairs, ticket),
        *_rule_cautions(pairs, rule),
        say(everywhere, _PRIVATE),
        say(everywhere, f"tolerance rule {rule.name} ({rule.source}; {rule.date}): local law and "
            "the one-call centre govern, and this list never clears a dig"),
    ]  # fmt: skip


def _depth_cautions(depth_m: NDArray[np.float64]) -> list[Said]:
    deep, shallow = depth_m >= PROTECTION_FROM_M, depth_m < PROTECTION_FROM_M
    at = np.flatnonzero
    return [
        (at(deep), [f"{metres(d)} deep: at 1.52 m (5 ft) or more 29 CFR 1926.652(a)(1) asks for a "
                    "protective system, unless the hole is all in stable rock"
                    for d in depth_m[deep]]),
        (at(shallow), [f"{metres(d)} deep: under 1.52 m (5 ft) a competent person looks at the "
                       "ground, and a protective system is asked for on any sign of a cave-in "
                       "(29 CFR 1926.652(a)(1))" for d in depth_m[shallow]]),
        say(np.isnan(depth_m), "the depth is not known: expect to need a protective system "
            "(29 CFR 1926.652(a)(1))"),
    ]  # fmt: skip


def _cover_cautions(digs: pd.DataFrame) -> list[Said]:
    """Say what the depth rests on, and where the two sources do not agree."""
    source, cover = digs["depth_source"], digs["cover_m"].to_numpy(dtype=float)
    modelled = digs["cover_by_ground_m"].to_numpy(dtype=float)
    apart = (source == ON_RECORD).to_numpy() & (np.abs(modelled - cover) > WORTH_TELLING_M)
    return [
        say(source == ON_RECORD, "the depth is from the cover on record: probe before relying on "
            "it"),
        say(source == BY_GROUND, "the depth is from the ground model less the pipe's Z, taken as "
            "that of its crown: probe before relying on it"),
        (np.flatnonzero(apart),
         [f"the ground model less the pipe's Z gives a cover of {metres(b)}, and the record "
          f"{metres(a)}: expect either"
          for a, b in zip(cover[apart], modelled[apart], strict=True)]),
    ]  # fmt: skip


def _line_cautions(digs: pd.DataFrame) -> list[Said]:
    pressure = digs["pressure_kpa"]
    return [
        say(pressure > 0, "the line is under pressure unless it was shut off: know which valve "
            "shuts it"),
        say(pressure.isna(), "the pressure in the line is not known: take it as under pressure"),
        say(digs["air_on"], "air was injected into the line while listening: vent it"),
    ]  # fmt: skip


def _ticket_cautions(pairs: pd.DataFrame, ticket: TicketRule) -> list[Said]:
    oldest = pairs.dropna(subset=["response_time"]).groupby("zone")["response_time"].min()
    days = oldest.dt.strftime("%Y-%m-%d")
    first = pairs.dropna(subset=["notified_time"]).groupby("zone")["notified_time"].min()
    ends = last_days(first, ticket)
    return [
        (days.index.to_numpy(), [f"the oldest answer is of {d} (UTC): check that the ticket is "
                                 "still valid" for d in days]),
        (first.index.to_numpy()[: len(ends)],
         [f"the first ticket here runs out at the end of {day}" for day in ends]),
    ]  # fmt: skip


def _rule_cautions(pairs: pd.DataFrame, rule: Rule) -> list[Said]:
    caught = pairs.loc[pairs["in_caution_zone"]].groupby("zone").size()
    own = (pairs["rule"] == OWN_TOLERANCE) & (pairs["tolerance_m"] < rule.tolerance_m)
    less = pairs.loc[own].groupby("zone").size()
    return [
        (caught.index.to_numpy(), [f"{n} utilities within the caution zone of "
                                   f"{metres(rule.caution_m)}" for n in caught]),
        (less.index.to_numpy(), [f"{n} utilities state a tolerance_m of their own that is less "
                                 "than the rule's: the wider of the two is the better one"
                                 for n in less]),
    ]  # fmt: skip
