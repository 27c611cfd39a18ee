"""The evidence that counts most on a line, for people who read a few sentences of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from leakgeo.reason import columns_of, reasons_in, with_next

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

Row = TypeVar("Row", bound=Mapping[str, Any])
# Sentences shown of a line.
MOST = 3


def strongest(rows: Sequence[Row]) -> list[Row]:
    """Return the evidence of a line that counts most for or against a leak, strongest first.

    Empty on a line of which only the levels are evidence, as the probabilities say the same.

    Parameters
    ----------
    rows : sequence of mapping
        Rows of ``evidence`` of one line.

    Examples
    --------
    >>> rows = [{"kind": "sound", "log10_bayes_factor": 0.2},
    ...         {"kind": "meter", "log10_bayes_factor": -1.7}]
    >>> [row["kind"] for row in strongest(rows)], strongest(rows[:1])
    (['meter', 'sound'], [])
    """
    known = [row for row in rows if row["kind"] != "prior"]
    if all(row["kind"] == "sound" for row in known):
        return []
    return sorted(known, key=lambda row: -abs(row["log10_bayes_factor"]))[:MOST]


def evidence_columns(lines: pd.Series[str], evidence: pd.DataFrame) -> dict[str, Any]:
    """Return the strongest evidence of each line as columns of a text, see `columns_of`.

    Parameters
    ----------
    lines : pandas.Series
        ``line_id`` of each row.
    evidence : pandas.DataFrame
        Layer ``evidence``.
    """
    by_line: dict[str, list[dict[str, Any]]] = {}
    names = ["line_id", "kind", "log10_bayes_factor"]
    reasons = reasons_in(evidence, "message")
    for row, reason in zip(evidence[names].itertuples(index=False), reasons, strict=True):
        own = dict(zip(names, row, strict=True))
        by_line.setdefault(own["line_id"], []).append({**own, "reason": reason})
    shown = [[row["reason"] for row in strongest(by_line.get(name, []))] for name in lines]
    return columns_of("evidence", [with_next(*reasons) if reasons else None for reasons in shown])
