"""Registry of the export formats: a module in ``writers`` each, imported when it is used."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from typing import TYPE_CHECKING

from leakgeo.errors import ParameterError

if TYPE_CHECKING:
    from leakgeo.deliver.formats.format import Format


def format_names() -> tuple[str, ...]:
    """Return the names of all formats, those of the modules in ``writers``.

    Examples
    --------
    >>> format_names()
    ('dxf', 'flatgeobuf', 'geojson', 'geoparquet', 'kml', 'shapefile', 'xlsx')
    """
    return tuple(sorted(m.name for m in iter_modules([str(Path(__file__).parent / "writers")])))


def parse_formats(names: str) -> dict[str, Format]:
    """Parse a list of formats, and import them.

    Parameters
    ----------
    names : str
        Names separated by commas; ``all`` for every format.

    Returns
    -------
    dict of str to Format

    Raises
    ------
    ParameterError
        If a name is not known.

    Examples
    --------
    >>> [format.title for format in parse_formats("dxf, KML").values()]
    ['DXF', 'KML']
    """
    known = format_names()
    wanted = [name.strip().lower() for name in names.split(",") if name.strip()]
    if unknown := [name for name in wanted if name not in {*known, "all"}]:
        raise ParameterError.of(
            "format", f"{', '.join(unknown)} is not known; use {', '.join(known)} or all."
        )
    return {name: _load(name) for name in (known if "all" in wanted else dict.fromkeys(wanted))}


def _load(name: str) -> Format:
    found: Format = import_module(f"leakgeo.deliver.formats.writers.{name}").FORMAT
    return found
