"""The map: one HTML file that opens with no network, in a truck or on a phone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import folium

from leakgeo.deliver.atomic import out_folder, write_whole
from leakgeo.deliver.map_data import map_data
from leakgeo.deliver.map_page import OfflineMap, Start

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.result import Result

# Keys are what the script draws into; titles are what the layer control shows.
GROUPS = {
    "bracket": "Survey bracket",
    "utilities": "Other utilities",
    "pipes": "Pipes",
    "zones": "Search zones",
    "request": "White lines",
    "dig": "Proposed excavation",
    "conflicts": "Conflicts",
    "fittings": "Fittings listened to",
    "readings": "Readings",
    "next": "Listen next",
    "marks": "Marks",
}


def make_map(result: Result, *, units: str = "si", sealed: bool = False) -> folium.Map:
    """Make the map as a folium map, to which layers of your own can be added.

    Parameters
    ----------
    result : Result
        Layers in a metre CRS; any may be absent or empty.
    units : {"si", "us"}
    sealed : bool
        Forbid the page every request.

    Returns
    -------
    folium.Map
        In longitude and latitude (EPSG:4326), as Leaflet takes them.
    """
    page = OfflineMap(sealed=sealed)
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
    Start(map_data(result, units), page.get_name(), names).add_to(page)
    return page


def write_map(result: Result, *, out: Path | None, units: str) -> Result:
    """Write ``map.html`` into `out`, whole or not at all.

    Parameters
    ----------
    result : Result
        Layers in a metre CRS; any may be absent or empty.
    out : pathlib.Path
        Folder, made where it is missing.
    units : {"si", "us"}

    Returns
    -------
    Result
        The same.

    Raises
    ------
    ParameterError
        If no folder was given.
    OutputError
        If the file can't be written.
    """
    folder = out_folder(out)
    html = make_map(result, units=units, sealed=True).get_root().render()
    write_whole(folder / "map.html", lambda path: _write_text(path, html))
    return result


def _write_text(path: Path, html: str) -> None:
    path.write_text(html, encoding="utf-8", newline="\n")
