"""Read a result from its ``result.gpkg``, to write maps, reports and exports of it."""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeGuard

import geopandas as gpd
import numpy as np
import pandas as pd
import pyarrow as pa
import pyproj
import shapely

from leakgeo.errors import JobError, ParameterError
from leakgeo.job.checks import as_names, mostly_in_feet
from leakgeo.job.crs import choose_local_crs, horizontal, is_georeferenced
from leakgeo.job.model import Job
from leakgeo.job.results.earlier import compared_with_run
from leakgeo.job.results.stored_record import (
    PREFIX,
    RUN_RECORD,
    WITHOUT_ROWS,
    layers_without_rows,
    stored_record,
)
from leakgeo.job.schema import load_schemas
from leakgeo.job.sources import (
    GEOMETRY,
    digest,
    is_database,
    open_batches,
    open_source,
    read_layer,
    simulated_note,
)
from leakgeo.provenance import NEUTRAL_PARAMETERS
from leakgeo.result import Result
from leakgeo.staging import finish_commit

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Set

    from pyproj import CRS

    from leakgeo.arrays import Bools
    from leakgeo.job.sources import LayerSource

FILE = "result.gpkg"
# Steps that make files and no layers.
_DELIVERY_STEPS = ("map", "report", "export")
# Maps show the utilities and the readings of neighbours within this distance of a line.
_AROUND_M = 100.0
# A degree of longitude is longer up to 80 degrees of latitude.
_DEGREE_M = 19_000.0
_TEXT_ATTRIBUTES = ("source", "digest", "layers_digest", "mapping", "mapping_digest", "simulated")


def job_record(
    result: Result, without_rows: Mapping[str, Mapping[str, str]] = MappingProxyType({})
) -> dict[str, object]:
    """Return what a result stores besides the layers that have rows, for reading it again.

    Parameters
    ----------
    result : Result
    without_rows : mapping of str to mapping of str to str
        Tables of layers without rows, with the types of columns that their schemas lack; none by
        default.
    """
    job = result.job
    return {
        WITHOUT_ROWS: without_rows,
        **{name: getattr(job, name) for name in _TEXT_ATTRIBUTES},
        "run_id": result.run_id,
        "written": result.written,
        "source": Path(job.source).name,
        "counts": dict(job.counts),
        "computed_in": job.crs.to_wkt(),
        "written_in": job.output_crs.to_wkt(),
        "parameters": {
            step: {
                name: value.name if isinstance(value, Path) else value
                for name, value in given.items()
                if name not in NEUTRAL_PARAMETERS
            }
            for step, given in result.parameters.items()
            if step not in _DELIVERY_STEPS
        },
    }


def is_result(source: object) -> TypeGuard[str | Path]:
    """Return whether a source is a result of leakgeo: its folder, or its GeoPackage.

    Examples
    --------
    >>> is_result("examples/town/job.gpkg")
    False
    """
    path = result_file(source)
    if path is None:
        return False
    finish_commit(path.parent)
    try:
        with open_source(path, in_part=True) as opened:
            # Results of earlier versions have no record.
            older = "lines" in opened.layers and "routes" not in opened.layers
            return RUN_RECORD in opened.layers or older
    except JobError:
        return False


def result_file(source: object) -> Path | None:
    """Return the GeoPackage of a source that may be a result; None if there is none."""
    if not isinstance(source, (str, Path)) or is_database(source):
        return None
    path = Path(source) / FILE if Path(source).is_dir() else Path(source)
    return path if path.is_file() and path.suffix.lower() == ".gpkg" else None


