"""The first survey: fittings ranked over the pipe network, and where to walk between them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import texts
from leakgeo.faults import Fault
from leakgeo.find.loss.meter_tests import losses
from leakgeo.find.posterior.place_prior import place_prior
from leakgeo.find.survey.bracket import SHOWN_NATS, bracket, line_support
from leakgeo.find.survey.fittings import ranked
from leakgeo.find.survey.loud_stretches import loud_areas
from leakgeo.find.survey.odds import Heard, section_odds
from leakgeo.job.checks import IssueCollector
from leakgeo.reason import Reason, columns_of
from leakgeo.route.junctions import junctions_of
from leakgeo.route.lines import lines_of
from leakgeo.route.network import network_of
from leakgeo.sound.constants import load_constants

if TYPE_CHECKING:
    from pathlib import Path

    import geopandas as gpd

    from leakgeo.arrays import Bools, Floats
    from leakgeo.faults import Fault
    from leakgeo.find.posterior.place_prior import PlacePrior
    from leakgeo.find.survey.loud_stretches import Areas
    from leakgeo.find.survey.odds import Odds
    from leakgeo.job.model import Job
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines
    from leakgeo.route.network import Network
    from leakgeo.sound.constants import Constants

_NAMED = 5

# Priors vary over metres: so many places of a section tell its mean.
_PLACES = 5


def survey(
    result: Result, *, route_sd_m: float, join_gap_m: float, constants: Path | None, priors: str
) -> Result:
    """Rank the fittings listened to over the pipe network, and say where to walk first.

    Routes that meet within their errors are one network. Of each connected part of it, fittings
    are ranked by level, and every stretch of pipe gets its odds from the levels: what sound the
    pipes would carry, by their material, from a leak there to each fitting.

    Parameters
    ----------
    result : Result
        With ``contacts`` in its job, or none: then both layers are empty.
    route_sd_m : float
        Trace error of routes that give none (1-sigma).
    join_gap_m : float
        How far apart routes may be drawn and still meet, beyond twice their errors.
    constants : pathlib.Path or None
        File with assumptions put over the shipped ones.
    priors : str
        ``all``, ``none``, or some of the priors for the place, as `place_prior` takes them.

    Returns
    -------
    Result
        With ``contact_ranking`` and ``survey_bracket``.
    """
    job, lines = result.job, lines_of(result.job, route_sd_m)
    junctions = junctions_of(lines, floor_m=join_gap_m)
    ranking = ranked(job.contacts, lines, junctions).set_crs(job.crs, allow_override=True)
    used = ranking[ranking["used"].astype(bool)]
    stops = used["line"].to_numpy(dtype=np.int64), used["chainage_m"].to_numpy(dtype=float)
    network = network_of(lines, junctions, *stops)
    areas = loud_areas(network, used["level_db"].to_numpy(dtype=float))
    heard = used.iloc[areas.stop].assign(area=areas.heard_in, node=network.stop[areas.stop])
    density = _prior_density(network, place_prior(job, lines, priors, junctions))
    odds = _odds(heard, lines, network, areas, load_constants(constants), density)
    layers = {
        "contact_ranking": _numbered(ranking),
        "survey_bracket": bracket(heard, lines, network, odds),
    }
    past = place_prior(job, lines, "past_leaks, repairs", junctions)
    bare = unsupported(job, lines, line_support(network, odds, len(lines.length_m)), past)
    faults = [*junctions.faults, *unsupported_fault(lines, bare), *_faults(ranking)]
    return result.adding(layers, faults)


def _odds(
    heard: gpd.GeoDataFrame, lines: Lines, network: Network, areas: Areas, constants: Constants,
    density: Floats,
) -> Odds:  # fmt: skip
    """Odds of each section of each loud area from the levels at its fittings."""
    level, sd = (heard[c].to_numpy(dtype=float) for c in ("level_db", "sd_db"))
    node, area = (heard[c].to_numpy(dtype=np.int64) for c in ("node", "area"))
    decay = np.array([constants.materials[m].pipe_decay_db_per_m for m in lines.material])
    decay_ln = constants.spread["pipe_decay_ln"]
    levels = Heard(node, area, level, sd)
    return section_odds(network, areas, levels, decay[network.line], decay_ln, density)


def _prior_density(network: Network, prior: PlacePrior) -> Floats:
    """Mean density of each section before listening, over an even one, shape (s,)."""
    share = (np.arange(_PLACES) + 0.5) / _PLACES
    at = network.begin_m[:, None] + share * network.length_m[:, None]
    weight = np.exp(prior.log_weights(np.repeat(network.line, _PLACES), at.ravel()))
    mean = weight.reshape(at.shape).mean(axis=1)
    return np.asarray(mean * np.exp(prior.log_line[network.line]))


def _numbered(ranking: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The layer as people see it: parts of the network numbered from 1."""
    part = ranking["network_part"]
    kept = ranking.drop(columns=["line", "sd_db", "fresh", "reason"])
    kept = kept.assign(**columns_of("reason", ranking["reason"]))
    return kept.assign(network_part=(part + 1).where(part >= 0))


def _faults(ranking: gpd.GeoDataFrame) -> list[Fault]:
    """Tell the fittings that were left out here; those the checks left out are told already."""
    issues = IssueCollector("contacts", texts(ranking, "contact_id"))
    fresh, why = ranking["fresh"].to_numpy(dtype=bool), texts(ranking, "reason")
    for reason in dict.fromkeys(why[fresh]):
        issues.report(fresh & (why == reason), reason)
    return issues.faults


def unsupported(job: Job, lines: Lines, heard_nats: Floats, past: PlacePrior) -> Bools:
    """Tell which of the lines asked for have nothing that speaks for a leak.

    Parameters
    ----------
    job : Job
    lines : Lines
    heard_nats : ndarray of float, shape (l,)
        Log evidence of the fittings for a leak on each line, NaN where none was heard.
    past : PlacePrior
        Of past leaks and repairs.

    Returns
    -------
    ndarray of bool, shape (l,)
    """
    found = losses(job.meter_tests)
    losing = lines.table.index.isin(
        [n for n, loss in found.items() if loss.verdict == "loss_shown"]
    )
    recorded = np.isin(np.arange(len(heard_nats)), past.kernels.line)
    heard = np.nan_to_num(heard_nats, nan=-np.inf) > SHOWN_NATS
    return np.asarray(lines.asked & ~losing & ~heard & ~recorded)


def unsupported_fault(lines: Lines, bare: Bools) -> list[Fault]:
    """Say so once, before anyone walks."""
    if not bare.any():
        return []
    names = [str(name) for name in lines.table.index[bare]]
    more = len(names) - _NAMED
    named = ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")
    reason = Reason("no_evidence", lines=len(names), every=bool(bare[lines.asked].all()))
    return [Fault("job", reason, named, effect="noted")]
