"""The map: one HTML file that opens with no network, in a truck or on a phone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import folium

from leakgeo.deliver.folder.atomic import out_folder, write_atomic
from leakgeo.deliver.map.background import Background, background
from leakgeo.deliver.map.data import map_views
from leakgeo.deliver.map.page import OfflineMap, Start
from leakgeo.errors import called
from leakgeo.faults import Fault
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.result import Result

# Keys are what the script draws into; titles are what the layer control shows.
GROUPS = {
    "bracket": "Where to walk first",
    "utilities": "Other utilities",
    "pipes": "Pipes",
    "conflicts": "Conflicts",
    "request": "White lines",
    "dig": "Proposed excavation",
    "zones": "Search zones",
    "fittings": "Fittings listened to",
    "readings": "Readings",
    "next": "Listen next",
    "air": "Air tests",
    "marks": "Marks",
}
_NO_BACKGROUND = Background()


def make_map(
    result: Result,
    *,
    units: str = "si",
    language: str = "en",
    sealed: bool = False,
    most: int | None = None,
    under: Background = _NO_BACKGROUND,
) -> folium.Map:
    """Make the map as a folium map, to which layers of your own can be added.

    Parameters
    ----------
    result : Result
        Layers in a metre CRS; any may be absent or empty.
    units : {"si", "us"}
    language : str
        Language of the messages.
    sealed : bool
        Forbid the page every request but for the tiles of `under`.
    most : int or None
        Lines at the most, the first by priority.
    under : Background
        Photo or tiles to lay under it.

    Returns
    -------
    folium.Map
        In longitude and latitude (EPSG:4326), as Leaflet takes them.
    """
    page = OfflineMap(sealed=sealed, images=under.source)
    page.get_root().title = "leakgeo map"
    page.get_root()._id = "leakgeo"
    groups = {key: folium.FeatureGroup(name=title) for key, title in GROUPS.items()}
    for key, group in groups.items():
        group._id = key
        group.add_to(page)
    control = folium.LayerControl(collapsed=True)
    control._id = "leakgeo"
    control.add_to(page)
    names = {key: group.get_name() for key, group in groups.items()}
    views, head = map_views(result, units, most, language)
    head = {**head, "photo": under.photo, "tiles": under.tiles}
    Start(views, units, head, page.get_name(), names, control.get_name()).add_to(page)
    return page


def write_map(
    result: Result,
    *,
    out: Path | None,
    units: str,
    language: str,
    map_lines: int | None,
    orthophoto: Path | None,
    tiles: str | None,
) -> Result:
    """Write ``map.html`` into `out`, whole or not at all.

    Parameters
    ----------
    result : Result
        Layers in a metre CRS; any may be absent or empty.
    out : pathlib.Path
        Folder, made where it is missing.
    units : {"si", "us"}
    language : str
        Language of the messages.
    map_lines : int or None
        Lines at the most, the first by priority; those left out are told on the map and as a fault.
    orthophoto : pathlib.Path or None
        Aerial photo to lay under it, with a CRS of its own.
    tiles : str or None
        Address of background tiles, by http or https; the open map asks their host, and nothing
        else.

    Returns
    -------
    Result
        With a fault for lines left out, and for a photo that can't be laid.

    Raises
    ------
    ParameterError
        If no folder was given, or `tiles` is not the address of tiles.
    OutputError
        If the file can't be written.
    """
    folder = out_folder(out, result.run_id)
    under = background(result.job, orthophoto, tiles)
    page = make_map(
        result, units=units, language=language, sealed=True, most=map_lines, under=under
    )
    html = page.get_root().render()
    write_atomic(folder / "map.html", lambda path: _write_text(path, html))
    return result.adding({}, [*under.faults, *_left_out(result, map_lines)])


def _left_out(result: Result, most: int | None) -> list[Fault]:
    lines = result.layers.get("lines")
    count = len(result.job.routes) if lines is None else len(lines)
    if most is None or count <= most:
        return []
    reason = Reason("map_leaves_out", shown=most, lines=count, parameter=called("map_lines"))
    return [Fault("lines", reason, value=str(count - most), effect="noted")]


def _write_text(path: Path, html: str) -> None:
    path.write_text(html, encoding="utf-8", newline="\n")
