"""The `survey` step: fittings ranked over the pipe network, and stretches to walk."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import texts
from leakgeo.faults import Fault
from leakgeo.find.loss.meter_tests import losses
from leakgeo.find.posterior.place_prior import place_prior
from leakgeo.find.survey.bracket import MIN_SUPPORT_NATS, bracket, line_support
from leakgeo.find.survey.fittings import rank_fittings
from leakgeo.find.survey.loud_stretches import loud_areas
from leakgeo.find.survey.odds import FittingLevels, section_odds
from leakgeo.job.checks import IssueCollector
from leakgeo.reason import Reason, columns_of
from leakgeo.route.junctions import junctions_of
from leakgeo.route.lines import kept_lines_of
from leakgeo.route.network import network_of
from leakgeo.sound.constants import load_constants

if TYPE_CHECKING:
    from pathlib import Path

    import geopandas as gpd

    from leakgeo.arrays import Bools, Floats
    from leakgeo.faults import Fault
    from leakgeo.find.posterior.place_prior import PlacePrior
    from leakgeo.find.survey.loud_stretches import LoudAreas
    from leakgeo.find.survey.odds import SectionOdds
    from leakgeo.job.model import Job
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines
    from leakgeo.route.network import Network
    from leakgeo.sound.constants import Constants

_MAX_NAMED = 5

# Samples for the mean prior of a section; priors vary over metres.
_SAMPLES_PER_SECTION = 5


def survey(
    result: Result, *, route_sd_m: float, join_gap_m: float, constants: Path | None, priors: str
) -> Result:
    """Rank the fittings listened to over the pipe network, and list stretches to walk in order.

    Routes that meet within their errors form one network. On each connected part, fittings are
    ranked by level, and every stretch of pipe gets a probability from the levels, with the decay
    of sound in the pipe materials from a leak there to each fitting.

    Parameters
    ----------
    result : Result
        With ``contacts`` in its job; without them, both layers are empty.
    route_sd_m : float
        Trace error of routes without ``position_sd_m`` (1-sigma).
    join_gap_m : float
        Gap between routes that are still joined, beyond twice their errors.
    constants : pathlib.Path or None
        File with assumptions that replace shipped ones.
    priors : str
        ``all``, ``none``, or names of priors of the place, as for `place_prior`.

    Returns
    -------
    Result
        With ``contact_ranking`` and ``survey_bracket``.
    """
    job, lines = result.job, kept_lines_of(result.job, route_sd_m)
    junctions = junctions_of(lines, floor_m=join_gap_m)
    ranking = rank_fittings(job.contacts, lines, junctions).set_crs(job.crs, allow_override=True)
    used = ranking[ranking["used"].astype(bool)]
    stops = used["line"].to_numpy(dtype=np.int64), used["chainage_m"].to_numpy(dtype=float)
    network = network_of(lines, junctions, *stops)
    areas = loud_areas(network, used["level_db"].to_numpy(dtype=float))
    heard = used.iloc[areas.stop].assign(area=areas.stop_area, node=network.stop[areas.stop])
    density = _prior_density(network, place_prior(job, lines, priors, junctions))
    odds = _odds(heard, lines, network, areas, load_constants(constants), density)
    layers = {
        "contact_ranking": _ranking_layer(ranking),
        "survey_bracket": bracket(heard, lines, network, odds),
    }
    past = place_prior(job, lines, "past_leaks, repairs", junctions)
    without_evidence = lines_without_evidence(
        job, lines, line_support(network, odds, len(lines.length_m)), past
    )
    faults = [*junctions.faults, *no_evidence_fault(lines, without_evidence), *_faults(ranking)]
    return result.adding(layers, faults)


def _odds(
    heard: gpd.GeoDataFrame, lines: Lines, network: Network, areas: LoudAreas, constants: Constants,
    density: Floats,
) -> SectionOdds:  # fmt: skip
    """Return the probability of each section of each loud area."""
    # Copies, as arrays of pandas are read-only, for which a loop would be compiled anew.
    level, sd = (heard[c].to_numpy(dtype=float, copy=True) for c in ("level_db", "sd_db"))
    node, area = (heard[c].to_numpy(dtype=np.int64) for c in ("node", "area"))
    decay = np.array([constants.materials[m].pipe_decay_db_per_m for m in lines.material])
    decay_ln = constants.spread["pipe_decay_ln"]
    levels = FittingLevels(node, area, level, sd)
    return section_odds(network, areas, levels, decay[network.line], decay_ln, density)


def _prior_density(network: Network, prior: PlacePrior) -> Floats:
    """Return the mean prior density of each section, relative to a uniform one, shape (s,)."""
    share = (np.arange(_SAMPLES_PER_SECTION) + 0.5) / _SAMPLES_PER_SECTION
    at = network.begin_m[:, None] + share * network.length_m[:, None]
    weight = np.exp(prior.log_weights(np.repeat(network.line, _SAMPLES_PER_SECTION), at.ravel()))
    mean = weight.reshape(at.shape).mean(axis=1)
    return np.asarray(mean * np.exp(prior.log_line[network.line]))


def _ranking_layer(ranking: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return the ``contact_ranking`` layer, with parts of the network numbered from 1."""
    part = ranking["network_part"]
    kept = ranking.drop(columns=["line", "sd_db", "newly_rejected", "reason"])
    kept = kept.assign(**columns_of("reason", ranking["reason"]))
    return kept.assign(network_part=(part + 1).where(part >= 0))


def _faults(ranking: gpd.GeoDataFrame) -> list[Fault]:
    """Report fittings rejected here; those rejected by the job's checks are reported there."""
    issues = IssueCollector("contacts", texts(ranking, "contact_id"))
    fresh, why = ranking["newly_rejected"].to_numpy(dtype=bool), texts(ranking, "reason")
    for reason in dict.fromkeys(why[fresh]):
        issues.report(fresh & (why == reason), reason)
    return issues.faults


def lines_without_evidence(
    job: Job, lines: Lines, log_bayes_factor: Floats, past: PlacePrior
) -> Bools:
    """Flag the selected lines without any evidence of a leak.

    Parameters
    ----------
    job : Job
    lines : Lines
    log_bayes_factor : ndarray of float, shape (l,)
        Log Bayes factor of a leak on each line from the fittings, NaN without a fitting.
    past : PlacePrior
        Prior from past leaks and repairs.

    Returns
    -------
    ndarray of bool, shape (l,)
    """
    found = losses(job.meter_tests)
    losing = lines.table.index.isin(
        [n for n, loss in found.items() if loss.verdict == "loss_shown"]
    )
    recorded = np.isin(np.arange(len(log_bayes_factor)), past.kernels.line)
    heard = np.nan_to_num(log_bayes_factor, nan=-np.inf) > MIN_SUPPORT_NATS
    return np.asarray(lines.selected & ~losing & ~heard & ~recorded)


def no_evidence_fault(lines: Lines, without_evidence: Bools) -> list[Fault]:
    """Report the lines without evidence in one fault."""
    if not without_evidence.any():
        return []
    names = [str(name) for name in lines.table.index[without_evidence]]
    more = len(names) - _MAX_NAMED
    named = ", ".join(names[:_MAX_NAMED]) + (f" and {more} more" if more > 0 else "")
    reason = Reason(
        "no_evidence", lines=len(names), every=bool(without_evidence[lines.selected].all())
    )
    return [Fault("job", reason, named, effect="noted")]
