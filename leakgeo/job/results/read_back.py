"""A result read back from its ``result.gpkg``, so that it can be handed over in other forms."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, TypeGuard

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.errors import JobError, ParameterError
from leakgeo.job.checks import as_names
from leakgeo.job.crs import choose_local_crs, horizontal
from leakgeo.job.model import Job
from leakgeo.job.results.earlier import compared_with_run
from leakgeo.job.schema import load_schemas
from leakgeo.job.sources import digest, is_database, open_source, read_layer
from leakgeo.result import Result
from leakgeo.staging import complete

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from pyproj import CRS

FILE = "result.gpkg"
_NOT_OURS = ("layer_styles",)


def is_result(source: object) -> TypeGuard[str | Path]:
    """Tell whether a source is a result of leakgeo: its folder, or its GeoPackage.

    Examples
    --------
    >>> is_result("examples/town/job.gpkg")
    False
    """
    path = _file(source)
    if path is None:
        return False
    complete(path.parent)
    try:
        with open_source(path) as opened:
            return "lines" in opened.layers and "routes" not in opened.layers
    except JobError:
        return False


def _file(source: object) -> Path | None:
    if not isinstance(source, (str, Path)) or is_database(source):
        return None
    path = Path(source) / FILE if Path(source).is_dir() else Path(source)
    return path if path.is_file() and path.suffix.lower() == ".gpkg" else None


def read_result(source: str | Path, lines: str | Iterable[str] | None = None) -> Result:
    """Read a result of leakgeo.

    Parameters
    ----------
    source : str or pathlib.Path
        Its ``result.gpkg``, or the folder that holds one.
    lines : str or iterable of str, optional
        Only rows of these lines; all if None.

    Returns
    -------
    Result
        With the layers of the contract that are in it, in a local metre CRS; its job has neither
        routes nor readings: those are not in a result. Among its faults are layers that are not as
        the run wrote them.

    Raises
    ------
    ParameterError
        If it can't be read, or has none of the lines asked for.
    """
    path = _file(source)
    if path is None:
        raise ParameterError(f"{source}: there is no {FILE} of leakgeo there.")
    complete(path.parent)
    try:
        with open_source(path) as opened:
            known = [n for n in load_schemas("output") if n in opened.layers and n not in _NOT_OURS]
            tables = {name: read_layer(opened, name).table for name in known}
    except JobError as error:
        raise ParameterError(f"{path}: {error}") from error
    run, faults = compared_with_run(path, tables)
    asked = as_names(lines)
    wanted = None if asked is None else set(asked)
    if wanted is not None:
        tables = {name: _only(table, wanted) for name, table in tables.items()}
        if tables["lines"].empty:
            raise ParameterError(f"{path}: it has no line {', '.join(sorted(wanted))}.")
    shapes = (t.crs for t in tables.values() if isinstance(t, gpd.GeoDataFrame))
    output_crs = next((crs for crs in shapes if crs is not None), None)
    if output_crs is None:
        raise ParameterError(f"{path}: no layer in it has shapes with a CRS.")
    local = _local_crs(tables, output_crs)
    layers = {n: t.to_crs(local) if isinstance(t, gpd.GeoDataFrame) else t
              for n, t in tables.items()}  # fmt: skip
    none = gpd.GeoDataFrame({"line_id": [], "reason": []}, geometry=[], crs=local)
    job = Job(none, none, local, output_crs, source=str(path), digest=digest(path))
    return Result(job, layers, faults, run_id_read=run)


def _only(table: pd.DataFrame, wanted: set[str]) -> pd.DataFrame:
    return table.loc[table["line_id"].isin(list(wanted))] if "line_id" in table else table


def _local_crs(tables: dict[str, pd.DataFrame], crs: CRS) -> CRS:
    """Choose the metre CRS as the door of a job does, by where the layers are."""
    bounds = [t.total_bounds for t in tables.values() if isinstance(t, gpd.GeoDataFrame) and len(t)]
    good = np.array([b for b in bounds if np.isfinite(b).all()]).reshape(-1, 4)
    flat = horizontal(crs)
    if not len(good):
        return flat if flat.is_projected else flat.to_2d()
    return choose_local_crs(flat, good[:, [0, 2]].ravel(), good[:, [1, 3]].ravel())


def reread(folder: Path, name: str, crs: CRS) -> Iterator[gpd.GeoDataFrame]:
    """Give a layer of a result that was written, in the job's local CRS."""
    with open_source(folder / FILE) as opened:
        yield gpd.GeoDataFrame(read_layer(opened, name).table).to_crs(crs)
