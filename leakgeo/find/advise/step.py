"""The `advise` step: what to do next on each line, and when to stop."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.faults import Fault
from leakgeo.find.advise.action_costs import action_costs
from leakgeo.find.advise.candidates import Candidate
from leakgeo.find.advise.heard_lines import HeardLines
from leakgeo.find.advise.next_actions import LISTENING, next_actions
from leakgeo.find.advise.next_stops import Advice, StopRules
from leakgeo.find.advise.ranking import Ranked
from leakgeo.find.advise.verdicts import lines_to_read_again
from leakgeo.find.levels.declarations import QUESTIONS
from leakgeo.find.levels.readings import readings_by_line
from leakgeo.find.survey.from_fitting import from_fitting, tape_from_fitting
from leakgeo.reason import Reason, columns_of, with_next
from leakgeo.route.lines import lines_in
from leakgeo.route.sweeps import along_the_line
from leakgeo.sound.constants import constants_in

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from leakgeo.arrays import Floats
    from leakgeo.find.advise.action_costs import ActionCosts
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
    walk_m_per_bit: float, coarse_step_m: float, first_walks: str, costs: Path | None,
    without: str,
) -> Result:  # fmt: skip
    """Compare what can be done next on each line, or give the reason why no more is needed.

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
    costs : pathlib.Path or None
        TOML file with the crew's own minutes of the actions, and when one is worth proposing.
    without : str
        Actions that the crew can't do, separated by commas.

    Returns
    -------
    Result
        With ``next_actions``, ``next_readings``, and the column ``advice`` filled into ``lines``.

    Raises
    ------
    ParameterError
        If the file of costs can't be used, or an action is unknown.
    """
    lines, constants = lines_in(result), constants_in(result)
    rules = StopRules(how_many, short_zone_m, least_bits, walk_m_per_bit)
    crew = action_costs(costs, without)
    heard = HeardLines.of(result, lines, constants, rules, crew, coarse_step_m)
    outcomes = [
        *_advise_heard(result, heard, lines, constants),
        *_propose_first_walks(result, lines, coarse_step_m, first_walks, crew),
    ]
    advices = [a for a in outcomes if isinstance(a, Advice)]
    # In the order of the routes, as the chunks of a job give them.
    rank = lines.index_of([a.line_id for a in advices])
    advices = [advices[k] for k in np.argsort(rank, kind="stable").tolist()]
    frame = pd.DataFrame([row for a in advices for row in a.rows], columns=list(_COLUMNS))
    chainage = frame["chainage_m"].to_numpy(dtype=float)
    points = lines.routes.points(lines.index_of(frame["line_id"]), chainage)
    frame = pd.concat([frame, from_fitting(frame, result.layers["contact_ranking"])], axis=1)
    frame = frame.assign(**columns_of("reason", frame.pop("reason")))
    stops_at = _stops_by_line(frame, result.layers["contact_ranking"])
    layers = {
        "next_readings": gpd.GeoDataFrame(frame, geometry=points, crs=result.job.crs),
        "next_actions": next_actions(advices, stops_at),
        "lines": _with_advice(result, advices, stops_at),
    }
    return result.adding(layers, [a for a in outcomes if isinstance(a, Fault)])


def _with_advice(
    result: Result, advices: Sequence[Advice], stops_at: Mapping[str, Reason]
) -> pd.DataFrame:
    """Return ``lines`` with the advice on each."""
    again, table = lines_to_read_again(result), result.layers["lines"]
    settled = set(table["line_id"][table["status"].isin(("located", "rejected"))])
    of = {}
    for a in advices:
        best = a.actions[0] if a.actions else None
        first = best.candidate.action if best else ""
        stops = stops_at.get(a.line_id) if first in LISTENING else None
        then = Reason("and_then", action=best.then.action) if best and best.then else None
        asks = a.line_id in again and a.line_id not in settled and first != "read_meter"
        more = Reason("read_meter_again") if asks else None
        of[a.line_id] = with_next(a.advice, stops, then, more)
    advice = columns_of("advice", [of.get(str(name)) for name in table["line_id"]])
    return table.assign(**advice)


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
    result: Result, heard: HeardLines, lines: Lines, constants: Constants
) -> Iterator[Advice | Fault]:
    """Yield the advice on lines with readings that were explained."""
    for k, readings in readings_by_line(result.layers["readings_on_route"], lines, constants):
        name = str(lines.table.index[k])
        if name not in heard.facts:
            continue
        try:
            yield heard.advice(k, readings)
        except (ArithmeticError, ValueError) as error:
            yield _no_advice(name, error)


def _no_advice(line_id: str, error: Exception) -> Fault:
    """Report a line without advice because of a numerical failure; other lines go on."""
    return Fault(
        "next_readings",
        Reason("no_advice", error=str(error)),
        line_id,
        effect="noted",
        line_id=line_id,
    )


def _propose_first_walks(
    result: Result, lines: Lines, step_m: float, first_walks: str, costs: ActionCosts
) -> Iterator[Advice]:
    """Propose a first walk on lines without a usable reading."""
    readings, bracket = result.layers["readings_on_route"], result.layers["survey_bracket"]
    heard = set(texts(readings, "line_id")[along_the_line(readings)])
    bracket = bracket.sort_values(["area", "order"])
    ends = bracket[["from_chainage_m", "to_chainage_m"]].to_numpy(dtype=float)
    stretches = {str(n): ends[at] for n, at in bracket.groupby("line_id").indices.items()}
    supported = {*stretches, *_lines_with_evidence(result)}
    table = result.layers["lines"]
    asked = set(table["line_id"][table["code"].isin(QUESTIONS)])
    repaired = table[(table["code"] == "not_listened_since_repair").to_numpy()]
    status = dict(zip(repaired["line_id"], repaired["status"], strict=True))
    for k in np.flatnonzero(lines.selected).tolist():
        name = str(lines.table.index[k])
        if name in heard:
            continue
        if name in asked:
            yield Advice(name, [], Reason("answer_question"))
            continue
        if status.get(name) == "no_leak_heard":
            yield Advice(name, [], Reason("nothing_since_repair"))
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
        untested = status.get(name) == "not_listened_to"
        code = "walk_after_repair" if untested else "walk_first"
        message = Reason(code, stops=len(rows), step_m=step, in_bracket=inside)
        walk = Advice(name, rows, message)
        minutes = costs.minutes("listen", stops=len(rows), walk_m=walk.walk_m)
        first = Ranked(Candidate("listen", minutes, message, basis="rule"), np.nan, None)
        yield replace(walk, actions=[first])


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
