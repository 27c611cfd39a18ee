"""Check a file before a reader of its format opens it: signature, size, references to others."""

from __future__ import annotations

import json
import mmap
import re
from glob import escape
from typing import TYPE_CHECKING

from leakgeo.job.guards.gdal import DRIVERS
from leakgeo.job.guards.memory import PARQUET, file_too_large
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


#: Suffixes of SQLite files.
SQLITE = frozenset(e for e, driver in DRIVERS.items() if driver in ("GPKG", "SQLite"))
XML = frozenset((".gpx", ".kml", ".gml"))
_JSON = frozenset(e for e, driver in DRIVERS.items() if driver.startswith("GeoJSON"))
_ZIPPED = frozenset((".xlsx", ".ods"))
_TEXT = frozenset((".csv", ".tab", ".mif", *_JSON, *XML))
_SIGNATURES = {
    **dict.fromkeys(SQLITE, b"SQLite format 3\0"), **dict.fromkeys(_ZIPPED, b"PK"),
    **dict.fromkeys(PARQUET, b"PAR1"), ".fgb": b"fgb", ".shp": b"\0\0\x27\x0a",
}  # fmt: skip
# First words of MapInfo text files, in lower case.
_FIRST_WORDS = {".tab": b"!table", ".mif": b"version"}
#: Suffixes of files that are read.
READABLE = frozenset((*DRIVERS, *PARQUET))
# List of the tables of a File Geodatabase; first bytes of a table of version 9 or 10.
_CATALOG, _CATALOG_SIGNATURES = "a00000001.gdbtable", (b"\3\0\0\0", b"\4\0\0\0")
# Entities can include other files or expand without limit. UTF-16 has nulls between the letters.
_ENTITIES = re.compile(
    rb"<\0*!\0*(?:" + b"|".join(b"\\0*".join(re.findall(rb".", w)) for w in (b"DOCTYPE", b"ENTITY"))
    + rb")", re.IGNORECASE,
)  # fmt: skip
# First words of text files that make GDAL open other files or a network address.
_REDIRECTS = (
    b"<OGR",
    b"gdal_streamed_alg",
    b"<GDAL",
    b"<WFS",
    b"<OAPIF",
    b"<CSW",
    b"<VRT",
    b"<WMS",
)
_IGNORED_START = b"\xef\xbb\xbf\x1e \t\r\n"


def refusal(file: Path, *, in_part: bool = False) -> Reason | None:
    """Return why a file must not be opened; None if it may be.

    Parameters
    ----------
    file : pathlib.Path
        A file, or the folder of a file geodatabase.
    in_part : bool
        It is read batch by batch, so that its size is no limit.

    Returns
    -------
    Reason or None

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "job.gpkg"
    ...     _ = file.write_text("<OGRVRTDataSource/>")
    ...     refusal(file)
    Reason('file_points_elsewhere')
    """
    if odd := set(str(file)) & set("!;"):
        return Reason("path_misread", signs=sorted(odd))
    suffix = file.suffix.casefold()
    if suffix not in READABLE:
        if not suffix:
            return Reason("file_without_ending")
        return Reason("file_kind_not_read", ending=suffix)
    if not file.is_file():
        return _geodatabase_refusal(file, suffix) or _size_refusal(file, in_part=in_part)
    if suffix == ".gdb":
        return Reason("geodatabase_is_file")
    with file.open("rb") as opened:
        head = opened.read(4096)
    return (
        _signature_refusal(head, suffix)
        or _size_refusal(file, in_part=in_part)
        or _content_refusal(file, suffix)
    )


def _size_refusal(file: Path, *, in_part: bool) -> Reason | None:
    # Text and packed formats are read whole, whatever is taken of them.
    batches = file.suffix.casefold() in SQLITE or file.suffix.casefold() in (".fgb", *PARQUET)
    return None if in_part and batches else file_too_large(file)


def _geodatabase_refusal(folder: Path, suffix: str) -> Reason | None:
    catalog = folder / _CATALOG
    if suffix != ".gdb":
        return Reason("folder_not_file")
    if catalog.is_file():
        with catalog.open("rb") as opened:
            if opened.read(4) in _CATALOG_SIGNATURES:
                return None
    return Reason("geodatabase_incomplete")


def _signature_refusal(head: bytes, suffix: str) -> Reason | None:
    """Return why the first bytes of a file don't match its suffix; GDAL goes by the content."""
    if any(p in head for p in _REDIRECTS):
        return Reason("file_points_elsewhere")
    start = head.lstrip(_IGNORED_START)[:1]
    wrong = not head.startswith(_SIGNATURES.get(suffix, b""))
    wrong |= suffix in _JSON and start not in (b"{", b"[")
    wrong |= not head.lstrip(_IGNORED_START)[:9].lower().startswith(_FIRST_WORDS.get(suffix, b""))
    wrong |= suffix in XML and start not in (b"<", b"\xff", b"\xfe")
    # Text formats have no signature, so they must not have that of another format.
    wrong |= suffix in _TEXT and head.startswith((*_SIGNATURES.values(), b"\x1f\x8b"))
    if not head:
        return Reason("file_empty")
    return Reason("file_disguised", ending=suffix) if wrong else None


