"""Check the values of a layer's columns: type, presence, code, range."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.job.columns import empty_column, loose_code
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from leakgeo.job.checks.collector import IssueCollector
    from leakgeo.job.columns import Parsed
    from leakgeo.job.schema import Field

    Checked = tuple[pd.Series[Any], NDArray[np.bool_]]

#: Characters of a text, at the most.
LONGEST = 2000
#: Times lie between these days. Spreadsheets count days from 1899-12-30, databases write 1900-01-01
#: or 9999-12-31 where nothing was given.
FIRST_DAY, LAST_DAY = "1901-01-01", "2099-12-31"


def check_column(
    parsed: Parsed | None, raw: pd.Series[Any] | None, field: Field, issues: IssueCollector
) -> pd.Series[Any]:
    """Check one column against its field.

    Parameters
    ----------
    parsed : Parsed or None
        Column in its type; None where the layer has no such column.
    raw : pandas.Series, shape (n,), or None
        Values as read.
    field : Field
    issues : IssueCollector
        Takes what is found.

    Returns
    -------
    pandas.Series, shape (n,)
        Values in their type inside leakgeo; what could not be used is null.
    """
    size = len(issues.labels)
    if parsed is None:
        values, bad = empty_column(field, size), np.zeros(size, dtype=bool)
    else:
        values, bad = _usable(parsed, raw, field, issues)
    _check_present(values, bad, field, issues, absent=parsed is None)
    if field.when_missing is not None:
        return values.fillna(field.when_missing)
    return values


def _usable(parsed: Parsed, raw: Any, field: Field, issues: IssueCollector) -> Checked:
    _report_untyped(parsed, raw, field, issues)
    short, too_long = _of_length(parsed.column, field, issues)
    values, uncoded = _coded(short, field, issues)
    values, outside = _in_range(values, field, issues)
    return values, parsed.bad | too_long | uncoded | outside


def _of_length(values: pd.Series[Any], field: Field, issues: IssueCollector) -> Checked:
    """Leave texts out that no map, report or table could show."""
    none = np.zeros(len(values), dtype=bool)
    if field.type != "string":
        return values, none
    bad = longer_than(LONGEST, values)
    if not bad.any():
        return values, none
    # Without the line that it names, a row would be given to another by its place.
    rejects = field.required or field.name == "line_id"
    what = Reason("text_too_long", _instead(field, rejects), column=field.name, longest=LONGEST)
    issues.report(bad, what, column=field.name, values=values, rejects=rejects)
    return values.mask(bad, None), bad


def _report_untyped(parsed: Parsed, raw: Any, field: Field, issues: IssueCollector) -> None:
    kind = "length" if field.unit in ("m", "mm") else field.type
    issues.report(
        parsed.bad,
        Reason(f"not_{kind}", column=field.name),
        column=field.name,
        values=raw,
        rejects=field.required,
    )
    if parsed.zoneless and field.type == "datetime":
        issues.report_layer(Reason("time_zone_missing", column=field.name), column=field.name)


def longer_than(most: int, texts: pd.Series[Any]) -> NDArray[np.bool_]:
    """Tell texts of more characters than `most`; a null has none.

    Examples
    --------
    >>> longer_than(2, pd.Series(["abc", None, "ab"], dtype=object)).tolist()
    [True, False, False]
    """
    return np.array([isinstance(t, str) and len(t) > most for t in texts], dtype=bool)


def _coded(values: pd.Series[Any], field: Field, issues: IssueCollector) -> Checked:
    """Bring codes to the contract's spelling; replace, empty or reject unknown ones."""
    if not field.codes:
        return values, np.zeros(len(values), dtype=bool)
    spelling = {loose_code(c): c for c in field.codes}
    levels, distinct = pd.factorize(values)
    # The last entry stands for null: factorize numbers it -1.
    table = np.array([*(spelling.get(loose_code(d)) for d in distinct), None], dtype=object)
    coded = table[levels]
    bad = (levels >= 0) & pd.isna(coded)
    rejects = field.unknown_code == "reject" or (field.required and field.unknown_code is None)
    issues.report(
        bad,
        Reason("unknown_code", _instead(field, rejects), column=field.name, codes=field.codes),
        column=field.name,
        values=values,
        rejects=rejects,
    )
    if field.unknown_code and not rejects:
        coded[bad] = field.unknown_code
        bad = np.zeros(len(values), dtype=bool)
    return pd.Series(coded, dtype=object), bad


def _instead(field: Field, rejects: bool) -> Reason | None:
    """Say what becomes of a bad value that does not reject its row."""
    if rejects:
        return None
    if field.unknown_code:
        return Reason("taken_as", code=field.unknown_code)
    return Reason("left_out")


def _in_range(values: pd.Series[Any], field: Field, issues: IssueCollector) -> Checked:
    """Leave out what is beyond the range of its column."""
    low, high, what = _range_of(field)
    if what is None:
        return values, np.zeros(len(values), dtype=bool)
    bad = values.notna().to_numpy() & ~values.between(low, high).to_numpy()
    issues.report(bad, what, column=field.name, values=values, rejects=field.required)
    return values.mask(bad), bad


def _range_of(field: Field) -> tuple[Any, Any, Reason | None]:
    """Give both ends of a column's range, and what to say beyond it: None where it has none.

    Times beyond it are fillers or slips, such as the days that programs count from.
    """
    then = None if field.required else Reason("left_out")
    if field.type in ("datetime", "date"):
        zone = "UTC" if field.type == "datetime" else None
        first, last = (pd.Timestamp(day, tz=zone) for day in (FIRST_DAY, LAST_DAY))
        days = {"first": FIRST_DAY, "last": LAST_DAY}
        return first, last, Reason("day_out_of_range", then, column=field.name, **days)
    if field.minimum is None and field.maximum is None:
        return None, None, None
    low = -np.inf if field.minimum is None else field.minimum
    high = np.inf if field.maximum is None else field.maximum
    span = {"minimum": field.minimum, "maximum": field.maximum, "unit": field.unit or None}
    return low, high, Reason("number_out_of_range", then, column=field.name, **span)


def _check_present(
    values: pd.Series[Any],
    bad: NDArray[np.bool_],
    field: Field,
    issues: IssueCollector,
    *,
    absent: bool,
) -> None:
    """Reject rows whose required value was never there; a bad one is reported already."""
    if not field.required:
        return
    if absent:
        issues.report_column_missing(field.name)
        return
    missing = Reason("value_missing", column=field.name)
    issues.report(values.isna().to_numpy() & ~bad, missing, column=field.name)
