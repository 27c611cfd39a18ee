"""Read a layer batch by batch, as Arrow, so that it never is in memory as a whole."""

from __future__ import annotations

import json
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pyproj
import shapely

from leakgeo.job.guards import PARQUET, gdal
from leakgeo.job.sources.layers import DBF_NAME_LENGTH, RawLayer, unreadable_layer

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from pyproj import CRS

    from leakgeo.arrays import Floats
    from leakgeo.job.sources.layers import LayerSource

#: Rows of a batch.
BATCH_ROWS = 65_536
#: Column with the geometry of each row as well-known binary.
GEOMETRY = "geometry"


@dataclass(frozen=True, eq=False)
class RowFilter:
    """Which rows of a layer are read.

    Parameters
    ----------
    condition : str
        SQL condition on the layer's own columns; ``""`` for none.
    boxes : ndarray of float, shape (n, 4), optional
        Left, lower, right and upper bounds in the CRS of the layer. Rows are read that meet one of
        them, or that `names` name. A source may give more rows, in their order.
    column : str, optional
        Column with names of lines.
    names : tuple of str
    one : bool
        Whether a single row of a database is enough.
    """

    condition: str = ""
    boxes: Floats | None = None
    column: str | None = None
    names: tuple[str, ...] = ()
    one: bool = False

    @property
    def bounds(self) -> tuple[float, ...] | None:
        """Bounds of all boxes; None if rows outside may be named."""
        if self.boxes is None or not len(self.boxes) or self.column is not None:
            return None
        low, high = self.boxes[:, :2].min(axis=0), self.boxes[:, 2:].max(axis=0)
        return tuple(map(float, (*low, *high)))


@dataclass(frozen=True, eq=False)
class LayerBatches:
    """A layer that is read batch by batch, once.

    Parameters
    ----------
    batches : iterable of pyarrow.Table
        Geometry as well-known binary in the column `GEOMETRY`.
    crs : pyproj.CRS or None
    has_geometry : bool
    longest_name : int, optional
        Length that the format truncates column names to; None if it does not.
    """

    batches: Iterable[pa.Table]
    crs: CRS | None
    has_geometry: bool
    longest_name: int | None = None

    def raw(self, rows: pa.Table) -> RawLayer:
        """Return rows of the layer as `leakgeo.job.sources.read_layer` returns all of them."""
        return raw_layer(rows, self.crs, has_geometry=self.has_geometry,
                         longest_name=self.longest_name)  # fmt: skip


def raw_layer(
    rows: pa.Table, crs: CRS | None, *, has_geometry: bool, longest_name: int | None = None
) -> RawLayer:
    """Return rows of a layer as `leakgeo.job.sources.read_layer` returns all of them.

    Parameters
    ----------
    rows : pyarrow.Table
    crs : pyproj.CRS or None
    has_geometry : bool
    longest_name : int, optional

    Examples
    --------
    >>> rows = pa.table({"line_id": ["A"], "geometry": [shapely.to_wkb(shapely.Point(1, 2))]})
    >>> raw_layer(rows, pyproj.CRS(32616), has_geometry=True).table.geometry.tolist()
    [<POINT (1 2)>]
    """
    for place, kind in enumerate(rows.schema):
        # As pyogrio gives dates, and truth values of which some are missing.
        missing = pa.types.is_boolean(kind.type) and rows[kind.name].null_count
        other = pa.timestamp("ms") if pa.types.is_date(kind.type) else pa.float64()
        if missing or pa.types.is_date(kind.type):
            rows = rows.set_column(place, kind.name, rows[kind.name].cast(other))
    shapes = rows[GEOMETRY] if has_geometry else None
    plain = rows.drop_columns([GEOMETRY]) if has_geometry else rows
    table: pd.DataFrame = plain.to_pandas()
    # As pyogrio gives a column of texts that has none.
    empty = [name for name in plain.column_names if plain[name].null_count == len(plain)
             and not pa.types.is_primitive(plain.schema.field(name).type)]  # fmt: skip
    table = table.assign(**dict.fromkeys(empty)).astype(dict.fromkeys(empty, object))
    if shapes is None:
        return RawLayer(table, None, longest_name=longest_name)
    drawn = shapely.from_wkb(shapes.to_numpy(), on_invalid="ignore")
    return RawLayer(gpd.GeoDataFrame(table, geometry=drawn, crs=crs), crs,
                    longest_name=longest_name)  # fmt: skip


