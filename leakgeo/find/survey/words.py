"""What the first survey says of a stretch of pipe, as reasons."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping

# Levels that are less than three times likelier with a leak than without show nothing.
SHOWN_NATS = 1.0986
# Pipes not listed that hold less than this are not worth a word.
_HELD = 0.005


def message(row: Mapping[str, Any]) -> Reason:
    """Say where a stretch is, why it is listed, how likely it is, and when to walk it.

    Parameters
    ----------
    row : mapping
        One row of the bracket, with ``loudest``, ``second``, ``beside``, ``elsewhere``,
        ``apart`` and ``best`` (the largest support of its area, in nats).

    Returns
    -------
    Reason

    Examples
    --------
    >>> from leakgeo.wording import Wording
    >>> Wording().say(message(
    ...     {"from_contact": "V-1", "to_contact": "M-1", "from_chainage_m": 0.0,
    ...      "to_chainage_m": 20.0, "loudest": "V-1", "second": "M-1", "on_path": True,
    ...      "beside": True, "probability": 0.8, "order": 1, "elsewhere": 0.1, "best": 3.0,
    ...      "apart": False}))
    'Between V-1 and M-1, the loudest two: 80 % of the odds, if these pipes leak. Walk it first,
    from V-1, and see that V-1 does not leak itself. Pipes not listed hold 10 %.'
    """
    notes = _notes(row) if row["order"] == 1 else []
    return Reason("stretch", _walk(row), *notes, where=_where(row), why=_why(row),
                  probability=row["probability"])  # fmt: skip


def _where(row: Mapping[str, Any]) -> Reason:
    ends = [name for name in (row["from_contact"], row["to_contact"]) if not pd.isna(name)]
    if len(ends) == 2:
        return Reason("between_fittings", **{"from": ends[0], "to": ends[1]})
    reach = {"from_m": row["from_chainage_m"], "to_m": row["to_chainage_m"]}
    return Reason("beyond_fitting", fitting=ends[0], **reach) if ends else (
        Reason("part_of_line", **reach))  # fmt: skip


def _why(row: Mapping[str, Any]) -> Reason:
    loudest, second = row["loudest"], row["second"]
    if row["on_path"] and {row["from_contact"], row["to_contact"]} == {loudest, second}:
        return Reason("why_loudest_two")
    if row["on_path"]:
        return Reason("why_on_path", loudest=loudest, second=second)
    return Reason("why_beside", loudest=loudest) if row["beside"] else Reason("why_open")


def _walk(row: Mapping[str, Any]) -> Reason:
    if row["order"] > 1:
        return Reason("walk_in_order", order=row["order"])
    if not row["beside"]:
        return Reason("walk_it_first")
    return Reason("walk_it_first_from", loudest=row["loudest"])


def _notes(row: Mapping[str, Any]) -> list[Reason]:
    notes = []
    if row["apart"]:
        notes.append(Reason("quiet_fittings_between"))
    if row["elsewhere"] >= _HELD:
        notes.append(Reason("pipes_not_listed", probability=row["elsewhere"]))
    if not row["best"] > SHOWN_NATS:
        notes.append(Reason("levels_show_little"))
    return notes
