"""Estimate the memory that a file or a table needs, and refuse those above a limit."""

from __future__ import annotations

import os
import zipfile
from typing import TYPE_CHECKING

from leakgeo.reason import Reason

if TYPE_CHECKING:
    from pathlib import Path

#: Limit of the memory of a layer, in gigabytes, and the environment variable that changes it.
MAX_GB, VARIABLE = 4.0, "LEAKGEO_MOST_GB"
PARQUET = frozenset((".parquet", ".geoparquet"))
_ZIPPED = frozenset((".xlsx", ".ods"))
# Measured peak memory of reading, in bytes per byte of the files; see README.md.
_FACTORS = {
    **dict.fromkeys((".gpkg", ".sqlite", ".sqlite3", ".db", ".fgb", ".shp", ".csv", ".gml"), 3),
    **dict.fromkeys((".geojson", ".json", ".geojsonl", ".geojsons"), 14),
    ".gdb": 11, ".kml": 11, ".gpx": 3, ".tab": 8, ".mif": 3, ".xlsx": 4, ".ods": 4,
    **dict.fromkeys(PARQUET, 10),
}  # fmt: skip
# Bytes of memory per value, and per row for its geometry object.
_CELL, _ROW = 100, 300
# Suffixes of files that are read together with a file.
_PARTS = {".shp": (".dbf", ".shx"), ".tab": (".dat", ".map", ".id"), ".mif": (".mid",)}
#: Suffixes of files that belong to another one.
SIDECARS = frozenset((*(part for parts in _PARTS.values() for part in parts), ".prj", ".cpg"))


def max_gb() -> float:
    """Return the memory limit of a layer in gigabytes: ``LEAKGEO_MOST_GB``, or `MAX_GB`."""
    try:
        return float(os.environ.get(VARIABLE, MAX_GB))
    except ValueError:
        return MAX_GB


def file_too_large(file: Path) -> Reason | None:
    """Return why a file needs too much memory, by its size and format; None if it does not.

    Parameters
    ----------
    file : pathlib.Path
        With a known suffix.

    Returns
    -------
    Reason or None
    """
    try:
        return _too_much(_needed_gb(file))
    except Exception:  # noqa: BLE001 - any error of the reader of the format
        return Reason("file_damaged")


def table_too_large(rows: int, columns: int) -> Reason | None:
    """Return why a table needs too much memory, by its rows and columns; None if it does not.

    Nulls need as much memory as values.

    Examples
    --------
    >>> table_too_large(1_000_000, 20) is None
    True
    >>> table_too_large(1_000_000, 2_000)
    Reason('too_large', limit_gb=4.0, needed_gb=200.3, variable='LEAKGEO_MOST_GB')
    """
    return _too_much(max(rows, 0) * (_ROW + _CELL * columns) / 1e9)


def _too_much(needed: float) -> Reason | None:
    most = max_gb()
    if needed <= most:
        return None
    return Reason("too_large", needed_gb=needed, limit_gb=most, variable=VARIABLE)


def _needed_gb(file: Path) -> float:
    suffix = file.suffix.casefold()
    if suffix in PARQUET:
        return _parquet_gb(file)
    if suffix in _ZIPPED:
        with zipfile.ZipFile(file) as packed:
            size = sum(part.file_size for part in packed.infolist())
    else:
        size = sum(part.stat().st_size for part in _parts(file, suffix))
    return size * _FACTORS[suffix] / 1e9


def _parts(file: Path, suffix: str) -> list[Path]:
    if file.is_dir():
        return [part for part in file.iterdir() if part.is_file()]
    sidecars = [file.with_suffix(e) for end in _PARTS.get(suffix, ()) for e in (end, end.upper())]
    return [file, *(part for part in dict.fromkeys(sidecars) if part.is_file())]


def _parquet_gb(file: Path) -> float:
    from pyarrow.parquet import ParquetFile

    about = ParquetFile(file).metadata
    groups = (about.row_group(k).total_byte_size for k in range(about.num_row_groups))
    cells = about.num_rows * max(about.num_columns, 1) * 8
    return float(max(sum(groups) * _FACTORS[".parquet"], cells) / 1e9)