def can_be_batched(source: LayerSource, name: str) -> bool:
    """Return whether a layer can be read batch by batch: of a file, or of a database."""
    place, _ = source.layers[name]
    return name not in source.ready and (isinstance(place, Path) or hasattr(place, "batches"))


def row_count(source: LayerSource, name: str) -> int:
    """Return the number of rows of a layer, as its source states it; 0 if it does not."""
    place, layer = source.layers[name]
    if not isinstance(place, Path):
        return place.row_count(layer) if can_be_batched(source, name) else 0  # type: ignore[union-attr]
    if place.suffix.casefold() in PARQUET:
        return int(pq.ParquetFile(place).metadata.num_rows)
    try:
        return int(gdal.layer_info(place, layer)["features"])
    except (OSError, RuntimeError, ValueError):  # reported when the layer is read
        return 0


@contextmanager
def open_batches(
    source: LayerSource, name: str, *, rows: int = BATCH_ROWS, only: RowFilter | None = None
) -> Iterator[LayerBatches]:
    """Open a layer to read it batch by batch.

    Parameters
    ----------
    source : LayerSource
    name : str
        Of a layer that `can_be_batched`.
    rows : int
        Most rows of a batch.
    only : RowFilter, optional
        Rows to read; all by default. A Parquet file takes no condition.

    Raises
    ------
    JobError
        If the layer can't be read, or the source refuses the condition.
    """
    place, layer = source.layers[name]
    if not isinstance(place, Path):
        with place.batches(layer, rows, only) as batches:  # type: ignore[union-attr]
            yield batches
    elif place.suffix.casefold() in PARQUET:
        yield _parquet(place)
    else:
        try:
            with _vector_file(place, layer, rows, only) as batches:
                yield batches
        except (OSError, RuntimeError, ValueError, pa.ArrowInvalid) as error:
            raise unreadable_layer(name, error) from error


@contextmanager
def _vector_file(
    path: Path, layer: str, rows: int, only: RowFilter | None
) -> Iterator[LayerBatches]:
    """Open a layer of a file that GDAL reads; rows within bounds are in their order as well."""
    bounds = None if only is None else only.bounds
    condition = None if only is None else only.condition or None
    with gdal.arrow_batches(path, layer, rows, condition, bounds) as (about, reader):
        shape = about["geometry_type"] is not None
        cut = DBF_NAME_LENGTH if path.suffix.casefold() == ".shp" else None
        own = about["geometry_name"] or "wkb_geometry"
        crs = None if about["crs"] is None else pyproj.CRS(about["crs"])
        name_of = own if shape else None
        parts: Iterable[pa.Table] = (pa.Table.from_batches([b]) for b in reader)
        if bounds is not None:  # an index has an order of its own
            parts = _by_number(list(parts))
        yield LayerBatches((_named(t, name_of) for t in parts), crs, shape, cut)


def _by_number(parts: list[pa.Table]) -> list[pa.Table]:
    """Return rows in the order of their numbers, without these, which are the first column."""
    if not parts:
        return []
    rows = pa.concat_tables(parts)
    order = np.argsort(rows.column(0).to_numpy(), kind="stable")
    return [rows.take(order).remove_column(0)]


def _named(table: pa.Table, shape: str | None) -> pa.Table:
    """Return a batch with its geometry named `GEOMETRY`, and without metadata."""
    names = [GEOMETRY if n == shape else n for n in table.column_names]
    table = table.rename_columns(names).replace_schema_metadata()
    if shape is None:
        return table
    at = names.index(GEOMETRY)
    return table.set_column(at, pa.field(GEOMETRY, pa.binary()), table[GEOMETRY].cast(pa.binary()))


def _parquet(path: Path) -> LayerBatches:
    file = pq.ParquetFile(path)
    stored = (file.schema_arrow.metadata or {}).get(b"geo")
    tables = (pa.Table.from_batches([b]) for b in file.iter_batches(BATCH_ROWS))
    if stored is None:
        return LayerBatches(tables, None, False)
    about = json.loads(stored)
    shape = str(about["primary_column"])
    others = [n for n in about["columns"] if n != shape]
    return LayerBatches(
        (_named(t.drop_columns(others), shape) for t in tables), _crs(about["columns"][shape]), True
    )


def _crs(column: dict[str, Any]) -> CRS | None:
    """Return the CRS of a column of GeoParquet; longitude and latitude where it states none."""
    if "crs" not in column:
        return pyproj.CRS("OGC:CRS84")
    return None if column["crs"] is None else pyproj.CRS(column["crs"])
