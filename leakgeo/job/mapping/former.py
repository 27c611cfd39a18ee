"""Convert former names and values of older job files: renamed columns, booleans for codes."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.job.columns import hashable, match_columns, normalized_code, parse_boolean

if TYPE_CHECKING:
    from leakgeo.arrays import Bools
    from leakgeo.job.schema import Field, LayerSchema


#: Codes that replace true, by column of the input layers. Forms store false for a box that nobody
#: ticked, so false becomes null.
FORMER_BOOLEANS = MappingProxyType({"private": "yes", "found": "leak"})


@dataclass(frozen=True)
class FormerColumn:
    """A column that was replaced by one of the opposite meaning.

    Parameters
    ----------
    name : str
        Present name.
    instead_of_false : bool or None
        Value of the present column for a former false; a former true becomes false.
    """

    name: str
    instead_of_false: bool | None


#: By layer and former name. Readings are set aside on purpose, so false is meaningful; for outlets
#: false may be a box that nobody ticked.
FORMER_COLUMNS = MappingProxyType({
    ("readings", "usable"): FormerColumn("set_aside", instead_of_false=True),
    ("meter_tests", "all_outlets_closed"): FormerColumn("water_used", instead_of_false=None),
})  # fmt: skip


def rename_former_columns(
    table: pd.DataFrame, schema: LayerSchema, longest: int | None = None
) -> tuple[pd.DataFrame, dict[str, str]]:
    """Convert columns of older files to their present names and values.

    Parameters
    ----------
    table : pandas.DataFrame
        As read; not changed.
    schema : LayerSchema
    longest : int, optional
        Length that the format truncates names to.

    Returns
    -------
    table : pandas.DataFrame
    renamed : dict of str to str
        Former to present name. A layer with a column of the present name is not converted.

    Examples
    --------
    >>> from leakgeo.job.schema import load_schema
    >>> table = pd.DataFrame({"USABLE": [True, "no", None, "?"]})
    >>> table, renamed = rename_former_columns(table, load_schema("readings"))
    >>> table["set_aside"].tolist(), renamed
    ([False, True, None, '?'], {'usable': 'set_aside'})
    """
    renamed: dict[str, str] = {}
    for (layer, was), now in FORMER_COLUMNS.items():
        names = match_columns(map(str, table.columns), [was, now.name], longest=longest)
        if layer != schema.name or was not in names or now.name in names:
            continue
        answers = {True: False, False: now.instead_of_false}
        truths = [(parse_boolean(value), value) for value in table[names[was]]]
        new = [value if truth is None else answers[truth] for truth, value in truths]
        converted = table.rename(columns={names[was]: now.name})
        converted[now.name] = pd.Series(new, dtype=object, index=table.index)
        table, renamed[was] = converted, now.name
    return table, renamed


def is_former_boolean(value: object, field: Field) -> bool:
    """Return whether a value is a boolean of older files in a column that now has codes.

    Examples
    --------
    >>> from leakgeo.job.schema import load_schema
    >>> private = load_schema("utilities").field("private")
    >>> [is_former_boolean(value, private) for value in (True, "0", "no")]
    [True, True, False]
    """
    if field.name not in FORMER_BOOLEANS or normalized_code(value) in field.codes:
        return False
    return parse_boolean(value) is not None


def codes_for_booleans(raw: pd.Series[Any], field: Field) -> tuple[pd.Series[Any], Bools]:
    """Replace true of older files by a code, and false by null.

    Parameters
    ----------
    raw : pandas.Series, shape (n,)
        As read.
    field : Field

    Returns
    -------
    column : pandas.Series, shape (n,)
    unticked : ndarray of bool, shape (n,)
        Whether each value was false.

    Examples
    --------
    >>> from leakgeo.job.schema import load_schema
    >>> found = load_schema("dig_outcomes").field("found")
    >>> column, unticked = codes_for_booleans(pd.Series([True, False, "dry"]), found)
    >>> column.tolist(), unticked.tolist()
    (['leak', None, 'dry'], [False, True, False])
    """
    none = np.zeros(len(raw), dtype=bool)
    if field.name not in FORMER_BOOLEANS:
        return raw, none
    levels, distinct = pd.factorize(hashable(raw))
    former = np.array([is_former_boolean(v, field) for v in distinct], dtype=bool)
    if not former.any():
        return raw, none
    code = FORMER_BOOLEANS[field.name]
    codes = [(code if parse_boolean(v) else None) if old else v
             for v, old in zip(distinct, former, strict=True)]  # fmt: skip
    # factorize numbers nulls -1, which selects the last entry.
    unticked = np.array([*(c is None for c in codes), False], dtype=bool)[levels]
    table = np.empty(len(codes) + 1, dtype=object)
    table[:-1], table[-1] = codes, None
    return pd.Series(table[levels], dtype=object), unticked