def _content_refusal(file: Path, suffix: str) -> Reason | None:
    if suffix in SQLITE:
        from leakgeo.job.guards.sqlite import sqlite_refusal

        return sqlite_refusal(file)
    if suffix in XML and _declares_entities(file):
        return Reason("file_has_entities")
    if suffix in _JSON:
        return json_refusal(file)
    if suffix in _ZIPPED:
        from leakgeo.job.guards.workbook import workbook_refusal

        return workbook_refusal(file)
    check = {".gml": gml_refusal, ".tab": mapinfo_refusal, ".shp": _missing_sidecars}.get(suffix)
    return None if check is None else check(file)


def _declares_entities(file: Path) -> bool:
    with file.open("rb") as opened, mmap.mmap(opened.fileno(), 0, access=mmap.ACCESS_READ) as text:
        return _ENTITIES.search(text) is not None


def _missing_sidecars(file: Path) -> Reason | None:
    """Return why a Shapefile is incomplete: its .shx or .dbf file is missing."""
    there = {other.suffix.casefold() for other in file.parent.glob(f"{escape(file.stem)}.*")}
    lacking = [part for part in (".shx", ".dbf") if part not in there]
    if not lacking:
        return None
    return Reason("shapefile_incomplete", files=[file.stem + part for part in lacking])


# The key crs in any case, in either kind of quotes, its letters plain or as JSON escapes (\u0063).
_CRS = re.compile(
    rb"""["'](?:c|\\u00[46]3)(?:r|\\u00[57]2)(?:s|\\u00[57]3)["']""", re.IGNORECASE
)  # fmt: skip
_MAX_CRS_BYTES = 1 << 16
_CRS_KINDS = {"name": {"name"}, "EPSG": {"code"}}
_SCHEMA = re.compile(rb"""schemaLocation\s*=\s*(?:"([^"]*)"|'([^']*)')""", re.IGNORECASE)
_TABLES = (b"create view", b"open table")


def json_refusal(file: Path) -> Reason | None:
    """Return why a GeoJSON file is refused: it has a linked CRS, which GDAL would fetch.

    Linked CRSs are of the specification before RFC 7946, see
    https://geojson.org/geojson-spec.html#linked-crs.
    """
    with file.open("rb") as opened, mmap.mmap(opened.fileno(), 0, access=mmap.ACCESS_READ) as text:
        for found in _CRS.finditer(text):
            if not _is_plain_crs(text[found.end() : found.end() + _MAX_CRS_BYTES]):
                return Reason("crs_is_link")
    return None


def _is_plain_crs(after: bytes) -> bool:
    """Return whether the text after ``"crs"`` is a CRS by name or code, or not a CRS.

    Examples
    --------
    >>> _is_plain_crs(b': {"type": "name", "properties": {"name": "EPSG:4326"}}, ')
    True
    >>> _is_plain_crs(b': {"type": "link", "properties": {"href": "http://h.example"}}}')
    False
    """
    text = after.decode("utf-8", "replace").lstrip()
    if text[:1] in (",", "}", "]", ""):
        return True
    if text[0] != ":":
        return False
    try:
        crs, _ = json.JSONDecoder(object_pairs_hook=_unique_keys).raw_decode(text[1:].lstrip())
    except (ValueError, RecursionError):
        return False
    if not isinstance(crs, dict):
        return True
    kind, properties = crs.get("type"), crs.get("properties")
    return crs.keys() == {"type", "properties"} and isinstance(properties, dict) and (
        _CRS_KINDS.get(str(kind)) == properties.keys()
    )  # fmt: skip


def _unique_keys(pairs: list[tuple[str, object]]) -> dict[str, object]:
    if len(dict(pairs)) < len(pairs):
        raise ValueError("duplicate key, of which readers may use either")
    return dict(pairs)


def gml_refusal(file: Path) -> Reason | None:
    """Return why a GML file is refused: it names a schema in another folder, which GDAL reads."""
    with file.open("rb") as opened, mmap.mmap(opened.fileno(), 0, access=mmap.ACCESS_READ) as text:
        for found in _SCHEMA.finditer(text):
            if any(_outside_folder(word) for word in (found[1] or found[2] or b"").split()):
                return Reason("schema_elsewhere")
    return None


def _outside_folder(word: bytes) -> bool:
    """Return whether a path leads out of the folder; web addresses are blocked in `gdal`."""
    if word.lower().startswith((b"http://", b"https://", b"urn:")):
        return False
    return any(sign in word for sign in (b"/", b"\\", b"&", b":"))


def mapinfo_refusal(file: Path) -> Reason | None:
    r"""Return why a MapInfo table is refused: it is a view or a seamless table of other files.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "routes.tab"
    ...     _ = file.write_text('!table\nbegin_metadata\n"\\IsSeamless" = "TRUE"')
    ...     mapinfo_refusal(file)
    Reason('table_of_tables')
    """
    if any(_is_view_or_seamless(line.lower()) for line in _lines(file)):
        return Reason("table_of_tables")
    return None


def _lines(file: Path) -> Iterator[bytes]:
    with file.open("rb") as opened:
        yield from re.split(rb"[\r\n]", opened.read())


def _is_view_or_seamless(line: bytes) -> bool:
    words = b" ".join(line.split())
    seamless = b"isseamless" in words and b'"false"' not in words
    return seamless or any(sign in words for sign in _TABLES)
