"""Read vector files with GDAL: one driver per suffix, no network, no files written."""

from __future__ import annotations

import json
from contextlib import contextmanager
from functools import cache, partial
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import pandas as pd
import pyogrio
from pyogrio.errors import DataSourceError

from leakgeo.faults import Fault, job_error
from leakgeo.process_settings import SharedSetting, gdal_options
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from leakgeo.errors import JobError


#: GDAL driver by file suffix.
DRIVERS = {
    ".gpkg": "GPKG", **dict.fromkeys((".sqlite", ".sqlite3", ".db"), "SQLite"),
    **dict.fromkeys((".geojson", ".json"), "GeoJSON"),
    **dict.fromkeys((".geojsonl", ".geojsons"), "GeoJSONSeq"),
    ".fgb": "FlatGeobuf", ".shp": "ESRI Shapefile", ".gdb": "OpenFileGDB", ".csv": "CSV",
    ".gpx": "GPX", ".kml": "LIBKML", ".gml": "GML",
    **dict.fromkeys((".tab", ".mif"), "MapInfo File"), ".xlsx": "XLSX", ".ods": "ODS",
}  # fmt: skip
# GML: no schema is downloaded, and no .gfs file written. GeoPackage: no lock or log file.
_OPTIONS = {
    "GML": ("DOWNLOAD_SCHEMA=NO", "WRITE_GFS=NO"), "GPKG": ("IMMUTABLE=YES",),
    # Without it a sheet of texts alone would have no headers.
    "XLSX": ("HEADERS=FORCE",), "ODS": ("HEADERS=FORCE",),
}  # fmt: skip
#: Characters of a path that make GDAL open another file with IMMUTABLE, which turns it into a URI.
URI_LETTERS = frozenset("%?#")
# curl refuses this kind of proxy, so nothing is connected; links in GML and KML are not followed.
_OFFLINE = {
    "GDAL_HTTP_PROXY": "off://none", "GDAL_HTTPS_PROXY": "off://none",
    "GML_DOWNLOAD_SCHEMA": "NO", "GML_SKIP_RESOLVE_ELEMS": "ALL", "LIBKML_RESOLVE_STYLE": "NO",
}  # fmt: skip


def layer_names(path: Path) -> list[str]:
    """Return the names of the layers of a vector file.

    Raises
    ------
    Exception
        An error of GDAL, if the driver of the suffix can't open the file.
    JobError
        If the version of GDAL can't be restricted to one driver.
    """
    with _offline:
        try:
            return [str(name) for name in pyogrio.list_layers(_pipeline(path))[:, 0]]
        except DataSourceError as error:
            if "/vsimem/" in str(error):  # an error of the pipeline, not of the file
                raise _file_error(path, Reason("file_without_layer")) from error
            raise


def layer_info(path: Path, layer: str) -> dict[str, Any]:
    """Return information on a layer, as `pyogrio.read_info` does."""
    with _offline:
        return dict(pyogrio.read_info(_pipeline(path), layer=layer))


def read_table(
    path: Path, layer: str, info: Mapping[str, Any] | None = None,
    columns: Sequence[str] | None = None,
) -> pd.DataFrame:  # fmt: skip
    """Read a layer, as `pyogrio.read_dataframe` does.

    Parameters
    ----------
    path : pathlib.Path
    layer : str
    info : mapping of str to object, optional
        What `layer_info` returns; with it a large table is read several times faster.
    columns : sequence of str, optional
        Only these; all if None. ``geometry`` names the geometry.
    """
    with _offline:
        if columns is not None:
            some: pd.DataFrame = pyogrio.read_dataframe(
                _pipeline(path), layer=layer, columns=[c for c in columns if c != "geometry"],
                read_geometry="geometry" in columns,
            )  # fmt: skip
            return some
        if info is not None and DRIVERS[path.suffix.casefold()] == "GPKG":
            table = _read_by_arrow(_pipeline(path), layer, info)
            if table is not None:
                return table
        plain: pd.DataFrame = pyogrio.read_dataframe(_pipeline(path), layer=layer)
    return plain


# Columns that Arrow gives as the plain reader does; of others, such as times, it differs.
_ALIKE = ("OFTString", "OFTReal", "OFTInteger", "OFTInteger64")
# In a smaller table the two readings of the file take longer than they save.
_LEAST_ROWS = 2_000


