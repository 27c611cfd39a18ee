"""Calibration of the balance: all explanations of a line, weighed by all kinds of evidence.

Lines are drawn by `tests.benchmarks.balance_draws` at the rates that the locator assumes, with
levels, and each with some of an air test, a meter test, an isolation test, a hole and a sweep. The
locator's own functions weigh them. What is said at 70 % then comes true of 70 %: in all lines, by
kind of rival, within a foot of the mark, by status, and by the evidence that was present. A figure
is out if it is off by more than two standard errors, were the claims right; of many figures one in
twenty is out by chance.

Run ``python -m tests.benchmarks.balance --lines 1000 --seed 1 --prior 0.5``. With ``--unbounded``
the largest Bayes factors of a test, which are bounds for imperfect models, are lifted. With
``--without-levels`` lines are not listened to, so that the other evidence is weighed alone, at many
more lines. `--believed` locates with another leak prior than that of the draws, and is out.
"""

from __future__ import annotations

import argparse
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING
from unittest.mock import patch

import numpy as np

from leakgeo.conversion import FOOT_M
from leakgeo.find.evidence.air_likelihood import updated_posterior
from leakgeo.find.evidence.digs import DigEvidence
from leakgeo.find.evidence.isolation import IsolationEvidence
from leakgeo.find.evidence.isolation_results import load_isolation_weights
from leakgeo.find.evidence.likelihood import updated
from leakgeo.find.evidence.meter import (
    MeterEvidence,
    MeterPlace,
    load_meter_weights,
    meter_effect,
)
from leakgeo.find.evidence.sweep import evaluate_sweep
from leakgeo.find.evidence.sweep_readings import load_sweep_weights
from leakgeo.find.locate.finding import Finding, Weighed
from leakgeo.find.locate.status import status_of
from leakgeo.find.locate.zones import best_mark, highest_density_pieces
from leakgeo.find.posterior.posterior import Posterior, posterior
from leakgeo.find.posterior.rivals import Rival, load_rival_weights
from leakgeo.reason import Reason
from leakgeo.sound.constants import load_constants
from leakgeo.sound.spreading import DB, Spreading
from tests.benchmarks.balance_draws import (
    LENGTH_M,
    TRACE_SD_M,
    air_test,
    drawn_line,
    hole,
    isolation_test,
    meter_tests,
    prior,
    sweep_across,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from leakgeo.find.evidence.digs import Exposed
    from leakgeo.find.evidence.likelihood import Evidence
    from leakgeo.sound.constants import Constants
    from tests.benchmarks.balance_draws import Line

# In the order in which the locator weighs them.
KINDS = ("air", "meter", "isolation", "dig", "sweep")
RIVALS = ("fitting", "beyond", "unknown")
EDGES = (0.0, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0)
OUT = 2.0
_UNBOUNDED = 1e9


@dataclass(frozen=True)
class Setting:
    """How lines are drawn and weighed.

    Parameters
    ----------
    leak_prior, believed : float
        Probability of a leak: of the draws, and as the locator takes it.
    share : float
        Probability that each piece of evidence is present.
    two_walks : float
        Share of the lines with two walks.
    levels : bool
        Whether lines are listened to.
    only : tuple of str
        Kinds of evidence that may be present.
    """

    leak_prior: float = 0.9
    believed: float = 0.9
    share: float = 0.4
    two_walks: float = 0.25
    levels: bool = True
    only: tuple[str, ...] = KINDS


@dataclass(frozen=True)
class Told:
    """What was said of a line, and what is true of it.

    Parameters
    ----------
    leak : tuple of (float, bool)
        Probability of a leak on the line, and whether it is there; not one that is unheard beside
        another source, which counts with that.
    any_leak : bool
        Whether there is one, heard or not.
    rivals : dict of str to (float, bool)
    claim : tuple of (float, bool)
        Probability of a leak within a foot along the pipe of the mark, and whether it is.
    status : str
    present : frozenset of str
        Evidence: a kind, or a kind and its result.
    """

    leak: tuple[float, bool]
    any_leak: bool
    rivals: dict[str, tuple[float, bool]]
    claim: tuple[float, bool]
    status: str
    present: frozenset[str]


def told_of(seed: Sequence[int], setting: Setting, constants: Constants) -> Told:
    """Draw a line and its evidence, and weigh them as the locator does."""
    rng = np.random.default_rng(seed)
    line = drawn_line(rng, setting.leak_prior, setting.two_walks, levels=setting.levels)
    present = {kind for kind in KINDS if rng.random() < setting.share} & {*setting.only}
    found = _by_levels(line, setting, constants)
    mark = best_mark(found.chainage_m, found.probability).chainage_m
    if not setting.levels:
        mark = float(rng.uniform(2.0, LENGTH_M - 2.0))
    exposed = hole(rng, line, mark) if "dig" in present else None
    if exposed is not None and setting.levels and exposed.found == "dry":
        found = _by_levels(line, setting, constants, exposed)
    by_levels, weighed, names, over = found, [], set(present), 1.0
    if "air" in present:
        air = air_test(rng, line, mark)
        found = updated_posterior(found, air, _spreading(line, constants), constants)
        weighed.append(Weighed("air", found.leak_log_bf - by_levels.leak_log_bf))
    for kind, evidence, result in _further(rng, line, mark, exposed, present, constants):
        before, likelihood = found, evidence.likelihood(found.chainage_m, found.rivals)
        found = updated(found, likelihood)
        weighed.append(Weighed(kind, found.leak_log_bf - before.leak_log_bf))
        names.add(result)
        if kind == "sweep":
            over = evidence.over_trace(best_mark(found.chainage_m, found.probability).chainage_m)
    return _told(line, found, by_levels, weighed, over, frozenset(names), setting)


def _further(
    rng: np.random.Generator, line: Line, mark_m: float, exposed: Exposed | None,
    present: set[str], constants: Constants,
) -> Iterator[tuple[str, Evidence, str]]:  # fmt: skip
    """Yield the evidence other than levels and air, with its kind and its result."""
    none = Reason("no_reading_on_line")
    if "meter" in present:
        tests = meter_tests(rng, line.truth)
        place = MeterPlace(0.0, 1, "whole", assumed=False)
        turned = any(loss.verdict == "loss_shown" for loss in tests.values())
        evidence = MeterEvidence(((place, meter_effect(tests)),), none)
        yield "meter", evidence, "meter turned" if turned else "meter still"
    if "isolation" in present:
        test = isolation_test(rng, line)
        shows = "isolation shows" if test.result.shows else "isolation shows none"
        yield "isolation", IsolationEvidence((test,)), shows
    if exposed is not None:
        yield "dig", DigEvidence((exposed,)), f"dig {exposed.found}"
    if "sweep" in present:
        sweep = sweep_across(rng, line, mark_m)
        central = Spreading(
            line.depth_m, soil_decay_db_per_m=constants.spread["soil_decay_db_per_m"]
        )
        yield "sweep", evaluate_sweep(sweep, TRACE_SD_M, (), central, constants), "sweep"


def _by_levels(
    line: Line, setting: Setting, constants: Constants, dry: Exposed | None = None
) -> Posterior:
    """Return the posterior by the levels, or what is known before them."""
    fittings = [one for _, one in line.fittings]
    if dry is not None:
        # As `sounding_fittings` has it.
        least = load_rival_weights()["with_leak"]["in_dry_hole"]
        fittings = [
            replace(f, probability=max(f.probability, least))
            if dry.from_m <= f.chainage_m <= dry.to_m else f for f in fittings
        ]  # fmt: skip
    if setting.levels:
        problem = line.problem(constants)
        return posterior(
            problem, LENGTH_M, constants, setting.believed, fittings=fittings, open_ends=line.ends
        )
    chance = prior(fittings, line.ends, line.walks, setting.believed)
    by_kind = {kind: sum(p for h, p in chance.items() if h.kind == kind)
               for kind in {h.kind for h in chance}}  # fmt: skip
    rivals = [Rival("fitting", by_kind["fitting"], f.chainage_m, f.contact_id) for f in fittings]
    rivals += [Rival(end.kind, by_kind[end.kind], end.chainage_m) for end in line.ends]
    rivals.append(Rival("unknown", by_kind["unknown"]))
    cells = int(LENGTH_M / 0.2)
    x = (np.arange(cells) + 0.5) * LENGTH_M / cells
    flat = np.full(cells, 1.0 / cells)
    return Posterior(
        x, flat, by_kind["leak"], (), 0.0, 0.0, 0.0, 0.0, rivals=tuple(rivals)
    )  # fmt: skip


def _spreading(line: Line, constants: Constants) -> Spreading:
    """Return the central constants of a line, as `leakgeo.find.locate.step.spreading_of` does."""
    material, spread = constants.materials[line.material], constants.spread
    return Spreading(
        line.depth_m, material.pipe_decay_db_per_m, material.pipe_share,
        spread["soil_decay_db_per_m"], float(np.exp(-spread["floor_below_db"] / DB)),
    )  # fmt: skip


def _told(
    line: Line, found: Posterior, by_levels: Posterior, weighed: list[Weighed], over: float,
    present: frozenset[str], setting: Setting,
) -> Told:  # fmt: skip
    mark = best_mark(found.chainage_m, found.probability)
    pieces = highest_density_pieces(2.0 * float(found.chainage_m[0]), found.probability, 0.9)
    finding = Finding(
        0, found, mark, tuple(pieces), "sound", 1.0, by_levels.leak_log_bf, setting.believed, (),
        tuple(weighed), over,
    )  # fmt: skip
    truth, leak = line.truth, line.truth.kind == "leak"
    near = leak and abs(mark.chainage_m - line.leak_m) <= FOOT_M
    rivals = {
        kind: (sum(r.probability for r in found.rivals if r.kind.startswith(kind)),
               truth.kind.startswith(kind))
        for kind in RIVALS
        if any(r.kind.startswith(kind) for r in found.rivals)
    }  # fmt: skip
    status = status_of(finding)
    claim = mark.within_foot_given_leak * found.leak_probability
    return Told(
        (found.leak_probability, leak), bool(np.isfinite(line.leak_m)), rivals,
        (claim, bool(near)), status, present,
    )  # fmt: skip


@contextmanager
def unbounded(constants: Constants) -> Iterator[Constants]:
    """Lift the largest Bayes factors of all tests; gives the constants without them."""
    with ExitStack() as stack:
        for table in (load_meter_weights()["most_odds"], load_isolation_weights()["most_odds"]):
            stack.enter_context(patch.dict(table, dict.fromkeys(table, _UNBOUNDED)))
        sweep = load_sweep_weights()["likelihood"]
        stack.enter_context(patch.dict(sweep, {"most_odds": _UNBOUNDED}))
        yield replace(constants, air={**constants.air, "most_odds": _UNBOUNDED})


@dataclass(frozen=True)
class Row:
    """A figure of the balance.

    Parameters
    ----------
    name : str
    number : int
        Lines.
    said, came : float
        Mean probability, and share of the lines of which it is true.
    error : float
        Standard error of that share, were the claims right.
    """

    name: str
    number: int
    said: float
    came: float
    error: float

    @classmethod
    def of(cls, name: str, said: np.ndarray, came: np.ndarray) -> Row:
        """Compare claims with what came true, shape (n,)."""
        error = float(np.sqrt(np.sum(said * (1.0 - said)))) / max(said.size, 1)
        return cls(name, said.size, float(said.mean()), float(came.mean()), error)

    @property
    def off(self) -> float:
        """How far it is off, in standard errors."""
        return (self.came - self.said) / max(self.error, 1e-9)

    @property
    def out(self) -> bool:
        """Whether it is off by more than `OUT` standard errors."""
        return abs(self.off) > OUT

    def __str__(self) -> str:
        """Lay out the row."""
        mark = " **out**" if self.out else ""
        return (f"| {self.name} | {self.number} | {self.said:.3f} | {self.came:.3f} | "
                f"{self.error:.3f} | {self.off:+.1f}{mark} |")  # fmt: skip


HEADER = "| | n | said | came true | se | off by, se |\n|---|---|---|---|---|---|"


def table(title: str, rows: Sequence[Row]) -> str:
    """Lay out rows under a title."""
    return "\n".join([f"\n## {title}\n", HEADER, *map(str, rows)])


def binned(pairs: Sequence[tuple[float, bool]]) -> list[Row]:
    """Return the figures of all claims, and by size."""
    said, came = np.array(pairs, dtype=float).reshape(-1, 2).T
    bins = np.clip(np.searchsorted(EDGES, said, side="right") - 1, 0, len(EDGES) - 2)
    rows = [Row.of("all", said, came)] if said.size else []
    for k in np.unique(bins).tolist():
        own = bins == k
        rows.append(Row.of(f"{EDGES[k]:.2f} to {EDGES[k + 1]:.2f}", said[own], came[own]))
    return rows


def grouped(told: Sequence[Told], name: str) -> list[Row]:
    """Return the figures of a claim by the evidence that was present."""
    groups = {"levels alone": [t for t in told if not t.present]}
    kinds = sorted({kind for t in told for kind in t.present})
    groups |= {kind: [t for t in told if kind in t.present] for kind in kinds}
    groups |= {
        f"{n} kinds": [t for t in told if len(t.present & {*KINDS}) == n] for n in range(2, 6)
    }
    pairs = {k: np.array([getattr(t, name) for t in own], dtype=float) for k, own in groups.items()}
    return [Row.of(k, *p.T) for k, p in pairs.items() if len(p)]


def by_status(told: Sequence[Told]) -> list[Row]:
    """Return how often each status is right against what was said with it."""
    said = {
        "located": lambda t: t.claim,
        "other_source": lambda t: _either(t, "fitting", "unknown"),
        "beyond_end": lambda t: _either(t, "beyond"),
        "no_leak_heard": lambda t: (1.0 - t.leak[0], not t.leak[1]),
        "keep_listening": lambda t: t.leak,
        "ambiguous": lambda t: t.leak,
    }
    rows = []
    for status, of in said.items():
        own = [of(t) for t in told if t.status == status]
        if own:
            rows.append(Row.of(status, *np.array(own, dtype=float).T))
    return rows


def _either(told: Told, *kinds: str) -> tuple[float, bool]:
    found = [told.rivals[kind] for kind in kinds if kind in told.rivals]
    return sum(p for p, _ in found), any(true for _, true in found)


def report(told: Sequence[Told]) -> str:
    """Lay out all tables."""
    parts = [table("Probability of a leak on the line", binned([t.leak for t in told]))]
    parts.append(table("The same, with leaks unheard beside another source",
                       binned([(t.leak[0], t.any_leak) for t in told])))  # fmt: skip
    parts.append(table("Probability of a leak, by evidence", grouped(told, "leak")))
    for kind in RIVALS:
        pairs = [t.rivals[kind] for t in told if kind in t.rivals]
        parts.append(table(f"Rival: {kind}", binned(pairs)))
    parts.append(table("Leak within a foot of the mark", binned([t.claim for t in told])))
    parts.append(table("The same, by evidence", grouped(told, "claim")))
    parts.append(table("Statuses, by what is said with them", by_status(told)))
    return "\n".join(parts)


def balance(lines: int, seed: int, setting: Setting, *, bounded: bool = True) -> list[Told]:
    """Draw and weigh lines, each from a seed of its own."""
    with ExitStack() as stack:
        constants = load_constants()
        if not bounded:
            constants = stack.enter_context(unbounded(constants))
        return [told_of((seed, i), setting, constants) for i in range(lines)]


def main(given: Sequence[str] | None = None) -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--prior", type=float, default=0.9, help="probability of a leak")
    parser.add_argument("--believed", type=float, help="the same, as the locator takes it")
    parser.add_argument("--share", type=float, default=0.4, help="of each kind of evidence")
    parser.add_argument("--two-walks", type=float, default=0.25, help="share of such lines")
    parser.add_argument("--only", nargs="*", choices=KINDS, default=KINDS)
    parser.add_argument("--without-levels", action="store_true")
    parser.add_argument("--unbounded", action="store_true")
    args = parser.parse_args(given)
    believed = args.prior if args.believed is None else args.believed
    setting = Setting(args.prior, believed, args.share, args.two_walks, not args.without_levels,
                      tuple(args.only))  # fmt: skip
    print(report(balance(args.lines, args.seed, setting, bounded=not args.unbounded)))


if __name__ == "__main__":
    main()
