"""The step that says where: posterior, zones, mark and status of every line."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.faults import Fault
from leakgeo.find.evidence.air import air_places
from leakgeo.find.evidence.air_likelihood import updated_posterior
from leakgeo.find.learn.calibration import calibration_from
from leakgeo.find.levels.readings import tabulate
from leakgeo.find.locate.branches import Branches
from leakgeo.find.locate.layers import (
    density_on_profile,
    evidence_table,
    lines_table,
    marks_layer,
    zones_layer,
)
from leakgeo.find.locate.model_average import averaged
from leakgeo.find.locate.zones import Mark, Piece, best_mark, highest_density_pieces
from leakgeo.find.posterior.place_prior import place_prior
from leakgeo.find.posterior.posterior import Posterior, heard_span, posterior
from leakgeo.find.survey.fittings import fitting_chainages
from leakgeo.progress import each
from leakgeo.reason import Reason
from leakgeo.route.junctions import junctions_of
from leakgeo.route.lines import lines_in
from leakgeo.sound.constants import constants_in
from leakgeo.sound.spreading import Spreading

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    import pandas as pd

    from leakgeo.find.evidence.air import AirPlaces
    from leakgeo.find.learn.calibration import Calibration
    from leakgeo.find.levels.readings import Readings, Table
    from leakgeo.find.locate.branches import Arm
    from leakgeo.find.posterior.prior import Problem
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants


@dataclass(frozen=True)
class Finding:
    """What was found on one line.

    Parameters
    ----------
    line : int
        Place of the line among the measurable ones.
    posterior : Posterior
    mark : Mark
    pieces : tuple of Piece
    limited_by : {"sound", "position", "spacing"}
    taped : float
        Mean share of the tape in the positions, 0 to 1.
    sound_nats : float
        Log evidence of a leak over that of none, of the levels alone.
    leak_prior : float
        Probability, before listening, that the line has a leak.
    elsewhere : tuple of (str, float, float)
        Other lines, the probability that the leak is on each instead, and its likeliest chainage.
    """

    line: int
    posterior: Posterior
    mark: Mark
    pieces: tuple[Piece, ...]
    limited_by: str
    taped: float
    sound_nats: float
    leak_prior: float
    elsewhere: tuple[tuple[str, float, float], ...] = ()

    def probability_in(self, piece: Piece) -> float:
        """Probability that there is a leak on the line, and that it is in a stretch of it."""
        return piece.probability * self.posterior.leak_probability


def locate(
    result: Result, *, leak_prior: float, zone_probability: float, join_gap_m: float, priors: str,
    calibration: Path | None, most_over_kpa: float, workers: int | None,
) -> Result:  # fmt: skip
    """Find the leak along every line that has usable readings.

    Parameters
    ----------
    result : Result
        With ``readings_on_route`` and ``profile``.
    leak_prior : float
        Probability of a leak on a line before listening.
    zone_probability : float
        Probability that the zones of a line hold together.
    join_gap_m : float
        How far apart routes may be drawn and still meet, beyond twice their trace errors.
    priors : str
        ``all``, ``none``, or some of the priors for the place, as `place_prior` takes them.
    calibration : pathlib.Path or None
        File that `learn` wrote; zones and odds widen or narrow by it, and that is told.
    most_over_kpa : float
        Readings with air injected at more than this above the line's own pressure are refused.
    workers : int or None
        Lines worked out at once; as many as there are processors where None. The results are the
        same to the last bit.

    Returns
    -------
    Result
        With ``search_zones``, ``marks``, ``lines``, ``evidence``, and the density filled into
        ``profile``.

    Raises
    ------
    ParameterError
        If a prior is named that there isn't, or the calibration can't be read.
    """
    lines, constants = lines_in(result), constants_in(result)
    junctions = junctions_of(lines, floor_m=join_gap_m)
    prior = place_prior(result.job, lines, priors, junctions)
    table = tabulate(result.layers["readings_on_route"], lines, constants, neighbours=True)
    search = Search(
        lines, table, Branches(lines, table, junctions, prior, constants), constants, leak_prior,
        zone_probability, air_places(result, constants, most_over_kpa)[0],
        calibration_from(calibration) if calibration else None,
    )  # fmt: skip
    findings, faults = search.find_all(workers)
    if search.calibration is not None:
        faults.append(search.calibration.as_fault())
    fittings = fitting_chainages(result.job.contacts, lines, junctions)
    return result.adding(_layers(result, search, findings, faults, fittings), faults)


def _layers(
    result: Result,
    search: Search,
    findings: Sequence[Finding],
    faults: Sequence[Fault],
    fittings: pd.DataFrame,
) -> dict[str, pd.DataFrame]:
    job, lines, readings = result.job, search.lines, result.layers["readings_on_route"]
    table = lines_table(job, lines, findings, readings, faults)
    told = [search.network.prior.words(i) or None for i in range(len(lines.length_m))]
    table["prior"] = table["line_id"].map(dict(zip(lines.table.index, told, strict=True)))
    table["calibration_exponent"] = search.calibration.exponent if search.calibration else np.nan
    return {
        "profile": density_on_profile(job, result.layers["profile"], lines, findings),
        "search_zones": zones_layer(job, lines, findings),
        "marks": marks_layer(job, lines, findings, fittings),
        "evidence": evidence_table(lines, findings, search.leak_prior),
        "lines": table,
    }


def _not_worked_out(line_id: str, error: Exception) -> Fault:
    """A line whose numbers defeat the computing: it is told, and stops no other."""
    return Fault(
        "readings",
        Reason("not_worked_out", error=str(error)),
        line_id,
    )


@dataclass(frozen=True)
class Search:
    """What every line is searched with.

    Parameters
    ----------
    lines : Lines
    table : Table
        Usable readings.
    network : Branches
    constants : Constants
    leak_prior, zone_probability : float
        As in `locate`.
    air : mapping of str to AirPlaces
        Air tests by line.
    calibration : Calibration or None
    """

    lines: Lines
    table: Table
    network: Branches
    constants: Constants
    leak_prior: float
    zone_probability: float
    air: Mapping[str, AirPlaces] = field(default_factory=dict)
    calibration: Calibration | None = None

    def find_all(self, workers: int | None) -> tuple[list[Finding], list[Fault]]:
        """Find the leak on every line that was asked for and has readings; tell those that fail."""

        def work(line: int) -> Finding | Fault:
            try:
                return self.find(line)
            except (ArithmeticError, ValueError) as error:
                return _not_worked_out(str(self.lines.table.index[line]), error)

        asked = [i for i in np.unique(self.table.line).tolist() if self.lines.selected[i]]
        # Threads are enough: the compiled part, which is nearly all, lets go of the interpreter.
        with ThreadPoolExecutor(workers or os.cpu_count()) as pool:
            done = list(each("locate", pool.map(work, asked), len(asked)))
        found = [d for d in done if isinstance(d, Finding)]
        return found, [d for d in done if isinstance(d, Fault)]

    def find(self, line: int) -> Finding:
        """Find the leak on one line from its usable readings.

        Raises
        ------
        ArithmeticError
            If the numbers defeat the computing.
        """
        readings = self.table.cut(self.table.rows(line), self.constants)
        heard = self._posterior(line, readings)
        found = self._moved(line, heard)
        if not np.isfinite([*found.probability, found.leak_probability]).all():
            raise ArithmeticError("the odds are not finite")
        cell = 2.0 * float(found.chainage_m[0])
        mark = best_mark(found.chainage_m, found.probability)
        # What is claimed of a mark is that there is a leak, and that it is there.
        # Its chainage is one figure, in layers as in sentences: to a millimetre.
        mark = replace(mark, within_foot=mark.within_foot * found.leak_probability,
                       chainage_m=round(mark.chainage_m, 3))  # fmt: skip
        pieces = highest_density_pieces(cell, found.probability, self.zone_probability)
        return Finding(
            line, found, mark, tuple(pieces), limited_by(mark, readings), readings.taped,
            heard.leak_nats,
            self.leak_prior,
            tuple((str(self.lines.table.index[k]), p, at) for k, p, at in found.elsewhere),
        )  # fmt: skip

    def _moved(self, line: int, found: Posterior) -> Posterior:
        """The posterior after air tests on the line, and by what digs have taught."""
        air = self.air.get(str(self.lines.table.index[line]))
        if air is not None:
            spreading = spreading_of(self.lines, line, self.constants)
            found = updated_posterior(found, air, spreading, self.constants)
        if self.calibration is not None:
            found = replace(found, probability=self.calibration.applied(found.probability))
        return found

    def _posterior(self, line: int, readings: Readings) -> Posterior:
        """The posterior of the line by itself, or with those that meet it near the leak."""
        problem = self.network.posed(line, readings)
        found = self._worked_out(line, problem)
        span = heard_span(problem, float(self.lines.length_m[line]))
        around = self.network.around(line, found, span)
        if around is None:
            return found
        one = self._worked_out(line, around.problem, around.arms, span)
        others = [self._worked_out(k, there) for k, there in around.others]
        on_each = self.constants.other["on_each_line"]
        return averaged(one, found, others, on_each, self.leak_prior)

    def _worked_out(
        self, line: int, problem: Problem, arms: Sequence[Arm] = (),
        span: tuple[float, float] | None = None,
    ) -> Posterior:  # fmt: skip
        length, weight = float(self.lines.length_m[line]), self.network.weight(line)
        return posterior(problem, length, self.constants, self.leak_prior, weight, arms, span)


def limited_by(mark: Mark, readings: Readings) -> str:
    """What keeps the mark from being better: positions, spacing of the readings, or the sound."""
    near = np.argsort(np.abs(readings.chainage_m - mark.chainage_m), kind="stable")[:6]
    position = float(np.median(readings.position_sd_m[near]))
    around = np.sort(readings.chainage_m[near])
    gap = float(np.max(np.diff(around), initial=0.0)) if len(around) > 1 else np.inf
    # A uniform error within a gap has a deviation of its width over sqrt(12).
    if position > 0.1 and position > 0.5 * mark.sd_m and position >= gap / 12**0.5:
        return "position"
    return "spacing" if gap > 0.75 and gap / 12**0.5 > 0.5 * mark.sd_m else "sound"


def spreading_of(lines: Lines, line: int, constants: Constants) -> Spreading:
    """Middles of the assumed constants for one line, by its material and cover.

    Parameters
    ----------
    lines : Lines
    line : int
        Place of the line in `lines`.
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
