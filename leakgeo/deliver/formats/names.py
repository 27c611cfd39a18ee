"""Names of the export formats, known without importing any of them."""

from __future__ import annotations

from pathlib import Path
from pkgutil import iter_modules


def format_names() -> tuple[str, ...]:
    """Give the name of each format: that of its file in ``writers``.

    Examples
    --------
    >>> format_names()
    ('dxf', 'flatgeobuf', 'geojson', 'geoparquet', 'kml', 'shapefile')
    """
    return tuple(sorted(m.name for m in iter_modules([str(Path(__file__).parent / "writers")])))
