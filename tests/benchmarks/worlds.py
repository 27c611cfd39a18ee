"""How the locator does in worlds that nobody tunes it to: odds, zones, and lines called quiet.

Run ``python -m tests.benchmarks.worlds``. The worlds are those of the simulator with its coupling
halved, as it is and doubled; rough noise (steps, drifts, dropouts); and waves in pipe and ground.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.find.learn.tables import wilson
from leakgeo.simulate import Conditions
from leakgeo.simulate import World as Ranges
from leakgeo.simulate.job import fields_to_layers
from tests.benchmarks.draws import draw_fields
from tests.benchmarks.estimate import FOOT_M
from tests.benchmarks.own import estimates_of, located
from tests.benchmarks.score import outcome
from tests.worlds import rough_noise, waves
from tests.worlds.world import World

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tests.benchmarks.estimate import Estimate


def simulated(factor: float) -> Callable[[int, int], World]:
    """Return the draw of the simulator's world with its coupling multiplied."""

    def drawn(lines: int, seed: int) -> World:
        ranges = Ranges().scaled("coupling_sd_db", factor)
        fields = draw_fields(lines, seed, Conditions(tape_share=1.0, constants=ranges))
        layers = fields_to_layers(fields)
        leak = [np.nan if f.leak_chainage_m is None else f.leak_chainage_m for f in fields]
        other = ["" if f.truth.other is None else "source" for f in fields]
        names = pd.Index(layers.pop("truth")["line_id"], name="line_id")
        # It has no level above the background that its leaks could be sorted by.
        truth = {"leak_chainage_m": leak, "over_floor_db": np.nan, "other": other}
        return World(layers, pd.DataFrame(truth, index=names))

    return drawn


WORLDS: dict[str, Callable[[int, int], World]] = {
    "simulator, coupling x0.5": simulated(0.5),
    "simulator": simulated(1.0),
    "simulator, coupling x2": simulated(2.0),
    "rough noise": rough_noise.draw,
    "waves": waves.draw,
}
# A leak is loud if it is this far above the background where it is loudest.
LOUD_DB = 10.0


def row(name: str, world: World) -> str:
    """Return the row of one world in the table."""
    found = estimates_of(located(world.layers), [str(i) for i in world.truth.index])
    return f"| {name} | " + " | ".join(cells(world.truth, found)) + " |"


def cells(truth: pd.DataFrame, found: Sequence[Estimate]) -> list[str]:
    """Return the figures of one world, in groups that have one denominator each.

    Parameters
    ----------
    truth : pandas.DataFrame
        As `World` has it, one row for each line.
    found : sequence of Estimate
        What was found on each line, in the same order.
    """
    leak, over = truth["leak_chainage_m"].to_numpy(), truth["over_floor_db"].to_numpy()
    marked = np.array([e.chainage_m is not None for e in found])
    firm = np.array([e.status == "located" for e in found])
    leaks, still = np.isfinite(leak), (truth["other"].fillna("") == "").to_numpy()
    loud, faint = leaks & (over >= LOUD_DB), leaks & (over < 0.0)
    outcomes = [outcome(at, e) for at, e in zip(leak, found, strict=True)]
    error, covered, length, claim = np.array(outcomes, dtype=float).T
    # A mark on a line without a leak is within a foot of none: its error is nan.
    near = error <= FOOT_M
    seen, dry, silent = marked & leaks, ~leaks & still, still & (~leaks | faint)
    return [
        f"{leaks.sum()}", _share(near, leaks), _share(~marked, leaks),
        f"{seen.sum()}", _share(near, seen), _share(claim, seen), _share(covered, seen),
        f"{np.median(length[seen]):.2f} m" if seen.any() else "",
        f"{firm.sum()}", _share(near, firm), _share(claim, firm),
        f"{loud.sum()}", _share(~marked, loud), _share(covered, loud & marked),
        f"{dry.sum()}", _share(~marked, dry), f"{silent.sum()}", f"{(firm & silent).sum()}",
        _interval(int((firm & silent).sum()), int(silent.sum())),
    ]  # fmt: skip


def _share(what: np.ndarray, of: np.ndarray) -> str:
    """Return the mean of some lines, empty where there is none."""
    return f"{what[of].mean():.3f}" if of.any() else ""


def _interval(hits: int, lines: int) -> str:
    """Return Wilson's 95 % interval of a share, empty without lines: of few, none says little."""
    return " to ".join(f"{end:.3f}" for end in wilson(hits, lines)) if lines else ""


#: Groups of columns: the first column of each says how many, and the others are shares of these.
GROUPS = {
    "leaks": ("mark within 1 ft", "quiet"),
    "leaks with a mark": ("within 1 ft", "stated", "cover", "zone"),
    "firm marks, of all lines": ("within 1 ft", "stated"),
    f"leaks of {LOUD_DB:.0f} dB": ("quiet", "cover"),
    "dry lines": ("quiet",),
    "dry or inaudible lines": ("with a firm mark", "95 %"),
}
COLUMNS = [name for group, names in GROUPS.items() for name in (group, *names)]
HEADER = f"| world | {' | '.join(COLUMNS)} |\n|{'---|' * (len(COLUMNS) + 1)}"
NOTE = (
    "A column with a plural says how many, and the columns after it, to the next plural, are "
    "shares of these (zone: their median; with a firm mark: how many, and the 95 % interval of "
    "their share); the cover of loud leaks is of those with a mark. "
    "A mark is firm on a line that is located; one on a line without a leak counts as a miss."
)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=400, help="lines of each world")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--world", choices=list(WORLDS), help="only this one")
    args = parser.parse_args()
    print(HEADER)
    for name, draw in WORLDS.items():
        if args.world in (None, name):
            print(row(name, draw(args.lines, args.seed)), flush=True)
    print(f"\n{NOTE}")


if __name__ == "__main__":
    main()
