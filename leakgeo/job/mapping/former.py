"""Names and values of older job files: columns that have another name now, or take codes."""

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


#: Codes that stand for true, by column of the input layers. A form stores false for a box that
#: nobody ticked, so false is no answer.
FORMER_BOOLEANS = MappingProxyType({"private": "yes", "found": "leak"})


@dataclass(frozen=True)
class FormerColumn:
    """A column that has another name now, and asks the opposite.

    Parameters
    ----------
    name : str
        Its name now.
    instead_of_false : bool or None
        What false meant, in terms of the new column; true meant false.
    """

    name: str
    instead_of_false: bool | None


#: By layer and former name. Whoever set a reading aside did so on purpose; that an outlet was open
#: can't be told from a box that nobody ticked.
FORMER_COLUMNS = MappingProxyType({
    ("readings", "usable"): FormerColumn("set_aside", instead_of_false=True),
    ("meter_tests", "all_outlets_closed"): FormerColumn("water_used", instead_of_false=None),
})  # fmt: skip


def rename_former_columns(
    table: pd.DataFrame, schema: LayerSchema, longest: int | None = None
) -> tuple[pd.DataFrame, dict[str, str]]:
    """Give columns of older files their present name and values.

    Parameters
    ----------
    table : pandas.DataFrame
        As read; not changed.
    schema : LayerSchema
    longest : int, optional
        Letters after which the format cuts a name off.

    Returns
    -------
    table : pandas.DataFrame
    renamed : dict of str to str
        Former name to present one. A layer that has a column of the present name keeps both.

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
        new = [value if told is None else answers[told] for told, value in truths]
        turned = table.rename(columns={names[was]: now.name})
        turned[now.name] = pd.Series(new, dtype=object, index=table.index)
        table, renamed[was] = turned, now.name
    return table, renamed


def is_former_boolean(value: object, field: Field) -> bool:
    """Tell whether a value is a true or false of older files.

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
    """Put codes in the place of true; false becomes null.

    Parameters
    ----------
    raw : pandas.Series, shape (n,)
        As read.
    field : Field

    Returns
    -------
    column : pandas.Series, shape (n,)
    unticked : ndarray of bool, shape (n,)
        Where false stood.

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
    # factorize numbers nulls -1, which picks what is put last.
    unticked = np.array([*(c is None for c in codes), False], dtype=bool)[levels]
    table = np.empty(len(codes) + 1, dtype=object)
    table[:-1], table[-1] = codes, None
    return pd.Series(table[levels], dtype=object), unticked
