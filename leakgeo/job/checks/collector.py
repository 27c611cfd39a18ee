"""Collect the issues of one layer: a reason for each rejected row, and faults."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.faults import Fault
from leakgeo.reason import Reason, merged_reason, with_values

if TYPE_CHECKING:
    from collections.abc import Sequence

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
    >>> issues.report(np.array([False, True]), Reason("no_geometry"))
    >>> issues.reasons.tolist(), str(issues.faults[0])
    ([None, Reason('no_geometry')], 'routes B: It has no geometry. Draw it.')
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
        what: Reason | Sequence[Reason],
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
        what : Reason or sequence of Reason
            What is wrong with all rows at fault, or with each of them in their order; its message
            has the remedy.
        column : str, optional
            Column at fault.
        values : array-like, shape (n,), optional
            Values as they were read; the reason gets each as ``value``.
        rejects : bool
            Whether the rows are rejected.
        """
        at = np.flatnonzero(rows)
        if not at.size:
            return
        told = [""] * at.size
        if values is not None:
            told = [as_text(v) for v in np.asarray(values, dtype=object)[at]]
        reasons = _each(what, told, with_value=values is not None)
        if rejects:
            new = self.good[at]
            self.reasons[at[new]] = _objects(reasons)[new]
        effect: Effect = "rejected" if rejects else "noted"
        names = [str(n) for n in self.labels[at]]
        if at.size <= EACH:
            rest = zip(reasons, names, told, strict=True)
            self.faults += [Fault(self.layer, r, n, column, v, effect) for r, n, v in rest]
            return
        some = _span(list(dict.fromkeys(told)))
        if isinstance(what, Reason):
            one = what if values is None else with_values(what, value=some)
        else:
            one = merged_reason(reasons)
        self.faults.append(
            Fault(self.layer, one, _some(names), column, some, effect, features=int(at.size))
        )

    def report_column_missing(self, column: str) -> None:
        """Reject every row for a column that the layer does not have, in one fault.

        Parameters
        ----------
        column : str
            Required, and missing.
        """
        new, near = self.good, self.near.get(column, "")
        self.reasons[new] = Reason("value_missing", column=column)
        code = "column_missing_like" if near else "column_missing"
        reason = Reason(code, column=column, **({"like": near} if near else {}))
        self.faults.append(Fault(self.layer, reason, "", column, near, "rejected"))

    def report_layer(self, reason: Reason, *, column: str = "", value: str = "") -> None:
        """Record something worth saying of the layer as a whole."""
        self.faults.append(Fault(self.layer, reason, "", column, value, "noted"))


def _each(what: Reason | Sequence[Reason], told: list[str], *, with_value: bool) -> list[Reason]:
    """Give the reason of each row at fault."""
    if not isinstance(what, Reason):
        return list(what)
    return [with_values(what, value=t) if with_value else what for t in told]


def _objects(reasons: list[Reason]) -> NDArray[np.object_]:
    held = np.empty(len(reasons), dtype=object)
    held[:] = reasons
    return held


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
