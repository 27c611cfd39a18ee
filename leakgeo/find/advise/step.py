"""The `advise` step: where to listen next on each line, and when to stop."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.faults import Fault
from leakgeo.find.advise.improvements import MAX_SD_RATIO
from leakgeo.find.advise.next_stops import (
    Advice,
    Densities,
    HeardLine,
    StopRules,
    hypotheses,
    next_stops,
    no_more_stops,
    not_heard,
)
from leakgeo.find.advise.other_actions import (
    besides_stops,
    instead_of_stops,
    is_walked,
    lines_shown_to_leak,
    may_be_here,
)
from leakgeo.find.levels.declarations import QUESTIONS
from leakgeo.find.levels.readings import readings_by_line
from leakgeo.find.survey.from_fitting import from_fitting, tape_from_fitting
from leakgeo.reason import Reason, columns_of, with_next
from leakgeo.route.lines import lines_in
from leakgeo.route.sweeps import along_the_line
from leakgeo.sound.constants import constants_in

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.arrays import Floats
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

# Maximum number of stops of a proposed walk; on a long main the steps are longer instead.
MAX_WALK_STOPS = 60
# Stops that the advice names; the layer has all.
_STOPS_NAMED = 3
_COLUMNS = ("line_id", "order", "chainage_m", "expected_gain_bits", "expected_zone_m", "reason")


def advise(
    result: Result, *, how_many: int, short_zone_m: float, least_bits: float,
    walk_m_per_bit: float, coarse_step_m: float, first_walks: str,
) -> Result:  # fmt: skip
    """Propose the next stops on each line, or give the reason why no more are needed.

    Parameters
    ----------
    result : Result
        With the layers of ``survey``, ``profile``, ``locate`` and ``improvements``.
    how_many : int
        Maximum number of stops proposed on a line; a first walk is always complete.
    short_zone_m : float
        Lines whose zones have at most this total length need no more readings.
    least_bits : float
        Minimum expected information gain of the proposed readings, on the average; 0.6 of it where
        the zones are within 1.4 times `short_zone_m`, and 0.4 where there is none yet although a
        leak is likelier than not. No stops are proposed that are expected to shorten the zones in
        all by less than 5 %, or an inch.
    walk_m_per_bit : float
        Length of walk that costs as much as one bit gains.
    coarse_step_m : float
        Longest step of the first walk along a line, in metres.
    first_walks : {"supported", "all"}
        Lines without a reading to propose a walk on: those with evidence from a fitting or a loss
        of water, or all.

    Returns
    -------
    Result
        With ``next_readings``, and the column ``advice`` filled into ``lines``.
    """
    lines, constants = lines_in(result), constants_in(result)
    rules = StopRules(how_many, short_zone_m, least_bits, walk_m_per_bit)
    outcomes = [
        *_advise_heard(result, lines, constants, rules, coarse_step_m),
        *_propose_first_walks(result, lines, coarse_step_m, first_walks),
    ]
    advices = [a for a in outcomes if isinstance(a, Advice)]
    frame = pd.DataFrame([row for a in advices for row in a.rows], columns=list(_COLUMNS))
    chainage = frame["chainage_m"].to_numpy(dtype=float)
    points = lines.routes.points(lines.index_of(frame["line_id"]), chainage)
    frame = pd.concat([frame, from_fitting(frame, result.layers["contact_ranking"])], axis=1)
    table = result.layers["lines"]
    frame = frame.assign(**columns_of("reason", frame.pop("reason")))
    stops_at = _stops_by_line(frame, result.layers["contact_ranking"])
    besides = besides_stops(result)
    advice_of = {
        a.line_id: with_next(a.advice, stops_at.get(a.line_id), *besides.get(a.line_id, ()))
        for a in advices
    }
    advice = columns_of("advice", [advice_of.get(str(name)) for name in table["line_id"]])
    layers = {
        "next_readings": gpd.GeoDataFrame(frame, geometry=points, crs=result.job.crs),
        "lines": table.assign(**advice),
    }
    return result.adding(layers, [a for a in outcomes if isinstance(a, Fault)])


def _stops_by_line(stops: pd.DataFrame, fittings: pd.DataFrame) -> dict[str, Reason]:
    """Return the first proposed stops of each line, as a crew tapes them."""
    places = pd.Series(tape_from_fitting(stops, fittings), dtype=object)
    by_line = places.groupby(stops["line_id"].to_numpy(), sort=False)
    return {str(line): _stops_at(own.tolist()) for line, own in by_line}


def _stops_at(places: list[Reason]) -> Reason:
    further = len(places) - _STOPS_NAMED
    more = [Reason("and_more_stops", stops=further)] if further > 0 else []
    return Reason("stops_at", places=[*places[:_STOPS_NAMED], *more])


def _advise_heard(
    result: Result, lines: Lines, constants: Constants, rules: StopRules, step_m: float
) -> Iterator[Advice | Fault]:
    """Yield the advice on lines with readings and a leak probability."""
    table = result.layers["lines"]
    names = texts(table, "line_id").astype(str)
    quiet = dict(zip(names, (1.0 - floats(table, "leak_probability")).tolist(), strict=True))
    open_ = set(names[table["status"].isin(("keep_listening", "ambiguous"))])
    actions, instead = _best_actions(result), instead_of_stops(result, open_)
    shown = lines_shown_to_leak(result.layers["evidence"])
    zones = result.layers["search_zones"].groupby("line_id")["length_m"].sum()
    density = Densities.of(result.layers["profile"])
    for k, readings in readings_by_line(result.layers["readings_on_route"], lines, constants):
        name = str(lines.table.index[k])
        if not np.isfinite(quiet.get(name, np.nan)):
            continue
        other = instead.get(name)
        if other and not may_be_here(other, 1.0 - quiet[name]):
            yield Advice(name, [], other)
            continue
        zone = float(zones.get(name, np.nan))
        if name in shown and not np.isfinite(zone) and is_walked(readings, lines, k, step_m):
            action = not_heard(actions.get(name), lines.material[k])
            yield Advice(name, [], action)
            continue
        if zone <= rules.short_zone_m + 1e-6:
            yield Advice(name, [], Reason("short_enough", wanted_m=rules.short_zone_m))
            continue
        silent = 0.0 if np.isfinite(zone) else quiet[name]
        try:
            where = hypotheses(*density.of_line(name), silent)
            stops = next_stops(HeardLine(lines, k, readings, zone), where, constants, rules)
        except (ArithmeticError, ValueError) as error:
            yield _no_advice(name, error)
            continue
        if stops:
            yield replace(stops, advice=with_next(stops.advice, other))
            continue
        yield Advice(
            name,
            [],
            other
            or no_more_stops(zone, actions.get(name), lines.material[k], wants_more=name in open_),
        )


def _best_actions(result: Result) -> dict[str, str]:
    """Return the most helpful action other than more stops of each line, where there is one."""
    table = result.layers["improvements"]
    helps = table["expected_sd_after_m"] < MAX_SD_RATIO * table["expected_sd_before_m"]
    best = table[helps & (table["improvement"] != "spacing")].sort_values("order")
    best = best.drop_duplicates("line_id")
    marks = result.layers["marks"]
    poor = marks.loc[marks["limited_by"] == "position", "line_id"]
    return dict(zip(best["line_id"], best["improvement"], strict=True)) | dict.fromkeys(
        poor, "position"
    )


def _no_advice(line_id: str, error: Exception) -> Fault:
    """Report a line without advice because of a numerical failure; other lines go on."""
    return Fault(
        "next_readings",
        Reason("no_advice", error=str(error)),
        line_id,
        effect="noted",
    )


def _propose_first_walks(
    result: Result, lines: Lines, step_m: float, first_walks: str
) -> Iterator[Advice]:
    """Propose a first walk on lines without a usable reading."""
    readings, bracket = result.layers["readings_on_route"], result.layers["survey_bracket"]
    heard = set(texts(readings, "line_id")[along_the_line(readings)])
    stretches = {
        str(name): part[["from_chainage_m", "to_chainage_m"]].to_numpy(dtype=float)
        for name, part in bracket.sort_values(["area", "order"]).groupby("line_id")
    }
    supported = {*stretches, *_lines_with_evidence(result)}
    table = result.layers["lines"]
    asked = set(table["line_id"][table["code"].isin(QUESTIONS)])
    for k in np.flatnonzero(lines.selected).tolist():
        name = str(lines.table.index[k])
        if name in heard:
            continue
        if name in asked:
            yield Advice(name, [], Reason("answer_question"))
            continue
        # On a whole network, lines without any evidence are not worth a walk.
        if first_walks != "all" and name not in supported:
            yield Advice(name, [], Reason("no_evidence_yet"))
            continue
        part = stretches.get(name, np.array([[0.0, float(lines.length_m[k])]]))
        stop_m, step = first_walk(part, step_m, MAX_WALK_STOPS)
        inside = name in stretches
        why = Reason("first_walk_in_bracket" if inside else "first_walk")
        rows = [(name, i, m, np.nan, np.nan, why) for i, m in enumerate(stop_m.tolist(), 1)]
        yield Advice(
            name, rows, Reason("walk_first", stops=len(rows), step_m=step, in_bracket=inside)
        )


def _lines_with_evidence(result: Result) -> set[str]:
    """Return lines with a ranked fitting, a loss of water by a meter test, or a leak seen."""
    ranking, table = result.layers["contact_ranking"], result.layers["lines"]
    losing = floats(table, "loss_l_per_day") > 0.0
    seen = result.layers["marks"]["line_id"]
    return {*ranking["line_id"].dropna(), *table["line_id"][losing], *seen}


def first_walk(stretches: Floats, step_m: float, most: int) -> tuple[Floats, float]:
    """Return evenly spaced stops along stretches of one line, in the order of the stretches.

    Parameters
    ----------
    stretches : ndarray of float, shape (s, 2)
        Chainages of the two ends of each.
    step_m : float
        Longest step; longer where the stretches would need more stops than `most`.
    most : int

    Returns
    -------
    stop_m : ndarray of float, shape (n,)
        Rounded to the centimetre.
    step_m : float
        Longest step used.

    Examples
    --------
    >>> stops, step = first_walk(np.array([[0.0, 10.0]]), 4.0, 50)
    >>> stops.tolist(), round(step, 2)
    ([1.67, 5.0, 8.33], 3.33)
    """
    begin, end = stretches[:most].T
    length = np.abs(end - begin)
    step = max(step_m, float(length.sum()) / max(most - len(length), 1))
    count = np.maximum(np.ceil(length / step - 1e-9).astype(int), 1)
    owner = np.repeat(np.arange(len(count)), count)
    turn = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    share = (turn + 0.5) / count[owner]
    stop = begin[owner] + share * (end - begin)[owner]
    return np.round(stop, 2)[:most], float(np.max(length / count))
