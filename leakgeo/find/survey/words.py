"""What the first survey says of a stretch of pipe, as a sentence in metres."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Mapping

# Levels that are less than three times likelier with a leak than without show nothing.
SHOWN_NATS = 1.0986


def message(row: Mapping[str, Any]) -> str:
    """Say where a stretch is, why it is listed, how likely it is, and when to walk it.

    Parameters
    ----------
    row : mapping
        One row of the bracket, with ``loudest``, ``second``, ``beside``, ``elsewhere``,
        ``apart`` and ``best`` (the largest support of its area, in nats).

    Returns
    -------
    str

    Examples
    --------
    >>> message({"from_contact": "V-1", "to_contact": "M-1", "from_chainage_m": 0.0,
    ...          "to_chainage_m": 20.0, "loudest": "V-1", "second": "M-1", "on_path": True,
    ...          "beside": True, "probability": 0.8, "order": 1, "elsewhere": 0.1, "best": 3.0,
    ...          "apart": False})
    'Between V-1 and M-1, the loudest two: 80 % of the odds, if these pipes leak. Walk it first,
    from V-1, and see that V-1 does not leak itself. Pipes not listed hold 10 %.'
    """
    odds = _percent(float(row["probability"]))
    said = [f"{_where(row)}, {_why(row)}: {odds} of the odds, if these pipes leak.", _walk(row)]
    if row["order"] == 1:
        said += _notes(row)
    return " ".join(said)


def _where(row: Mapping[str, Any]) -> str:
    ends = [name for name in (row["from_contact"], row["to_contact"]) if not pd.isna(name)]
    if len(ends) == 2:
        return f"Between {ends[0]} and {ends[1]}"
    begin, end = row["from_chainage_m"], row["to_chainage_m"]
    if not ends:
        return f"From {begin:.1f} to {end:.1f} m of the line"
    return f"Beyond {ends[0]}, {begin:.1f} to {end:.1f} m of the line"


def _why(row: Mapping[str, Any]) -> str:
    loudest, second = row["loudest"], row["second"]
    if row["on_path"] and {row["from_contact"], row["to_contact"]} == {loudest, second}:
        return "the loudest two"
    if row["on_path"]:
        return f"on the way between {loudest} and {second}, the loudest two"
    if row["beside"]:
        return f"beside {loudest}, the loudest"
    return "further off, yet the levels leave it open"


def _walk(row: Mapping[str, Any]) -> str:
    if row["order"] > 1:
        return f"Walk it as number {row['order']}."
    if not row["beside"]:
        return "Walk it first."
    loudest = row["loudest"]
    return f"Walk it first, from {loudest}, and see that {loudest} does not leak itself."


def _notes(row: Mapping[str, Any]) -> list[str]:
    said = []
    if row["apart"]:
        said.append("Quiet fittings lie between here and what is louder: look at it by itself.")
    if row["elsewhere"] >= 0.005:
        said.append(f"Pipes not listed hold {_percent(float(row['elsewhere']))}.")
    if not row["best"] > SHOWN_NATS:
        said.append("The levels at these fittings hardly speak for a leak.")
    return said


def _percent(share: float) -> str:
    return "under 1 %" if 0 < share < 0.005 else f"{share * 100:.0f} %"
