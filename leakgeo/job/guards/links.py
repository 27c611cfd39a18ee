"""What is refused of a text file in which GDAL would find the address of another file."""

from __future__ import annotations

import json
import mmap
import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from leakgeo.job.guards.files import Trouble

_PLAIN = "Export it in longitude and latitude (WGS 84), or as a GeoPackage."
_ANEW = "Write it anew from a GIS, as a GeoPackage."
# A key crs in any case, with either quotes, its letters as such or as JSON's \u0063.
_CRS = re.compile(
    rb"""["'](?:c|\\u00[46]3)(?:r|\\u00[57]2)(?:s|\\u00[57]3)["']""", re.IGNORECASE
)  # fmt: skip
_MOST_CRS = 1 << 16
_CRS_KINDS = {"name": {"name"}, "EPSG": {"code"}}
_SCHEMA = re.compile(rb"""schemaLocation\s*=\s*(?:"([^"]*)"|'([^']*)')""", re.IGNORECASE)
_TABLES = (b"create view", b"open table")


def trouble_in_json(file: Path) -> Trouble | None:
    """Say why a GeoJSON file is refused: a CRS by a link, which GDAL would fetch.

    https://geojson.org/geojson-spec.html#linked-crs, an older specification than RFC 7946.

    Parameters
    ----------
    file : pathlib.Path

    Returns
    -------
    (str, str) or None
        What is wrong and what to do, as sentences; None where nothing is.
    """
    with file.open("rb") as opened, mmap.mmap(opened.fileno(), 0, access=mmap.ACCESS_READ) as text:
        for found in _CRS.finditer(text):
            if not _is_plain_crs(text[found.end() : found.end() + _MOST_CRS]):
                return "Its CRS is a link to another file, or can't be made out.", _PLAIN
    return None


def _is_plain_crs(after: bytes) -> bool:
    """Tell whether what stands after ``"crs"`` is a CRS by its name or code, or no CRS at all.

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
        said, _ = json.JSONDecoder(object_pairs_hook=_pairs).raw_decode(text[1:].lstrip())
    except (ValueError, RecursionError):
        return False
    if not isinstance(said, dict):
        return True
    kind, properties = said.get("type"), said.get("properties")
    return said.keys() == {"type", "properties"} and isinstance(properties, dict) and (
        _CRS_KINDS.get(str(kind)) == properties.keys()
    )  # fmt: skip


def _pairs(pairs: list[tuple[str, object]]) -> dict[str, object]:
    if len(dict(pairs)) < len(pairs):
        raise ValueError("one key twice: readers take one or the other")
    return dict(pairs)


def trouble_in_gml(file: Path) -> Trouble | None:
    """Say why a GML file is refused: a schema in another folder, which GDAL would read."""
    with file.open("rb") as opened, mmap.mmap(opened.fileno(), 0, access=mmap.ACCESS_READ) as text:
        for found in _SCHEMA.finditer(text):
            if any(_leads_away(word) for word in (found[1] or found[2] or b"").split()):
                return "It names a schema in another folder.", _ANEW
    return None


def _leads_away(word: bytes) -> bool:
    """Tell a path that leaves the folder; an address of the web is not fetched, see `gdal`."""
    if word.lower().startswith((b"http://", b"https://", b"urn:")):
        return False
    return any(sign in word for sign in (b"/", b"\\", b"&", b":"))


def trouble_in_mapinfo(file: Path) -> Trouble | None:
    r"""Say why a MapInfo table is refused: a view or a seamless table, made of other files.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "routes.tab"
    ...     _ = file.write_text('!table\nbegin_metadata\n"\\IsSeamless" = "TRUE"')
    ...     trouble_in_mapinfo(file)[0]
    'The table is made of other tables.'
    """
    if any(_leads_to_tables(line.lower()) for line in _lines(file)):
        return "The table is made of other tables.", "Give a table that holds the data itself."
    return None


def _lines(file: Path) -> Iterator[bytes]:
    with file.open("rb") as opened:
        yield from re.split(rb"[\r\n]", opened.read())


def _leads_to_tables(line: bytes) -> bool:
    words = b" ".join(line.split())
    seamless = b"isseamless" in words and b'"false"' not in words
    return seamless or any(sign in words for sign in _TABLES)
