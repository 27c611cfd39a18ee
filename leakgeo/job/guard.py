"""What is refused of a file before a reader of its format sees it: disguise, bombs, pointers."""

from __future__ import annotations

import os
import re
import zipfile
from glob import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

Trouble = tuple[str, str]

#: Gigabytes that a file may unfold to in memory, and the variable of the environment to change it.
MOST_GB, VARIABLE = 4.0, "LEAKGEO_MOST_GB"
#: Rows times columns that go into a gigabyte: eight bytes a value.
_VALUES = 1 << 27
SQLITE = frozenset((".gpkg", ".sqlite", ".sqlite3", ".db"))
XML = frozenset((".gpx", ".kml", ".gml", ".xml"))
_JSON = frozenset((".geojson", ".json", ".geojsonl", ".geojsons", ".topojson"))
_ZIPPED = frozenset((".xlsx", ".ods"))
PARQUET = frozenset((".parquet", ".geoparquet"))
_TEXT = frozenset((".csv", ".tab", ".mif", *_JSON, *XML))
_HEADS = {
    **dict.fromkeys(SQLITE, b"SQLite format 3\0"), **dict.fromkeys(_ZIPPED, b"PK"),
    **dict.fromkeys(PARQUET, b"PAR1"), ".fgb": b"fgb", ".shp": b"\0\0\x27\x0a",
}  # fmt: skip
# How images begin: TIFF and BigTIFF of either order, JPEG, PNG, JPEG 2000, Erdas.
_IMAGES = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+", b"\xff\xd8\xff", b"\x89PNG", b"\0\0\0\x0cjP  ",
           b"EHFA_HEADER_TAG")  # fmt: skip
KNOWN = frozenset((*_HEADS, *_TEXT, ".gdb"))
# Entities make a file reach for others, or grow without end.
_ENTITIES = re.compile(rb"<!(?:DOCTYPE|ENTITY)", re.IGNORECASE)
# Text files by which GDAL reaches for other files or for a network.
_POINTERS = (b"<OGR", b"gdal_streamed_alg", b"<GDAL", b"<WFS", b"<OAPIF", b"<CSW", b"<VRT", b"<WMS")
_MARKS = b"\xef\xbb\xbf\x1e \t\r\n"


def trouble(file: Path) -> Trouble | None:
    """Say why a file may not be read.

    Parameters
    ----------
    file : pathlib.Path
        A file, or the folder of a file geodatabase.

    Returns
    -------
    (str, str) or None
        What is wrong and what to do, as sentences; None where nothing is.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "job.gpkg"
    ...     _ = file.write_text("<OGRVRTDataSource/>")
    ...     trouble(file)[0]
    'The file only points at data kept elsewhere.'
    """
    if odd := set(str(file)) & set("!;"):
        return (f"Its path has {' and '.join(sorted(odd))} in it, by which readers take another "
                "file for it."), "Rename the file or its folder."  # fmt: skip
    suffix = file.suffix.casefold()
    if suffix not in KNOWN:
        return (f"Files of the kind {suffix or 'without ending'} are not read.",
                "Give a GeoPackage, or another vector format: the README lists them.")  # fmt: skip
    if not file.is_file():
        return None
    with file.open("rb") as opened:
        head = opened.read(4096)
    return _disguised(head, suffix) or _too_large(file, suffix) or _inside(file, suffix)


def is_raster(file: Path) -> bool:
    """Tell whether a file is an image itself: a virtual one reaches for files elsewhere.

    Raises
    ------
    OSError
        If it can't be read.
    """
    with file.open("rb") as opened:
        return opened.read(16).startswith(_IMAGES)


def _disguised(head: bytes, suffix: str) -> Trouble | None:
    """Tell a file that is not what its name says: GDAL would go by what it is."""
    if any(p in head for p in _POINTERS):
        return "The file only points at data kept elsewhere.", "Give the file that holds the data."
    start = head.lstrip(_MARKS)[:1]
    wrong = not head.startswith(_HEADS.get(suffix, b""))
    wrong |= suffix in _JSON and start not in (b"{", b"[")
    wrong |= suffix in XML and start not in (b"<", b"\xff", b"\xfe")
    # Text formats are told by their suffix alone: nothing that GDAL would take for another.
    wrong |= suffix in _TEXT and head.startswith((*_HEADS.values(), b"\x1f\x8b"))
    if not head:
        return "The file is empty.", "Give a GeoPackage, or another file that a GIS opens."
    if wrong:
        return (f"The file is not what its ending {suffix} says, or it is damaged.",
                "Give a GeoPackage, or another file that a GIS opens.")  # fmt: skip
    return None


def most_gb() -> float:
    """Give the gigabytes that a file may unfold to: ``LEAKGEO_MOST_GB``, or `MOST_GB`."""
    try:
        return float(os.environ.get(VARIABLE, MOST_GB))
    except ValueError:
        return MOST_GB


def _too_large(file: Path, suffix: str) -> Trouble | None:
    try:
        unfolded = _unfolded_gb(file, suffix)
    except Exception:  # noqa: BLE001 - whatever the reader of the format finds wrong
        return "The file is damaged.", "Write it anew from the program that it came from."
    if unfolded <= most_gb():
        return None
    return (f"It would take {unfolded:.3g} GB of memory, more than {most_gb():g}.",
            f"Cut it to the job, or set {VARIABLE} to more if that is meant.")  # fmt: skip


def _unfolded_gb(file: Path, suffix: str) -> float:
    """Tell how large a file grows when it is read; what is read row by row does not."""
    if suffix in _ZIPPED:
        with zipfile.ZipFile(file) as packed:
            return sum(part.file_size for part in packed.infolist()) / 1e9
    if suffix in PARQUET:
        return _parquet_gb(file)
    return file.stat().st_size / 1e9 if suffix in _TEXT else 0.0


def _parquet_gb(file: Path) -> float:
    try:
        from pyarrow.parquet import ParquetFile
    except ImportError:  # told when it is read
        return 0.0
    about = ParquetFile(file).metadata
    groups = (about.row_group(k).total_byte_size for k in range(about.num_row_groups))
    return float(max(sum(groups) / 1e9, about.num_rows * max(about.num_columns, 1) / _VALUES))


def _inside(file: Path, suffix: str) -> Trouble | None:
    if suffix in SQLITE:
        from leakgeo.job.guard_sqlite import trouble_inside

        return trouble_inside(file)
    if suffix in XML and _ENTITIES.search(file.read_bytes().replace(b"\0", b"")):
        return ("The file declares XML entities, which may reach for other files.",
                "Write it anew from a GIS or a receiver.")  # fmt: skip
    return _parted(file) if suffix == ".shp" else None


def _parted(file: Path) -> Trouble | None:
    """Tell a Shapefile that was copied without its index, or without its columns."""
    there = {other.suffix.casefold() for other in file.parent.glob(f"{escape(file.stem)}.*")}
    lacking = [part for part in (".shx", ".dbf") if part not in there]
    if not lacking:
        return None
    names = " and ".join(file.stem + part for part in lacking)
    return f"A Shapefile is several files: {names} is missing beside it.", "Copy all of its files."