def read_result(source: str | Path, lines: str | Iterable[str] | None = None) -> Result:
    """Read a result of leakgeo.

    Parameters
    ----------
    source : str or pathlib.Path
        Its ``result.gpkg``, or the folder of this file.
    lines : str or iterable of str, optional
        Only rows of these lines; all if None.

    Returns
    -------
    Result
        With its layers of the contract in a local metre CRS, those without rows as well, and the
        layers of its job as used.
        `leakgeo.map`, `leakgeo.report` and `leakgeo.export` take such a result; steps that compute
        something need the job. Its faults name layers that were changed since the run, and
        say if the result was superseded by another. A result of
        an earlier version has no layers of its job; only `leakgeo.export` takes it.

    Raises
    ------
    ParameterError
        If it can't be read, or has none of the selected lines.

    Examples
    --------
    >>> import leakgeo
    >>> result = leakgeo.read_result("out", lines=["S-12"])  # doctest: +SKIP
    >>> leakgeo.report(result, out="sheets")  # doctest: +SKIP
    """
    path = result_file(source)
    if path is None:
        raise ParameterError(f"{source}: no {FILE} of leakgeo found. Give the folder of a result.")
    finish_commit(path.parent)
    try:
        with open_source(path) as opened:
            known = [*load_schemas("output"), *(PREFIX + name for name in load_schemas("input"))]
            there = [name for name in known if name in opened.layers]
            tables = {name: read_layer(opened, name).table for name in there}
            record = stored_record(opened)
    except JobError as error:
        raise ParameterError(f"{path}: {error}") from error
    run, faults = compared_with_run(path, tables)
    names = as_names(lines)
    wanted = None if names is None else set(names)
    if wanted is not None:
        # Maps also show the readings of neighbours and the utilities around a line.
        whole = {PREFIX + name for name in load_schemas("input") if name != "routes"}
        tables = {name: table if name in whole else _rows_of_lines(table, wanted)
                  for name, table in tables.items()}  # fmt: skip
        if not any(len(tables.get(n, ())) for n in ("lines", f"{PREFIX}routes")):
            raise ParameterError(f"{path}: it has no line {', '.join(sorted(wanted))}.")
    shapes = (t.crs for t in tables.values() if isinstance(t, gpd.GeoDataFrame))
    found = next((crs for crs in shapes if crs is not None), None)
    if found is None:
        raise ParameterError(f"{path}: no layer has geometry with a CRS.")
    output_crs = stored_crs(record.get("written_in")) or found
    local = stored_crs(record.get("computed_in")) or _local_crs(tables, output_crs)
    layers = {n: _in_crs(t, local) if isinstance(t, gpd.GeoDataFrame) else t
              for n, t in tables.items()}  # fmt: skip
    every = {**layers_without_rows(record, local), **layers}
    layers = {name: every[name] for name in known if name in every}
    job = _job_of(layers, record, local, output_crs, path)
    layers = {name: layer for name, layer in layers.items() if not name.startswith(PREFIX)}
    written = str(record.get("written") or "")
    return Result(job, layers, faults, _parameters_of(record), run_id_read=run, written=written)


def read_lines(path: Path, lines: Collection[str], crs: CRS) -> dict[str, pd.DataFrame]:
    """Read some lines of a GeoPackage that leakgeo wrote, batch by batch.

    Parameters
    ----------
    path : pathlib.Path
    lines : collection of str
    crs : pyproj.CRS
        CRS to transform the layers to.

    Returns
    -------
    dict of str to pandas.DataFrame
        Rows of these lines and of no line in each layer; of the layers of the job, also what lies
        around them.
    """
    with open_source(path, in_part=True) as opened:
        known = [*load_schemas("output"), *(PREFIX + name for name in load_schemas("input"))]
        there = [name for name in known if name in opened.layers]
        near = _shapes_of(opened, lines)
        return {name: _some_rows(opened, name, lines, near, crs) for name in there}


def _shapes_of(opened: LayerSource, lines: Collection[str]) -> shapely.STRtree:
    """Return the pipes of some lines, in the CRS of the file."""
    routes = _some_rows(opened, f"{PREFIX}routes", lines, shapely.STRtree([]), None)
    if not isinstance(routes, gpd.GeoDataFrame):
        return shapely.STRtree([])
    return shapely.STRtree([one for one in routes.geometry if one is not None])


def _some_rows(
    opened: LayerSource, name: str, lines: Collection[str], near: shapely.STRtree, crs: CRS | None
) -> pd.DataFrame:  # fmt: skip
    parts, wanted = [], set(lines)
    with open_batches(opened, name) as found:
        around = name.startswith(PREFIX) and name != f"{PREFIX}routes" and found.has_geometry
        for rows in found.batches:
            own = _is_of(rows, wanted, of_job=name.startswith(PREFIX))
            if around:
                reach = _AROUND_M / _unit_m(found.crs)
                shapes = shapely.from_wkb(rows[GEOMETRY].to_numpy())
                own[near.query(shapes, predicate="dwithin", distance=reach)[0]] = True
            parts.append(found.raw(rows.filter(pa.array(own))).table)  # few of them in memory
    whole = pd.concat(parts, ignore_index=True)
    return _in_crs(whole, crs) if crs is not None and isinstance(whole, gpd.GeoDataFrame) else whole


