"""Append rows to layers of an existing job GeoPackage: all of them in one transaction, or none."""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely

from leakgeo.arrays import texts
from leakgeo.errors import JobError
from leakgeo.faults import Fault, causes_text, job_error
from leakgeo.job.checks import (
    PLACED_BY_TAPE,
    CheckedLayer,
    check_layer,
    check_settings,
    has_chainage,
    lines_with_lists,
)
from leakgeo.job.columns import match_columns
from leakgeo.job.geopackage import (
    WAIT_S,
    add_columns,
    add_layer,
    blob_of,
    columns_of,
    geometry_of,
    insert,
    note_change,
    quoted,
    table_of,
    transaction,
)
from leakgeo.job.guards import gdal, refusal
from leakgeo.job.schema import readable_layers
from leakgeo.job.sources import BUSY, RawLayer, open_source, read_layer, read_only_copy
from leakgeo.job.workbook import SHEET_FILES
from leakgeo.reason import Reason

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Mapping

    from leakgeo.arrays import Objects
    from leakgeo.job.schema import Field, LayerSchema

# A row that is marked as set aside is one to keep.
_KEPT = ("set_aside",)
# Notes of the checks on values that are replaced, and on columns that are not of the contract.
_LOSE = ("unknown_code", "columns_not_used")
_PAUSE_S = 0.05
_MOST_NAMES = 500


def append_rows(
    path: str | Path, rows: Mapping[str, pd.DataFrame], *, wait_s: float = WAIT_S
) -> tuple[Fault, ...]:
    """Append rows to layers of a job GeoPackage, in one transaction.

    The file is changed in place: another program may have it open. A column of the contract that
    a layer lacks is added to it, and a layer that the file lacks is created as
    `leakgeo.job.template.write_template` creates it.

    Parameters
    ----------
    path : str or pathlib.Path
        GeoPackage whose layers and columns have the names of the contract, in any case.
    rows : mapping of str to pandas.DataFrame or geopandas.GeoDataFrame
        Rows by layer, with columns of the contract. Geometry is a Point or null, in any CRS; it is
        transformed to that of the layer.
    wait_s : float
        Seconds to wait for another program that is writing.

    Returns
    -------
    tuple of Fault
        Notes on the rows, which were all written.

    Raises
    ------
    JobError
        If any row can't be used, with every fault; or if the file is not a job GeoPackage. Nothing
        is written then.
    OutputError
        If another program is writing, or the file is read-only. Nothing is written then.

    Examples
    --------
    >>> import tempfile, pyogrio
    >>> from leakgeo.job.template import write_template
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     job = write_template(f"{folder}/job.gpkg")
    ...     result = {"line_id": ["M-1"], "action": ["shut_fitting"], "result": ["not_found"]}
    ...     _ = append_rows(job, {"action_results": pd.DataFrame(result)})
    ...     pyogrio.read_info(job, layer="action_results")["features"]
    1
    """
    path = Path(path)
    batches = _batches(path, rows)
    _stop_if_refused(path, [fault for one in batches for fault in one.refused()])
    crs = _crs_of_layers(path, {one.schema.name for one in batches}, wait_s)
    refused: list[Fault] = []
    with transaction(path, wait_s) as base:
        for one in batches:
            refused += _write(base, one, crs)
        _stop_if_refused(path, refused)
    return tuple(fault for one in batches for fault in one.checked.faults)


def refused(path: str | Path, rows: Mapping[str, pd.DataFrame]) -> list[Fault]:
    """Return the faults of values for which `append_rows` would refuse rows, and write nothing."""
    return [fault for one in _batches(Path(path), rows) for fault in one.refused()]


def _batches(path: Path, rows: Mapping[str, pd.DataFrame]) -> list[_Batch]:
    listed = _listed(path, rows)
    return [_batch(path, name, table, listed) for name, table in rows.items()]


@dataclass(frozen=True)
class _Batch:
    """Rows of one layer, as given and checked."""

    schema: LayerSchema
    given: pd.DataFrame
    checked: CheckedLayer

    @property
    def fields(self) -> list[Field]:
        """Columns with a value in any row."""
        found = match_columns(map(str, self.given.columns), self.schema.columns)
        return [self.schema.field(name) for name, was in found.items()
                if self.given[was].notna().any()]  # fmt: skip

    def refused(self) -> list[Fault]:
        """Return the faults of values that would be lost, and of rows that would not be used."""
        faults, lost = self.checked.faults, self._columns_that_lose()
        refused = [f for f in faults if f.effect == "rejected" and f.code not in _KEPT]
        losing = [
            f for f in faults if f.code in _LOSE or (f.effect == "noted" and f.column in lost)
        ]
        return list(dict.fromkeys((*refused, *losing)))

    def _columns_that_lose(self) -> set[str]:
        """Return the columns with a value that can't be used, which a job would read as null."""
        found, lost = match_columns(map(str, self.given.columns), self.schema.columns), set()
        for field in self.fields:
            nothing = {each.casefold() for each in field.missing}
            given = [pd.notna(v) and str(v).strip().casefold() not in nothing
                     for v in self.given[found[field.name]]]  # fmt: skip
            if (np.array(given) & self.checked.table[field.name].isna().to_numpy()).any():
                lost.add(field.name)
        return lost


