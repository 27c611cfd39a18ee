"""The picture of the benchmark: do claims come true, and how far off are marks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.estimate import FOOT_M
from tests.benchmarks.score import tenths

if TYPE_CHECKING:
    from pathlib import Path

    from tests.benchmarks.score import Score

# Okabe and Ito's colours, told apart by most eyes; and a dash of its own for each.
COLOURS = ("#999999", "#E69F00", "#009E73", "#0072B2", "#000000")
DASHES = ("-", "-.", (0, (4, 1, 1, 1)), "-", "--")
AXIS_M = (0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10)


def plot(results: dict[str, Score], path: Path) -> bool:
    """Draw both panels, a line a method; False where matplotlib is missing."""
    try:
        import matplotlib as mpl
    except ImportError:
        return False
    mpl.use("Agg")
    import matplotlib.pyplot as plt

    figure, (left, right) = plt.subplots(1, 2, figsize=(10, 4.4), layout="constrained")
    styles = dict(zip(results, zip(COLOURS, DASHES, strict=True), strict=False))
    for name, result in results.items():
        colour, dash = styles[name]
        _errors(right, name, result, colour, dash)
        if np.isfinite(result.claim).any():
            _claims(left, name, result, colour)
    _finish(left, right)
    figure.savefig(path, dpi=100, pil_kwargs={"optimize": True})
    plt.close(figure)
    return True


def _errors(axes, name: str, result: Score, colour: str, dash) -> None:
    error = np.sort(np.maximum(result.error_m, AXIS_M[0]))
    share = np.arange(1, error.size + 1) / error.size
    wide = 2.4 if name == "leakgeo" else 1.5
    axes.step(error, share, where="post", color=colour, linestyle=dash, linewidth=wide, label=name)


def _claims(axes, name: str, result: Score, colour: str) -> None:
    marked = result.marked
    rows = [r for r in tenths(marked.claim, marked.within_foot) if r.count >= 5]
    mean, came = np.array([r.claim for r in rows]), np.array([r.came for r in rows])
    chance = np.array([r.chance for r in rows])
    shift = 0.006 if name == "leakgeo" else -0.006  # Bars side by side can be told apart.
    bars = np.minimum(chance, [came, 1 - came])
    axes.errorbar(
        mean + shift, came, yerr=bars, marker="o", markersize=4.5, capsize=3, color=colour,
        linestyle="-" if name == "leakgeo" else "--", label=f"{name} ({result.claim.size} lines)",
    )  # fmt: skip


def _finish(left, right) -> None:
    left.plot([0, 1], [0, 1], color="0.75", linewidth=1, label="claims that come true")
    left.set(xlim=(0, 1), ylim=(0, 1.05), xlabel="Claimed probability within one foot",
             ylabel="Share within one foot", title="Do the claims come true?")  # fmt: skip
    left.legend(loc="upper left", frameon=False, fontsize=9)
    right.axvline(FOOT_M, color="0.75", linewidth=1)
    right.text(
        FOOT_M * 0.95, 0.95, "one foot", horizontalalignment="right", color="0.4", fontsize=9
    )
    right.set_xscale("log")
    right.set_xticks(AXIS_M, [f"{x:g}" for x in AXIS_M])
    right.set_xticks([], minor=True)
    right.set(xlim=(AXIS_M[0], AXIS_M[-1]), ylim=(0, 1.02), xlabel="Error of the mark, m",
              ylabel="Share of lines", title="How far off are the marks?")  # fmt: skip
    right.legend(loc="lower right", edgecolor="none", framealpha=0.9, fontsize=9)