def _read_by_arrow(
    pipeline: bytes, layer: str, info: Mapping[str, Any]
) -> pd.DataFrame | None:  # fmt: skip
    """Read texts and numbers by Arrow, the rest plainly; None if a plain reading must report."""
    names = [str(name) for name in info["fields"]]
    kinds = zip(names, info["ogr_types"], info["ogr_subtypes"], strict=True)
    alike = [name for name, kind, sub in kinds if kind in _ALIKE and sub == "OFSTNone"]
    if info["features"] < _LEAST_ROWS or not alike or {"geometry", ""} & set(names):
        return None
    rest = [name for name in names if name not in alike] or alike[:1]
    try:
        columns = pyogrio.read_arrow(pipeline, layer=layer, columns=alike, read_geometry=False)[1]
        columns.validate(full=True)  # texts that are not UTF-8
    except Exception:  # noqa: BLE001 - whatever it is, the plain reader reports it
        return None
    table: pd.DataFrame = pyogrio.read_dataframe(pipeline, layer=layer, columns=rest)
    if len(table) != columns.num_rows:
        return None
    nothing = [name for name in alike if columns[name].null_count == len(table)]
    made = columns.to_pandas().drop(columns=[*rest, *nothing], errors="ignore")
    made = made.assign(**{n: columns[n].to_numpy() for n in nothing if n not in rest})
    whole = pd.concat([made, pd.DataFrame(table)], axis=1)
    order = [*names, *(name for name in table if name not in names)]
    return gpd.GeoDataFrame(whole[order]) if isinstance(table, gpd.GeoDataFrame) else whole[order]


@contextmanager
def arrow_batches(
    path: Path, layer: str, rows: int, condition: str | None = None,
    bounds: tuple[float, ...] | None = None,
) -> Iterator[tuple[dict[str, Any], Any]]:  # fmt: skip
    """Open a layer, and yield what `pyogrio.open_arrow` does: what is known of it, and a reader.

    Parameters
    ----------
    path : pathlib.Path
    layer : str
    rows : int
        Most rows of a batch.
    condition : str, optional
        SQL condition on the columns.
    bounds : tuple of float, optional
        Read rows that meet these bounds, in the CRS of the layer; their number is the first column.
    """
    with (
        _offline,
        pyogrio.open_arrow(
            _pipeline(path), layer=layer, batch_size=rows, use_pyarrow=True, where=condition,
            bbox=bounds, return_fids=bounds is not None,
        ) as opened,
    ):  # fmt: skip
        yield opened


def read_fids(path: Path, layer: str) -> list[int]:
    """Return the number of each row of a layer, in the order of `read_table`."""
    with _offline:
        table = pyogrio.read_dataframe(
            _pipeline(path), layer=layer, columns=[], read_geometry=False, fid_as_index=True
        )
    return [int(fid) for fid in table.index]


def _pipeline(path: Path) -> bytes:
    r"""Return a GDALG pipeline that opens a path with the driver of its suffix, for pyogrio.

    pyogrio can't select a driver, and GDAL tries all of them on the content. See
    https://gdal.org/en/stable/drivers/vector/gdalg.html.

    Examples
    --------
    >>> from pathlib import Path
    >>> json.loads(_pipeline(Path("/a b/job.fgb")))["command_line"]
    'gdal vector pipeline read --input-format "FlatGeobuf" "/a b/job.fgb"'
    """
    if not _has_pipelines():
        raise _file_error(path, Reason("gdal_too_old", needed="3.11"))
    driver = DRIVERS[path.suffix.casefold()]
    file = str(path.absolute())
    options = "" if URI_LETTERS & set(file) else "".join(
        f' --open-option "{option}"' for option in _OPTIONS.get(driver, ())
    )  # fmt: skip
    quoted = file.replace("\\", "\\\\").replace('"', '\\"')
    command = f'gdal vector pipeline read --input-format "{driver}"{options} "{quoted}"'
    return json.dumps({"type": "gdal_streamed_alg", "command_line": command}).encode()


def _file_error(path: Path, reason: Reason) -> JobError:
    return job_error(str(path), Fault("job", reason, value=path.name, effect="stops"))


def first_line(error: Exception) -> str:
    r"""Return the first line of an error message, without GDAL's advice to programmers.

    Examples
    --------
    >>> first_line(ValueError("no such column.\nmore"))
    'no such column'
    """
    line = str(error).strip().split("\n", 1)[0].split("; It might help", 1)[0]
    return line.rstrip(".") or type(error).__name__


@cache
def _has_pipelines() -> bool:
    return "GDALG" in pyogrio.list_drivers()


# GDAL's network is disabled while files are read.
_offline = SharedSetting(partial(gdal_options, _OFFLINE))