def _listed(path: Path, rows: Mapping[str, pd.DataFrame]) -> frozenset[str]:
    """Return the lines with a taped list, in the rows or in the file: they need no geometry."""
    fittings = RawLayer(rows["contacts"], None) if "contacts" in rows else None
    given = lines_with_lists(fittings)
    if rows.keys().isdisjoint(PLACED_BY_TAPE) or not path.is_file():
        return given
    with open_source(path) as opened:
        if "contacts" not in opened.layers:
            return given
        return given | lines_with_lists(read_layer(opened, "contacts"))


def require_geopackage(path: Path, into_sheet: str = "append_into_sheet") -> None:
    """Raise an error for a job that rows can't be appended to.

    Parameters
    ----------
    path : pathlib.Path
    into_sheet : str
        Code of the message that says where to type the row into sheets and CSV files.

    Raises
    ------
    JobError
        If the file is no GeoPackage.
    """
    if path.suffix.casefold() == ".gpkg":
        return
    typed = path.is_dir() or path.suffix.casefold() in SHEET_FILES
    reason = Reason(into_sheet if typed else "append_needs_geopackage")
    raise job_error(str(path), Fault("job", reason, effect="stops"))


def _batch(path: Path, name: str, table: pd.DataFrame, listed: frozenset[str]) -> _Batch:
    schemas = readable_layers()
    require_geopackage(path)
    if name not in schemas:
        reason = Reason("append_unknown_layer", layers=list(schemas))
        raise job_error(str(path), Fault(name, reason, effect="stops"))
    schema, given = schemas[name], pd.DataFrame(table).reset_index(drop=True)
    crs = table.crs if isinstance(table, gpd.GeoDataFrame) else None
    if isinstance(table, gpd.GeoDataFrame):
        given = given.drop(columns=table.geometry.name)
    raw = _as_layer(table, schema)
    checked = check_layer(RawLayer(raw, crs), schema, check_settings({}), listed)
    return _Batch(schema, given, checked)


def _as_layer(table: pd.DataFrame, schema: LayerSchema) -> pd.DataFrame:
    plain = table.reset_index(drop=True)
    if isinstance(plain, gpd.GeoDataFrame) and not schema.geometry_types:
        return pd.DataFrame(plain.drop(columns=plain.geometry.name))
    return plain


def _stop_if_refused(path: Path, faults: list[Fault]) -> None:
    if faults:
        raise JobError(f"{path}: nothing was written. {causes_text(faults)}", faults)


def _crs_of_layers(path: Path, wanted: set[str], wait_s: float) -> dict[str, str | None]:
    """Return the CRS of the layers to write, and of the routes, by name; None without one.

    A file that another program saves meanwhile is read again.
    """
    end = time.monotonic() + wait_s
    while True:
        try:
            with read_only_copy(path) as (readable, _):
                if reason := refusal(readable):
                    raise job_error(str(path), Fault("job", reason, effect="stops"))
                there = {name.casefold(): name for name in gdal.layer_names(readable)}
                return {name: gdal.layer_info(readable, there[name])["crs"]
                        for name in {*wanted, "routes"} if name in there}  # fmt: skip
        except JobError as error:
            if error.faults[0].code not in BUSY or time.monotonic() > end:
                raise
        time.sleep(_PAUSE_S)


def _write(base: sqlite3.Connection, batch: _Batch, crs: Mapping[str, str | None]) -> list[Fault]:
    """Write the rows of one layer; return why it can't take them."""
    layer, routes = batch.schema.name, table_of(base, "routes")
    if not routes:
        return [Fault(layer, Reason("append_without_routes"), effect="stops")]
    table = table_of(base, layer)
    if not table:
        if _is_other_object(base, layer):
            return [Fault(layer, Reason("append_not_a_table"), effect="stops")]
        wkt = crs.get("routes") if batch.schema.geometry_types else None
        add_layer(base, batch.schema, wkt, geometry_of(base, routes)[1])
        table, crs = layer, {**crs, layer: wkt}
    columns = columns_of(base, table)
    named = match_columns(columns, batch.schema.columns)
    if columns and (unlike := [name for name in _identity(batch.schema) if name not in named]):
        return [Fault(layer, Reason("append_other_columns", columns=unlike), effect="stops")]
    lacking = [field for field in batch.fields if field.name not in named]
    add_columns(base, table, lacking)
    named |= {field.name: field.name for field in lacking}
    shapes, faults = _shapes(base, table, batch, crs.get(layer))
    faults += [*_shared(base, table, batch, named), *_numbers_only(batch, named, columns)]
    if not faults:
        _insert(base, table, batch, named, shapes)
    return faults


