"""Check the values of a layer's columns: type, presence, code, range."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.job.columns import empty_column, parse_column

if TYPE_CHECKING:
    from leakgeo.job.findings import Findings
    from leakgeo.job.schema import Field

_KIND = {
    "number": "a number", "integer": "a whole number", "boolean": "true or false",
    "datetime": "a time", "date": "a date", "string": "text",
}  # fmt: skip
_HOW = {
    "number": "Give digits with a point, without unit.",
    "integer": "Give digits alone.",
    "boolean": "Give true or false.",
    "datetime": "Give it as 2025-03-31T14:05:00Z, or with its offset from UTC.",
    "date": "Give it as 2025-03-31.",
    "string": "Give text.",
}


def check_column(raw: pd.Series[Any] | None, field: Field, findings: Findings) -> pd.Series[Any]:
    """Type and check one column.

    Parameters
    ----------
    raw : pandas.Series, shape (n,), or None
        Values as read; None where the layer has no such column.
    field : Field
    findings : Findings
        Takes what is found.

    Returns
    -------
    pandas.Series, shape (n,)
        Values in their type inside leakgeo; what could not be used is null.
    """
    size = len(findings.labels)
    if raw is None:
        values, bad = empty_column(field, size), np.zeros(size, dtype=bool)
    else:
        values, bad = _typed(raw, field, findings)
        values, worse = _coded(values, field, findings)
        bad |= worse
        values, worse = _in_range(values, field, findings)
        bad |= worse
    if field.required:
        _present(values, bad, field, findings, absent=raw is None)
    if field.when_missing is not None:
        values = values.fillna(field.when_missing)
    return values


def _typed(raw: pd.Series[Any], field: Field, findings: Findings) -> tuple[pd.Series[Any], Any]:
    (values, bad), zoneless = parse_column(raw, field)
    findings.tell(
        bad,
        f"{field.name} is not {_KIND[field.type]}.",
        _HOW[field.type],
        column=field.name,
        values=raw,
        rejects=field.required,
    )
    if zoneless and field.type == "datetime":
        findings.tell_layer(
            f"{field.name} has no time zone; it was taken as UTC.",
            "Give times with their zone, or in UTC.",
            field.name,
        )
    return values, bad


def _coded(values: pd.Series[Any], field: Field, findings: Findings) -> tuple[pd.Series[Any], Any]:
    """Bring codes to the contract's spelling; replace, empty or reject unknown ones."""
    if not field.codes:
        return values, np.zeros(len(values), dtype=bool)
    spelling = {_loose(c): c for c in field.codes}
    levels, distinct = pd.factorize(values)
    # The last entry stands for null: factorize numbers it -1.
    table = np.array([spelling.get(_loose(d)) for d in distinct] + [None], dtype=object)
    coded = pd.Series(table[levels], index=values.index, dtype=object)
    bad = (levels >= 0) & coded.isna().to_numpy()
    rejects = field.unknown_code == "reject" or (field.required and field.unknown_code is None)
    findings.tell(
        bad,
        f"{field.name} is not one of the known codes{_instead(field, rejects=rejects)}.",
        f"Use one of: {', '.join(field.codes)}.",
        column=field.name,
        values=values,
        rejects=rejects,
    )
    if field.unknown_code and not rejects:
        return coded.mask(bad, field.unknown_code), np.zeros(len(values), dtype=bool)
    return coded, bad


def _loose(code: object) -> str:
    return "_".join(str(code).casefold().replace("-", " ").replace("_", " ").split())


def _instead(field: Field, *, rejects: bool) -> str:
    if rejects:
        return ""
    return f"; taken as {field.unknown_code}" if field.unknown_code else "; left empty"


def _in_range(
    values: pd.Series[Any], field: Field, findings: Findings
) -> tuple[pd.Series[Any], Any]:
    if field.minimum is None and field.maximum is None:
        return values, np.zeros(len(values), dtype=bool)
    low = -np.inf if field.minimum is None else field.minimum
    high = np.inf if field.maximum is None else field.maximum
    bad = values.notna().to_numpy() & ~values.between(low, high).to_numpy()
    span = f"at least {low:g}" if high == np.inf else f"from {low:g} to {high:g}"
    findings.tell(
        bad,
        f"{field.name} is out of range{'' if field.required else '; left empty'}.",
        f"Give a value {span}{' ' + field.unit if field.unit else ''}, or none where not known.",
        column=field.name,
        values=values,
        rejects=field.required,
    )
    return values.mask(bad), bad


def _present(
    values: pd.Series[Any], bad: Any, field: Field, findings: Findings, *, absent: bool
) -> None:
    """Reject rows whose required value was never there; a bad one has been told already."""
    problem = f"{field.name} is missing"
    findings.tell(
        values.isna().to_numpy() & ~bad,
        f"{problem}: the layer has no such column." if absent else f"{problem}.",
        f"Add the column {field.name}." if absent else f"Fill in {field.name}.",
        column=field.name,
    )
