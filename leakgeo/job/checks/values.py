"""Check the values of a layer's columns: type, length, code, range, presence."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.job.columns import empty_column, normalized_code
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from leakgeo.job.checks.collector import IssueCollector
    from leakgeo.job.columns import Parsed
    from leakgeo.job.schema import Field

    Checked = tuple[pd.Series[Any], NDArray[np.bool_]]

#: Longest text that is kept.
MAX_CHARACTERS = 2000
#: Allowed days of times. Spreadsheets count days from 1899-12-30; databases write 1900-01-01 or
#: 9999-12-31 as placeholders.
FIRST_DAY, LAST_DAY = "1901-01-01", "2099-12-31"


def check_column(
    parsed: Parsed | None, raw: pd.Series[Any] | None, field: Field, issues: IssueCollector
) -> pd.Series[Any]:
    """Check one column against its field, and return the usable values.

    Parameters
    ----------
    parsed : Parsed or None
        Column in its type; None if the layer has no such column.
    raw : pandas.Series, shape (n,), or None
        Values as read.
    field : Field
    issues : IssueCollector
        Collector to report to.

    Returns
    -------
    pandas.Series, shape (n,)
        Values in the type of the field; null where a value can't be used.
    """
    size = len(issues.labels)
    if parsed is None:
        values, bad = empty_column(field, size), np.zeros(size, dtype=bool)
    else:
        values, bad = _usable_values(parsed, raw, field, issues)
    _check_present(values, bad, field, issues, column_missing=parsed is None)
    if field.when_missing is not None:
        return values.fillna(field.when_missing)
    return values


def _usable_values(parsed: Parsed, raw: Any, field: Field, issues: IssueCollector) -> Checked:
    _report_unparsed(parsed, raw, field, issues)
    short, too_long = _drop_long_texts(parsed.column, field, issues)
    values, uncoded = _with_known_codes(short, field, issues)
    values, outside = _in_range(values, field, issues)
    return values, parsed.bad | too_long | uncoded | outside


def _drop_long_texts(values: pd.Series[Any], field: Field, issues: IssueCollector) -> Checked:
    """Set texts to null that are too long to be shown on a map, in a report or in a table."""
    none = np.zeros(len(values), dtype=bool)
    if field.type != "string":
        return values, none
    bad = longer_texts(MAX_CHARACTERS, values)
    if not bad.any():
        return values, none
    # Without its line_id a row would be assigned to another line by position.
    rejects = field.required or field.name == "line_id"
    what = Reason(
        "text_too_long", _consequence(field, rejects), column=field.name, longest=MAX_CHARACTERS
    )
    issues.report(bad, what, column=field.name, values=values, rejects=rejects)
    return values.mask(bad, None), bad


def _report_unparsed(parsed: Parsed, raw: Any, field: Field, issues: IssueCollector) -> None:
    kind = "length" if field.unit in ("m", "mm") else field.type
    issues.report(
        parsed.bad,
        Reason(f"not_{kind}", column=field.name),
        column=field.name,
        values=raw,
        rejects=field.required,
    )
    if parsed.without_zone and field.type == "datetime":
        issues.report_layer(Reason("time_zone_missing", column=field.name), column=field.name)


def longer_texts(most: int, texts: pd.Series[Any]) -> NDArray[np.bool_]:
    """Return whether each text has more characters than `most`; nulls have none.

    Examples
    --------
    >>> longer_texts(2, pd.Series(["abc", None, "ab"], dtype=object)).tolist()
    [True, False, False]
    """
    # Texts repeat a lot, and hardly any is too long.
    distinct = [t for t in pd.unique(texts) if isinstance(t, str)]
    if max(map(len, distinct), default=0) <= most:
        return np.zeros(len(texts), dtype=bool)
    return texts.isin([t for t in distinct if len(t) > most]).to_numpy()


def _with_known_codes(values: pd.Series[Any], field: Field, issues: IssueCollector) -> Checked:
    """Convert codes to the spelling of the contract; replace, drop or reject unknown codes."""
    if not field.codes:
        return values, np.zeros(len(values), dtype=bool)
    spelling = {normalized_code(c): c for c in field.codes}
    levels, distinct = pd.factorize(values)
    # The last entry is for nulls, which factorize numbers -1.
    table = np.array([*(spelling.get(normalized_code(d)) for d in distinct), None], dtype=object)
    coded = table[levels]
    bad = (levels >= 0) & pd.isna(coded)
    rejects = field.unknown_code == "reject" or (field.required and field.unknown_code is None)
    issues.report(
        bad,
        Reason("unknown_code", _consequence(field, rejects), column=field.name, codes=field.codes),
        column=field.name,
        values=values,
        rejects=rejects,
    )
    if field.unknown_code and not rejects:
        coded[bad] = field.unknown_code
        bad = np.zeros(len(values), dtype=bool)
    return pd.Series(coded, dtype=object), bad


def _consequence(field: Field, rejects: bool) -> Reason | None:
    """Return the treatment of a bad value that does not reject its row."""
    if rejects:
        return None
    if field.unknown_code:
        return Reason("taken_as", code=field.unknown_code)
    return Reason("left_out")


def _in_range(values: pd.Series[Any], field: Field, issues: IssueCollector) -> Checked:
    """Set values to null that are outside the range of their column."""
    low, high, what = _range_of(field)
    if what is None:
        return values, np.zeros(len(values), dtype=bool)
    bad = values.notna().to_numpy() & ~values.between(low, high).to_numpy()
    issues.report(bad, what, column=field.name, values=values, rejects=field.required)
    return values.mask(bad), bad


def _range_of(field: Field) -> tuple[Any, Any, Reason | None]:
    """Return both ends of a column's range, and the reason for values outside; None without range.

    Times outside the range are placeholders or typing errors.
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
    column_missing: bool,
) -> None:
    """Reject rows without a required value; bad values have been reported before."""
    if not field.required:
        return
    if column_missing:
        issues.report_column_missing(field.name)
        return
    missing = Reason("value_missing", column=field.name)
    issues.report(values.isna().to_numpy() & ~bad, missing, column=field.name)