def _identity(schema: LayerSchema) -> list[str]:
    """Return the columns without which a layer has names of its own, as with a mapping."""
    return [f.name for f in schema.fields
            if not f.name_missing and (f.required or f.name == "line_id")]  # fmt: skip


def _is_other_object(base: sqlite3.Connection, name: str) -> bool:
    found = base.execute("SELECT 1 FROM sqlite_master WHERE lower(name) = ?", (name.casefold(),))
    return found.fetchone() is not None


def _shared(
    base: sqlite3.Connection, table: str, batch: _Batch, named: Mapping[str, str]
) -> list[Fault]:
    """Return faults of values that must be unique, and that the file has already."""
    faults: list[Fault] = []
    for field in (f for f in batch.fields if f.unique or f.name in batch.schema.key):
        values = [v for v in texts(batch.checked.table, field.name) if v is not None]
        there: set[str] = set()
        for k in range(0, len(values), _MOST_NAMES):
            part = values[k : k + _MOST_NAMES]
            text = f"CAST({quoted(named[field.name])} AS TEXT)"
            sql = (
                f"SELECT {text} FROM {quoted(table)} WHERE {text} IN ({','.join('?' * len(part))})"
            )
            there |= {str(row[0]) for row in base.execute(sql, part)}
        reason = Reason("append_identifier_taken", column=field.name)
        faults += [Fault(batch.schema.name, reason, name, field.name, name)
                   for name in dict.fromkeys(values) if name in there]  # fmt: skip
    return faults


def _numbers_only(
    batch: _Batch, named: Mapping[str, str], columns: Mapping[str, str]
) -> list[Fault]:
    """Return faults of texts for a column that the file stores as numbers."""
    faults = []
    for field in (f for f in batch.fields if f.type == "string"):
        kind = columns.get(named[field.name], "TEXT")
        if any(word in kind for word in ("INT", "REAL", "DOUBLE", "FLOAT")):
            values = [str(v) for v in texts(batch.checked.table, field.name) if v is not None]
            reason = Reason("append_column_of_numbers", column=field.name)
            worded = [v for v in dict.fromkeys(values) if not v.lstrip("-").isdecimal()]
            faults += [Fault(batch.schema.name, reason, "", field.name, v) for v in worded]
    return faults


def _shapes(
    base: sqlite3.Connection, table: str, batch: _Batch, crs: str | None
) -> tuple[Objects, list[Fault]]:
    """Return the geometry of each row in the CRS of the layer, and why it can't be written."""
    rows, layer = batch.checked.table, batch.schema.name
    shapes = np.full(len(rows), None, dtype=object)
    if "geometry" not in rows or rows.geometry.isna().all():
        return shapes, []
    bare = crs is None or not geometry_of(base, table)[0]
    if bare and has_chainage(rows, batch.schema).all():
        return shapes, []
    if bare or crs is None:
        return shapes, [Fault(layer, Reason("append_layer_without_geometry"), effect="stops")]
    shapes = np.array(rows.geometry.to_crs(pyproj.CRS(crs)).array, dtype=object)
    point = (shapely.get_type_id(shapes) == 0) & np.isfinite(shapely.bounds(shapes)).all(axis=1)
    wrong = np.flatnonzero(~point & ~shapely.is_missing(shapes))
    reason = Reason("append_not_a_point")
    return shapes, [Fault(layer, reason, str(batch.checked.labels[i]), "geometry") for i in wrong]


_PLAIN: Mapping[str, Callable[[Any], object]] = {
    "string": str, "number": float, "integer": int, "boolean": int,
    "datetime": lambda time: f"{time:%Y-%m-%dT%H:%M:%S}.{time.microsecond // 1000:03d}Z",
    "date": lambda day: f"{day:%Y-%m-%d}",
}  # fmt: skip


def _insert(
    base: sqlite3.Connection, table: str, batch: _Batch, named: Mapping[str, str],
    shapes: Objects,
) -> None:  # fmt: skip
    rows, (shape, srs) = batch.checked.table, geometry_of(base, table)
    for i, point in enumerate(shapes):
        values = {named[f.name]: _PLAIN[f.type](rows[f.name].iloc[i]) for f in batch.fields
                  if pd.notna(rows[f.name].iloc[i])}  # fmt: skip
        placed = {shape: blob_of(point, srs)} if shape else {}
        insert(base, table, {**placed, **values})
    there = shapes[~shapely.is_missing(shapes)]
    note_change(base, table, tuple(shapely.total_bounds(there)) if len(there) else None)
