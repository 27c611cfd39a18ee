"""Everything the map shows, as plain lists and texts for its script."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.deliver.map.line import fitting_data, readings_data
from leakgeo.deliver.views import colours, sentences
from leakgeo.deliver.views.line_view import LineView, line_views
from leakgeo.deliver.views.places import error_ellipse
from leakgeo.deliver.views.rows import number, records, text, with_geometry
from leakgeo.deliver.views.top_lines import STATUSES, tally, top_lines
from leakgeo.job.north import from_grid_north
from leakgeo.wording import wording
from leakgeo.wording.quantities import axis_unit

if TYPE_CHECKING:
    import geopandas as gpd
    from pyproj import CRS

    from leakgeo.result import Result

DECIMALS = 7  # about a centimetre on the ground

Plain = dict[str, Any]
SHAPES = ("marks", "search_zones", "next_readings", "conflicts", "dig_zones", "readings_on_route",
          "survey_bracket", "locate_requests", "dig_alternatives", "contact_ranking",
          "air_tests")  # fmt: skip
# Outlines with more corners than anyone sees; the white line's corners are told and stay.
_OUTLINES = ("search_zones", "conflicts", "dig_zones", "dig_alternatives", "survey_bracket")
_SEEN_M = 0.005
_READING = ["line_id", "reading_id", "chainage_m", "level_comparable_db", "used", "reason",
            "geometry", "at"]  # fmt: skip


def map_views(
    result: Result, units: str, most: int | None = None, language: str = "en"
) -> tuple[list[LineView], Plain]:
    """Gather the lines that the map shows, and what it shows besides them.

    Parameters
    ----------
    result : Result
        Any layer may be absent or empty.
    units : {"si", "us"}
    most : int or None
        Lines at the most, the first by priority.

    Returns
    -------
    views : list of LineView
        Rows carry ``at``: the shape in latitude and longitude, as `nested` gives it.
    head : dict
        Of texts, finite numbers, None and lists alone: fit for JSON; ``left_out`` counts the lines
        that are not shown.
    """
    every, readings = tally(result), sentences.reading_counts(result)
    result = _placed(top_lines(result, most).worded(units, language))
    views, said = line_views(result, units, language), wording(units, language)
    axis, metres = axis_unit(units)
    return views, {
        "tally": every.sentence(said),
        "left_out": every.lines - len(views),
        "caution": [sentences.CAUTION, " ".join([sentences.CAUTION_MORE, *_simulated(result)])],
        "meaning": sentences.ODDS_MEANING,
        "footer": sentences.provenance(result),
        "readings": readings,
        "units": {"name": axis, "metres": metres, "us": units == "us"},
        "looks": looks(),
        "statuses": {code: said.term(code, "status") for code in STATUSES},
        "utilities": _utilities(result.job.utilities),
        "fittings": _fittings(result),
        "loose": _loose(result),
    }


def _simulated(result: Result) -> list[str]:
    note = result.job.simulated
    return [note] if note else []


def looks() -> Plain:
    """Return the colours and patterns that the script draws with."""
    return {
        "zones": colours.ZONES,
        "levels": colours.LEVELS,
        "ink": colours.INK,
        "pipe": colours.PIPE,
        "survey": colours.SURVEY,
        "utilities": {
            kind: {
                "name": look.name,
                "colour": look.colour,
                "dash": look.dash,
                "letter": look.letter,
            }
            for kind, look in colours.UTILITY.items()
        },
    }


def _placed(result: Result) -> Result:
    """Add each shape's latitude and longitude, worked out layer by layer, and the ellipses."""
    layers = {name: frame for name in SHAPES if (frame := result.layers.get(name)) is not None}
    marks = layers.get("marks")
    if isinstance(marks, gpd.GeoDataFrame) and not marks.empty:
        layers["marks"] = marks.assign(ring=nested(_ellipses(marks, result.job.crs)))
    placed = {name: _with_at(frame, name in _OUTLINES) for name, frame in layers.items()}
    if "readings_on_route" in placed:
        # Thousands of lines as rows are heavy: only what the map shows goes along.
        frame = placed["readings_on_route"]
        placed["readings_on_route"] = frame[[name for name in _READING if name in frame]]
    job = replace(result.job, routes=_with_at(result.job.routes))
    return replace(result.adding(placed), job=job)


def _with_at(frame: pd.DataFrame, outlines: bool = False) -> Any:
    if not isinstance(frame, gpd.GeoDataFrame) or frame.empty:
        return frame
    shapes = frame.geometry.simplify(_SEEN_M) if outlines else frame.geometry
    return frame.assign(at=nested(shapes))


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


def _utilities(frame: gpd.GeoDataFrame | None) -> list[Plain]:
    good = with_geometry(frame)
    if good is None:
        return []
    shapes = zip(records(good), nested(good.geometry), good.geometry.geom_type, strict=True)
    return [
        {
            "at": at,
            "shape": shape.removeprefix("Multi"),
            "kind": text(row, "kind"),
            "letter": colours.utility_letter(row.get("kind"), row.get("quality_level")),
            "says": [
                text(row, "utility_id"),
                wording().term(text(row, "kind") or "utility", "utility"),
                text(row, "owner"),
                "answer: " + (text(row, "response") or "none"),
            ],
        }
        for row, at, shape in shapes
    ]


def _fittings(result: Result) -> list[Plain]:
    """Return the fittings of no line; those of a line are with it."""
    ranked = result.layers.get("contact_ranking")
    good = with_geometry(result.job.contacts if ranked is None else ranked)
    if good is None:
        return []
    if ranked is not None and "line_id" in good:
        good = good.loc[good["line_id"].isna()]
    return [fitting_data(row) for row in records(good.assign(at=nested(good.geometry)))]


def _loose(result: Result) -> Plain:
    """Return the readings that belong to no line; they are shown, hollow, with the reason."""
    frame = with_geometry(result.layers.get("readings_on_route"))
    if frame is None or "line_id" not in frame:
        return readings_data([])
    loose = frame.loc[frame["line_id"].isna()]
    return readings_data(records(loose.assign(at=nested(loose.geometry))))


def nested(shapes: gpd.GeoSeries) -> list[Any]:
    """Return each shape as nested ``[latitude, longitude]`` lists, None where there is none.

    Parameters
    ----------
    shapes : geopandas.GeoSeries
        In any CRS that is known.

    Returns
    -------
    list
        A point as one pair; a line as a list of parts; a polygon as a list of parts, each a list of
        rings; as Leaflet takes them.

    Examples
    --------
    >>> import geopandas as gpd
    >>> from shapely import LineString, Point
    >>> shapes = gpd.GeoSeries([Point(10, 50), LineString([(10, 50), (11, 51)]), None], crs=4326)
    >>> nested(shapes)
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
