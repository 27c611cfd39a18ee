"""A file whose layers have rows that a GIS has edited and not saved yet."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.errors import ParameterError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from leakgeo.job.sources.layers import RawLayer

#: Keys of a row besides its columns: its number in the file, and its geometry as WKT.
FID, GEOMETRY = "fid", "geometry"


@dataclass(frozen=True, eq=False)
class EditedSource:
    """A file, and rows to read in place of stored ones.

    Parameters
    ----------
    path : pathlib.Path
        A file with a number for each row, such as a GeoPackage; it is not changed.
    rows : mapping of str to sequence of mapping
        Rows by layer, columns as stored. A row with a ``fid`` replaces that row of the file, others
        are added. ``geometry`` is WKT in the CRS of the layer; a row without it has none.
    deleted : mapping of str to sequence of int
        Numbers of the rows to leave out, by layer.

    Examples
    --------
    >>> from pathlib import Path
    >>> from leakgeo.job.sources.layers import RawLayer
    >>> stored = RawLayer(pd.DataFrame({"line_id": ["A", "B", "C"]}), None)
    >>> rows = {"meter_tests": [{"fid": 7, "line_id": "X"}, {"line_id": "D"}]}
    >>> edits = EditedSource(Path("job.gpkg"), rows, {"meter_tests": [9]})
    >>> edits.edited("meter_tests", stored, [7, 8, 9]).table["line_id"].tolist()
    ['X', 'B', 'D']
    """

    path: Path
    rows: Mapping[str, Sequence[Mapping[str, Any]]] = field(default_factory=dict)
    deleted: Mapping[str, Sequence[int]] = field(default_factory=dict)

    def __str__(self) -> str:
        return str(self.path)

    @property
    def layers(self) -> set[str]:
        """Names of the layers with edits, in lower case."""
        return {name.casefold() for name in (*self.rows, *self.deleted)}

    def edited(self, name: str, stored: RawLayer, fids: Sequence[int]) -> RawLayer:
        """Return a layer with the edits.

        Parameters
        ----------
        name : str
            Name of the layer, in lower case.
        stored : RawLayer
            Layer as stored.
        fids : sequence of int
            Number of each of its rows.

        Raises
        ------
        ParameterError
            If a geometry is no WKT.
        """
        rows = [row for key, some in self.rows.items() if key.casefold() == name for row in some]
        gone = {n for key, some in self.deleted.items() if key.casefold() == name for n in some}
        place = {int(fid): k for k, fid in enumerate(fids)}
        taken = [k for fid, k in place.items() if fid not in gone]
        at = [place.get(_fid(row), len(place) + k) for k, row in enumerate(rows)]
        kept = [k for k in taken if k not in set(at)]
        table = pd.concat(
            [stored.table.iloc[kept], _table(rows, stored.table)], ignore_index=True
        ) if rows else stored.table.iloc[kept]  # fmt: skip
        order = np.argsort(np.array([*kept, *at] if rows else kept, dtype=np.int64), kind="stable")
        return replace(stored, table=table.iloc[order].reset_index(drop=True))


def _fid(row: Mapping[str, Any]) -> int:
    fid = row.get(FID)
    return -1 if fid is None else int(fid)


def _table(rows: Sequence[Mapping[str, Any]], like: pd.DataFrame) -> pd.DataFrame:
    """Return rows with the columns and types of a stored layer."""
    columns = {
        name: _column([row.get(name) for row in rows], like[name].dtype)
        for name in like.columns
        if name != GEOMETRY
    }
    plain = pd.DataFrame(columns, index=range(len(rows)))
    if not isinstance(like, gpd.GeoDataFrame):
        return plain
    try:
        shapes = shapely.from_wkt([row.get(GEOMETRY) for row in rows])
    except (shapely.errors.ShapelyError, TypeError) as error:
        raise ParameterError(f"rows: a geometry is no WKT ({error}).") from error
    placed = gpd.GeoDataFrame(plain, geometry=shapes, crs=like.crs)
    return placed[list(like.columns)]


def _column(values: list[Any], kind: Any) -> pd.Series[Any]:
    """Return values in the type of a stored column, or as they are if they do not fit."""
    column = pd.Series(values, dtype=object)
    try:
        if pd.api.types.is_datetime64_any_dtype(kind):
            return pd.to_datetime(column, utc=True, format="ISO8601").astype(kind)
        missing = column.isna().any()
        if missing and (pd.api.types.is_integer_dtype(kind) or pd.api.types.is_bool_dtype(kind)):
            return column
        return column.astype(kind)
    except (ValueError, TypeError):
        return column
