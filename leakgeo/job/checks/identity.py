"""Find rows that claim the same identifier."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.job.checks.registry import check

if TYPE_CHECKING:
    from leakgeo.job.checks.collector import Findings
    from leakgeo.job.schema import LayerSchema


@check(stage="read", order=20)
def identifiers(table: pd.DataFrame, findings: Findings, schema: LayerSchema) -> None:
    """Keep the first of identical rows; reject all rows that share an identifier and differ.

    Rows rejected already don't count: they can't be mistaken for a good one.
    """
    for field in (f for f in schema.fields if f.unique):
        good = findings.good & table[field.name].notna().to_numpy()
        shared = np.zeros(len(table), dtype=bool)
        shared[good] = table.loc[good, field.name].duplicated(keep=False)
        if not shared.any():
            continue
        content = _content(table[shared])
        again = np.zeros(len(table), dtype=bool)
        again[shared] = content.duplicated(keep="first")
        versions = content[~content.duplicated()].groupby(field.name).size()
        differs = shared & table[field.name].isin(versions.index[versions > 1]).to_numpy()
        findings.tell(
            differs, f"Several rows have this {field.name}, and they differ.",
            "Give each its own, or remove the wrong ones.",
            column=field.name, values=table[field.name],
        )  # fmt: skip
        findings.tell(
            again & ~differs, copy_of(field.name),
            "Remove the copy.", column=field.name, values=table[field.name],
        )  # fmt: skip


def copy_of(field: str) -> str:
    """Say why a row is rejected that is identical with one before it.

    Examples
    --------
    >>> copy_of("line_id")
    'An identical row with this line_id comes before it.'
    """
    return f"An identical row with this {field} comes before it."


def _content(rows: pd.DataFrame) -> pd.DataFrame:
    """Lay rows out so that equal rows compare equal, geometry by its bytes."""
    if not isinstance(rows, gpd.GeoDataFrame):
        return rows
    shapes = rows.geometry.to_wkb()
    plain = pd.DataFrame(rows.drop(columns=rows.geometry.name))
    return plain.assign(_shape=shapes)
