"""How far marks are off, whether zones hold the leak, and whether claims come true."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.estimate import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.simulate import Recorded
    from tests.benchmarks.estimate import Estimate


@dataclass(frozen=True)
class Score:
    """Outcome on each leaking field; a field without a mark counts as infinitely far off.

    Parameters
    ----------
    error_m : ndarray, shape (n,)
    covered : ndarray, shape (n,)
        1 where a zone holds the leak, 0 where none does, nan with no zones.
    length_m : ndarray, shape (n,)
        Total length of zones, nan with none.
    claim : ndarray, shape (n,)
        Claimed probability within a foot, nan with none.
    """

    error_m: np.ndarray
    covered: np.ndarray
    length_m: np.ndarray
    claim: np.ndarray

    def of(self, chosen: np.ndarray) -> Score:
        """Give the score of some of the fields."""
        return Score(
            self.error_m[chosen], self.covered[chosen], self.length_m[chosen], self.claim[chosen]
        )

    @property
    def marked(self) -> Score:
        """The fields with a mark."""
        return self.of(np.isfinite(self.claim))

    @property
    def within_foot(self) -> np.ndarray:
        """Whether each mark is within a foot."""
        return self.error_m <= FOOT_M

    def cells(self) -> dict[str, str]:
        """Give the cells of a row of the table."""
        zone, told = np.isfinite(self.length_m), np.isfinite(self.claim)
        return {
            "lines": f"{self.error_m.size}",
            "within 1 ft": f"{self.within_foot.mean():.3f}",
            "within 1 m": f"{(self.error_m <= 1).mean():.3f}",
            "median error": f"{np.median(self.error_m):.2f} m",
            "cover": f"{np.nanmean(self.covered):.3f}" if zone.any() else "",
            "length": f"{np.nanmedian(self.length_m):.2f} m" if zone.any() else "",
            "claim": f"{np.nanmean(self.claim):.3f}" if told.any() else "",
        }

    def row(self, name: str) -> str:
        """Give one row of the table."""
        if self.error_m.size == 0:
            return f"| {name} | 0 | | | | | | |"
        return f"| {name} | " + " | ".join(self.cells().values()) + " |"


HEADER = (
    "| method | lines | within 1 ft | within 1 m | median error | 90 % zone: cover | "
    "median length | claims within 1 ft |\n|---|---|---|---|---|---|---|---|"
)


def score(fields: Sequence[Recorded], estimates: Sequence[Estimate]) -> Score:
    """Score estimates on the leaking ones of the fields."""
    pairs = [(f, e) for f, e in zip(fields, estimates, strict=True) if f.leaks]
    rows = np.array([outcome(f.leak_chainage_m, e) for f, e in pairs]).reshape(-1, 4)
    return Score(*rows.T)


def outcome(leak_m: float, e: Estimate) -> tuple[float, float, float, float]:
    """Give error, cover, length of zones and claim of one estimate, as `Score` has them."""
    claim = np.nan if e.probability_within_1ft is None else e.probability_within_1ft
    error = np.inf if e.chainage_m is None else abs(e.chainage_m - leak_m)
    if e.zones_m is None:
        return error, np.nan, np.nan, claim
    held = (e.zones_m[:, 0] <= leak_m) & (leak_m <= e.zones_m[:, 1])
    return error, float(held.any()), float(np.diff(e.zones_m, axis=1).sum()), claim


def groups(fields: Sequence[Recorded]) -> dict[str, np.ndarray]:
    """Give the leaking fields of each condition, as masks over the leaking ones."""
    leaking = [f for f in fields if f.leaks]
    grounds = [f.truth.ground for f in leaking]
    under = [
        g.surfaces[int(g.stretch(np.asarray(f.truth.leak_chainage_m)))]
        for f, g in zip(leaking, grounds, strict=True)
    ]
    hard = np.isin(under, ["concrete", "asphalt", "tile", "paver"])
    masks = {
        "metal": np.array([g.metal for g in grounds]),
        "plastic": np.array([not g.metal for g in grounds]),
        "slab over the leak": hard,
        "soft ground over the leak": ~hard,
        "surface changes": np.array([len(g.surfaces) > 1 for g in grounds]),
        "another source": np.array([f.truth.other is not None for f in leaking]),
        "gain untold": np.array([bool(np.isnan(f.gain_db).any()) for f in leaking]),
        "linear display": np.array([f.unit == "scale" for f in leaking]),
    }
    return {name: mask.astype(bool) for name, mask in masks.items()}


@dataclass(frozen=True)
class Tenth:
    """Claims of one tenth: how many, their mean, the share that came true, and its margin."""

    low: float
    count: int
    claim: float
    came: float

    @property
    def chance(self) -> float:
        """What chance does to the share in 95 % of cases, were the claims right."""
        return 1.96 * float(np.sqrt(self.claim * (1 - self.claim) / self.count))


def tenths(claim: np.ndarray, came: np.ndarray) -> list[Tenth]:
    """Sort claims, of which some came true, by tenths."""
    of = np.minimum((claim * 10 + 1e-9).astype(int), 9)
    some = [(k, of == k) for k in range(10) if (of == k).any()]
    return [Tenth(k / 10, int(m.sum()), claim[m].mean(), came[m].mean()) for k, m in some]


def reliability(claim: np.ndarray, came: np.ndarray, what: str = "marks") -> str:
    """Lay claims beside what came true, by tenths of the claim."""
    lines = ["| claim | lines | mean claim | came true | 95 % by chance |", "|---|---|---|---|---|"]
    lines += [
        f"| {t.low:.1f} to {t.low + 0.1:.1f} | {t.count} | {t.claim:.2f} | {t.came:.2f} | "
        f"{t.claim:.2f} ± {t.chance:.2f} |"
        for t in tenths(claim, came)
    ]
    lines.append(f"| all {what} | {claim.size} | {claim.mean():.3f} | {came.mean():.3f} | |")
    return "\n".join(lines)


def against(result: Score, limit: Score, draws: int = 1000) -> str:
    """Set a method against the limit on the same lines, with standard errors by bootstrap."""
    if not limit.within_foot.any():
        return "the limit has no mark within 1 ft"
    pick = np.random.default_rng(0).integers(0, result.error_m.size, (draws, result.error_m.size))
    hits, most = result.within_foot, limit.within_foot
    share = hits.mean() / most.mean()
    share_se = (hits[pick].mean(axis=1) / np.maximum(most[pick].mean(axis=1), 1e-9)).std()
    length, least = result.length_m, limit.length_m
    times = np.nanmedian(length) / np.nanmedian(least)
    times_se = (np.nanmedian(length[pick], axis=1) / np.nanmedian(least[pick], axis=1)).std()
    return (
        f"within 1 ft, of the limit's share: {share:.3f} ± {share_se:.3f}; "
        f"zone, times the limit's: {times:.2f} ± {times_se:.2f}"
    )
