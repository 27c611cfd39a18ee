"""What an action was expected to tell, and what it told: bits about what is true of a line."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from leakgeo.result import Result
    from tests.benchmarks.closed_loop_sites import Truth

    Array = np.ndarray

# A density is taken over this to each side of the true place, and no probability is smaller.
NEAR_M, LEAST = 0.15, 1e-4
_OPEN = ("leak", "")
HEADER = (
    "| action | times | expected bits | realised bits | standard error | drop of entropy "
    "| standard error | realised / expected |\n|---|---|---|---|---|---|---|---|"
)


@dataclass(frozen=True)
class Belief:
    """What a result says of one line.

    Parameters
    ----------
    share : mapping of (str, str) to float
        Probability of each explanation: its kind, and the fitting or line that it names.
    place_m, density : ndarray, shape (n,)
        Density of the leak given that it is on the line, per metre.
    """

    share: Mapping[tuple[str, str], float]
    place_m: Array = field(repr=False)
    density: Array = field(repr=False)

    def log2_of(self, truth: Truth) -> float:
        """Log of the probability of what is true; of a leak on the line also of its place."""
        found = np.log2(max(self.share.get(truth.explanation, 0.0), LEAST))
        if truth.kind != "leak":
            return float(found)
        near = truth.place_m + np.linspace(-NEAR_M, NEAR_M, 13)
        return float(found + np.log2(max(self._at(near).mean(), LEAST)))

    def _at(self, places_m: Array) -> Array:
        if len(self.place_m) == 0:
            return np.zeros(len(places_m))
        return np.interp(places_m, self.place_m, self.density)

    @property
    def entropy(self) -> float:
        """Entropy of explanations and places, bits; of places per metre."""
        shares = np.array([p for p in self.share.values() if p > 0.0])
        of_kinds = -float(shares @ np.log2(shares))
        if len(self.place_m) < 2:
            return of_kinds
        # The density is linear between the points of the profile, which are close where it is high.
        fine = np.arange(self.place_m[0], self.place_m[-1], 0.02)
        density = np.maximum(self._at(fine), 1e-12)
        mass = density / density.sum()
        places = -float(mass @ np.log2(mass)) + np.log2(0.02)
        return of_kinds + self.share.get(_OPEN, 0.0) * places

    def of(self, kinds: Iterable[str]) -> float:
        """Give the probability of some kinds."""
        wanted = set(kinds)
        return sum(p for (kind, _), p in self.share.items() if kind in wanted)


def beliefs(result: Result) -> dict[str, Belief]:
    """Give what a result says of each line that was listened to, by ``line_id``."""
    profile = result.layers["profile"]
    density = {str(name): own for name, own in profile.groupby("line_id")}
    found = {}
    for name, own in result.layers["explanations"].groupby("line_id"):
        share = dict[tuple[str, str], float]()
        whose = own["other_line_id"].fillna(own["contact_id"]).fillna("").astype(str)
        # Names of a joined job begin with the four figures of their site.
        for kind, who, p in zip(own["kind"], whose, own["probability"], strict=True):
            key = (str(kind), who[4:])
            share[key] = share.get(key, 0.0) + float(p)
        x, y = np.empty(0), np.empty(0)
        if str(name) in density:
            x, y = (density[str(name)][c].to_numpy(float) for c in
                    ("chainage_m", "leak_density_per_m"))  # fmt: skip
        kept = np.isfinite(y)
        order = np.argsort(x[kept])
        found[str(name)] = Belief(share, x[kept][order], y[kept][order])
    return found


@dataclass(frozen=True)
class Gain:
    """Of one action: bits expected, bits about the truth, and by how much the entropy fell."""

    expected: float
    realised: float
    dropped: float
    truth: str = ""


def gain_between(before: Belief, after: Belief, truth: Truth, expected: float) -> Gain:
    """Compare what is said of a line before an action and after it."""
    realised = after.log2_of(truth) - before.log2_of(truth)
    return Gain(expected, realised, before.entropy - after.entropy, truth.kind)


def gain_table(gains: Mapping[str, list[Gain]]) -> str:
    """Set what was expected beside what came, for each kind of action."""
    rows = [HEADER]
    for kind, own in sorted(gains.items()):
        part = [g for g in own if np.isfinite(g.expected) and np.isfinite(g.realised)]
        if not part:
            rows.append(f"| {kind} | {len(own)} | | | | | | |")
            continue
        expected, realised, dropped = (
            np.array([getattr(g, name) for g in part]) for name in ("expected", "realised",
                                                                    "dropped")
        )  # fmt: skip
        falls = dropped[np.isfinite(dropped)]
        told = f"{falls.mean():.3f} | {_error(falls):.3f}" if falls.size else " | "
        ratio = realised.mean() / expected.mean() if expected.mean() > 0 else np.nan
        rows.append(
            f"| {kind} | {len(part)} | {expected.mean():.3f} | {realised.mean():.3f} "
            f"| {_error(realised):.3f} | {told} | {ratio:.2f} |"
        )
    return "\n".join(rows)


def gains_by_truth(gains: Iterable[tuple[str, Gain]]) -> str:
    """Give the mean realised bits, and how often, of each action under each truth."""
    cells = defaultdict[tuple[str, str], list[float]](list)
    for kind, gain in gains:
        if np.isfinite(gain.realised):
            cells[kind, gain.truth].append(gain.realised)
    kinds, truths = (sorted({key[i] for key in cells}) for i in (0, 1))
    rows = ["| action | " + " | ".join(truths) + " |", "|" + "---|" * (1 + len(truths))]
    for kind in kinds:
        own = [cells.get((kind, truth), []) for truth in truths]
        told = [f"{np.mean(each):.2f} ({len(each)})" if each else "" for each in own]
        rows.append(f"| {kind} | " + " | ".join(told) + " |")
    return "\n".join(rows)


def _error(values: Array) -> float:
    return float(values.std(ddof=1) / np.sqrt(values.size)) if values.size > 1 else float("nan")


def by_kind(gains: Iterable[tuple[str, Gain]]) -> dict[str, list[Gain]]:
    """Sort gains by the kind of action."""
    found = defaultdict[str, list[Gain]](list)
    for kind, gain in gains:
        found[kind].append(gain)
    return dict(found)
