"""The answer about one line as JSON values: card, odds, evidence, next stops, and its plot."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from leakgeo.answer.plot import plot_data
from leakgeo.deliver.folder.record import plain
from leakgeo.deliver.views import colours, sentences
from leakgeo.deliver.views.explanations import what_else
from leakgeo.deliver.views.line_view import line_views
from leakgeo.deliver.views.next_actions import HEADS, action_cautions, next_actions
from leakgeo.deliver.views.rows import records, text
from leakgeo.reason import Reason
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.deliver.views.card import Card
    from leakgeo.job.model import Job
    from leakgeo.result import Result
    from leakgeo.wording import Wording

#: Headings and words of the legend, by code: ``panel_CODE`` in the catalogues.
WORDS = ("how_sure", "evidence", "else", "holds", "actions", "stops", "faults", "axis", "level",
         "odds", "l_used", "l_unused", "l_aside", "l_zone", "l_mark", "l_likeliest", "l_next",
         "l_fitting")  # fmt: skip
_COLOURS = {
    "zones": colours.ZONES, "level": colours.LEVELS[3], "pipe": colours.PIPE,
    "mark": colours.SURVEY, "ink": colours.INK, "water": colours.UTILITY["potable_water"].colour,
}  # fmt: skip


def answer_document(
    result: Result, line: str, *, units: str | None = None, language: str = "en",
    aside: Sequence[str] = (),
) -> dict[str, Any]:  # fmt: skip
    """Return the answer about a line as JSON values.

    Parameters
    ----------
    result : Result
        As `leakgeo.ask` returns it.
    line : str
    units : {"si", "us"} or None
        Units of the texts; those of the job's CRS if None.
    language : str
    aside : sequence of str
        Readings that are left out in this answer alone.

    Returns
    -------
    dict
        ``cli/README.md`` explains the keys.
    """
    units = result.job.units(units)
    words = wording(units, language)
    (view,) = [one for one in line_views(result, units, language) if one.line_id == line]
    what_if = words.text(Reason("panel_what_if", readings=tuple(aside))) if aside else ""
    found = plain({
        "line": line, "title": view.title, "address": view.address, "units": units,
        "language": language, "aside": list(aside), "what_if": what_if,
        "status": view.status, "says": words.term(view.status, "status"),
        "located": view.located, "card": _card(view.card),
        "marks": [{"title": one.title, "card": _card(one.card)} for one in view.of_marks],
        "position": sentences.position(view), "odds": sentences.odds(view),
        "limit": sentences.limits(view), "evidence": sentences.evidence(view),
        "else": what_else(view), "holds": view.holds, "cautions": view.cautions,
        "actions": next_actions(view), "action_heads": [words.term(code, "map") for code in HEADS],
        "action_cautions": action_cautions(view),
        "faults": _faults(result, words), "caution": words.term("caution", "card"),
        "plot": plot_data(view, result, units, aside),
        "words": {code: words.term(code, "panel") for code in WORDS}, "colours": _COLOURS,
    })  # fmt: skip
    assert isinstance(found, dict)
    return found


def _card(shown: Card) -> dict[str, str]:
    return {
        "hold_label": shown.hold_label, "hold": shown.hold, "held": shown.held,
        "where": shown.where, "next": shown.next,
    }  # fmt: skip


def _faults(result: Result, words: Wording) -> list[str]:
    return [" ".join(text for text in fault.texts(words) if text) for fault in result.faults]


def lines_document(job: Job) -> list[dict[str, str]]:
    """Return name and address of every line of a job, in order."""
    routes = job.routes.drop_duplicates("line_id").dropna(subset="line_id")
    return [{"line": text(row, "line_id"), "address": text(row, "address")}
            for row in records(routes.drop(columns="geometry"))]  # fmt: skip
