"""Isolation tests as evidence: a pressure that falls between closed valves shows a leak there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr

from leakgeo.find.evidence.isolation_results import load_isolation_weights
from leakgeo.find.evidence.likelihood import Likelihood
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.arrays import Floats
    from leakgeo.find.evidence.isolated import Isolated
    from leakgeo.find.evidence.isolation_lines import IsolationFindings
    from leakgeo.find.evidence.isolation_results import IsolationResult
    from leakgeo.find.posterior.rivals import Rival
    from leakgeo.route.lines import Lines

# Smallest Bayes factor by which a meter that stands still contradicts a test.
_CONTRADICTS = 3.0
# Valves that a message names.
_NAMED = 4
_SHOWN = {0.0: "no", 1.0: "yes"}


@dataclass(frozen=True)
class IsolationTest:
    """An isolation test, as it concerns one line.

    Parameters
    ----------
    result : IsolationResult
    isolated : Isolated
    valves : tuple of str
        Closed valves around the isolated part.
    sealed : float
        Probability that all of them are tight and that nothing else supplies the part.
    outlets : bool
        Whether a customer's end is in the part, so that water may be in use.
    """

    result: IsolationResult
    isolated: Isolated
    valves: tuple[str, ...]
    sealed: float
    outlets: bool

    def log_likelihood(self, leaks: float, fitting: float = 0.0) -> float:
        """Return the log likelihood of the result.

        Parameters
        ----------
        leaks : float
            Probability that a leak is in the part.
        fitting : float
            Probability that a fitting in the part sounds.
        """
        weight = load_isolation_weights()["shows"]
        none = weight["outlets" if self.outlets else "none"]
        leak = none + (weight["leak"] - none) * self.result.detects
        elsewhere = weight["elsewhere"] * self.isolated.others
        by_fitting = min(weight["fitting_times"] * none, leak)
        other = fitting * by_fitting + (1.0 - fitting) * none
        none = elsewhere * leak + (1.0 - elsewhere) * other
        tight = leaks * leak + (1.0 - leaks) * none
        shown = self.sealed * tight + (1.0 - self.sealed) * weight["not_isolated"]
        shows = self.result.shows
        return float(np.log(shows * shown + (1.0 - shows) * (1.0 - shown)))

    @property
    def log_bf(self) -> float:
        """Log Bayes factor of a leak in the isolated part against none."""
        return self.log_likelihood(1.0) - self.log_likelihood(0.0)

    def holds(self, chainage_m: Floats) -> Floats:
        """Return the probability that each place on the line is in the isolated part."""
        sd = load_isolation_weights()["place"]["valve_sd_m"]
        each = [ndtr((chainage_m - a) / sd) - ndtr((chainage_m - b) / sd)
                for a, b in self.isolated.stretches]  # fmt: skip
        return np.asarray(np.clip(np.sum([0.0 * chainage_m, *each], axis=0), 0.0, 1.0))

    def of_leak(self, probability: Floats) -> Floats:
        """Return the log Bayes factors of leaks that are in the part with a probability."""
        none = self.log_likelihood(0.0)
        ratio = np.exp(self.log_likelihood(1.0) - none)
        return np.asarray(np.log1p(probability * (ratio - 1.0)))

    def of_rival(self, rival: Rival) -> float:
        """Return the log Bayes factor of a rival against silence."""
        if rival.kind == "unknown":
            return 0.0
        if rival.kind == "fitting":
            inside = float(self.holds(np.array([rival.chainage_m]))[0])
            return self.log_likelihood(0.0, inside) - self.log_likelihood(0.0)
        part = self.isolated
        inside = part.beyond_start if rival.kind == "beyond_start" else part.beyond_end
        return float(self.of_leak(np.array(float(inside))))

    def reason(self, *then: Reason | None) -> Reason:
        """Return what was measured, and what that means for the line."""
        result, factor = self.result, float(f"{np.exp(abs(self.log_bf)):.2g}")
        place, from_m, to_m = self._place()
        return Reason(
            f"isolated_{result.measure}", *then, at=result.measured_at, valves=self.valves[:_NAMED],
            more=max(len(self.valves) - _NAMED, 0),
            minutes=result.minutes, shows=_SHOWN.get(result.shows, "partly"), times=factor,
            likelier=self.log_bf >= 0.0, place=place, from_m=from_m, to_m=to_m,
            before_kpa=result.before_kpa, after_kpa=result.after_kpa,
        )  # fmt: skip

    def _place(self) -> tuple[str, float, float]:
        """Return what of the line is isolated, and the chainages of its ends where it has some."""
        if self.isolated.whole or not self.isolated.stretches:
            return "line" if self.isolated.whole else "none", np.nan, np.nan
        if len(self.isolated.stretches) > 1:
            return "parts", np.nan, np.nan
        from_m, to_m = self.isolated.stretches[0]
        if np.isfinite(from_m):
            return "span" if np.isfinite(to_m) else "beyond", from_m, to_m
        return "before", from_m, to_m


@dataclass(frozen=True)
class IsolationEvidence:
    """Isolation tests that concern one line.

    Parameters
    ----------
    tests : tuple of IsolationTest
    meter_still : bool
        Whether the meter of the line stood still in a meter test.

    Notes
    -----
    Given a leak or none, faults of valves and of meters are independent: the product of both
    likelihoods is the joint one, with the probability that the meter is stuck in that of the meter.
    """

    tests: tuple[IsolationTest, ...]
    meter_still: bool = False

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
            Of kind ``isolation``, relative to no leak.
        """
        leak, other, connected = np.zeros(len(chainage_m)), np.zeros(len(rivals)), np.zeros(1)
        for test in self.tests:
            leak += test.of_leak(test.holds(chainage_m))
            other += [test.of_rival(rival) for rival in rivals]
            connected += test.of_leak(np.array([test.isolated.connected]))
        most = load_isolation_weights()["most_odds"]
        low, high = -np.log(most["against"]), np.log(most["leak"])
        leak, other, connected = (np.clip(each, low, high) for each in (leak, other, connected))
        return Likelihood("isolation", leak, 0.0, other, float(connected[0]), self._reason())

    def _reason(self) -> Reason:
        first, *more = self.tests
        shown = any(test.log_bf >= np.log(_CONTRADICTS) and test.isolated.stretches
                    for test in self.tests)  # fmt: skip
        stuck = Reason("meter_may_be_stuck") if self.meter_still and shown else None
        return first.reason(*(test.reason() for test in more), stuck)


def isolation_evidence(
    found: IsolationFindings, lines: Lines, still: Mapping[int, bool]
) -> dict[int, IsolationEvidence]:
    """Return the evidence of isolation tests, by index of the line.

    Parameters
    ----------
    found : IsolationFindings
    lines : Lines
    still : mapping of int to bool
        Whether the meter of a line stood still, by index of the line.
    """
    index = lines.index_of(list(found.by_line)).tolist()
    return {
        line: IsolationEvidence(tests, meter_still=still.get(line, False))
        for line, tests in zip(index, found.by_line.values(), strict=True)
        if line >= 0
    }