def _is_of(rows: pa.Table, wanted: Set[str], *, of_job: bool) -> Bools:
    """Return which rows are of the wanted lines; of results, also those of no line."""
    if "line_id" not in rows.column_names:
        return np.full(len(rows), not of_job)
    line = rows["line_id"].to_pandas()
    own = line.isin(wanted)
    return np.array(own if of_job else own | line.isna(), dtype=bool)


def _unit_m(crs: CRS | None) -> float:
    """Return the length of a unit of a CRS, of degrees one that is short enough everywhere."""
    if crs is None or not crs.axis_info:
        return 1.0
    return _DEGREE_M if crs.is_geographic else float(crs.axis_info[0].unit_conversion_factor)


def _in_crs(table: gpd.GeoDataFrame, crs: CRS) -> gpd.GeoDataFrame:
    """Return a layer in a CRS; that of a job without positions has no geometry to transform."""
    if is_georeferenced(table.crs):
        return table.to_crs(crs)
    return table.set_crs(crs, allow_override=True)


def stored_crs(wkt: object) -> CRS | None:
    """Read a CRS of the record; from its authority code, if it has one, to have its usual name."""
    if not isinstance(wkt, str):
        return None
    try:
        crs = pyproj.CRS.from_wkt(wkt)
        authority = crs.to_authority(min_confidence=100)
        return crs if authority is None else pyproj.CRS.from_authority(*authority)
    except pyproj.exceptions.CRSError:
        return None


def _job_of(
    layers: dict[str, pd.DataFrame], record: dict[str, Any], crs: CRS, output_crs: CRS, path: Path
) -> Job:
    """Rebuild the job from layers that are in its local CRS."""
    empty = gpd.GeoDataFrame({"line_id": [], "reason": []}, geometry=[], crs=crs)
    job_layers: dict[str, Any] = {"routes": empty, "readings": empty}
    job_layers |= {name.removeprefix(PREFIX): table for name, table in layers.items()
                   if name.startswith(PREFIX)}  # fmt: skip
    texts: dict[str, Any] = {name: str(record.get(name, "")) for name in _TEXT_ATTRIBUTES}
    if not record:
        texts |= {"source": str(path), "digest": digest(path), "simulated": simulated_note(path)}
    counts, in_feet = record.get("counts"), mostly_in_feet(job_layers)
    return Job(**job_layers, **texts, crs=crs, output_crs=output_crs, works_in_feet=in_feet,
               counts=counts if isinstance(counts, dict) else {})  # fmt: skip


def _parameters_of(record: dict[str, Any]) -> dict[str, dict[str, object]]:
    """Return the parameters of the steps that made layers, with tuples for lists."""
    given = record.get("parameters")
    return {
        str(step): {
            name: tuple(value) if isinstance(value, list) else value
            for name, value in values.items()
        }
        for step, values in (given.items() if isinstance(given, dict) else ())
        if isinstance(values, dict)
    }


def _rows_of_lines(table: pd.DataFrame, wanted: set[str]) -> pd.DataFrame:
    return table.loc[table["line_id"].isin(list(wanted))] if "line_id" in table else table


def _local_crs(tables: dict[str, pd.DataFrame], crs: CRS) -> CRS:
    """Choose the local metre CRS from the bounds of the layers, as for a job."""
    bounds = [t.total_bounds for t in tables.values() if isinstance(t, gpd.GeoDataFrame) and len(t)]
    good = np.array([b for b in bounds if np.isfinite(b).all()]).reshape(-1, 4)
    flat = horizontal(crs)
    if not len(good):
        return flat if flat.is_projected else flat.to_2d()
    return choose_local_crs(flat, good[:, [0, 2]].ravel(), good[:, [1, 3]].ravel())


def iter_layer(folder: Path, name: str, crs: CRS) -> Iterator[pd.DataFrame]:
    """Yield a layer of a written result batch by batch, in the job's local CRS."""
    with open_source(folder / FILE, in_part=True) as opened:
        if name not in opened.layers:
            yield layers_without_rows(stored_record(opened), crs)[name]
            return
        with open_batches(opened, name) as found:
            for rows in found.batches:
                table = found.raw(rows).table
                yield _in_crs(table, crs) if isinstance(table, gpd.GeoDataFrame) else table
