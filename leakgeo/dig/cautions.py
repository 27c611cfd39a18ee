"""Cautions for each dig, independent of its holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.dig.depth import BY_GROUND, ON_RECORD
from leakgeo.dig.facilities import OWN_TOLERANCE
from leakgeo.dig.site_cautions import site_cautions
from leakgeo.dig.tickets import last_days
from leakgeo.job.placed import STRAIGHT, TAPED
from leakgeo.reason import Reason, columns_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from leakgeo.dig.rules import Rule
    from leakgeo.dig.tickets import TicketRule

    Cautions = Iterable[tuple[int, Reason]]  # row of the dig, caution

# 29 CFR 1926.652(a)(1)(ii): less than 5 feet (1.52 m); 1926.651(j)(2): 2 feet (.61 m).
PROTECTION_FROM_M, SPOIL_BACK_M = 1.52, 0.61
MIN_DIFFERENCE_M = 0.15  # smaller differences of cover are not reported
COLUMNS = ("line_id", "mark_rank", "order", "code", "values")


def cautions_table(
    digs: pd.DataFrame, pairs: pd.DataFrame, rule: Rule, ticket: TicketRule
) -> pd.DataFrame:
    """Return the cautions of each dig.

    Parameters
    ----------
    digs : pandas.DataFrame
        With trace, depth_m (of the excavation), depth_source, cover_m, cover_by_ground_m,
        pressure_kpa, air_on, drawn, azimuth_known and located, and the columns of
        `leakgeo.dig.site_cautions.site_of`.
    pairs : pandas.DataFrame
        As `leakgeo.dig.conflicts.find_conflicts` returns them.
    rule : Rule
    ticket : TicketRule

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`.
    """
    every = np.full(len(digs), True)
    source, pressure = digs["depth_source"], digs["pressure_kpa"]
    found = [
        *_depths(digs["depth_m"].tolist()),
        *_where(source == ON_RECORD, Reason("depth_on_record")),
        *_where(source == BY_GROUND, Reason("depth_by_ground")),
        *_differing_covers(digs),
        *_where(every, Reason("spoil", back_m=SPOIL_BACK_M)),
        *_where(pressure > 0, Reason("under_pressure")),
        *_where(pressure.isna(), Reason("pressure_unknown")),
        *_where(digs["air_on"], Reason("vent_air")),
        *_where(digs["drawn"] & ~digs["azimuth_known"], Reason("direction_unknown")),
        *_where(digs["trace"] == STRAIGHT, Reason("trace_assumed_straight")),
        *_where(digs["trace"] == TAPED, Reason("other_pipes_unknown")),
        *site_cautions(digs),
        *_emergencies(pairs),
        *_ticket_cautions(pairs, ticket),
        *_rule_cautions(pairs, rule),
        *_where(every, Reason("ask_private")),
        *_where(every, Reason("rule_in_force", rule=rule.name, source=rule.source, date=rule.date)),
    ]
    rows = pd.DataFrame(found, columns=["zone", "reason"]).sort_values("zone", kind="stable")
    dig = rows["zone"].to_numpy(dtype=int)
    table = pd.DataFrame({
        "line_id": digs["line_id"].to_numpy(dtype=object)[dig],
        "mark_rank": digs["mark_rank"].to_numpy()[dig],
        "order": rows.groupby("zone").cumcount().to_numpy() + 1,
    })  # fmt: skip
    return table.assign(**columns_of("message", rows["reason"]))[list(COLUMNS)]


def _where(mask: object, reason: Reason) -> Iterator[tuple[int, Reason]]:
    """Yield the reason for each row where `mask` is true."""
    return ((at, reason) for at in np.flatnonzero(np.asarray(mask, dtype=bool)).tolist())


def _depths(depth_m: Iterable[float]) -> Iterator[tuple[int, Reason]]:
    for at, depth in enumerate(depth_m):
        if not np.isfinite(depth):
            yield at, Reason("dig_depth_unknown")
        else:
            code = "dig_deep" if depth >= PROTECTION_FROM_M else "dig_shallow"
            yield at, Reason(code, depth_m=depth)


def _differing_covers(digs: pd.DataFrame) -> Iterator[tuple[int, Reason]]:
    """Yield a caution where the cover on record and the ground model disagree."""
    cover = digs["cover_m"].to_numpy(dtype=float)
    modelled = digs["cover_by_ground_m"].to_numpy(dtype=float)
    on_record = (digs["depth_source"] == ON_RECORD).to_numpy()
    for at in np.flatnonzero(on_record & (np.abs(modelled - cover) > MIN_DIFFERENCE_M)).tolist():
        yield at, Reason("covers_differ", by_ground_m=modelled[at], on_record_m=cover[at])


def _ticket_cautions(pairs: pd.DataFrame, ticket: TicketRule) -> Cautions:
    oldest = pairs.dropna(subset=["response_time"]).groupby("zone")["response_time"].min()
    first = pairs.dropna(subset=["notified_time"]).groupby("zone")["notified_time"].min()
    days = oldest.dt.strftime("%Y-%m-%d")
    return [
        *((int(zone), Reason("oldest_answer", date=day))
          for zone, day in zip(days.index, days, strict=True)),
        *((int(zone), Reason("ticket_runs_out", date=str(day)))
          for zone, day in zip(first.index, last_days(first, ticket), strict=False)),
    ]  # fmt: skip


def _emergencies(pairs: pd.DataFrame) -> Cautions:
    count = pairs.loc[pairs["emergency"]].groupby("zone").size()
    return [(int(zone), Reason("emergency_ticket", utilities=int(n)))
            for zone, n in zip(count.index, count, strict=True)]  # fmt: skip


def _rule_cautions(pairs: pd.DataFrame, rule: Rule) -> Cautions:
    caught = pairs.loc[pairs["in_caution_zone"]].groupby("zone").size()
    own = (pairs["rule"] == OWN_TOLERANCE) & (pairs["tolerance_m"] < rule.tolerance_m)
    less = pairs.loc[own].groupby("zone").size()
    return [
        *((int(zone), Reason("in_caution_zone", utilities=int(n), caution_m=rule.caution_m))
          for zone, n in zip(caught.index, caught, strict=True)),
        *((int(zone), Reason("own_tolerance_less", utilities=int(n)))
          for zone, n in zip(less.index, less, strict=True)),
    ]  # fmt: skip
