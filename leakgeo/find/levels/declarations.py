"""Lines whose data are probably mis-declared: unit, CRS, or where the tape begins."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.conversion import FOOT_M
from leakgeo.faults import Fault
from leakgeo.find.levels.before_repair import BEFORE_REPAIR
from leakgeo.job.checks import CHAINAGE_ONLY_SD_M, OFF_LINE_M, OFF_LINE_SD
from leakgeo.reason import Reason
from leakgeo.route.tape import TAPE_NOT_USED

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.arrays import Bools, Floats, Ints, Objects
    from leakgeo.route.lines import Lines

#: Codes of the questions that are asked instead of a verdict.
QUESTIONS = ("ask_tape_unit", "ask_tape_end", "ask_tape_start", "ask_display", "ask_depth_unit",
             "ask_positions")  # fmt: skip
# What a rejected reading suggests: the declaration that is probably wrong.
_SUGGESTS = {
    "off_its_route": "positions", "on_another_line": "positions", "on_other_lines": "positions",
    "no_place_in_crs": "positions", "taped_beyond_route": "tape_start",
    TAPE_NOT_USED.code: "tape_start", "level_not_decibels": "display",
    "walk_not_decibels": "display",
}  # fmt: skip
# Rejected readings that suggest nothing about the others.
_NOT_COUNTED = ("set_aside", *BEFORE_REPAIR, "identical_row", "same_as_earlier_reading",
                "copied_readings", "copy_of_reading", "tap_not_on_line")  # fmt: skip
# The rest of a walk or a line is in doubt if more than this share of it is, and this many readings.
MOST, LEAST = 0.5, 2
# A tape without positions is suspected of feet if this share of it, and this many readings, lie
# beyond the end of the route, and all of it would lie on the route in feet.
BEYOND_SHARE, LEAST_BEYOND = 1 / 3, 3
# Depths beyond this many metres are not plausible in feet either, but in inches.
DEEPEST_FEET = 30.0
# Points this near to the route, or to the tape's place, were put there and not measured; least
# number of them, and their least share of a walk.
EXACTLY_M, LEAST_EXACT, EXACT_SHARE = 0.02, 5, 0.8


@dataclass(frozen=True)
class Doubts:
    """Readings that are not used because a declaration is in doubt.

    Parameters
    ----------
    question : ndarray of Reason or None, shape (n,)
        What is to be answered before a reading that could be used is used.
    faults : list of Fault
        One for each line in doubt, and for each walk in doubt of another line.
    """

    question: Objects
    faults: list[Fault]


def doubts_of(
    readings: pd.DataFrame, placed: pd.DataFrame, code: Objects, tape_faults: Sequence[Fault],
    lines: Lines, tape_sd_m: float,
) -> Doubts:  # fmt: skip
    """Find the lines on which most of a walk is rejected, or declared in a wrong unit.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings`` of a job.
    placed : pandas.DataFrame
        As `leakgeo.route.place.place_on_routes` returns it.
    code : ndarray of str or None, shape (n,)
        Code of the reason for which each reading is not used.
    tape_faults : sequence of Fault
        As `leakgeo.route.tape.tape_faults` returns them.
    lines : Lines
    tape_sd_m : float
        Default error of a taped distance (1-sigma).

    Returns
    -------
    Doubts
    """
    line = lines.index_of(texts(placed, "line_id"))
    counted = (line >= 0) & ~np.isin(code.astype(str), _NOT_COUNTED)
    suggests = np.array([_SUGGESTS.get(each) for each in code], dtype=object)
    suggests[counted & _declared("unit_in_doubt", readings)] = "display"
    depth_doubted = _declared("depth_in_doubt", lines.table)
    suggests[counted & (line >= 0) & depth_doubted[line]] = "depth"
    taped = floats(readings, "tape_m")
    compared = lines.index_of([f.feature for f in tape_faults if f.column == "chainage_m"])
    # A tape that was written has its unit beside it.
    in_doubt = counted & ~np.isin(line, compared) & pd.isna(texts(readings, "tape"))
    feet = _likely_feet(taped, in_doubt, line, code, lines.length_m, tape_sd_m)
    suggests[feet] = "tape_feet"
    suggests[~counted] = None
    # What a question counts: not the readings that are in doubt because others are.
    wrong = pd.notna(suggests) & ~(feet & ~pd.notna(code))
    tapes = {f.feature: f.reason for f in tape_faults if f.effect == "rejected"}
    names, unused = lines.table.index.to_numpy(dtype=object), pd.notna(code)
    questions, rows = np.full(len(line), None, dtype=object), np.flatnonzero(counted)
    walk_id = readings["walk_id"].fillna("").astype(str)
    walk = readings.groupby([line, walk_id]).ngroup().to_numpy()
    of_walks: list[tuple[int, Fault]] = []
    # Walks first, as the readings that they lose count for their line.
    for own in _mostly_in_doubt(rows, walk, suggests):
        k = int(line[own[0]])
        asked = _question(own, suggests, int(wrong[own].sum()), lines, k, tapes)
        questions[own], suggests[own] = asked, _dominant(suggests[own])
        if not unused[own].all():
            of_walks.append((k, _fault(asked, str(names[k]), walk_id.iloc[own[0]])))
    of_lines: list[tuple[int, Fault]] = []
    for own in _mostly_in_doubt(rows, line, suggests):
        k = int(line[own[0]])
        questions[own] = _question(own, suggests, int(wrong[own].sum()), lines, k, tapes)
        of_lines.append((k, _fault(questions[own[0]], str(names[k]))))
    asked_of = {k for k, _ in of_lines}
    faults = [*of_lines, *((k, fault) for k, fault in of_walks if k not in asked_of)]
    return Doubts(questions, [fault for k, fault in faults if lines.selected[k]])


def _declared(column: str, table: pd.DataFrame) -> Bools:
    """Return a mark of the checks of a job; a job that they did not read has none."""
    if column not in table:
        return np.zeros(len(table), dtype=bool)
    return np.asarray(table[column], dtype=bool)


def _likely_feet(
    tape_m: Floats, counted: Bools, line: Ints, code: Objects, length_m: Floats, tape_sd_m: float
) -> Bools:
    """Return the taped readings of lines on which a tape in feet would fit and one in metres not.

    Readings whose tape contradicts their positions are compared by `leakgeo.route.tape` instead.
    """
    taped = np.flatnonzero(counted & np.isfinite(tape_m))
    beyond = code[taped] == "taped_beyond_route"
    margin = OFF_LINE_M + OFF_LINE_SD * tape_sd_m
    fits = FOOT_M * tape_m[taped] <= length_m[line[taped]] + margin
    total, out, fit = (np.bincount(line[taped], each, minlength=len(length_m))
                       for each in (np.ones(len(taped)), beyond, fits))  # fmt: skip
    feet = (out >= LEAST_BEYOND) & (out >= BEYOND_SHARE * total) & (fit == total)
    found = np.zeros(len(tape_m), dtype=bool)
    found[taped] = feet[line[taped]]
    return found


def _mostly_in_doubt(rows: Ints, group: Ints, suggests: Objects) -> list[Ints]:
    """Return the rows of each group of which most suggest that a declaration is wrong."""
    order = rows[np.argsort(group[rows], kind="stable")]
    _, first, count = np.unique(group[order], return_index=True, return_counts=True)
    if not len(first):
        return []
    doubted = np.add.reduceat(pd.notna(suggests[order]).astype(int), first)
    own = np.split(order, first[1:])
    return [own[k] for k in np.flatnonzero((doubted > MOST * count) & (doubted >= LEAST))]


def _dominant(suggests: Objects) -> str:
    """Return what most of the readings suggest; of two that are as many, the first by name."""
    names, count = np.unique([s for s in suggests if s is not None], return_counts=True)
    return str(names[np.argmax(count)])


def _question(
    own: Ints, suggests: Objects, wrong: int, lines: Lines, line: int, tapes: Mapping[str, Reason]
) -> Reason:
    """Return the question about readings of one line."""
    what = _dominant(suggests[own])
    counts = {"wrong": wrong, "readings": len(own)}
    if what == "depth":
        depth_m = float(lines.depth_m[line])
        unit = "feet" if depth_m <= DEEPEST_FEET else "inches"
        return Reason("ask_depth_unit", unit=unit, depth_m=depth_m)
    if what in ("display", "positions"):
        return Reason("ask_display" if what == "display" else "ask_positions", **counts)
    tape = tapes.get(str(lines.table.index[line]))
    if tape is not None and tape.code == "tape_turned":
        return Reason("ask_tape_end", unit=dict(tape.values)["unit"], **counts)
    if tape is not None and tape.code == "tape_in_other_unit":
        return Reason("ask_tape_unit", unit=dict(tape.values)["unit"], **counts)
    feet = what == "tape_feet"
    return (
        Reason("ask_tape_unit", unit="feet", **counts)
        if feet
        else Reason("ask_tape_start", **counts)
    )


_COLUMNS = {
    "ask_tape_unit": "chainage_m", "ask_tape_end": "chainage_m", "ask_tape_start": "chainage_m",
    "ask_display": "sound_unit", "ask_depth_unit": "depth_m", "ask_positions": "geometry",
}  # fmt: skip


def _fault(question: Reason, line: str, walk: str = "") -> Fault:
    return Fault("readings", question, line, _COLUMNS[question.code], walk[:60])


def missing_errors(
    readings: pd.DataFrame, placed: pd.DataFrame, tape_m: Floats, lines: Lines, reading_sd_m: float
) -> list[Fault]:
    """Report walks without ``position_sd_m`` whose points lie exactly on the route or the tape.

    Nobody measures so well with the error that is assumed: the points were computed, snapped, or
    surveyed, and the default decides how far from them the leak may be.

    Parameters
    ----------
    readings, placed : pandas.DataFrame
        As in `doubts_of`.
    tape_m : ndarray of float, shape (n,)
        Taped chainage, NaN where not taped.
    lines : Lines
    reading_sd_m : float
        Error of a position that states none (1-sigma).

    Returns
    -------
    list of Fault
        All with the effect ``noted``.
    """
    line, sd = np.asarray(placed["line"]), floats(readings, "position_sd_m")
    missing = np.isnan(sd) & (line >= 0) & ~(sd >= CHAINAGE_ONLY_SD_M)
    missing[missing] = lines.selected[line[missing]]
    with np.errstate(invalid="ignore"):
        on_route = np.abs(floats(placed, "offset_m")) < EXACTLY_M
        on_tape = np.abs(floats(placed, "map_m") - tape_m) < EXACTLY_M
    table = pd.DataFrame({
        "line": line, "walk": readings["walk_id"].fillna("").to_numpy(), "n": 1,
        "route": on_route, "tape": on_tape,
    })[missing]  # fmt: skip
    walks = table.groupby(["line", "walk"], sort=True).sum()
    faults = []
    for (k, walk), (count, route, tape) in zip(walks.index, walks.to_numpy(), strict=True):
        exact = max(route, tape)
        if exact < max(LEAST_EXACT, EXACT_SHARE * count):
            continue
        named = Reason("walk", walk=str(walk)[:60]) if walk else Reason("walk_unnamed")
        reason = Reason(
            "position_error_missing", walk=named, exact=int(exact), readings=int(count),
            on="tape" if tape >= route else "route", assumed_m=reading_sd_m,
        )  # fmt: skip
        faults.append(Fault("readings", reason, str(lines.table.index[k]), "position_sd_m",
                            effect="noted"))  # fmt: skip
    return faults
