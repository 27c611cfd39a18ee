"""The map: one HTML file that needs no network."""

from __future__ import annotations

from typing import TYPE_CHECKING

import folium

from leakgeo.checkpoint import checkpoint
from leakgeo.deliver.folder.atomic import out_folder, write_atomic
from leakgeo.deliver.folder.record import lines_by_status
from leakgeo.deliver.map.background import Background, background
from leakgeo.deliver.map.data import map_data
from leakgeo.deliver.map.page import OfflineMap, Start
from leakgeo.deliver.map.words import script_words
from leakgeo.deliver.views.top_lines import selected
from leakgeo.errors import parameter_label
from leakgeo.faults import Fault
from leakgeo.reason import Reason
from leakgeo.selection import Selection
from leakgeo.wording import wording

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.result import Result

# Layer groups of the script, in the order of the layer control.
GROUPS = ("bracket", "utilities", "pipes", "conflicts", "request", "dig", "zones", "fittings",
          "readings", "next", "air", "marks")  # fmt: skip
_NO_BACKGROUND = Background()


def make_map(
    result: Result,
    *,
    units: str | None = None,
    language: str = "en",
    sealed: bool = False,
    most: int | None = None,
    under: Background = _NO_BACKGROUND,
) -> folium.Map:
    """Return the map as a folium map, to which further layers can be added.

    Parameters
    ----------
    result : Result
        Layers in a metre CRS; any may be absent or empty.
    units : {"si", "us"} or None
        Units of the texts; those of the job's CRS if None, the default.
    language : str
        Language of the messages, one of `leakgeo.wording.languages`; default English.
    sealed : bool
        Forbid all requests of the page except the tiles of `under`; default False.
    most : int or None
        Maximum number of lines, first by priority; all if None, the default.
    under : Background
        Photo or tiles below the layers; none by default.

    Returns
    -------
    folium.Map
        In longitude and latitude (EPSG:4326), as Leaflet takes them.
    """
    units = result.units(units)
    page = OfflineMap(sealed=sealed, images=under.source, language=language)
    page.get_root()._id = "leakgeo"
    words = wording(units, language)
    page.get_root().title = words.term("map_page_title")
    page.words = script_words(words)
    groups = {key: folium.FeatureGroup(name=words.term(key, "group")) for key in GROUPS}
    for key, group in groups.items():
        group._id = key
        group.add_to(page)
    control = folium.LayerControl(collapsed=True)
    control._id = "leakgeo"
    control.add_to(page)
    names = {key: group.get_name() for key, group in groups.items()}
    data = map_data(result, units, most, language)
    further = {"photo": under.photo, "tiles": under.tiles}
    Start(data, further, page.get_name(), names, control.get_name()).add_to(page)
    return page


def write_map(
    result: Result,
    *,
    out: Path | None,
    units: str,
    language: str,
    lines: tuple[str, ...],
    top: int | None,
    status: str,
    near: str,
    map_lines: int | None,
    orthophoto: Path | None,
    tiles: str | None,
) -> Result:
    """Write ``map.html`` into `out` atomically.

    Parameters
    ----------
    result : Result
        Layers in a metre CRS; any may be absent or empty. With ``kept``, only lines that changed
        are worked out; the page is the same.
    out : pathlib.Path
        Folder, created if it is missing.
    units : {"si", "us"}
        Units of the texts.
    language : str
        Language of the messages, one of `leakgeo.wording.languages`.
    lines : tuple of str
        Lines to show, by ``line_id``; all if empty.
    top : int or None
        Of the selected lines so many, the first in the order of the digs.
    status : str
        Statuses of lines or of their digs, as `leakgeo.selection.parse_statuses` reads them.
    near : str
        Place and radius, as `leakgeo.selection.parse_near` reads them; everywhere if empty.
    map_lines : int or None
        Maximum number of lines, first by priority; the map and a fault report those left out. All
        if None.
    orthophoto : pathlib.Path or None
        Georeferenced aerial photo to lay below the layers, in any CRS; none if None.
    tiles : str or None
        Address of background tiles, by http or https, with ``{z}``, ``{x}`` and ``{y}``; the open
        map requests them from their host, and nothing else. No tiles if None.

    Returns
    -------
    Result
        With a fault for lines left out, and for a photo that can't be used.

    Raises
    ------
    ParameterError
        If no folder was given, no line is selected, or `tiles` is not an address of tiles.
    OutputError
        If the file can't be written, or the folder holds the result of another run.
    """
    folder = out_folder(out, result.run_id)
    shown = selected(result, Selection(lines, top, status, near))
    under = background(shown.job, orthophoto, tiles)
    page = make_map(shown, units=units, language=language, sealed=True, most=map_lines, under=under)
    checkpoint()
    html = page.get_root().render()
    write_atomic(folder / "map.html", lambda path: _write_text(path, html))
    return result.adding({}, [*under.faults, *_left_out(shown, map_lines)])


def _left_out(result: Result, most: int | None) -> list[Fault]:
    count = sum(lines_by_status(result).values()) or len(result.job.routes)
    if most is None or count <= most:
        return []
    reason = Reason(
        "map_leaves_out", shown=most, lines=count, parameter=parameter_label("map_lines")
    )
    return [Fault("lines", reason, value=str(count - most), effect="noted")]


def _write_text(path: Path, html: str) -> None:
    path.write_text(html, encoding="utf-8", newline="\n")
