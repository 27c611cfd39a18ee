"""Lines with a row without geometry, as sheets make it, and a drawn row: one line in one row."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely

from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Objects
    from leakgeo.job.checks.collector import IssueCollector
    from leakgeo.job.schema import Field, LayerSchema

#: Reason of a row that is merged into the drawn row of its line.
MERGED = Reason("merged_with_drawn")


def merge_drawn_and_typed(
    frame: pd.DataFrame, shapes: Objects, schema: LayerSchema, issues: IssueCollector
) -> tuple[pd.DataFrame, Bools]:
    """Fill in a drawn route from the row of the same line that has no geometry.

    Parameters
    ----------
    frame : pandas.DataFrame, shape (n, ...)
        Columns of ``routes`` in their types.
    shapes : ndarray of shapely geometries, shape (n,)
    schema : LayerSchema
    issues : IssueCollector
        A row that is merged gets its reason here, and a note. Rows with different values of a
        column are left as they are.

    Returns
    -------
    tuple of pandas.DataFrame and ndarray of bool, shape (n,)
        The table with the values filled in, and the rows that are merged into another.
    """
    merged = np.zeros(len(frame), dtype=bool)
    line = frame["line_id"]
    twice = issues.good & line.notna().to_numpy()
    twice[twice] = line[twice].duplicated(keep=False)
    if not twice.any():
        return frame, merged
    frame, bare = frame.copy(), shapely.is_missing(shapes) | shapely.is_empty(shapes)
    known = {f.name: _known(frame[f.name], f) for f in schema.fields}
    for at in pd.Series(np.flatnonzero(twice)).groupby(line[twice].to_numpy()):
        rows = at[1].to_numpy()
        if len(rows) != 2 or bare[rows].sum() != 1:
            continue
        typed, drawn = (int(row) for row in rows[np.argsort(~bare[rows])])
        if any(given[typed] and given[drawn] and frame[name].iloc[typed] != frame[name].iloc[drawn]
               for name, given in known.items()):  # fmt: skip
            continue
        for name, given in known.items():
            if given[typed]:
                frame.loc[frame.index[drawn], name] = frame[name].iloc[typed]
        merged[typed] = True
    issues.report(merged, Reason("drawn_and_typed"), column="line_id", rejects=False)
    issues.reasons[np.flatnonzero(merged)] = MERGED
    return frame, merged


def _known(values: pd.Series[Any], field: Field) -> Bools:
    """Return which values say something: not those that are empty, or the code of unknown."""
    told = values.notna()
    if field.unknown_code:
        told &= values != field.unknown_code
    return np.asarray(told, dtype=bool)
