"""Collect the issues of one layer: a reason for each rejected row, and faults."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.faults import Fault
from leakgeo.reason import Reason, with_values

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from leakgeo.faults import Effect

#: Up to this many rows with the same problem get one fault each; more share one fault.
MAX_SINGLE_FAULTS = 20
_MAX_NAMED = 5
_MAX_CHARACTERS = 80


def as_text(value: object) -> str:
    """Return a value as the short text shown in a fault.

    Examples
    --------
    >>> as_text(2.5), as_text(None)
    ('2.5', '')
    """
    if value is None or value is pd.NA or value != value:  # noqa: PLR0124 - true of NaN alone
        return ""
    text = str(value)
    return text if len(text) <= _MAX_CHARACTERS else text[: _MAX_CHARACTERS - 3] + "..."


class IssueCollector:
    """Faults of one layer, and the reason of each rejected row.

    Parameters
    ----------
    layer : str
        Layer that is checked.
    labels : ndarray of str, shape (n,)
        Name of each row in faults.

    Attributes
    ----------
    reasons : ndarray of object, shape (n,)
        First reason to reject each row; None for good rows.
    faults : list of Fault

    Examples
    --------
    >>> issues = IssueCollector("routes", np.array(["A", "B"], dtype=object))
    >>> issues.report(np.array([False, True]), Reason("no_geometry"))
    >>> issues.reasons.tolist(), str(issues.faults[0])
    ([None, Reason('no_geometry')], 'routes B: It has no geometry. Draw it.')
    """

    def __init__(
        self, layer: str, labels: NDArray[np.object_], own: NDArray[np.bool_] | None = None
    ) -> None:
        self.layer = layer
        self.labels = labels
        self.own = own
        # Most similar column of the source for each required column.
        self.similar_columns: dict[str, str] = {}
        self.reasons: NDArray[np.object_] = np.full(len(labels), None, dtype=object)
        self.faults: list[Fault] = []

    @property
    def good(self) -> NDArray[np.bool_]:
        """Whether each row is good so far, shape (n,)."""
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
        """Record a problem of some rows; rows already rejected keep their first reason.

        Parameters
        ----------
        rows : ndarray of bool, shape (n,)
            Whether each row has the problem; nothing is recorded if none has.
        what : Reason or sequence of Reason
            One reason for all of these rows, or one for each of them in order.
        column : str, optional
            Column with the problem.
        values : array-like, shape (n,), optional
            Values as read; added to the reasons as ``value``.
        rejects : bool
            Whether the rows are rejected.
        """
        at = np.flatnonzero(rows)
        if not at.size:
            return
        texts = [""] * at.size
        if values is not None:
            texts = [as_text(v) for v in np.asarray(values, dtype=object)[at]]
        reasons = _row_reasons(what, texts, with_value=values is not None)
        if rejects:
            new = self.good[at]
            self.reasons[at[new]] = _object_array(reasons)[new]
        effect: Effect = "rejected" if rejects else "noted"
        if self.own is not None:
            here = np.flatnonzero(self.own[at])
            at, texts, reasons = at[here], [texts[k] for k in here], [reasons[k] for k in here]
            if not at.size:
                return
        names = [str(n) for n in self.labels[at]]
        # Faults of a part are merged with those of the others.
        if at.size <= MAX_SINGLE_FAULTS or self.own is not None:
            rest = zip(reasons, names, texts, strict=True)
            self.faults += [Fault(self.layer, r, n, column, v, effect) for r, n, v in rest]
            return
        summary = _range_text(list(dict.fromkeys(texts)))
        if isinstance(what, Reason):
            shared = what if values is None else with_values(what, value=summary)
        else:
            shared = merged_reason(reasons)
        self.faults.append(
            Fault(self.layer, shared, _first_names(names), column, summary, effect,
                  features=int(at.size))
        )  # fmt: skip

    def report_column_missing(self, column: str) -> None:
        """Reject every row because a required column is missing; record one fault.

        Parameters
        ----------
        column : str
            Required column that the layer does not have.
        """
        new, similar = self.good, self.similar_columns.get(column, "")
        self.reasons[new] = Reason("value_missing", column=column)
        code = "column_missing_like" if similar else "column_missing"
        reason = Reason(code, column=column, **({"like": similar} if similar else {}))
        self.faults.append(Fault(self.layer, reason, "", column, similar, "rejected"))

    def report_layer(self, reason: Reason, *, column: str = "", value: str = "") -> None:
        """Record a note on the layer as a whole."""
        self.faults.append(Fault(self.layer, reason, "", column, value, "noted"))


def merged_faults(faults: Iterable[Fault]) -> list[Fault]:
    """Return faults of the parts of layers as they are reported of whole layers.

    Those of many single features that differ in the feature alone, or in values, are one fault.

    Examples
    --------
    >>> many = [Fault("readings", Reason("no_geometry"), f"R-{k}") for k in range(30)]
    >>> [(fault.feature, fault.features) for fault in merged_faults(many)]
    [('R-0, R-1, R-2, R-3, R-4 and 25 more', 30)]
    """
    groups: dict[tuple[object, ...], list[Fault]] = {}
    for number, fault in enumerate(dict.fromkeys(faults)):
        alike = (fault.layer, fault.code, fault.column, fault.effect)
        single = fault.feature and fault.features == 1
        groups.setdefault(alike if single else (number,), []).append(fault)
    merged: list[Fault] = []
    for group in groups.values():
        merged += group if len(group) <= MAX_SINGLE_FAULTS else [_merged(group)]
    return merged


def _merged(group: list[Fault]) -> Fault:
    first, values = group[0], list(dict.fromkeys(fault.value for fault in group))
    return Fault(
        first.layer, merged_reason([fault.reason for fault in group]),
        _first_names([fault.feature for fault in group]), first.column, _range_text(values),
        first.effect, features=len(group),
    )  # fmt: skip


def merged_reason(reasons: Sequence[Reason]) -> Reason:
    """Return one reason for several of the same code, with the range of each of their numbers.

    Other values are listed, up to five of them.

    Examples
    --------
    >>> merged_reason([Reason("off", by_m=3.0, line="M-1"), Reason("off", by_m=1.0, line="M-1")])
    Reason('off', by_m=(1.0, 3.0), line='M-1')
    """
    values: dict[str, list[Any]] = {}
    for reason in reasons:
        for name, value in reason.values:  # noqa: PD011
            values.setdefault(name, []).append(value)
    return Reason(reasons[0].code, **{name: _merged_value(v) for name, v in values.items()})


def _merged_value(values: list[Any]) -> Any:
    distinct = list(dict.fromkeys(values))
    if len(distinct) == 1:
        return distinct[0]
    # Texts are listed even if they are digits, such as identifiers.
    is_text = any(isinstance(value, str) for value in distinct)
    return (None if is_text else _range(distinct)) or tuple(distinct[:_MAX_NAMED])


def _range(values: list[Any]) -> tuple[Any, Any] | None:
    """Return the least and the greatest of several numbers; None if any is not a number."""
    try:
        ordered = sorted(values, key=float)
    except (TypeError, ValueError):
        return None
    return ordered[0], ordered[-1]


def _range_text(values: list[str]) -> str:
    """Return the range of several numbers as text; other values are listed."""
    ends = _range(values)
    if ends is None:
        return _first_names(values)
    return f"{ends[0]} to {ends[1]}" if len(values) > 1 else values[0]


def _row_reasons(
    what: Reason | Sequence[Reason], texts: list[str], *, with_value: bool
) -> list[Reason]:
    """Return the reason of each row that has the problem."""
    if not isinstance(what, Reason):
        return list(what)
    return [with_values(what, value=text) if with_value else what for text in texts]


def _object_array(reasons: list[Reason]) -> NDArray[np.object_]:
    array = np.empty(len(reasons), dtype=object)
    array[:] = reasons
    return array


def _first_names(names: list[str]) -> str:
    more = len(names) - _MAX_NAMED
    return ", ".join(names[:_MAX_NAMED]) + (f" and {more} more" if more > 0 else "")
