"""The project of a result: its groups, view, themes, bookmarks, times and dig sheets."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import geopandas as gpd
import pandas as pd

from leakgeo.deliver.geopackage.styles import words_of
from leakgeo.deliver.qgis.expressions import plain_text
from leakgeo.deliver.qgis.project_parts import (
    add_canvas,
    add_crs,
    add_properties,
    add_theme,
    add_tree,
    project_root,
    project_text,
)
from leakgeo.deliver.qgis.words import caution, project_words
from leakgeo.deliver.result_project.dig_sheet import add_dig_sheet
from leakgeo.deliver.result_project.layers import (
    THEMES,
    drawing_order,
    groups_of,
    project_layers,
)
from leakgeo.deliver.result_project.lists import Given
from leakgeo.deliver.result_project.map_layer import READINGS, add_result_layer
from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.rows import layer
from leakgeo.dig.order import in_dig_order
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from pyproj import CRS

    from leakgeo.result import Result
    from leakgeo.wording import Wording

#: Name of the project in the folder of a result.
PROJECT = "result.qgz"
_INSIDE = "result.qgs"
# A file in a ZIP archive has a time; this is the earliest.
_NO_TIME = (1980, 1, 1, 0, 0, 0)
_BOOKMARKS, _AROUND_M, _BESIDE_M = 10, 12.0, 20.0
# Time from one stop of a walk to the next in which the temporal controller steps, in seconds.
_STEP_S = (1.0, 600.0)
_FRAMES_PER_S = "2"


def write_project(result: Result, path: Path) -> None:
    """Write a QGIS project beside the GeoPackage of a result.

    Parameters
    ----------
    result : Result
        Worded, as `leakgeo.result.Result.worded` returns it, for the units and language of labels.
    path : pathlib.Path
        File to write, in the folder of ``result.gpkg``. Equal results give equal bytes.

    Raises
    ------
    OSError
        If it can't be written.
    """
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        inside = zipfile.ZipInfo(_INSIDE, _NO_TIME)
        inside.compress_type, inside.create_system = zipfile.ZIP_DEFLATED, 3
        archive.writestr(inside, result_project(result))
    path.write_bytes(packed.getvalue())


def result_project(result: Result) -> str:
    """Return the project of a result as XML.

    Parameters
    ----------
    result : Result
    """
    layers, crs = project_layers(result), map_crs(result)
    words = words_of(result)
    known, cautions = project_words(words), caution(words)
    if result.job.simulated:
        cautions = f"{plain_text(result.job.simulated)} {cautions}"
    root = project_root(f"{_title(result, words)}. {cautions}", crs)
    groups, order = groups_of(layers, known), drawing_order(layers)
    add_tree(root, groups, order)
    places = _marks(result, crs)
    add_canvas(root, crs, _bounds(result, places, crs))
    given = Given(layers, checked="dig_zones" in result.layers, words=words)
    parent = ET.SubElement(root, "projectlayers")
    for one in layers.values():
        add_result_layer(parent, one, result.job.output_crs, given)
    add_properties(root, words.units, cautions)
    themes = ET.SubElement(root, "visibility-presets")
    for code, names in THEMES.items():
        add_theme(themes, known[code], [name for name in order if name in names])
    _add_bookmarks(root, known, places, crs)
    _add_times(root, result)
    if "marks" in layers:
        add_dig_sheet(ET.SubElement(root, "Layouts"), result, layers, given)
    return project_text(root)


def map_crs(result: Result) -> CRS:
    """Return the CRS of the map: that of the layers, or the local one where they are in degrees."""
    output = result.job.output_crs
    return result.job.crs if output.is_geographic else output


def _title(result: Result, words: Wording) -> str:
    name = sentences.job_name(result) or words.term("made_not_named")
    return words.text(Reason("project_title", job=plain_text(name)))


def _marks(result: Result, crs: CRS) -> gpd.GeoDataFrame | None:
    """Return the marks with a place, in the CRS of the map; held digs after the others.

    ``turn`` is the place of a dig among those of located lines, from 1 on; NaN for other marks.
    """
    marks, lines = layer(result, "marks"), layer(result, "lines")
    if not isinstance(marks, gpd.GeoDataFrame):
        return None
    placed = marks[~(marks.geometry.isna() | marks.geometry.is_empty)]
    if placed.empty:
        return None
    held = _held_by_line(lines)
    turns = placed["line_id"].map({name: k for k, name in enumerate(held, start=1)})
    placed = placed.assign(
        turn=pd.to_numeric(turns, errors="coerce"), held=placed["line_id"].map(held).eq(True)
    )
    return placed.sort_values("turn", kind="stable").to_crs(crs)


def _held_by_line(lines: pd.DataFrame | None) -> dict[str, bool]:
    """Return whether the dig of each located line is held, those that are not first, by rank."""
    if lines is None or "hold_rank" not in lines:
        return {}
    ranked = in_dig_order(lines).dropna(subset=["dig_rank", "hold_rank"], how="all")
    return dict(zip(ranked["line_id"], ranked["dig_rank"].isna().tolist(), strict=True))


def _bounds(result: Result, marks: gpd.GeoDataFrame | None, crs: CRS) -> list[float]:
    """Return the part of the map to open with: the marks, or else the pipes."""
    shown = marks if marks is not None else result.job.routes.to_crs(crs)
    box = [float(v) for v in shown.total_bounds]
    if any(pd.isna(box)):
        return [0.0, 0.0, 1.0, 1.0]
    beside = _BESIDE_M / _unit_m(crs)
    return [box[0] - beside, box[1] - beside, box[2] + beside, box[3] + beside]


def _unit_m(crs: CRS) -> float:
    return float(crs.axis_info[0].unit_conversion_factor) if crs.axis_info else 1.0


def _add_bookmarks(
    root: ET.Element, known: Mapping[str, str], marks: gpd.GeoDataFrame | None, crs: CRS
) -> None:
    """Add the places of the digs that come first; after those without a hold, held ones."""
    parent = ET.SubElement(root, "Bookmarks")
    if marks is None:
        return
    first = marks[marks["turn"].notna()].head(_BOOKMARKS)
    half = _AROUND_M / _unit_m(crs)
    says = {False: "", True: f", {known['held']}"}
    rows = zip(first["line_id"], first["held"], first.geometry.x, first.geometry.y, strict=True)
    for place, (line, held, x, y) in enumerate(rows, start=1):
        corners = [(x - half, y - half), (x + half, y - half), (x + half, y + half),
                   (x - half, y + half), (x - half, y - half)]  # fmt: skip
        ring = ", ".join(f"{e:.3f} {n:.3f}" for e, n in corners)
        bookmark = ET.SubElement(
            parent, "Bookmark", id=f"leakgeo_{place}", group=known["bookmarks"],
            name=f"{place:02d} {plain_text(str(line))}{says[held]}", extent=f"POLYGON(({ring}))",
        )  # fmt: skip
        add_crs(bookmark, crs)


def _add_times(root: ET.Element, result: Result) -> None:
    """Set the temporal controller to a walk: the longest on the line whose dig comes first."""
    times = _walk(result)
    if times is None:
        return
    steps = times.sort_values().diff().dt.total_seconds()
    step = steps[steps > 0].median()
    step = min(max(float(step) if pd.notna(step) else _STEP_S[0], _STEP_S[0]), _STEP_S[1])
    settings = ET.SubElement(root, "ProjectTimeSettings", timeStep=f"{step:g}", timeStepUnit="s",
                             frameRate=_FRAMES_PER_S, cumulativeTemporalRange="1")  # fmt: skip
    span = ET.SubElement(settings, "TemporalRange")
    ends = (times.min().floor("s"), times.max().ceil("s") + pd.Timedelta(seconds=step))
    for name, end in zip(("start", "end"), ends, strict=True):
        ET.SubElement(span, name).text = f"{end:%Y-%m-%dT%H:%M:%S}Z"


def _walk(result: Result) -> pd.Series | None:
    """Return the times of the readings of one walk; None without times."""
    readings, lines = layer(result, READINGS), layer(result, "lines")
    if readings is None or "time" not in readings:
        return None
    times = pd.to_datetime(readings["time"], utc=True, errors="coerce")
    timed = times.notna()
    if not timed.any():
        return None
    if lines is not None and "dig_rank" in lines:
        for name in in_dig_order(lines)["line_id"]:
            own = timed & (readings["line_id"] == name)
            if own.any():
                timed = own
                break
    walks = readings.loc[timed, "walk_id"].dropna() if "walk_id" in readings else pd.Series()
    if len(walks):
        timed &= readings["walk_id"] == walks.value_counts(sort=False).idxmax()
    return times[timed]
