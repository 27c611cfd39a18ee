"""How the locator does on walks by satellite, beside one that is told steps and errors.

Run ``python -m tests.benchmarks.satellite``. The worlds are those of `tests.worlds.satellite`, and
the simulator with white fixes; nothing is tuned to the former. A locator that is told the true
steps and the law of the errors is the limit. The last column is the share of the loudest reading.
"""

from __future__ import annotations

import argparse
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.simulate import Conditions
from leakgeo.simulate import World as Ranges
from leakgeo.simulate.job import fields_to_layers
from tests.benchmarks.baselines import loudest
from tests.benchmarks.draws import draw_fields
from tests.benchmarks.estimate import FOOT_M
from tests.benchmarks.own import estimates_of, located
from tests.benchmarks.score import outcome
from tests.worlds.satellite import KINDS, SIZES_M, draw
from tests.worlds.world import World

if TYPE_CHECKING:
    from collections.abc import Callable

# A leak is audible if it is this far above the background where it is loudest.
AUDIBLE_DB = 6.0


def simulated(sd_m: float, share: tuple[float, float], lines: int, seed: int) -> World:
    """Draw the simulator's lines with fixes of one size, and a share of drift in their errors."""
    ranges = Ranges(common_share=share)
    conditions = Conditions(tape_share=0.0, fix_sd_m=sd_m, constants=ranges)
    fields = draw_fields(lines, seed, conditions)
    layers = fields_to_layers(fields)
    names = pd.Index(layers.pop("truth")["line_id"], name="line_id")
    truth = {
        "leak_chainage_m": [f.leak_chainage_m if f.leaks else np.nan for f in fields],
        "over_floor_db": [np.inf if f.leaks else np.nan for f in fields],
        "loudest_m": [loudest(f).chainage_m for f in fields],
    }
    return World(layers, pd.DataFrame(truth, index=names))


WORLDS: dict[str, Callable[[int, int], World]] = {
    "simulator white 1.5 m": partial(simulated, 1.5, (0.0, 0.0)),
    "simulator drift 1.5 m": partial(simulated, 1.5, (0.4, 0.8)),
    **{f"{k} {s} m": partial(draw, kind=k, sd_m=s) for k in KINDS for s in SIZES_M},
    "mixture 1.5 m": partial(draw, kind="mixture", sd_m=1.5),
}


def row(name: str, world: World) -> str:
    """Return the row of one world in the table."""
    truth = world.truth
    found = estimates_of(located(world.layers), [str(i) for i in truth.index])
    leak = truth["leak_chainage_m"].to_numpy()
    audible = np.isfinite(leak) & (truth["over_floor_db"].to_numpy() >= AUDIBLE_DB)
    marked = np.array([e.chainage_m is not None for e in found])
    outcomes = [outcome(at, e) for at, e in zip(leak, found, strict=True)]
    error, covered, length, claim = np.array(outcomes).T
    near, seen = error <= FOOT_M, audible & marked
    ear = np.abs(truth["loudest_m"].to_numpy() - leak) <= FOOT_M
    cells = [
        f"{audible.sum()}", f"{near[audible].mean():.3f}",
        f"{claim[seen].mean():.3f} / {near[seen].mean():.3f}", f"{covered[seen].mean():.3f}",
        f"{np.median(length[seen]):.2f} m", f"{(~marked[audible]).mean():.3f}",
        f"{ear[audible].mean():.3f}",
    ]  # fmt: skip
    return f"| {name} | " + " | ".join(cells) + " |"


HEADER = (
    f"| world | leaks of {AUDIBLE_DB:.0f} dB | within 1 ft | claim / came true | cover | zone | "
    "quiet | loudest |\n|---|---|---|---|---|---|---|---|"
)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=100, help="lines of each world")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--world", choices=list(WORLDS), action="append", help="only these")
    args = parser.parse_args()
    print(HEADER)
    for name, drawn in WORLDS.items():
        if not args.world or name in args.world:
            print(row(name, drawn(lines=args.lines, seed=args.seed)), flush=True)


if __name__ == "__main__":
    main()
