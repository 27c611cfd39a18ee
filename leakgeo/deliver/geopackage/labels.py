"""Labels of the layers of a result in QGIS, in the units and language of the reader."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.qgis.expressions import literal, odds_text, tape_text
from leakgeo.deliver.qgis.labels import Label, utility_letters
from leakgeo.deliver.qgis.words import project_words
from leakgeo.find.survey.from_fitting import START

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.wording import Wording

#: Layers that are hidden on maps of a smaller scale than one to this, as they would hide the rest.
SCALES: Mapping[str, int] = {
    "ties": 800, "profile": 1000, "next_readings": 1000, "readings_on_route": 3000,
    "contact_ranking": 3000, "air_tests": 3000, "learned_cases": 3000,
}  # fmt: skip
# On a map of a smaller scale marks have no label, then their line alone, and their tape only near.
_NAMED, _WITH_TAPE, _UNMARKED_WITH_TAPE, _WITH_FITTING = 10_000, 1200, 600, 350


def result_labels(words: Wording) -> dict[str, Label]:
    """Return the labels of each layer of a result that has some.

    Parameters
    ----------
    words : Wording
        Units and language of the texts.

    Examples
    --------
    >>> from leakgeo.wording import wording
    >>> "' ft'" in result_labels(wording("us"))["ties"].expression
    True
    """
    by_tape = tape_text('coalesce("from_fitting_m", "chainage_m")', words.units)
    tie = tape_text('"distance_m"', words.units)
    return {
        "marks": Label(_mark(by_tape, words), _NAMED, 9.0, 10),
        "ties": Label(f"\"fixed_point\" || '\\n' || {tie}", 600, 8.0, 6),
        "next_readings": Label(f"\"order\" || ': ' || {by_tape}", 600, 8.0, 5),
        "readings_on_route": Label('to_string(round("level_comparable_db"))', 200, 7.0, 2),
        "contact_ranking": Label('to_string("rank")', 1500, 8.0, 4),
        "conflicts": Label(f"{utility_letters()} || ' ' || \"utility_id\"", 1000, 8.0, 5),
        "district_segments": Label('to_string("segment")', 0, 8.0, 5),
        "learned_cases": Label('"line_id"', 1500, 8.0, 3),
    }


def _mark(by_tape: str, words: Wording) -> str:
    """Return the label of a mark: its line, the tape with the odds, and where that begins."""
    known, start = project_words(words), words.term("start_of_route")
    odds = odds_text('"probability_within_1ft"', words)
    at_start = f'coalesce("from_fitting_code", {literal(START.code)}) = {literal(START.code)}'
    fitting = f'if({at_start}, {literal(start)}, "from_fitting")'
    begin = f"'\\n' || {literal(known['from'])} || ' ' || {fitting}"
    unmarked = f"if(\"status\" = 'located', '', {literal(known['no_mark'])} || '\\n')"
    near = f"@map_scale < if(\"status\" = 'located', {_WITH_TAPE}, {_UNMARKED_WITH_TAPE})"
    return (f"\"line_id\" || if({near}, "
            f"'\\n' || {unmarked} || coalesce({by_tape} || ', ' || {odds}, ''), '')"
            f" || if(@map_scale < {_WITH_FITTING}, {begin}, '')")  # fmt: skip
