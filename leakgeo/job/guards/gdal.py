"""Vector files through GDAL: one driver for each ending, no network, nothing written beside."""

from __future__ import annotations

import json
from functools import cache, partial
from typing import TYPE_CHECKING, Any

import pyogrio
from pyogrio.errors import DataSourceError

from leakgeo.faults import Fault, job_error
from leakgeo.process_settings import SharedSetting, gdal_options
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd

    from leakgeo.errors import JobError


#: The one GDAL driver that opens files of an ending.
DRIVERS = {
    ".gpkg": "GPKG", **dict.fromkeys((".sqlite", ".sqlite3", ".db"), "SQLite"),
    **dict.fromkeys((".geojson", ".json"), "GeoJSON"),
    **dict.fromkeys((".geojsonl", ".geojsons"), "GeoJSONSeq"),
    ".fgb": "FlatGeobuf", ".shp": "ESRI Shapefile", ".gdb": "OpenFileGDB", ".csv": "CSV",
    ".gpx": "GPX", ".kml": "LIBKML", ".gml": "GML",
    **dict.fromkeys((".tab", ".mif"), "MapInfo File"), ".xlsx": "XLSX", ".ods": "ODS",
}  # fmt: skip
# GML: no schema is fetched, and no .gfs written. GeoPackage: no lock, no log beside it.
_OPTIONS = {
    "GML": ("DOWNLOAD_SCHEMA=NO", "WRITE_GFS=NO"), "GPKG": ("IMMUTABLE=YES",),
}  # fmt: skip
#: Letters in a path by which GDAL, given IMMUTABLE, takes another file for it (it makes a URI).
URI_LETTERS = frozenset("%?#")
# curl knows no proxy of this kind, and so connects to nothing; GML and KML follow no links.
_OFFLINE = {
    "GDAL_HTTP_PROXY": "off://none", "GDAL_HTTPS_PROXY": "off://none",
    "GML_DOWNLOAD_SCHEMA": "NO", "GML_SKIP_RESOLVE_ELEMS": "ALL", "LIBKML_RESOLVE_STYLE": "NO",
}  # fmt: skip


def layer_names(path: Path) -> list[str]:
    """List the layers of a vector file.

    Raises
    ------
    Exception
        Of GDAL, if the one driver of its ending can't open it.
    JobError
        If this GDAL can't be told which driver to take.
    """
    with _offline:
        try:
            return [str(name) for name in pyogrio.list_layers(_pipeline(path))[:, 0]]
        except DataSourceError as error:
            if "/vsimem/" in str(error):  # of the pipeline, not of what it opened
                raise _file_error(path, Reason("file_without_layer")) from error
            raise


def layer_info(path: Path, layer: str) -> dict[str, Any]:
    """Describe a layer, as `pyogrio.read_info` does."""
    with _offline:
        return dict(pyogrio.read_info(_pipeline(path), layer=layer))


def read_table(path: Path, layer: str) -> pd.DataFrame:
    """Read a layer whole, as `pyogrio.read_dataframe` does."""
    with _offline:
        table: pd.DataFrame = pyogrio.read_dataframe(_pipeline(path), layer=layer)
    return table


def _pipeline(path: Path) -> bytes:
    r"""Give what pyogrio opens in place of a path: GDAL's pipeline of one step, with its driver.

    pyogrio can't name a driver, and GDAL asks each in turn whether it knows the content. See
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
    r"""Give what a reader says, without GDAL's advice on how to call it.

    Examples
    --------
    >>> first_line(ValueError("no such column.\nmore"))
    'no such column'
    """
    said = str(error).strip().split("\n", 1)[0].split("; It might help", 1)[0]
    return said.rstrip(".") or type(error).__name__


@cache
def _has_pipelines() -> bool:
    return "GDALG" in pyogrio.list_drivers()


# GDAL's network is closed while files are read.
_offline = SharedSetting(partial(gdal_options, _OFFLINE))
