"""All that the map shows, as JSON values for its script."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.deliver.map.line import fitting_data, readings_data
from leakgeo.deliver.map.words import script_words
from leakgeo.deliver.views import colours, sentences
from leakgeo.deliver.views.card import every_dig
from leakgeo.deliver.views.line_view import LineView, views_of_worded
from leakgeo.deliver.views.placed import placed_points
from leakgeo.deliver.views.places import error_ellipse
from leakgeo.deliver.views.rows import number, records, text, with_geometry
from leakgeo.deliver.views.top_lines import STATUSES, tally, top_lines
from leakgeo.job.north import from_grid_north
from leakgeo.reason import Reason
from leakgeo.wording import wording
from leakgeo.wording.quantities import axis_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pyproj import CRS

    from leakgeo.result import Result
    from leakgeo.wording import Wording

DECIMALS = 7  # about a centimetre on the ground

Plain = dict[str, Any]
SHAPES = ("marks", "search_zones", "next_readings", "conflicts", "dig_zones", "readings_on_route",
          "survey_bracket", "locate_requests", "dig_alternatives", "contact_ranking",
          "air_tests")  # fmt: skip
# Outlines that are simplified; the corners of a white line are listed, so they stay.
_OUTLINES = ("search_zones", "conflicts", "dig_zones", "dig_alternatives", "survey_bracket")
_SIMPLIFY_M = 0.005
# A fix nearer than this to its place on the pipe isn't drawn apart.
_MOVED_M = 0.05
_READING = ["line_id", "reading_id", "chainage_m", "level_comparable_db", "used", "reason",
            "sweep_m", "offset_m", "geometry", "at", "fix"]  # fmt: skip


# Lines that are named as not drawn; the others are counted.
_NAMED = 12


def map_views(
    result: Result, units: str, most: int | None = None, language: str = "en"
) -> tuple[list[LineView], Plain]:
    """Return the lines that the map shows, and all else that it shows.

    Parameters
    ----------
    result : Result
        Layers in a metre CRS; any may be absent or empty.
    units : {"si", "us"}
        Units of the texts.
    most : int or None
        Maximum number of lines, first by priority; all if None, the default.
    language : str
        Language of the messages, one of `leakgeo.wording.languages`; default English.

    Returns
    -------
    views : list of LineView
        Rows have a key ``at``: their geometry as `latlon_lists` returns it.
    head : dict
        JSON values; ``left_out`` is the number of lines that are not shown.
    """
    every, readings = tally(result), sentences.reading_counts(result)
    result = _with_latlon(top_lines(result, most).worded(units, language))
    views, words = views_of_worded(result, units, language), wording(units, language)
    axis, metres = axis_unit(units)
    return views, {
        "every": every_dig(result, words),
        "recorded": f"{words.text(sentences.holds_recorded(result.job))}. Run {result.run_id}.",
        "tally": every.sentence(words),
        "left_out": every.lines - len(views),
        "unplaced": _unplaced(views, words),
        # A scale and layers of a map on which nothing is would only ask where it all is.
        "blank": not any(view.placed for view in views) and result.job.utilities is None,
        "caution": [sentences.CAUTION, " ".join([sentences.CAUTION_MORE, *_simulated(result)])],
        "meaning": sentences.ODDS_MEANING,
        "footer": sentences.provenance(result),
        "readings": readings,
        "units": {"name": axis, "metres": metres, "us": units == "us"},
        "looks": looks(words),
        "words": script_words(words),
        "statuses": {code: words.term(code, "status") for code in STATUSES},
        "utilities": _utilities(result.job.utilities, words),
        "fittings": _unassigned_fittings(result),
        "loose": _unassigned_readings(result),
    }


def _simulated(result: Result) -> list[str]:
    note = result.job.simulated
    return [note] if note else []


def _unplaced(views: Sequence[LineView], words: Wording) -> str:
    """Return which lines are not drawn, as nothing places them on the ground; ``""`` if none."""
    names = [view.line_id for view in views if not view.placed]
    if not names:
        return ""
    every = len(names) == len(views)
    more = max(len(names) - _NAMED, 0)
    return words.text(Reason("not_on_map", lines=names[:_NAMED], more=more, every=every))


def looks(words: Wording) -> Plain:
    """Return the colours and patterns of the script."""
    return {
        "zones": colours.ZONES,
        "levels": colours.LEVELS,
        "ink": colours.INK,
        "pipe": colours.PIPE,
        "survey": colours.SURVEY,
        "utilities": {
            kind: {
                "name": words.term(kind, "hazard"),
                "colour": look.colour,
                "dash": look.dash,
            }
            for kind, look in colours.UTILITY.items()
        },
    }


def _with_latlon(result: Result) -> Result:
    """Add a column of latitudes and longitudes to each layer, and the ellipses of the marks."""
    layers = {name: frame for name in SHAPES if (frame := result.layers.get(name)) is not None}
    marks = layers.get("marks")
    if isinstance(marks, gpd.GeoDataFrame) and not marks.empty:
        layers["marks"] = marks.assign(ring=latlon_lists(_ellipses(marks, result.job.crs)))
    placed = {name: _with_latlon_column(frame, name in _OUTLINES) for name, frame in layers.items()}
    if "readings_on_route" in placed:
        # Rows of thousands of lines need memory: keep only the columns that the map shows.
        frame = _on_their_pipe(placed["readings_on_route"], result.job.routes)
        placed["readings_on_route"] = frame[[name for name in _READING if name in frame]]
    job = replace(result.job, routes=_with_latlon_column(result.job.routes))
    return replace(result.adding(placed), job=job)


def _on_their_pipe(readings: Any, routes: gpd.GeoDataFrame) -> Any:
    """Move the readings to their place on the pipe; ``fix`` keeps the position as recorded."""
    if not isinstance(readings, gpd.GeoDataFrame) or readings.empty:
        return readings
    points = placed_points(readings, routes)
    moved = shapely.distance(points, readings.geometry.to_numpy()) > _MOVED_M
    fix = [at if far else None for at, far in zip(readings["at"], moved, strict=True)]
    return readings.assign(
        at=latlon_lists(gpd.GeoSeries(points, crs=readings.crs)), fix=pd.Series(fix, readings.index)
    )


def _with_latlon_column(frame: pd.DataFrame, outlines: bool = False) -> Any:
    if not isinstance(frame, gpd.GeoDataFrame) or frame.empty:
        return frame
    shapes = frame.geometry.simplify(_SIMPLIFY_M) if outlines else frame.geometry
    return frame.assign(at=latlon_lists(shapes))


def _ellipses(marks: gpd.GeoDataFrame, crs: CRS) -> gpd.GeoSeries:
    spots = marks.geometry.to_numpy()
    known = pd.to_numeric(marks.get("azimuth_deg", pd.Series(np.nan, index=marks.index)))
    grid = from_grid_north(known, crs, shapely.get_x(spots), shapely.get_y(spots))
    rings = [_ellipse(row, way) for row, way in zip(records(marks), grid, strict=True)]
    return gpd.GeoSeries(rings, crs=marks.crs)


def _ellipse(row: Plain, grid_azimuth_deg: float) -> Any:
    along, across = number(row, "along_95_m"), number(row, "across_95_m")
    spot = row["geometry"]
    if along is None or across is None or spot is None or spot.is_empty:
        return None
    return error_ellipse(spot.x, spot.y, along, across, grid_azimuth_deg)


def _utilities(frame: gpd.GeoDataFrame | None, words: Wording) -> list[Plain]:
    good = with_geometry(frame)
    if good is None:
        return []
    shapes = zip(records(good), latlon_lists(good.geometry), good.geometry.geom_type, strict=True)
    return [
        {
            "at": at,
            "shape": shape.removeprefix("Multi"),
            "kind": text(row, "kind"),
            "name": _utility_name(row, words),
            "kindName": _kind_on_line(row, words),
            "says": [
                text(row, "utility_id"),
                words.term(text(row, "kind") or "utility", "utility"),
                text(row, "owner"),
                words.text(_answer(text(row, "response"))),
            ],
        }
        for row, at, shape in shapes
    ]


def _utility_name(row: Plain, words: Wording) -> list[str]:
    """Return the lines of a utility's label at a mark: kind and identifier."""
    kind = words.term(text(row, "kind") or "utility", "hazard")
    return [part for part in (kind, text(row, "utility_id")) if part]


