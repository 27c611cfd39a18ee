"""How far marks are off, whether zones hold the leak, and whether claims come true."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.estimate import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.simulate import Field
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
    def within_foot(self) -> np.ndarray:
        """Whether each mark is within a foot."""
        return self.error_m <= FOOT_M

    def row(self, name: str) -> str:
        """Give one row of the table."""
        n = self.error_m.size
        if n == 0:
            return f"| {name} | 0 | | | | | | |"
        zone = np.isfinite(self.length_m)
        cover = f"{np.nanmean(self.covered):.2f}" if zone.any() else ""
        length = f"{np.nanmedian(self.length_m):.2f} m" if zone.any() else ""
        claim = f"{np.nanmean(self.claim):.2f}" if np.isfinite(self.claim).any() else ""
        return (
            f"| {name} | {n} | {self.within_foot.mean():.2f} | {(self.error_m <= 1).mean():.3f} | "
            f"{np.median(self.error_m):.2f} m | {cover} | {length} | {claim} |"
        )


HEADER = (
    "| method | lines | within 1 ft | within 1 m | median error | 90 % zone: cover | "
    "median length | claims within 1 ft |\n|---|---|---|---|---|---|---|---|"
)


def score(fields: Sequence[Field], estimates: Sequence[Estimate]) -> Score:
    """Score estimates on the leaking ones of the fields."""
    pairs = [(f, e) for f, e in zip(fields, estimates, strict=True) if f.leaks]
    rows = np.array([_outcome(f.leak_chainage_m, e) for f, e in pairs]).reshape(-1, 4)
    return Score(*rows.T)


def _outcome(leak_m: float, e: Estimate) -> tuple[float, float, float, float]:
    claim = np.nan if e.probability_within_1ft is None else e.probability_within_1ft
    error = np.inf if e.chainage_m is None else abs(e.chainage_m - leak_m)
    if e.zones_m is None:
        return error, np.nan, np.nan, claim
    held = (e.zones_m[:, 0] <= leak_m) & (leak_m <= e.zones_m[:, 1])
    return error, float(held.any()), float(np.diff(e.zones_m, axis=1).sum()), claim


def groups(fields: Sequence[Field]) -> dict[str, np.ndarray]:
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


def reliability(result: Score) -> str:
    """Lay claims within a foot against what came true, by tenths of the claim."""
    claim, came = result.claim, result.within_foot
    lines = ["| claim | lines | mean claim | came true | 95 % by chance |", "|---|---|---|---|---|"]
    for low in np.arange(0.0, 1.0, 0.1):
        some = (claim >= low) & ((claim < low + 0.1) | (low > 0.85))
        if some.any():
            mean = claim[some].mean()
            chance = 1.96 * np.sqrt(mean * (1 - mean) / some.sum())
            lines.append(
                f"| {low:.1f} to {low + 0.1:.1f} | {some.sum()} | {mean:.2f} | "
                f"{came[some].mean():.2f} | {mean:.2f} ± {chance:.2f} |"
            )
    lines.append(f"| all | {claim.size} | {np.nanmean(claim):.3f} | {came.mean():.3f} | |")
    return "\n".join(lines)


def plot_reliability(results: dict[str, Score], path) -> bool:
    """Draw claims against what came true, a line a method; False where matplotlib is missing."""
    try:
        import matplotlib as mpl
    except ImportError:
        return False
    mpl.use("Agg")
    import matplotlib.pyplot as plt

    figure, axes = plt.subplots(figsize=(5, 5), layout="constrained")
    axes.plot([0, 1], [0, 1], color="0.6", linestyle="--", label="claims that come true")
    for name, result in results.items():
        tenth = np.minimum((result.claim * 10).astype(int), 9)
        used = [k for k in range(10) if (tenth == k).sum() >= 5]
        mean = [result.claim[tenth == k].mean() for k in used]
        came = np.array([result.within_foot[tenth == k].mean() for k in used])
        n = np.array([(tenth == k).sum() for k in used])
        bar = 1.96 * np.sqrt(np.maximum(came * (1 - came), 0.02) / n)
        axes.errorbar(mean, came, yerr=bar, marker="o", capsize=3, label=f"{name} ({n.sum()})")
    axes.set(xlim=(0, 1), ylim=(0, 1.02), xlabel="Claimed probability within one foot",
             ylabel="Share that was within one foot", title="Do the claims come true?")  # fmt: skip
    axes.legend(loc="upper left", frameon=False)
    figure.savefig(path, dpi=150)
    plt.close(figure)
    return True
