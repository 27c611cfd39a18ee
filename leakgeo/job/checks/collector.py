"""Collect the issues of one layer: a reason for each rejected row, and faults."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.faults import Fault

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from leakgeo.faults import Effect

#: Up to this many rows with the same trouble get a fault each; more share one.
EACH = 20
_NAMED = 5
_LONGEST = 80


def as_text(value: object) -> str:
    """Give a value as the short text that goes in a fault.

    Examples
    --------
    >>> as_text(2.5), as_text(None)
    ('2.5', '')
    """
    if value is None or value is pd.NA or value != value:  # noqa: PLR0124 - true of NaN alone
        return ""
    text = str(value)
    return text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."


class IssueCollector:
    """Faults of one layer, and the reason why each of its rejected rows is rejected.

    Parameters
    ----------
    layer : str
        Layer that is checked.
    labels : ndarray of str, shape (n,)
        What to call each row.

    Attributes
    ----------
    reasons : ndarray of object, shape (n,)
        The first reason to reject each row, None where there is none.
    faults : list of Fault

    Examples
    --------
    >>> issues = IssueCollector("routes", np.array(["A", "B"], dtype=object))
    >>> issues.report(np.array([False, True]), "It has no {value}.", "Add it.", values=["", "x"])
    >>> issues.reasons.tolist(), str(issues.faults[0])
    ([None, 'It has no x.'], 'routes B: It has no x. Add it.')
    """

    def __init__(self, layer: str, labels: NDArray[np.object_]) -> None:
        self.layer = layer
        self.labels = labels
        # Column of the source that is most like one of the contract that is missing.
        self.near: dict[str, str] = {}
        self.reasons: NDArray[np.object_] = np.full(len(labels), None, dtype=object)
        self.faults: list[Fault] = []

    @property
    def good(self) -> NDArray[np.bool_]:
        """Whether each row is (still) good."""
        return pd.isna(self.reasons)

    def report(
        self,
        rows: NDArray[np.bool_],
        problem: str,
        what_to_do: str,
        *,
        column: str = "",
        values: Any = None,
        rejects: bool = True,
    ) -> None:
        """Record a trouble of some rows; rows already rejected keep their first reason.

        Parameters
        ----------
        rows : ndarray of bool, shape (n,)
            Rows at fault; none of them is fine.
        problem, what_to_do : str
            Sentences, for one row; ``{value}`` in `problem` becomes the value.
        column : str, optional
            Column at fault.
        values : array-like, shape (n,), optional
            Values as they were read.
        rejects : bool
            Whether the rows are rejected.
        """
        at = np.flatnonzero(rows)
        if not at.size:
            return
        told = [""] * at.size
        if values is not None:
            told = [as_text(v) for v in np.asarray(values, dtype=object)[at]]
        sentences = [problem.replace("{value}", t) for t in told]
        if rejects:
            new = self.good[at]
            self.reasons[at[new]] = np.array(sentences, dtype=object)[new]
        effect: Effect = "rejected" if rejects else "noted"
        names = [str(n) for n in self.labels[at]]
        if at.size <= EACH:
            rest = zip(sentences, names, told, strict=True)
            self.faults += [
                Fault(self.layer, s, what_to_do, n, column, v, effect) for s, n, v in rest
            ]
            return
        some = _span(list(dict.fromkeys(told)))
        problem = f"{at.size} features: {problem.replace('{value}', some)}"
        self.faults.append(
            Fault(self.layer, problem, what_to_do, _some(names), column, some, effect)
        )

    def report_column_missing(self, column: str) -> None:
        """Reject every row for a column that the layer does not have, in one fault.

        Parameters
        ----------
        column : str
            Required, and missing.
        """
        new, near = self.good, self.near.get(column, "")
        self.reasons[new] = f"{column} is missing: the layer has no such column."
        like = f"; {near} looks like it" if near else ""
        remedy = (
            f"Write a mapping with {column} = {near!r} (leakgeo mapping drafts one), or rename it."
            if near else f"Add the column {column}, or say in a mapping which column it is."
        )  # fmt: skip
        problem = f"{column} is missing: the layer has no such column{like}. No row is used."
        self.faults.append(Fault(self.layer, problem, remedy, "", column, near, "rejected"))

    def report_layer(
        self, problem: str, what_to_do: str, column: str = "", value: str = ""
    ) -> None:
        """Record something worth saying of the layer as a whole."""
        self.faults.append(Fault(self.layer, problem, what_to_do, "", column, value, "noted"))


def _span(values: list[str]) -> str:
    """Numbers from least to most; other values one by one."""
    try:
        ordered = sorted(values, key=float)
    except ValueError:
        return _some(values)
    return f"{ordered[0]} to {ordered[-1]}" if len(values) > 1 else values[0]


def _some(names: list[str]) -> str:
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")
