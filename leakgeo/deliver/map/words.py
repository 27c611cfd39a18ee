"""Headings, legend and labels of the map's script, in the language of the reader."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from leakgeo.wording import Wording

CODES = (
    "air_tests",
    "all_lines",
    "answer",
    "by_tape",
    "cautions",
    "clearance",
    "conflicts",
    "density",
    "direction",
    "distance",
    "every_status",
    "find",
    "fitting",
    "fittings",
    "from",
    "from_start",
    "from_start_axis",
    "heard",
    "held_by",
    "how_sure",
    "if_leak",
    "l_air",
    "l_cluster",
    "l_conflict",
    "l_dig",
    "l_fitting",
    "l_fix",
    "l_likeliest",
    "l_mark",
    "l_next",
    "l_pipe_mark",
    "l_pipe_none",
    "l_pipe_open",
    "l_pipe_quiet",
    "l_reading",
    "l_unknown",
    "l_unused",
    "l_walk",
    "l_white",
    "l_zone",
    "latitude",
    "layers",
    "legend",
    "level",
    "likeliest",
    "link",
    "listen_next",
    "mark",
    "meter_test",
    "near_likeliest",
    "number",
    "place",
    "rank",
    "request",
    "sound",
    "sound_level",
    "the_line",
    "title",
    "to_do",
    "verdict",
    "walk_first",
    "water_line",
    "ways_to_improve",
    "what_holds",
    "whole_line",
    "why",
)


def script_words(words: Wording) -> dict[str, str]:
    """Return the words of the script by code: ``w.CODE`` there, ``map_CODE`` in the catalogues."""
    return {code: words.term(code, "map") for code in CODES}
