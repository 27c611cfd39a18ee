"""Everything the map shows, as plain lists and texts for its script."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd

from leakgeo.deliver import colours, sentences, words
from leakgeo.deliver.ellipse import error_ellipse
from leakgeo.deliver.map_geometry import nested
from leakgeo.deliver.tables import flag, number, records, text, with_geometry
from leakgeo.deliver.units import axis_unit
from leakgeo.deliver.view import LineView, line_views

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import ArrayLike

    from leakgeo.deliver.profiles import Profile
    from leakgeo.result import Result

Plain = dict[str, Any]
SHAPES = ("marks", "search_zones", "next_readings", "conflicts", "dig_zones", "readings_on_route",
          "survey_bracket", "locate_requests", "dig_alternatives")  # fmt: skip


def map_data(result: Result, units: str) -> Plain:
    """Gather what the map shows.

    Parameters
    ----------
    result : Result
        Any layer may be absent or empty.
    units : {"si", "us"}
        Units of the texts; the plot's numbers stay in metres and are scaled when drawn.

    Returns
    -------
    dict
        Of texts, finite numbers, None and lists alone: fit for JSON.
    """
    result = _placed(result)
    views = line_views(result)
    axis, metres = axis_unit(units)
    return {
        "tally": sentences.tally(views),
        "caution": [words.CAUTION, words.CAUTION_MORE],
        "meaning": words.ODDS_MEANING,
        "footer": sentences.provenance(result.job),
        "readings": sentences.reading_counts(result),
        "units": {"name": axis, "metres": metres, "us": units == "us"},
        "looks": looks(),
        "lines": [line_data(view, units) for view in views],
        "utilities": _utilities(result.job.utilities),
        "fittings": _fittings(result),
        "loose": _loose(result),
    }


def looks() -> Plain:
    """Give the colours and patterns that the script draws with."""
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
        rings = gpd.GeoSeries([_ellipse(row) for row in records(marks)], crs=marks.crs)
        layers["marks"] = marks.assign(ring=nested(rings))
    placed = {name: _with_at(frame) for name, frame in layers.items()}
    job = replace(result.job, routes=_with_at(result.job.routes))
    return replace(result.adding(placed), job=job)


def _with_at(frame: pd.DataFrame) -> Any:
    if not isinstance(frame, gpd.GeoDataFrame) or frame.empty:
        return frame
    return frame.assign(at=nested(frame.geometry))


def _ellipse(row: Plain) -> Any:
    along, across = number(row, "along_95_m"), number(row, "across_95_m")
    spot = row["geometry"]
    if along is None or across is None or spot is None or spot.is_empty:
        return None
    return error_ellipse(spot.x, spot.y, along, across, number(row, "azimuth_deg"))


def line_data(view: LineView, units: str) -> Plain:
    """Give one line: its texts, its shapes and its profile."""
    return {
        "id": view.line_id,
        "status": view.status,
        "says": words.status_text(view.status),
        "where": sentences.position(view, units),
        "error": sentences.error(view, units),
        "odds": sentences.odds(view, units),
        "limit": sentences.limits(view),
        "dig": view.dig_text,
        "located": view.located,
        "holds": view.holds,
        "brief": [sentences.brief_hold(hold) for hold in view.holds],
        "cautions": view.cautions,
        "message": "" if view.mark is not None else view.message,
        "facts": sentences.facts(view, units),
        "pipe": view.route.get("at"),
        "mark": _mark(view),
        "zones": [_zone(row) for row in view.zones],
        "next": [_next(row, units) for row in view.rows("next_readings")],
        "conflicts": [_conflict(row, units) for row in view.rows("conflicts")],
        "digAt": view.dig.get("at"),
        "request": _request(view, units),
        "others": [
            {"at": row.get("at"), "says": sentences.other_place(row, units)}
            for row in view.rows("dig_alternatives")
        ],
        "bracket": [row.get("at") for row in view.rows("survey_bracket")],
        "readings": _readings(view.rows("readings_on_route")),
        "profile": _profile(view.profile),
    }


def _mark(view: LineView) -> Plain | None:
    row = view.mark
    if row is None:
        return None
    return {
        "at": row.get("at"),
        "ring": row.get("ring"),
        "x": number(row, "chainage_m"),
        "spots": [": ".join(pair) for pair in view.places],
    }


def _request(view: LineView, units: str) -> Plain | None:
    """Give the white line, its coordinates and the ties."""
    request = view.request
    if request is None:
        return None
    return {
        "at": next((row.get("at") for row in view.rows("locate_requests")), None),
        "size": request.size(units),
        "places": request.places(),
        "ties": [tie.words(units) for tie in request.ties],
        "note": view.note,
    }


def _zone(row: Plain) -> Plain:
    return {
        "at": row.get("at"),
        "rank": int(number(row, "rank") or 99),
        "odds": words.odds_and_percent(number(row, "probability")),
        "x": [number(row, "from_chainage_m"), number(row, "to_chainage_m")],
    }


def _next(row: Plain, units: str) -> Plain:
    says = sentences.next_reading(row, units)
    return {"at": row.get("at"), "x": number(row, "chainage_m"), "says": says}


def _conflict(row: Plain, units: str) -> Plain:
    return {
        "at": row.get("at"),
        "kind": text(row, "kind"),
        "unknown": text(row, "severity") == "unknown_position",
        "says": sentences.conflict(row, units),
    }


def _readings(rows: list[Plain]) -> Plain:
    return {
        "at": [row.get("at") for row in rows],
        "id": [text(row, "reading_id") for row in rows],
        "x": short([number(row, "chainage_m") for row in rows], 3),
        "db": short([number(row, "sound_level_db") for row in rows], 1),
        "used": [flag(row, "used") for row in rows],
        "why": [text(row, "reason") for row in rows],
    }


def _profile(profile: Profile) -> Plain:
    return {
        "x": short(profile.chainage_m, 2),
        "db": short(profile.sound_level_db, 1),
        "sd": short(profile.sound_level_sd_db, 1),
        "density": short(profile.leak_density_per_m, 4),
    }


def short(values: ArrayLike | list[float | None], decimals: int) -> list[float | None]:
    """Round numbers for JSON, whole ones without a point; what isn't finite becomes None.

    Examples
    --------
    >>> short([1.2345, 2.0, float("nan"), None], 2)
    [1.23, 2, None, None]
    """
    listed = values if isinstance(values, list) else values.tolist()  # type: ignore[union-attr]
    return [_short(value, decimals) for value in listed]


def _short(value: float | None, decimals: int) -> float | None:
    if value is None or not math.isfinite(value):
        return None
    rounded = round(value, decimals)
    return int(rounded) if rounded == int(rounded) else rounded


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
            "says": [text(row, name).replace("_", " ") for name in ("utility_id", "kind", "owner")]
            + ["answer: " + (text(row, "response") or "none")],
        }
        for row, at, shape in shapes
    ]


def _fittings(result: Result) -> list[Plain]:
    good = with_geometry(result.layers.get("contact_ranking"))
    good = with_geometry(result.job.contacts) if good is None else good
    if good is None:
        return []
    names = ("contact_id", "kind", "line_id")
    return [
        {"at": at, "says": [text(row, name).replace("_", " ") for name in names]}
        for row, at in zip(records(good), nested(good.geometry), strict=True)
    ]


def _loose(result: Result) -> Plain:
    """Give the readings that belong to no line; they are shown, hollow, with the reason."""
    frame = with_geometry(result.layers.get("readings_on_route"))
    if frame is None or "line_id" not in frame:
        return _readings([])
    loose = frame.loc[frame["line_id"].isna()]
    return _readings(records(loose.assign(at=nested(loose.geometry))))
