"""All that the map shows, as JSON values for its script."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from leakgeo.deliver.map.latlon import latlon_lists
from leakgeo.deliver.map.line import fitting_data, readings_data
from leakgeo.deliver.map.pieces import line_pieces, origin_of
from leakgeo.deliver.map.words import script_words
from leakgeo.deliver.views import colours, sentences
from leakgeo.deliver.views.card import every_dig
from leakgeo.deliver.views.rows import records, text, with_geometry
from leakgeo.deliver.views.top_lines import STATUSES, tally, top_lines
from leakgeo.reason import Reason
from leakgeo.wording import wording
from leakgeo.wording.quantities import axis_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    import geopandas as gpd

    from leakgeo.deliver.map.pack import Origin
    from leakgeo.deliver.map.pieces import LinePiece
    from leakgeo.result import Result
    from leakgeo.wording import Wording

Plain = dict[str, Any]
# Lines that are named as not drawn; the others are counted.
_NAMED = 12


@dataclass(frozen=True)
class MapData:
    """All that the map shows.

    Parameters
    ----------
    pieces : list of LinePiece
        The lines that it shows, in order of priority.
    origin : (latitude, longitude)
        Origin of packed places.
    head : dict
        JSON values; ``left_out`` is the number of lines that are not shown.
    """

    pieces: list[LinePiece]
    origin: Origin
    head: Plain


def map_data(result: Result, units: str, most: int | None = None, language: str = "en") -> MapData:
    """Return all that the map shows.

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
    """
    origin, shown = origin_of(result.job.routes), top_lines(result, most)
    pieces, drawn = line_pieces(shown, units, language, origin)
    return MapData(pieces, origin, _head(result, shown, drawn, pieces, wording(units, language)))


def _head(
    result: Result, shown: Result, drawn: Result, pieces: list[LinePiece], words: Wording
) -> Plain:
    axis, metres = axis_unit(words.units)
    every, (short, more) = tally(result), sentences.warnings(words)
    return {
        "every": every_dig(shown, words),
        "recorded": f"{words.text(sentences.holds_recorded(shown.job))}. "
        f"{sentences.of_run(shown, words)}",
        "tally": every.sentence(words),
        "left_out": every.lines - len(pieces),
        "unplaced": _unplaced(pieces, words),
        # A scale and layers of a map on which nothing is would only ask where it all is.
        "blank": not any(p.overview["placed"] for p in pieces) and shown.job.utilities is None,
        "caution": [
            f"{sentences.superseded(result, words)} {short}".strip(),
            " ".join([more, *_simulated(shown)]),
        ],
        "meaning": words.term("report_odds_meaning"),
        "footer": sentences.provenance(shown, words),
        "readings": sentences.reading_counts(result, words),
        "units": {
            "name": axis,
            "metres": metres,
            "us": words.units == "us",
            "decimal": words.number("."),
        },
        "looks": looks(words),
        "words": script_words(words),
        "language": words.language,
        "statuses": {code: words.term(code, "status") for code in STATUSES},
        "utilities": _utilities(shown.job.utilities, words),
        "fittings": _unassigned_fittings(drawn, words),
        "loose": _unassigned_readings(drawn),
    }


def _simulated(result: Result) -> list[str]:
    note = result.job.simulated
    return [note] if note else []


def _unplaced(pieces: Sequence[LinePiece], words: Wording) -> str:
    """Return which lines are not drawn, as nothing places them on the ground; ``""`` if none."""
    names = [p.overview["id"] for p in pieces if not p.overview["placed"]]
    if not names:
        return ""
    every = len(names) == len(pieces)
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


def _unassigned_fittings(result: Result, words: Wording) -> list[Plain]:
    """Return the fittings that belong to no line."""
    ranked = result.layers.get("contact_ranking")
    good = with_geometry(result.job.contacts if ranked is None else ranked)
    if good is None:
        return []
    if ranked is not None and "line_id" in good:
        good = good.loc[good["line_id"].isna()]
    return [
        fitting_data(row, words) for row in records(good.assign(at=latlon_lists(good.geometry)))
    ]


def _unassigned_readings(result: Result) -> Plain:
    """Return the readings that belong to no line; the map shows them hollow, with the reason."""
    frame = with_geometry(result.layers.get("readings_on_route"))
    if frame is None or "line_id" not in frame:
        return readings_data([])
    loose = frame.loc[frame["line_id"].isna()]
    return readings_data(records(loose.assign(at=latlon_lists(loose.geometry))))
