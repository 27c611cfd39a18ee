"""Advice on a line with readings: its stops, and the other actions, compared."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, sum_by_line, texts
from leakgeo.find.advise.candidates import (
    Candidate,
    Improved,
    LineFacts,
    candidates,
)
from leakgeo.find.advise.explanations import explanations_by_line
from leakgeo.find.advise.improvements import MAX_SD_RATIO, MIN_EXCESS_DB, excess_db
from leakgeo.find.advise.information import outcomes_of
from leakgeo.find.advise.listened import listened_how
from leakgeo.find.advise.next_stops import (
    Advice,
    Densities,
    HeardLine,
    equally_likely,
    hypotheses,
    next_stops,
    no_more_stops,
)
from leakgeo.find.advise.ranking import ranked
from leakgeo.find.advise.unfinished_walk import unfinished_walk
from leakgeo.find.advise.valve_tests import ValveClosures, valve_closures
from leakgeo.find.advise.verdicts import (
    after_sweeps,
    explained_otherwise,
    fittings_beside,
    is_walked,
    lines_shown_to_leak,
    may_be_here,
)
from leakgeo.find.evidence.action_results import results_of_actions
from leakgeo.find.evidence.flow import Contacts
from leakgeo.find.evidence.isolation_lines import isolation_findings
from leakgeo.find.evidence.meter import meter_place, meters_read
from leakgeo.find.locate.status import LIKELIER_THAN_NOT, RIVAL
from leakgeo.find.locate.step import spreading_of
from leakgeo.find.posterior.tap_calibration import taught_by_taps
from leakgeo.find.survey.fittings import fitting_chainages
from leakgeo.find.survey.from_fitting import tape_from_fitting
from leakgeo.reason import Reason, reasons_in, with_next
from leakgeo.route.junctions import junctions_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.arrays import Floats
    from leakgeo.find.advise.action_costs import Action, ActionCosts
    from leakgeo.find.advise.next_stops import StopRules
    from leakgeo.find.advise.ranking import Ranked
    from leakgeo.find.advise.unfinished_walk import Unfinished
    from leakgeo.find.evidence.meter import MeterPlace, Valve
    from leakgeo.find.levels.readings import Readings
    from leakgeo.find.loss.meter_tests import Loss
    from leakgeo.find.posterior.problem import Taught
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

_Meter = tuple[str, "MeterPlace", "Mapping[Valve, Loss]"]
# Actions on lines of some statuses: where no leak is heard, what else could show one.
_ONLY: Mapping[str, tuple[str, ...]] = {
    "no_leak_heard": ("read_meter", "close_valve", "listen_beyond", "look_inside"), "located": (),
}  # fmt: skip
# Actions that are proposed, however little they gain, where another explanation is the verdict.
_WITH = {
    "shut_fitting": ("shut_fitting",), "find_source": ("find_source",),
    "listen_beyond": ("listen_beyond", "look_inside"),
}  # fmt: skip
_OPEN = ("keep_listening", "ambiguous", "other_source", "beyond_end")
# After so many sweeps of a line another is not the first thing to do.
_MOST_SWEEPS = 2
# Other ways to hear a leak, the last resort where it is there and not located.
_TO_HEAR_IT = ("night", "probe", "air", "pressure")
# Stops of a walk that goes on.
_WALK_ON_STOPS = 4


@dataclass(frozen=True, eq=False)
class HeardLines:
    """What the advice on all lines with readings is worked out from.

    Parameters
    ----------
    lines : Lines
    constants : Constants
    rules : StopRules
    costs : ActionCosts
    step_m : float
        Longest step of a walk.
    status : mapping of str to str
    zone_m : mapping of str to float
        Total length of the search zones of each line that has some.
    densities : Densities
    facts : mapping of str to LineFacts
    otherwise : mapping of str to str
        As `explained_otherwise` returns it.
    swept : mapping of str to Reason
        As `after_sweeps` returns it.
    sweeps : mapping of str to int
        Number of sweeps across each line that has some.
    shown : frozenset of str
        Lines on which evidence that is not heard shows a leak.
    taught : mapping of int to Taught
        What an open tap taught of lines, by their index.
    """

    lines: Lines
    constants: Constants
    rules: StopRules
    costs: ActionCosts
    step_m: float
    status: Mapping[str, str]
    zone_m: Mapping[str, float]
    densities: Densities
    facts: Mapping[str, LineFacts]
    otherwise: Mapping[str, str]
    swept: Mapping[str, Reason]
    sweeps: Mapping[str, int]
    shown: frozenset[str]
    taught: Mapping[int, Taught]

    @classmethod
    def of(
        cls, result: Result, lines: Lines, constants: Constants, rules: StopRules,
        costs: ActionCosts, step_m: float,
    ) -> HeardLines:  # fmt: skip
        """Collect what is known of the lines of a result with ``explanations``."""
        table, evidence = result.layers["lines"], result.layers["evidence"]
        densities = Densities.of(result.layers["profile"])
        status = dict(zip(texts(table, "line_id"), texts(table, "status"), strict=True))
        zone_m = sum_by_line(result.layers["search_zones"], "length_m")
        taught = taught_by_taps(result.layers["readings_on_route"], lines, constants)
        facts = _facts(result, lines, constants, densities, costs, taught)
        swept = evidence.loc[evidence["kind"] == "sweep", "line_id"]
        sweeps = dict(Counter(texts(swept.to_frame(), "line_id")))
        return cls(
            lines, constants, rules, costs, step_m, status, zone_m, densities, facts,
            explained_otherwise(table), after_sweeps(evidence), sweeps,
            frozenset(lines_shown_to_leak(evidence)), taught,
        )  # fmt: skip

    def advice(self, line: int, readings: Readings) -> Advice:
        """Return the advice on a line.

        Raises
        ------
        ArithmeticError, ValueError
            If the stops can't be computed.
        """
        name = str(self.lines.table.index[line])
        zone = self.zone_m.get(name, np.nan)
        stops, why = self._stops(name, line, readings, zone)
        actions = self._ranked(name, stops)
        if not actions:
            return Advice(name, [], self._enough(name, why))
        message = actions[0].candidate.message
        lead = message if why is None else with_next(why, message)
        return Advice(name, stops.rows if stops else [], lead, actions)

    def _enough(self, name: str, why: Reason | None) -> Reason:
        """Return why nothing more is to be done on a line."""
        if self.status[name] in _OPEN:
            here = self.facts[name].explained.leak_probability >= RIVAL
            rest = Reason("nothing_else" if here else "not_this_pipe")
            return with_next(why, rest) if why else rest
        if why is None or why.code == "zone_is_short":
            return Reason("short_enough", wanted_m=self.rules.short_zone_m)
        return Reason("enough_readings", why)

    def _sounds_beside(self, name: str) -> bool:
        """Return whether a sweep of an open line is loudest beside the trace."""
        return name in self.swept and self.status[name] in _OPEN

    def _stops(
        self, name: str, line: int, readings: Readings, zone_m: float
    ) -> tuple[Advice | None, Reason | None]:
        """Return stops to listen at, or why there are none."""
        facts, other = self.facts[name], self.otherwise.get(name)
        here = other is None or may_be_here(other, facts.explained.leak_probability)
        if not here or self._sounds_beside(name):
            return None, None
        if zone_m <= self.rules.short_zone_m + 1e-6:
            return None, Reason("zone_is_short", wanted_m=self.rules.short_zone_m)
        heard = np.isfinite(zone_m)
        if name in self.shown and not heard and is_walked(readings, self.lines, line, self.step_m):
            return None, Reason("leak_not_heard")
        if self.status[name] in _OPEN:
            walk = unfinished_walk(
                facts.explained,
                readings.chainage_m,
                readings.level_db,
                float(self.lines.length_m[line]),
                self.step_m,
            )
            if walk.probability >= self.costs.worth["rising"]:
                return self._walk_on(name, walk), None
        quiet = 0.0 if heard else 1.0 - facts.explained.leak_probability
        where = equally_likely(facts.explained.place_m, quiet)
        stops = next_stops(
            HeardLine(self.lines, line, readings, zone_m, self.taught.get(line, {})),
            where,
            self.constants,
            self.rules,
        )
        return stops, None if stops else no_more_stops(zone_m)

    def _walk_on(self, name: str, walk: Unfinished) -> Advice:
        """Return the next stops of a walk that is not finished."""
        length = abs(walk.to_m - walk.from_m)
        count = min(int(np.ceil(length / self.step_m)), _WALK_ON_STOPS)
        step = np.copysign(min(self.step_m, length / (count + 0.5)), walk.to_m - walk.from_m)
        stop_m = np.round(walk.from_m + step * np.arange(1, count + 1), 2)
        why = Reason("walk_goes_on")
        rows = [(name, i, m, np.nan, np.nan, why) for i, m in enumerate(stop_m.tolist(), 1)]
        end = "end_of_route" if walk.to_m > walk.from_m else "start_of_route"
        message = Reason(
            "walk_on", stops=count, end=Reason(end), rises=walk.rises, probability=walk.probability
        )
        return Advice(name, rows, message)

    def _ranked(self, name: str, stops: Advice | None) -> list[Ranked]:
        """Return the actions on a line that are worth their time, the best first."""
        facts, status = self.facts[name], self.status[name]
        found = [] if stops is None else [self._listening(facts, stops)]
        if self._sounds_beside(name):
            found.append(self._after_sweep(name, self.swept[name]))
        listening = found[0].minutes if stops is not None else 0.0
        must = _WITH.get(self.otherwise.get(name, ""), ())
        found += [
            replace(each, kept=True) if each.action in must else each
            for each in candidates(facts, self.costs, self.constants, listen_minutes=listening)
            if each.kept or status not in _ONLY or each.action in _ONLY[status]
        ]
        found = [
            each
            for each in found
            if (each.action, each.done_at) not in facts.done
            and (each.action == "walk_on" or self.costs.can(each.action))
        ]
        weight, worth = facts.explained.weights(), self.costs.worth
        best = ranked(weight, found, worth)
        if best or status not in _OPEN or facts.explained.leak_probability < LIKELIER_THAN_NOT:
            return best
        # A leak that is there is not given up while something can still tell of it.
        unheard = name in self.shown and name not in self.zone_m
        least = 0.0 if unheard else worth["least_bits"]
        slow = [
            replace(each, kept=True)
            for each in found
            if each.action in _TO_HEAR_IT and each.gain_bits > least
        ]
        return ranked(weight, slow, worth)[:1]

    def _listening(self, facts: LineFacts, stops: Advice) -> Candidate:
        minutes = self.costs.minutes("listen", stops=len(stops.rows), walk_m=stops.walk_m)
        if stops.advice.code == "walk_on":
            return Candidate("walk_on", minutes, stops.advice, basis="rule", first=True)
        explained = facts.explained
        # With a zone, the gain is about the place of a leak that is on the line.
        about = explained.leak_probability
        about += 0.0 if np.isfinite(self.zone_m.get(facts.name, np.nan)) else explained.silent
        shown = None if stops.shown is None else outcomes_of(explained.levels(stops.shown))
        until = Reason("until_short", wanted_m=self.rules.short_zone_m)
        message = with_next(stops.advice, until)
        gain = stops.gain_bits * about
        return Candidate("listen", minutes, message, gain, shown, basis="model", kept=True)

    def _after_sweep(self, name: str, message: Reason) -> Candidate:
        action: Action = "trace_again" if message.code == "trace_again" else "sweep"
        at = float(dict(message.values).get("chainage_m") or np.nan)
        # A crew that has swept so often does something else first.
        first = action == "trace_again" or self.sweeps.get(name, 0) <= _MOST_SWEEPS
        return Candidate(
            action, self.costs.minutes(action), message, chainage_m=at, basis="rule", first=first,
            kept=True,
        )  # fmt: skip


def _facts(
    result: Result, lines: Lines, constants: Constants, densities: Densities, costs: ActionCosts,
    taught: Mapping[int, Taught],
) -> dict[str, LineFacts]:  # fmt: skip
    """Return what is known of each line with explanations and a profile."""
    fittings = result.layers["contact_ranking"]
    contacts = Contacts.of(result.job, fittings)
    meters = meters_read(result.job, lines, contacts)
    excess, evidence = excess_db(result.layers["profile"]), result.layers["evidence"]
    kinds = evidence.groupby("line_id")["kind"].agg(frozenset).to_dict()
    improved = _improvements(result.layers["improvements"])
    likeliest = {name: _likeliest(*densities.of_line(name)) for name in densities.rows}
    spots = pd.DataFrame({"line_id": list(likeliest), "chainage_m": list(likeliest.values())})
    places = dict(zip(likeliest, tape_from_fitting(spots, fittings), strict=True))

    def possible(name: str) -> Floats:
        return hypotheses(*densities.of_line(name), 0.0).place_m

    closures = _closures(result, lines).by_line
    recorded = results_of_actions(result.job)
    done = {name: frozenset(one[:2] for one in own) for name, own in recorded.items()}
    how = listened_how(result, lines, costs.table["night"])
    heard = {
        name: kinds.get(name, frozenset()) | how.get(name, set())
        | ({"trickle"} if line in taught else set())
        for name, line in zip(likeliest, lines.index_of(list(likeliest)).tolist(), strict=True)
    }  # fmt: skip
    beside, sounding = fittings_beside(result.layers["lines"]), _sounding(result)
    table = result.layers["explanations"]
    explained = explanations_by_line(table[table["line_id"].isin(list(likeliest))], possible)
    index = lines.index_of(list(explained)).tolist()
    return {
        name: LineFacts(
            name, line, lines, own, likeliest[name], places[name],
            excess.get(name, MIN_EXCESS_DB), spreading_of(lines, line, constants), contacts,
            _meters(contacts, lines, line, meters.get(line, ())), heard[name],
            improved.get(name, {}), closures.get(name, ()), done.get(name, frozenset()),
            beside.get(name, ""), name in sounding,
        )
        for (name, own), line in zip(explained.items(), index, strict=True)
    }  # fmt: skip


def _meters(
    contacts: Contacts, lines: Lines, line: int, read: Sequence[_Meter]
) -> Sequence[_Meter]:
    """Return the meters of a line: those that were read, and others."""
    own = contacts.on(str(lines.table.index[line]))
    names = [str(name) for name in own.contact_id[own.kind == "meter"] if name]
    if not names or any(name == "" for name, *_ in read):
        only = names[0] if len(names) == 1 else ""
        return [(name or only, place, results) for name, place, results in read]
    known = {name for name, *_ in read}
    return [*read, *((name, meter_place(contacts, lines, line, name), {})
                     for name in names if name not in known)]  # fmt: skip


def _sounding(result: Result) -> set[str]:
    """Return the lines on which something was heard."""
    table = result.layers["lines"]
    explained = table["status"].isin(("other_source", "beyond_end", "located"))
    return {*result.layers["search_zones"]["line_id"], *table["line_id"][explained]}


def _closures(result: Result, lines: Lines) -> ValveClosures:
    """Return the isolation tests that may be made, as the whole job has them."""
    job = result.job
    if job.valve_closures is not None:
        return job.valve_closures
    if job.valves is None or job.valves.empty:
        return ValveClosures()
    junctions = junctions_of(lines, floor_m=float(result.parameters["locate"]["join_gap_m"]))  # type: ignore[arg-type]
    fittings = fitting_chainages(job.contacts, lines, junctions)
    made = job.isolation or isolation_findings(job, lines, junctions, fittings)
    return valve_closures(job, lines, junctions, fittings, made)


def _likeliest(chainage_m: Floats, density_per_m: Floats) -> float:
    return float(chainage_m[np.argmax(density_per_m)])


def _improvements(table: pd.DataFrame) -> dict[str, dict[str, Improved]]:
    """Return what each improvement of each line that helps is expected to do."""
    before, after = (floats(table, f"expected_sd_{when}_m") for when in ("before", "after"))
    helps = table[after < MAX_SD_RATIO * before]
    found: dict[str, dict[str, Improved]] = {}
    rows = zip(
        texts(helps, "line_id"), texts(helps, "improvement"), reasons_in(helps, "message"),
        floats(helps, "expected_sd_before_m").tolist(),
        floats(helps, "expected_sd_after_m").tolist(), strict=True,
    )  # fmt: skip
    for name, what, message, sd, better in rows:
        fitting = dict(message.values).get("fitting") if message else None
        found.setdefault(str(name), {})[str(what)] = Improved(sd, better, fitting)
    return found
