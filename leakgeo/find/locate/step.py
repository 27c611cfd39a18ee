"""The `locate` step: posterior, search zones, mark and status of every line."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.conversion import FOOT_M
from leakgeo.faults import Fault
from leakgeo.find.evidence.action_results import action_evidence
from leakgeo.find.evidence.air import air_places
from leakgeo.find.evidence.air_likelihood import updated_posterior
from leakgeo.find.evidence.digs import DigEvidence, dig_likelihoods
from leakgeo.find.evidence.isolation import isolation_evidence
from leakgeo.find.evidence.isolation_lines import isolation_findings
from leakgeo.find.evidence.likelihood import updated
from leakgeo.find.evidence.meter import meter_likelihoods
from leakgeo.find.evidence.strongest import evidence_columns
from leakgeo.find.evidence.sweep import SweepFinding, sweep_findings
from leakgeo.find.learn.calibration import calibration_from
from leakgeo.find.levels.declarations import QUESTIONS
from leakgeo.find.levels.readings import tabulate
from leakgeo.find.locate.confirmed import (
    confirmed_leaks,
    even_posterior,
    pieces_to_search,
    shared_posterior,
)
from leakgeo.find.locate.finding import Finding, Weighed
from leakgeo.find.locate.layers import (
    density_on_profile,
    evidence_table,
    explanations_table,
    lines_table,
    marks_layer,
    zones_layer,
)
from leakgeo.find.locate.model_average import average_models
from leakgeo.find.locate.nearby_lines import NearbyLines
from leakgeo.find.locate.repaired import repaired_lines
from leakgeo.find.locate.zones import best_mark, highest_density_pieces
from leakgeo.find.posterior.place_prior import place_prior
from leakgeo.find.posterior.posterior import posterior, search_span
from leakgeo.find.posterior.rivals import sounding_fittings
from leakgeo.find.posterior.tap_calibration import taught_by_taps
from leakgeo.find.survey.fittings import fitting_chainages
from leakgeo.progress import track
from leakgeo.reason import Reason, columns_of
from leakgeo.route.junctions import junctions_of
from leakgeo.route.lines import lines_in
from leakgeo.sound.constants import constants_in
from leakgeo.sound.spreading import Spreading

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    import pandas as pd

    from leakgeo.find.evidence.air import AirPlaces
    from leakgeo.find.evidence.isolation_lines import IsolationFindings
    from leakgeo.find.evidence.likelihood import Evidence
    from leakgeo.find.learn.calibration import Calibration
    from leakgeo.find.levels.readings import Readings, Table
    from leakgeo.find.locate.confirmed import ConfirmedLeak
    from leakgeo.find.locate.nearby_lines import NearbyStretch
    from leakgeo.find.locate.zones import Mark, Piece
    from leakgeo.find.posterior.posterior import Posterior
    from leakgeo.find.posterior.problem import Problem
    from leakgeo.find.posterior.rivals import SoundingFitting
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants


# The trace limits a mark if the pipe is less probably within one foot of it.
OVER_TRACE = 0.7
# Columns of lines that the marks have as well.
_TOLD = ("code", "values", "evidence_code", "evidence_values")
# Readings that scatter this many times as much as on the other lines of the job are not explained.
MISFIT_TIMES = 2.0


def locate(
    result: Result, *, leak_prior: float, zone_probability: float, join_gap_m: float, priors: str,
    calibration: Path | None, most_over_kpa: float, workers: int | None,
) -> Result:  # fmt: skip
    """Locate the leak on every line that has usable readings.

    Parameters
    ----------
    result : Result
        With ``readings_on_route`` and ``profile``.
    leak_prior : float
        Probability of a leak on a line before listening.
    zone_probability : float
        Total probability of the search zones of a line.
    join_gap_m : float
        Largest gap between the drawn routes of connected lines, beyond twice their trace errors.
    priors : str
        ``all``, ``none``, or a comma-separated choice; see `place_prior`.
    calibration : pathlib.Path or None
        File written by `learn`. It widens or narrows zones and probabilities; a fault reports it.
    most_over_kpa : float
        Largest pressure of injected air above that of the line; readings beyond it are rejected.
    workers : int or None
        Number of lines computed in parallel; the number of processors if None. Results do not
        depend on it.

    Returns
    -------
    Result
        With ``search_zones``, ``marks``, ``lines``, ``evidence`` and ``explanations``, and with
        the leak density in ``profile``.

    Raises
    ------
    ParameterError
        If a prior is unknown, or the calibration file can't be read.
    """
    lines, constants = lines_in(result), constants_in(result)
    junctions = junctions_of(lines, floor_m=join_gap_m)
    prior = place_prior(result.job, lines, priors, junctions)
    table = tabulate(result.layers["readings_on_route"], lines, constants, neighbours=True)
    taught = taught_by_taps(result.layers["readings_on_route"], lines, constants)
    fittings = fitting_chainages(result.job.contacts, lines, junctions)
    digs = dig_likelihoods(result.job, lines)
    sounding = sounding_fittings(fittings, lines, {line: d.dry for line, d in digs.items()})
    isolation = (
        isolation_findings(result.job, lines, junctions, fittings)
        if result.job.isolation is None
        else result.job.isolation
    )
    search = Search(
        lines, table, NearbyLines(lines, table, junctions, prior, constants, taught), constants,
        leak_prior, zone_probability, air_places(result, constants, most_over_kpa)[0],
        calibration_from(calibration) if calibration else None,
        sounding, _further_evidence(result, lines, fittings, isolation, constants, digs),
    )  # fmt: skip
    findings, faults = search.find_all(workers)
    faults.extend(isolation.faults)
    if search.calibration is not None:
        faults.append(search.calibration.as_fault())
    return result.adding(_layers(result, search, findings, faults, fittings), faults)


def _further_evidence(
    result: Result, lines: Lines, fittings: pd.DataFrame, isolation: IsolationFindings,
    constants: Constants, digs: Mapping[int, DigEvidence],
) -> dict[int, list[Evidence]]:  # fmt: skip
    """Return the evidence other than levels and air, by index of the line."""
    meters = meter_likelihoods(result.job, lines, fittings)
    still = {line: meter.stood_still for line, meter in meters.items()}
    isolated = isolation_evidence(isolation, lines, still)
    found: dict[int, list[Evidence]] = {}
    actions = action_evidence(result.job, lines, fittings)
    for by_line in (meters, isolated, digs, actions):
        for line, one in by_line.items():
            found.setdefault(line, []).append(one)
    for line, sweeps in sweep_findings(result, lines, constants).items():
        found.setdefault(line, []).extend(sweeps)
    return found


def _layers(
    result: Result,
    search: Search,
    findings: Sequence[Finding],
    faults: Sequence[Fault],
    fittings: pd.DataFrame,
) -> dict[str, pd.DataFrame]:
    job, lines, readings = result.job, search.lines, result.layers["readings_on_route"]
    asked = [fault for fault in result.faults if fault.code in QUESTIONS]
    repaired = repaired_lines(readings, lines, search.evidence, search.leak_prior)
    notes = {name: line.message for name, line in repaired.items()}
    seen = {str(lines.table.index[f.line]) for f in findings}
    repaired = {name: line for name, line in repaired.items() if name not in seen}
    table = lines_table(
        job, lines, findings, readings, [*asked, *faults], fittings, repaired, notes
    )
    priors = {name: search.network.prior.description(i) for i, name in enumerate(lines.table.index)}
    table = table.assign(**columns_of("prior", map(priors.get, table["line_id"])))
    evidence = evidence_table(lines, findings, search.leak_prior, repaired)
    marks = marks_layer(job, lines, findings, fittings)
    table = table.assign(**evidence_columns(table["line_id"], evidence))
    told = table.drop_duplicates("line_id").set_index("line_id")[list(_TOLD)]
    table["calibration_exponent"] = search.calibration.exponent if search.calibration else np.nan
    return {
        "profile": density_on_profile(job, result.layers["profile"], lines, findings),
        "search_zones": zones_layer(job, lines, findings),
        # For whoever opens only the marks in a GIS.
        "marks": marks.assign(**{name: marks["line_id"].map(told[name]) for name in _TOLD}),
        "evidence": evidence,
        "explanations": explanations_table(lines, findings),
        "lines": table,
    }


@dataclass(frozen=True)
class Search:
    """Inputs shared by the search of every line.

    Parameters
    ----------
    lines : Lines
    table : Table
        Usable readings of all lines.
    network : NearbyLines
    constants : Constants
    leak_prior, zone_probability : float
        As in `locate`.
    air : mapping of str to AirPlaces
        Air tests by line id.
    calibration : Calibration or None
    sounding : mapping of int to sequence of SoundingFitting
        Fittings that may sound by themselves, by index of the line.
    evidence : mapping of int to sequence of Evidence
        Evidence other than levels and air, by index of the line.
    """

    lines: Lines
    table: Table
    network: NearbyLines
    constants: Constants
    leak_prior: float
    zone_probability: float
    air: Mapping[str, AirPlaces] = field(default_factory=dict)
    calibration: Calibration | None = None
    sounding: Mapping[int, Sequence[SoundingFitting]] = field(default_factory=dict)
    evidence: Mapping[int, Sequence[Evidence]] = field(default_factory=dict)

    def find_all(self, workers: int | None) -> tuple[list[Finding], list[Fault]]:
        """Locate the leaks on every selected line with readings, or where a hole saw one.

        Return findings and faults.
        """
        heard = set(np.unique(self.table.line).tolist())
        dug = {line for line, own in self.evidence.items()
               if any(isinstance(one, DigEvidence) and one.leaks() for one in own)}  # fmt: skip

        def find_or_fault(line: int) -> Finding | Fault | None:
            try:
                return self.find(line) if line in heard else self.unheard(line)
            # A line that can't be computed must not stop the others.
            except (ArithmeticError, ValueError) as error:
                reason = Reason("not_worked_out", error=str(error))
                name = str(self.lines.table.index[line])
                return Fault("readings", reason, name, line_id=name)

        selected = [line for line in sorted(heard | dug) if self.lines.selected[line]]
        # Threads suffice: compiled code takes nearly all of the time and releases the GIL.
        with ThreadPoolExecutor(workers or os.cpu_count()) as pool:
            done = list(track("locate", pool.map(find_or_fault, selected), len(selected)))
        found = [d for d in done if isinstance(d, Finding)]
        return found, [d for d in done if isinstance(d, Fault)]

    def find(self, line: int) -> Finding:
        """Locate the leak on one line from its usable readings.

        Raises
        ------
        ArithmeticError
            If a probability is not finite.
        """
        readings = self.table.cut(self.table.rows(line), self.constants)
        by_levels, nearby = self._posterior(line, readings)
        found, further = self._updated(line, by_levels)
        if not np.isfinite([*found.probability, found.leak_probability]).all():
            raise ArithmeticError("probabilities are not finite")

        def limit_of(mark: Mark) -> str:
            return limited_by(mark, readings, found.misfit_times)

        confirmed = self._confirmed(line, by_levels, found, limit_of)
        found, mark, pieces, limit = self._placed(found, confirmed, limit_of)
        names = self.lines.table.index
        sweeps = [each for each in self.evidence.get(line, ()) if isinstance(each, SweepFinding)]
        # A hole that saw the leak saw the pipe.
        trusted = bool(confirmed) or not sweeps
        over_trace = 1.0 if trusted else sweeps[-1].over_trace(mark.chainage_m)
        return Finding(
            line, found, mark, pieces, "trace" if over_trace < OVER_TRACE else limit,
            readings.tape_share,
            by_levels.leak_log_bf, self.leak_prior,
            tuple((str(names[k]), p, at) for k, p, at in found.on_nearby_lines),
            tuple(further), over_trace, confirmed, tuple(str(names[k]) for k in nearby),
        )  # fmt: skip

    def unheard(self, line: int) -> Finding | None:
        """Place the leaks that were seen in holes on a line without a usable reading.

        None if no leak was seen that is still there.
        """
        even = even_posterior(float(self.lines.length_m[line]), self.leak_prior)
        found, further = self._updated(line, even)
        confirmed = self._confirmed(line, even, found, lambda _: "spacing")
        if not confirmed:
            return None
        placed = self._placed(found, confirmed, lambda _: "spacing")
        return Finding(
            line, *placed, 1.0, np.nan, self.leak_prior, (), tuple(further), confirmed=confirmed
        )

    def _placed(
        self, found: Posterior, confirmed: Sequence[ConfirmedLeak], limit: Callable[[Mark], str]
    ) -> tuple[Posterior, Mark, tuple[Piece, ...], str]:
        """Return posterior, mark, stretches to search, and what limits the mark."""
        cell = 2.0 * float(found.chainage_m[0])
        if len(confirmed) > 1:
            found = shared_posterior(found, confirmed)
            pieces = pieces_to_search(found, confirmed, self.zone_probability)
            poorest = min(confirmed, key=lambda leak: leak.within_foot)
            return found, confirmed[0].mark, tuple(pieces), poorest.limited_by
        pieces = highest_density_pieces(cell, found.probability, self.zone_probability)
        if confirmed:
            return found, confirmed[0].mark, tuple(pieces), confirmed[0].limited_by
        mark = best_mark(found.chainage_m, found.probability)
        # Rounded here, so that layers and messages show the same chainage.
        mark = replace(mark, chainage_m=round(mark.chainage_m, 3))
        return found, mark, tuple(pieces), limit(mark)

    def _confirmed(
        self, line: int, by_levels: Posterior, found: Posterior, limit: Callable[[Mark], str]
    ) -> tuple[ConfirmedLeak, ...]:
        """Return the leaks that were seen in holes on a line."""
        digs = [one for one in self.evidence.get(line, ()) if isinstance(one, DigEvidence)]
        seen = [leak for dig in digs for leak in dig.leaks()]
        if not seen:
            return ()
        kept = [one for one in self.evidence[line] if one not in digs]
        without = replace(self, evidence={line: kept})._updated(line, by_levels)[0]
        leaks = confirmed_leaks(found, without, seen)
        return tuple(replace(leak, limited_by=limit(leak.mark)) for leak in leaks)

    def _updated(self, line: int, found: Posterior) -> tuple[Posterior, list[Weighed]]:
        """Update a posterior by the evidence other than the levels, and by the calibration."""
        further = []
        air = self.air.get(str(self.lines.table.index[line]))
        if air is not None:
            before = found.leak_log_bf
            spreading = spreading_of(self.lines, line, self.constants)
            found = updated_posterior(found, air, spreading, self.constants)
            further.append(Weighed("air", found.leak_log_bf - before))
        for evidence in self.evidence.get(line, ()):
            before, likelihood = (
                found.leak_log_bf,
                evidence.likelihood(found.chainage_m, found.rivals),
            )
            found = updated(found, likelihood)
            reason = likelihood.reason
            further.append(Weighed(likelihood.kind, found.leak_log_bf - before, reason))
        if self.calibration is not None:
            found = replace(found, probability=self.calibration.applied(found.probability))
        return found, further

    def _posterior(self, line: int, readings: Readings) -> tuple[Posterior, list[int]]:
        """Return the posterior of a line with the lines near the leak, and these lines."""
        problem = self.network.problem(line, readings)
        alone = self._computed(line, problem)
        span = search_span(problem, float(self.lines.length_m[line]))
        nearby = self.network.neighbourhoods(line, alone, span)
        # Before listening, separate leaks have their share, and each neighbourhood an equal part
        # of the rest.
        found, before = alone, self.constants.other["on_each_line"]
        share, apart = (1.0 - before) / max(len(nearby), 1), 0.0
        for one in nearby:
            joint = self._computed(line, one.problem, one.stretches, span)
            others = [self._computed(k, problem) for k, problem in one.others]
            # The readings of other neighbourhoods depend on their own lines.
            joint = replace(joint, log_evidence=joint.log_evidence + apart)
            found = average_models(joint, found, others, before / (before + share), self.leak_prior)
            before += share
            apart += sum(o.log_evidence for o in others)
        return found, [stretch.line for one in nearby for stretch in one.stretches]

    def _computed(
        self, line: int, problem: Problem, stretches: Sequence[NearbyStretch] = (),
        span: tuple[float, float] | None = None,
    ) -> Posterior:  # fmt: skip
        length, weight = float(self.lines.length_m[line]), self.network.weight(line)
        return posterior(
            problem, length, self.constants, self.leak_prior, weight, stretches, span,
            self.sounding.get(line, ()), self.network.open_ends(line),
        )  # fmt: skip


def limited_by(mark: Mark, readings: Readings, misfit_times: float) -> str:
    """Return what limits the accuracy of the mark: position, spacing, sound, or its shape.

    Parameters
    ----------
    mark : Mark
    readings : Readings
    misfit_times : float
        As in `Posterior`.

    Returns
    -------
    {"position", "spacing", "sound", "shape"}
    """
    if misfit_times > MISFIT_TIMES and mark.sd_m > FOOT_M:
        return "shape"
    near = np.argsort(np.abs(readings.chainage_m - mark.chainage_m), kind="stable")[:6]
    # The shift of good fixes is mostly an error of the trace, which a tape does not mend.
    run = readings.run[near]
    shift = np.where(readings.spacing_sd_m[run] > 0.0, readings.shift_sd_m[run], 0.0)
    position = float(np.median(np.hypot(readings.position_sd_m[near], shift)))
    stops = np.sort(readings.chainage_m[near])
    gap = float(np.max(np.diff(stops), initial=0.0)) if len(stops) > 1 else np.inf
    # The standard deviation of a uniform error within a gap is its width over sqrt(12).
    if position > 0.1 and position > 0.5 * mark.sd_m and position >= gap / 12**0.5:
        return "position"
    return "spacing" if gap > 0.75 and gap / 12**0.5 > 0.5 * mark.sd_m else "sound"


def spreading_of(lines: Lines, line: int, constants: Constants) -> Spreading:
    """Return the assumed central constants of sound for the material and cover of a line.

    Parameters
    ----------
    lines : Lines
    line : int
        Index of the line in `lines`.
    constants : Constants

    Returns
    -------
    Spreading
    """
    material, depth = constants.materials[lines.material[line]], float(lines.depth_m[line])
    spread = constants.spread
    return Spreading(
        depth if np.isfinite(depth) and depth > 0 else spread["depth_m"],
        material.pipe_decay_db_per_m,
        material.pipe_share,
        spread["soil_decay_db_per_m"],
        10.0 ** (-spread["floor_below_db"] / 10.0),
    )
