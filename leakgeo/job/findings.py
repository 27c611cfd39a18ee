"""Collect what is wrong with one layer: a reason for each rejected row, and faults people can read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from leakgeo.faults import Fault

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

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
    if value is None or value != value:  # noqa: PLR0124 - true of NaN and NaT alone
        return ""
    text = str(value)
    return text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."


class Findings:
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
    """

    def __init__(self, layer: str, labels: NDArray[np.object_]) -> None:
        self.layer = layer
        self.labels = labels
        self.reasons: NDArray[np.object_] = np.full(len(labels), None, dtype=object)
        self.faults: list[Fault] = []

    @property
    def good(self) -> NDArray[np.bool_]:
        """Whether each row is (still) good."""
        return np.equal(self.reasons, None).astype(bool)

    def tell(
        self,
        rows: NDArray[np.bool_],
        problem: str,
        what_to_do: str,
        *,
        column: str = "",
        values: pd.Series[Any] | NDArray[Any] | None = None,
        rejects: bool = True,
    ) -> None:
        """Record a trouble of some rows; rows already rejected keep their first reason.

        Parameters
        ----------
        rows : ndarray of bool, shape (n,)
            Rows at fault; none of them is fine.
        problem, what_to_do : str
            Sentences, for one row.
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
        told = (
            [as_text(v) for v in np.asarray(values, dtype=object)[at]] if values is not None else []
        )
        if rejects:
            first = at[self.good[at]]
            self.reasons[first] = problem
        effect: Any = "rejected" if rejects else "noted"
        if at.size <= EACH:
            texts = told or [""] * at.size
            self.faults += [
                Fault(self.layer, problem, what_to_do, str(self.labels[i]), column, v, effect)
                for i, v in zip(at, texts, strict=True)
            ]
        else:
            self.faults.append(
                Fault(
                    self.layer, f"{at.size} features: {problem}", what_to_do,
                    _some([str(self.labels[i]) for i in at[:_NAMED]], at.size),
                    column, _some(list(dict.fromkeys(told))[:_NAMED]), effect,
                )
            )  # fmt: skip

    def tell_layer(self, problem: str, what_to_do: str, column: str = "", value: str = "") -> None:
        """Record something worth saying of the layer as a whole."""
        self.faults.append(Fault(self.layer, problem, what_to_do, "", column, value, "noted"))


def _some(names: list[str], total: int | None = None) -> str:
    more = (total or 0) - len(names)
    return ", ".join(names) + (f" and {more} more" if more > 0 else "")