def _kind_on_line(row: Plain, words: Wording) -> str:
    """Return the kind of a utility, with a question mark if its position is not known."""
    kind = words.term(text(row, "kind") or "utility", "hazard")
    placed = text(row, "quality_level").upper() in {"A", "B", "C"}
    return kind if placed else f"{kind}?"


def _answer(response: str) -> Reason:
    """Return the answer of a utility's owner."""
    if response in ("", "none"):
        return Reason("owner_silent")
    return Reason("owner_answered", response=response)


def _unassigned_fittings(result: Result) -> list[Plain]:
    """Return the fittings that belong to no line."""
    ranked = result.layers.get("contact_ranking")
    good = with_geometry(result.job.contacts if ranked is None else ranked)
    if good is None:
        return []
    if ranked is not None and "line_id" in good:
        good = good.loc[good["line_id"].isna()]
    return [fitting_data(row) for row in records(good.assign(at=latlon_lists(good.geometry)))]


def _unassigned_readings(result: Result) -> Plain:
    """Return the readings that belong to no line; the map shows them hollow, with the reason."""
    frame = with_geometry(result.layers.get("readings_on_route"))
    if frame is None or "line_id" not in frame:
        return readings_data([])
    loose = frame.loc[frame["line_id"].isna()]
    return readings_data(records(loose.assign(at=latlon_lists(loose.geometry))))


def latlon_lists(shapes: gpd.GeoSeries) -> list[Any]:
    """Return geometries as nested lists of ``[latitude, longitude]``, as Leaflet takes them.

    Parameters
    ----------
    shapes : geopandas.GeoSeries
        With a CRS.

    Returns
    -------
    list
        A point is a pair; a line is a list of parts; a polygon is a list of parts, each a list of
        rings; a missing geometry is None.

    Examples
    --------
    >>> import geopandas as gpd
    >>> from shapely import LineString, Point
    >>> shapes = gpd.GeoSeries([Point(10, 50), LineString([(10, 50), (11, 51)]), None], crs=4326)
    >>> latlon_lists(shapes)
    [[50.0, 10.0], [[[50.0, 10.0], [51.0, 11.0]]], None]
    """
    there = shapes.to_crs(4326).to_numpy()
    if (shapely.get_type_id(there) == 0).all() and not shapely.is_empty(there).any():
        return _pairs(there)
    return [_shape(shape) for shape in there]


def _shape(shape: Any) -> Any:
    if shape is None or shape.is_empty:
        return None
    parts = shapely.get_parts(shape)
    if shape.geom_type in {"Polygon", "MultiPolygon"}:
        return [[_pairs(ring) for ring in (part.exterior, *part.interiors)] for part in parts]
    if shape.geom_type in {"LineString", "MultiLineString", "LinearRing"}:
        return [_pairs(part) for part in parts]
    return _pairs(parts[0])[0]


def _pairs(shape: Any) -> list[list[float]]:
    lonlat = shapely.get_coordinates(shape)
    pairs: list[list[float]] = np.round(lonlat[:, ::-1], DECIMALS).tolist()
    return pairs
