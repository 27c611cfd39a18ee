"""One line as JSON values for the map's script: texts, geometries and profile."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from leakgeo.deliver.map import panel
from leakgeo.deliver.views import sentences
from leakgeo.deliver.views.explanations import what_else
from leakgeo.deliver.views.next_actions import action_cautions, next_actions
from leakgeo.deliver.views.rows import beside_in_sweep, flag, number, text
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from leakgeo.deliver.views.line_view import LineView
    from leakgeo.deliver.views.profiles import Profile
    from leakgeo.wording import Wording

Plain = dict[str, Any]


def entry_data(view: LineView, units: str) -> Plain:
    """Return what the list of lines shows of a line."""
    odds = sentences.odds(view)
    return {
        "dig": view.dig_text,
        "where": sentences.position(view),
        "odds": odds[0] if odds else "",
        "heldBy": view.card.hold,
        "brief": view.brief_holds,
        "message": panel.extra_message(view),
        "meter": panel.meter_brief(view),
    }


def line_data(view: LineView, units: str, entry: Plain | None = None) -> Plain:
    """Return all that the map shows of a line, given its `entry_data` if that is known."""
    return {
        **(entry_data(view, units) if entry is None else entry),
        **_texts(view, units),
        **_dig_data(view, units),
        "marks": [_mark_data(one, units) for one in view.of_marks],
        "card": _card(view),
        "id": view.line_id,
        "status": view.status,
        "says": view.wording.term(view.status, "status"),
        "located": view.located,
        "pipe": view.route.get("at"),
        "zones": [_zone(row, view.wording) for row in view.zones],
        "next": [_next(row, view.wording) for row in view.rows("next_readings")],
        "bracket": _bracket(view),
        "fittings": [fitting_data(row, view.wording) for row in view.rows("contact_ranking")],
        "air": [_air(row, view.wording) for row in view.rows("air_tests")],
        "readings": readings_data(view.rows("readings_on_route")),
        "profile": _profile(view.profile),
    }


def _dig_data(view: LineView, units: str) -> Plain:
    """Return a mark and its dig; of a line with several marks the mark of rank 1 alone."""
    rows = () if view.of_marks else view.rows("conflicts")
    return {
        "error": sentences.error(view.by_mark[0]),
        "mark": _mark(view),
        "holds": view.holds,
        "cautions": view.both_cautions if not view.of_marks else [],
        "conflicts": [_conflict(row, units, view.wording) for row in rows],
        "digAt": None if view.of_marks else view.dig.get("at"),
        "request": _request(view),
        "others": [
            {"at": row.get("at"), "says": sentences.other_place(row, view.wording)}
            for row in (() if view.of_marks else view.rows("dig_alternatives"))
        ],
    }


def _mark_data(view: LineView, units: str) -> Plain:
    """Return all that the map shows of one of several marks."""
    return {
        **_dig_data(view, units),
        "title": view.mark_name.capitalize(),
        "where": sentences.position(view),
        "dig": view.dig_text,
        "brief": view.brief_holds,
        "located": view.located,
        "next": view.card.next,
    }


def _texts(view: LineView, units: str) -> Plain:
    return {
        "odds": sentences.odds(view),
        "limit": sentences.limits(view),
        "meterSays": panel.meter_tests(view),
        "else": what_else(view),
        "actions": next_actions(view),
        "actionCautions": action_cautions(view),
        "improvements": sentences.improvements(view),
        "improvementsWhy": panel.improvement_reason(view),
        "advice": sentences.advice(view),
        "facts": [*sentences.facts(view, units), *_prior(view), *_evidence(view)],
    }


def _card(view: LineView) -> Plain:
    shown = view.card
    return {
        "held": shown.held,
        "where": shown.where,
        "links": panel.line_links(view, shown.where),
        "next": shown.next,
    }


def _prior(view: LineView) -> list[tuple[str, str]]:
    prior = text(view.row, "prior")
    return [(view.wording.term("fact_likelier_by"), prior)] if prior else []


def _evidence(view: LineView) -> list[tuple[str, str]]:
    label = view.wording.term("fact_evidence")
    return [(label, message) for message in sentences.evidence(view)]


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


def _request(view: LineView) -> Plain | None:
    """Return the locate request: white line, coordinates and ties."""
    request = view.request
    if request is None:
        return None
    return {
        "at": next((row.get("at") for row in view.rows("locate_requests")), None),
        "size": request.size(view.wording),
        "places": request.places(view.wording),
        "ties": [tie.texts(view.wording) for tie in request.ties],
        "note": view.note,
    }


def _zone(row: Plain, words: Wording) -> Plain:
    return {
        "at": row.get("at"),
        "rank": int(number(row, "rank") or 99),
        "odds": words.text(Reason("shown_zone", share=number(row, "probability_leak_here"))),
        "x": [number(row, "from_chainage_m"), number(row, "to_chainage_m")],
    }


def _next(row: Plain, wording: Wording) -> Plain:
    says = sentences.next_reading(row, wording)
    return {"at": row.get("at"), "x": number(row, "chainage_m"), "says": says}


def _conflict(row: Plain, units: str, wording: Wording) -> Plain:
    return {
        "at": row.get("at"),
        "kind": text(row, "kind"),
        "unknown": text(row, "severity") == "unknown_position",
        "says": sentences.conflict(row, units, wording),
    }


def _bracket(view: LineView) -> list[Plain]:
    rows = sorted(view.rows("survey_bracket"), key=lambda row: number(row, "order") or 99)
    return [
        {"at": row.get("at"), "p": number(row, "probability"),
         "says": panel.stretch(row, view.wording)}
        for row in rows
    ]  # fmt: skip


def fitting_data(row: Plain, words: Wording) -> Plain:
    """Return a fitting that was listened to, with its level and texts."""
    return {
        "at": row.get("at"),
        "db": number(row, "level_db") if flag(row, "used") or "used" not in row else None,
        "says": panel.fitting(row, words),
    }


def _air(row: Plain, words: Wording) -> Plain:
    says = panel.air_test(row, words)
    return {"at": row.get("at"), "verdict": text(row, "verdict"), "says": says}


def readings_data(rows: list[Plain]) -> Plain:
    """Return readings as columns of equal length."""
    return {
        "at": [row.get("at") for row in rows],
        "fix": [row.get("fix") for row in rows],
        "id": [text(row, "reading_id") for row in rows],
        # The chart shows the level along the line: not that of a sweep beside it.
        "x": rounded(
            [None if beside_in_sweep(row) else number(row, "chainage_m") for row in rows], 3
        ),
        "db": rounded([number(row, "level_comparable_db") for row in rows], 1),
        "used": [flag(row, "used") for row in rows],
        "why": [text(row, "reason") for row in rows],
    }


def _profile(profile: Profile) -> Plain:
    return {
        "x": rounded(profile.chainage_m, 2),
        "db": rounded(profile.level_comparable_db, 1),
        "sd": rounded(profile.level_comparable_sd_db, 1),
        "density": rounded(profile.leak_density_per_m, 4),
    }


def rounded(values: ArrayLike | list[float | None], decimals: int) -> list[float | None]:
    """Round numbers for JSON: whole numbers become int, values that are not finite None.

    Examples
    --------
    >>> rounded([1.2345, 2.0, float("nan"), None], 2)
    [1.23, 2, None, None]
    """
    listed = values if isinstance(values, list) else values.tolist()  # type: ignore[union-attr]
    return [_rounded(value, decimals) for value in listed]


def _rounded(value: float | None, decimals: int) -> float | None:
    if value is None or not math.isfinite(value):
        return None
    number = round(value, decimals)
    return int(number) if number == int(number) else number
