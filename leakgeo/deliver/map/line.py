"""One line as the map's script takes it: its texts, its shapes and its profile."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from leakgeo.deliver import sentences, words
from leakgeo.deliver.map import words as map_words
from leakgeo.deliver.tables import flag, number, text

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from leakgeo.deliver.profiles import Profile
    from leakgeo.deliver.view import LineView
    from leakgeo.wording import Wording

Plain = dict[str, Any]


def entry_data(view: LineView, units: str) -> Plain:
    """Give what the list shows of a line."""
    odds = sentences.odds(view, units)
    return {
        "dig": view.dig_text,
        "where": sentences.position(view, units),
        "odds": odds[0] if odds else "",
        "brief": view.brief_holds,
        "message": map_words.also(view),
        "links": map_words.links(view),
        "meter": map_words.meter_brief(view, units),
    }


def line_data(view: LineView, units: str) -> Plain:
    """Give everything about one line."""
    return {
        **entry_data(view, units),
        **_texts(view, units),
        "id": view.line_id,
        "status": view.status,
        "says": view.wording.term(view.status, "status"),
        "located": view.located,
        "pipe": view.route.get("at"),
        "mark": _mark(view),
        "zones": [_zone(row) for row in view.zones],
        "next": [_next(row, units) for row in view.rows("next_readings")],
        "conflicts": [_conflict(row, units, view.wording) for row in view.rows("conflicts")],
        "digAt": view.dig.get("at"),
        "request": _request(view, units),
        "others": [
            {"at": row.get("at"), "says": sentences.other_place(row, units)}
            for row in view.rows("dig_alternatives")
        ],
        "bracket": _bracket(view, units),
        "fittings": [fitting_data(row) for row in view.rows("contact_ranking")],
        "air": [_air(row, units) for row in view.rows("air_tests")],
        "readings": readings_data(view.rows("readings_on_route")),
        "profile": _profile(view.profile),
    }


def _texts(view: LineView, units: str) -> Plain:
    return {
        "error": sentences.error(view, units),
        "odds": sentences.odds(view, units),
        "limit": sentences.limits(view),
        "holds": view.holds,
        "cautions": view.cautions,
        "meterSays": map_words.meter_tests(view),
        "improvements": sentences.ways_to_improve(view),
        "improvementsWhy": map_words.improvements_why(view),
        "advice": sentences.advice(view),
        "facts": [*sentences.facts(view, units), *_prior(view)],
    }


def _prior(view: LineView) -> list[tuple[str, str]]:
    said = text(view.row, "prior")
    return [("Likelier before listening by", said)] if said else []


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
        "odds": f"{words.percent(number(row, 'probability_leak_here'))} that there is a leak in it",
        "x": [number(row, "from_chainage_m"), number(row, "to_chainage_m")],
    }


def _next(row: Plain, units: str) -> Plain:
    says = sentences.next_reading(row, units)
    return {"at": row.get("at"), "x": number(row, "chainage_m"), "says": says}


def _conflict(row: Plain, units: str, wording: Wording) -> Plain:
    return {
        "at": row.get("at"),
        "kind": text(row, "kind"),
        "unknown": text(row, "severity") == "unknown_position",
        "says": sentences.conflict(row, units, wording),
    }


def _bracket(view: LineView, units: str) -> list[Plain]:
    rows = sorted(view.rows("survey_bracket"), key=lambda row: number(row, "order") or 99)
    return [
        {"at": row.get("at"), "p": number(row, "probability"),
         "says": map_words.stretch(row, units)}
        for row in rows
    ]  # fmt: skip


def fitting_data(row: Plain) -> Plain:
    """Give a fitting that was listened to."""
    return {
        "at": row.get("at"),
        "db": number(row, "level_db") if flag(row, "used") or "used" not in row else None,
        "says": map_words.fitting(row),
    }


def _air(row: Plain, units: str) -> Plain:
    says = map_words.air_test(row, units)
    return {"at": row.get("at"), "verdict": text(row, "verdict"), "says": says}


def readings_data(rows: list[Plain]) -> Plain:
    """Give readings as columns."""
    return {
        "at": [row.get("at") for row in rows],
        "id": [text(row, "reading_id") for row in rows],
        "x": short([number(row, "chainage_m") for row in rows], 3),
        "db": short([number(row, "level_comparable_db") for row in rows], 1),
        "used": [flag(row, "used") for row in rows],
        "why": [text(row, "reason") for row in rows],
    }


def _profile(profile: Profile) -> Plain:
    return {
        "x": short(profile.chainage_m, 2),
        "db": short(profile.level_comparable_db, 1),
        "sd": short(profile.level_comparable_sd_db, 1),
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
