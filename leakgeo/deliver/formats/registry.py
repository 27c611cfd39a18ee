"""The export formats by name; a format is imported when it is chosen."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from typing import TYPE_CHECKING

from leakgeo.errors import ParameterError

if TYPE_CHECKING:
    from leakgeo.deliver.formats.format import Format


def format_names() -> tuple[str, ...]:
    """Return the name of each format: that of its file in ``writers``.

    Examples
    --------
    >>> format_names()
    ('dxf', 'flatgeobuf', 'geojson', 'geoparquet', 'kml', 'shapefile')
    """
    return tuple(sorted(m.name for m in iter_modules([str(Path(__file__).parent / "writers")])))


def chosen(names: str) -> dict[str, Format]:
    """Return formats by their names, with commas between.

    Parameters
    ----------
    names : str
        Names of files in ``writers``; ``all`` for every one.

    Raises
    ------
    ParameterError
        If one is not known.

    Examples
    --------
    >>> [format.title for format in chosen("dxf, KML").values()]
    ['DXF', 'KML']
    """
    known = format_names()
    asked = [name.strip().lower() for name in names.split(",") if name.strip()]
    if unknown := [name for name in asked if name not in {*known, "all"}]:
        raise ParameterError.of(
            "format", f"{', '.join(unknown)} is not known; use {', '.join(known)} or all."
        )
    return {name: _load(name) for name in (known if "all" in asked else dict.fromkeys(asked))}


def _load(name: str) -> Format:
    found: Format = import_module(f"leakgeo.deliver.formats.writers.{name}").FORMAT
    return found
