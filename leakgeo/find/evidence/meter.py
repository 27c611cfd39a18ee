"""Meter tests as evidence: how likely their result is under each explanation of a line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
import pandas as pd
from scipy.special import ndtr, ndtri

from leakgeo.arrays import texts
from leakgeo.find.evidence.flow import Contacts
from leakgeo.find.evidence.likelihood import Likelihood
from leakgeo.find.loss.meter_tests import losses_by, resolution
from leakgeo.find.weights import load_weights
from leakgeo.job.checks import FITTING_SD_M, OFF_LINE_M, OFF_LINE_SD
from leakgeo.reason import Reason, with_next

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.arrays import Floats
    from leakgeo.find.loss.meter_tests import Loss
    from leakgeo.find.posterior.rivals import Rival
    from leakgeo.find.survey.line_fittings import LineFittings
    from leakgeo.job.model import Job
    from leakgeo.route.lines import Lines

Valve = Literal["open", "shut", "unknown"]
_VALVES: tuple[Valve, ...] = ("open", "shut", "unknown")
# Quantiles of the loss of a leak, and of other use, to average over.
_LEAKS, _USES = 400, 40


@dataclass(frozen=True)
class MeterPlace:
    """Place of a meter on a line, and the direction in which water flows there.

    Parameters
    ----------
    chainage_m : float
        NaN where not known.
    flow : {-1, 0, 1}
        1 along the route, -1 against it, 0 where not known.
    measures : {"whole", "none", "part"}
        Whether all of the line is downstream of the meter, nothing, or a part.
    assumed : bool
        Whether the line is taken as downstream for want of facts.
    """

    chainage_m: float
    flow: int
    measures: Literal["whole", "none", "part"]
    assumed: bool

    def downstream(self, chainage_m: Floats) -> Floats:
        """Return the probability that each place on the line is downstream of the meter."""
        if self.measures != "part":
            return np.full(np.shape(chainage_m), float(self.measures == "whole"))
        if not self.flow:
            return np.full(np.shape(chainage_m), 0.5)
        return np.asarray(ndtr(self.flow * (chainage_m - self.chainage_m) / FITTING_SD_M))

    def rival_downstream(self, kind: str) -> float:
        """Return the probability that a leak beyond an end of the route is downstream."""
        side = {"beyond_end": 1, "beyond_start": -1}[kind]
        return 0.5 * (1 + side * self.flow)


@dataclass(frozen=True)
class MeterEffect:
    """Log Bayes factors of the tests of one meter against no leak, and nothing that sounds.

    Parameters
    ----------
    pipe : float
        A leak between the meter and the valve at the house.
    beyond : float
        A leak beyond the customer's end of the line, as inside the building.
    fitting : float
        A fitting that sounds, as by water that passes through it.
    """

    pipe: float
    beyond: float
    fitting: float


@dataclass(frozen=True)
class MeterEvidence:
    """Meter tests of one line.

    Parameters
    ----------
    meters : tuple of (MeterPlace, MeterEffect)
        Each meter that was read.
    reason : Reason
        What was observed, and what it means for the line.
    """

    meters: tuple[tuple[MeterPlace, MeterEffect], ...]
    reason: Reason

    @property
    def stood_still(self) -> bool:
        """Whether a meter stood still although it measures the line."""
        return self.reason.code == "meter_stood_still"

    def likelihood(self, chainage_m: Floats, rivals: Sequence[Rival] = ()) -> Likelihood:
        """Return the likelihood of the tests under each explanation of a posterior.

        Parameters
        ----------
        chainage_m : ndarray of float, shape (g,)
            Cells of the posterior.
        rivals : sequence of Rival
            Rivals of the posterior, shape (r,).

        Returns
        -------
        Likelihood
            Of kind ``meter``, relative to no leak.
        """
        leak, other = np.zeros(len(chainage_m)), np.zeros(len(rivals))
        for place, effect in self.meters:
            leak += _mixed(effect.pipe, place.downstream(chainage_m))
            other += [_of_rival(rival.kind, place, effect) for rival in rivals]
        return Likelihood("meter", leak, 0.0, other, None, self.reason)


def _of_rival(kind: str, place: MeterPlace, effect: MeterEffect) -> float:
    if kind == "fitting":
        return effect.fitting
    if kind == "unknown":
        return 0.0
    return float(_mixed(effect.beyond, np.array(place.rival_downstream(kind))))


def _mixed(log_factor: float, probability: Floats) -> Floats:
    """Return the log Bayes factor of an explanation that applies with a probability."""
    return np.asarray(np.log1p(probability * np.expm1(log_factor)))


def meter_likelihoods(job: Job, lines: Lines, fittings: pd.DataFrame) -> dict[int, MeterEvidence]:
    """Return the evidence of the valid meter tests of each line.

    Parameters
    ----------
    job : Job
    lines : Lines
    fittings : pandas.DataFrame
        As `leakgeo.find.survey.fittings.fitting_chainages` returns it.

    Returns
    -------
    dict of int to MeterEvidence
        By index of the line in `lines`; lines without a valid test have no entry.
    """
    repaired = lines.repair_day
    return {
        line: _evidence([place for _, place, _ in read], [results for *_, results in read],
                        repaired(line))
        for line, read in meters_read(job, lines, Contacts.of(job, fittings)).items()
    }  # fmt: skip


_Results = Mapping[Valve, "Loss"]


def meters_read(
    job: Job, lines: Lines, known: Contacts
) -> dict[int, list[tuple[str, MeterPlace, _Results]]]:
    """Return the meters that were read, by index of their line.

    Parameters
    ----------
    job : Job
    lines : Lines
    known : Contacts

    Returns
    -------
    dict of int to list of (str, MeterPlace, dict)
        ``contact_id`` of each meter, ``""`` for the only one of the line; its place, and the
        combined valid results for each position of the house valve.
    """
    if job.meter_tests is None or job.meter_tests.empty:
        return {}
    tests = job.meter_tests.assign(
        resolution=resolution(job.meter_tests),
        meter=pd.Series(texts(job.meter_tests, "contact_id")).fillna("").to_numpy(),
        valve=pd.Series(texts(job.meter_tests, "house_valve")).fillna("unknown").to_numpy(),
    )
    results: dict[str, dict[str, dict[Valve, Loss]]] = {}
    every = losses_by(tests, "line_id", "meter", "valve")
    for (name, meter, valve), loss in every.items():
        if valve in _VALVES and loss.verdict != "not_valid":
            results.setdefault(name, {}).setdefault(meter, {})[valve] = loss
    index = dict(zip(results, lines.index_of(list(results)).tolist(), strict=True))
    return {
        index[name]: [(meter, meter_place(known, lines, index[name], meter), loss)
                      for meter, loss in by_meter.items()]
        for name, by_meter in results.items() if index[name] >= 0
    }  # fmt: skip


def meter_place(known: Contacts, lines: Lines, line: int, meter: str = "") -> MeterPlace:
    """Return the place of a meter, and which part of its line is downstream of it.

    Parameters
    ----------
    known : Contacts
    lines : Lines
    line : int
        Index of the line.
    meter : str
        Its ``contact_id``; ``""`` for the only meter of the line.
    """
    name = str(lines.table.index[line])
    at = _chainage(known, lines, line, known.on(name), meter)
    length, limit = float(lines.length_m[line]), load_meter_weights()["meter"]
    flow = known.flow(name, at if np.isfinite(at) else length / 2.0)
    if not np.isfinite(at):
        return MeterPlace(at, flow, "whole", assumed=True)
    near = min(at, length - at)
    end = -1 if at < length / 2.0 else 1
    if not flow and near <= limit["near_end_m"]:
        return MeterPlace(at, -end, "whole", assumed=True)
    if flow and near <= limit["at_end_m"]:
        return MeterPlace(at, flow, "none" if flow == end else "whole", assumed=False)
    return MeterPlace(at, flow, "part", assumed=not flow)


def _chainage(known: Contacts, lines: Lines, line: int, own: LineFittings, meter: str) -> float:
    """Return the chainage of the meter that was read, or of the only one of the line; or NaN."""
    if not meter:
        only = own.chainage_m[own.kind == "meter"]
        return float(only[0]) if len(only) == 1 else np.nan
    if meter not in known.point:
        return np.nan
    points = np.array([known.point[meter]], dtype=object)
    at, offset = lines.routes.locate(points, np.array([line]))
    reach = OFF_LINE_M + OFF_LINE_SD * np.hypot(FITTING_SD_M, lines.trace_sd_m[line])
    return float(at[0]) if abs(offset[0]) <= reach else np.nan


def meter_effect(results: Mapping[Valve, Loss]) -> MeterEffect:
    r"""Return the log Bayes factors of the tests of one meter.

    Parameters
    ----------
    results : mapping of str to Loss
        Combined result for each position of the house valve: ``open``, ``shut``, ``unknown``.

    Returns
    -------
    MeterEffect

    Notes
    -----
    The loss q of a leak is log-normal. A register that is read at any moment of its step shows no
    change with probability :math:`\max(0, 1 - q / l)`, l being the smallest detectable loss. The
    logarithm of a loss that is shown is normal about that of the flow. Water may be used besides.
    A meter may be stuck.

    Examples
    --------
    Ten hours without a step of one litre.

    >>> from leakgeo.find.loss.meter_tests import Loss
    >>> still = Loss("none_within_resolution", 0.0, 1.0, 0.0, 2.0, 2.4, 10.0, 1, 1, ())
    >>> effect = meter_effect({"shut": still})
    >>> round(float(np.exp(-effect.pipe)), 1), round(float(np.exp(-effect.beyond)), 2)
    (49.0, 1.05)
    """
    weight = load_meter_weights()
    leak = _quantiles(weight["leak"], _LEAKS)
    none = _likelihood(results, np.zeros(1), passes_valve=True)
    more_use = weight["use"]["through_fitting_times"]
    likely = np.array([
        _likelihood(results, leak, passes_valve=True),
        _likelihood(results, leak, passes_valve=False),
        _likelihood(results, np.zeros(1), more_use, passes_valve=True),
    ])  # fmt: skip
    with np.errstate(divide="ignore", invalid="ignore"):
        factor = np.log(likely) - np.log(none)
    # A loss that no explanation foresees is no evidence.
    factor = np.where(np.isnan(factor), 0.0, factor)
    against, turning, beyond = _most_odds(results)
    # What a leak of the pipe explains better than one beyond the valve stays so when it is bounded.
    factor[1] -= max(factor[0] - np.log(turning), 0.0) if np.isfinite(factor[0]) else 0.0
    most = np.log([turning, beyond, turning])
    return MeterEffect(*np.clip(factor, -np.log(against), most).tolist())


def _most_odds(results: Mapping[Valve, Loss]) -> tuple[float, float, float]:
    """Return the largest Bayes factors: against, for, and for a leak beyond the house valve."""
    most = load_meter_weights()["most_odds"]
    turned = {valve for valve, loss in results.items() if loss.verdict == "loss_shown"}
    still = set(results) - turned
    turning = most["turning_with_valve_shut"] if "shut" in turned else most["turning"]
    for_house = "open" in turned and "shut" in still
    beyond = most["turning_for_house"] if for_house else turning
    return (most["against"] if still else turning), turning, beyond


def _likelihood(
    results: Mapping[Valve, Loss], leak: Floats, use_times: float = 1.0, *, passes_valve: bool
) -> float:
    """Return the likelihood of all results, averaged over the flow of a leak, shape (n,).

    `passes_valve` states whether water of the leak flows through the meter with the house valve
    shut; `use_times` multiplies the probability of other use.
    """
    every = _by_flow(results, leak, use_times, passes_valve=passes_valve)
    stuck = load_meter_weights()["meter"]["stuck"]
    return float((1.0 - stuck) * every.mean() + stuck * _all_still(results))


def _all_still(results: Mapping[Valve, Loss]) -> bool:
    return all(loss.verdict != "loss_shown" for loss in results.values())


def _by_flow(
    results: Mapping[Valve, Loss], leak: Floats, use_times: float, *, passes_valve: bool
) -> Floats:
    """Return the likelihood of all results of a meter that is not stuck, shape (n,)."""
    weight = load_meter_weights()
    shut, lets_by = weight["meter"]["shut_if_not_known"], weight["meter"]["lets_by"]
    every = np.ones(len(leak))
    for valve, loss in results.items():
        by_state = {}
        for state in ("open", "shut"):
            u = use_times * weight["use"][f"house_valve_{state}"]
            flows = _given_flow(loss, leak, u)
            if state == "shut" and not passes_valve:
                flows = lets_by * flows + (1.0 - lets_by) * _given_flow(loss, 0.0 * leak, u)
            by_state[state] = flows
        either = shut * by_state["shut"] + (1.0 - shut) * by_state["open"]
        every = every * by_state.get(valve, either)
    return every


class Turning(NamedTuple):
    """Probability of what a meter shows in the next tests, by what is true.

    Parameters
    ----------
    pipe : ndarray of float, shape (2 ** t,)
        A leak between the meter and the valve at the house. Of each of t tests the meter turns or
        not; the last test varies fastest, and to turn comes first.
    beyond : ndarray of float, shape (2 ** t,)
        A leak beyond the customer's end of the line.
    fitting : ndarray of float, shape (2 ** t,)
        A fitting that sounds.
    none : ndarray of float, shape (2 ** t,)
        No leak.
    """

    pipe: Floats
    beyond: Floats
    fitting: Floats
    none: Floats


def turning(
    results: Mapping[Valve, Loss], valves: Sequence[Literal["open", "shut"]],
    least_l_per_day: float,
) -> Turning:  # fmt: skip
    """Return how probable it is that a meter turns if it is read again.

    The flow of a leak is the same in all tests, and a meter that is stuck is stuck in all.

    Parameters
    ----------
    results : mapping of str to Loss
        Combined result for each position of the house valve so far; may be empty.
    valves : sequence of {"open", "shut"}
        Positions of the house valve in the next tests.
    least_l_per_day : float
        Loss that moves the register by one step during each of them.

    Returns
    -------
    Turning

    Examples
    --------
    A leak of the pipe turns the meter in both tests, one in the house only with the valve open.

    >>> both = turning({}, ("open", "shut"), 96.0)
    >>> int(both.pipe.argmax()), int(both.beyond.argmax()), int(both.none.argmax())
    (0, 1, 3)
    """
    leak, none = _quantiles(load_meter_weights()["leak"], _LEAKS), np.zeros(1)
    more_use = load_meter_weights()["use"]["through_fitting_times"]
    each = [(leak, 1.0, True), (leak, 1.0, False), (none, more_use, True), (none, 1.0, True)]
    return Turning(*(
        _turns(results, valves, least_l_per_day, flow, times, passes_valve=passes)
        for flow, times, passes in each
    ))  # fmt: skip


def _turns(
    results: Mapping[Valve, Loss], valves: Sequence[Literal["open", "shut"]],
    least_l_per_day: float, flow: Floats, use_times: float, *, passes_valve: bool,
) -> Floats:  # fmt: skip
    """Return the probability of each outcome of the next tests, given the results so far."""
    stuck = load_meter_weights()["meter"]["stuck"]
    shown = np.ones((1, len(flow)))
    for valve in valves:
        moved = _moves(valve, least_l_per_day, flow, use_times, passes_valve=passes_valve)
        shown = (shown[:, None] * np.stack([moved, 1.0 - moved])).reshape(-1, len(flow))
    every = (1.0 - stuck) * _by_flow(results, flow, use_times, passes_valve=passes_valve)
    total = every.mean() + stuck * _all_still(results)
    # What no explanation foresees says nothing of the next reading.
    if not total > 0.0:
        return np.asarray(shown.mean(axis=1))
    found = (shown * every).mean(axis=1)
    found[-1] += stuck * _all_still(results)
    return np.asarray(found / total)


def _moves(
    valve: Literal["open", "shut"], least_l_per_day: float, flow: Floats, use_times: float, *,
    passes_valve: bool,
) -> Floats:  # fmt: skip
    """Return the probability that the register of a meter that is not stuck moves in a test."""
    lets_by = load_meter_weights()["meter"]["lets_by"]
    still = 1.0 - use_times * load_meter_weights()["use"][f"house_valve_{valve}"]
    moved = 1.0 - still * np.clip(1.0 - flow / least_l_per_day, 0.0, 1.0)
    if valve == "shut" and not passes_valve:
        moved = lets_by * moved + (1.0 - lets_by) * (1.0 - still)
    return np.asarray(moved)


def _given_flow(loss: Loss, flow: Floats, use: float) -> Floats:
    """Return the likelihood of a result for each flow of a leak, with other use or without."""
    if loss.verdict != "loss_shown":
        return np.asarray((1.0 - use) * np.clip(1.0 - flow / loss.least_l_per_day, 0.0, 1.0))
    weight = load_meter_weights()
    drawn = flow[:, None] + _quantiles(weight["use"], _USES)
    shown, sd = loss.litres_per_day, np.log(weight["meter"]["loss_factor"])
    sd = float(np.hypot(sd, loss.sd_l_per_day / shown))
    besides = _density(shown, drawn, sd).mean(axis=1)
    return np.asarray((1.0 - use) * _density(shown, flow, sd) + use * besides)


def _density(shown: float, flow: Floats, sd: float) -> Floats:
    """Return the density of the logarithm of a loss for each flow, up to a constant."""
    with np.errstate(divide="ignore"):
        away = np.log(shown) - np.log(flow)
    return np.asarray(np.exp(-0.5 * (away / sd) ** 2))


def _quantiles(weight: Mapping[str, float], number: int) -> Floats:
    """Return evenly spaced quantiles of a log-normal distribution."""
    z = ndtri((np.arange(number) + 0.5) / number)
    return np.asarray(weight["median_l_per_day"] * weight["factor"] ** z)


def leak_share_detected(least_l_per_day: float) -> float:
    """Return the probability that a register shows a leak.

    Parameters
    ----------
    least_l_per_day : float
        Smallest loss that moves it by one step during the test.
    """
    leak = _quantiles(load_meter_weights()["leak"], _LEAKS)
    return float(np.clip(leak / least_l_per_day, 0.0, 1.0).mean())


def _evidence(
    places: Sequence[MeterPlace], results: Sequence[Mapping[Valve, Loss]], repaired: str
) -> MeterEvidence:
    effects = [meter_effect(each) for each in results]
    reasons = [_reason(*each, repaired) for each in zip(places, results, effects, strict=True)]
    return MeterEvidence(tuple(zip(places, effects, strict=True)), with_next(*reasons))


def _reason(
    place: MeterPlace, results: Mapping[Valve, Loss], effect: MeterEffect, repaired: str
) -> Reason:
    """Return what a meter showed, what that means for its line, and what was assumed."""
    turned = {v: r for v, r in results.items() if r.verdict == "loss_shown"}
    after = None
    if repaired:
        after = Reason("still_turns_after_repair" if turned else "repair_verified", day=repaired)
    if place.measures == "none":
        return Reason("meter_below_line", after)
    assumed = Reason("meter_place_assumed") if place.assumed else None
    below, times = place.measures == "part", float(f"{np.exp(abs(effect.pipe)):.2g}")
    if not turned:
        longest = max(results.values(), key=lambda each: each.hours)
        return Reason(
            "meter_stood_still", assumed, after, hours=longest.hours,
            least_l=longest.least_l_per_day, times=times, below=below,
        )  # fmt: skip
    loss = max(each.litres_per_day for each in turned.values())
    if "shut" in results and "shut" not in turned and effect.pipe < 0.0:
        return Reason("meter_turned_for_house", assumed, after, loss_l=loss, times=times,
                      below=below)  # fmt: skip
    likelier = effect.pipe >= 0.0
    return Reason("meter_turned", assumed, after, loss_l=loss, times=times, likelier=likelier,
                  below=below, shut="shut" in turned)  # fmt: skip


def load_meter_weights() -> Mapping[str, Mapping[str, float]]:
    """Load the assumptions about meters; ``meter.toml`` explains them."""
    return load_weights("leakgeo.find.evidence", "meter")
