"""Whether a file has its end, or is still being written."""

from __future__ import annotations

import struct
import zipfile
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

_TAIL = 64
_PAGE, _CHANGES, _PAGES, _OF_CHANGES = 16, 24, 28, 92


def looks_whole(file: Path) -> bool:
    """Return whether a file has the end that its format has; True for formats without one.

    Parameters
    ----------
    file : pathlib.Path

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "routes.geojson"
    ...     _ = file.write_text('{"features": [')
    ...     half = looks_whole(file)
    ...     _ = file.write_text('{"features": []}')
    ...     half, looks_whole(file)
    (False, True)
    """
    try:
        check = _CHECKS.get(file.suffix.casefold())
        return file.stat().st_size > 0 and (check is None or check(file))
    except OSError:
        return False


def _sqlite(file: Path) -> bool:
    """Return whether an SQLite file has all pages that its header counts.

    See https://www.sqlite.org/fileformat.html; the count is valid if both counters are equal.
    """
    with file.open("rb") as opened:
        head = opened.read(100)
    if len(head) < 100:
        return False
    page = struct.unpack_from(">H", head, _PAGE)[0]
    pages, changes, counted = (struct.unpack_from(">I", head, at)[0]
                               for at in (_PAGES, _CHANGES, _OF_CHANGES))  # fmt: skip
    size = 65_536 if page == 1 else page
    return bool(changes != counted or file.stat().st_size >= pages * size)


def _ends(*signs: bytes) -> Callable[[Path], bool]:
    def check(file: Path) -> bool:
        with file.open("rb") as opened:
            opened.seek(max(0, file.stat().st_size - _TAIL))
            return opened.read(_TAIL).rstrip(b" \t\r\n\0").endswith(signs)

    return check


def _shapefile(file: Path) -> bool:
    """Return whether a Shapefile has the length of its header, in words of 16 bits."""
    with file.open("rb") as opened:
        head = opened.read(28)
    return len(head) == 28 and file.stat().st_size >= 2 * struct.unpack_from(">i", head, 24)[0]


_CHECKS: dict[str, Callable[[Path], bool]] = {
    **dict.fromkeys((".gpkg", ".sqlite", ".sqlite3", ".db"), _sqlite),
    **dict.fromkeys((".geojson", ".json"), _ends(b"}", b"]")),
    **dict.fromkeys((".gml", ".kml", ".gpx"), _ends(b">")),
    **dict.fromkeys((".parquet", ".geoparquet"), _ends(b"PAR1")),
    **dict.fromkeys((".xlsx", ".ods"), zipfile.is_zipfile), ".shp": _shapefile,
}  # fmt: skip
