"""How the locator does in worlds that nobody tunes it to: odds, zones, and lines called quiet.

Run ``python -m tests.benchmarks.worlds``. The worlds are those of the simulator with its coupling
halved, as it is and doubled; rough noise (steps, drifts, dropouts); and waves in pipe and ground.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

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
    from collections.abc import Callable


def simulated(factor: float) -> Callable[[int, int], World]:
    """Return the draw of the simulator's world with its coupling multiplied."""

    def drawn(lines: int, seed: int) -> World:
        ranges = Ranges().scaled("coupling_sd_db", factor)
        fields = draw_fields(lines, seed, Conditions(tape_share=1.0, constants=ranges))
        layers = fields_to_layers(fields)
        leak = [np.nan if f.leak_chainage_m is None else f.leak_chainage_m for f in fields]
        other = ["" if f.truth.other is None else "source" for f in fields]
        names = pd.Index(layers.pop("truth")["line_id"], name="line_id")
        truth = {"leak_chainage_m": leak, "over_floor_db": np.inf, "other": other}
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
    truth = world.truth
    result = located(world.layers)
    found = estimates_of(result, [str(i) for i in truth.index])
    leak, over = truth["leak_chainage_m"].to_numpy(), truth["over_floor_db"].to_numpy()
    marked = np.array([e.chainage_m is not None for e in found])
    leaks, still = np.isfinite(leak), (truth["other"].fillna("") == "").to_numpy()
    loud, faint = leaks & (over >= LOUD_DB), leaks & (over < 0.0)
    outcomes = [outcome(at, e) for at, e in zip(leak, found, strict=True)]
    error, covered, length, claim = np.array(outcomes).T
    near = error <= FOOT_M
    bold = np.array([e.status == "located" for e in found])
    seen, dry = marked & leaks, ~leaks & still
    cells = [
        f"{leaks.sum()}", f"{near[leaks].mean():.3f}",
        f"{claim[seen].mean():.3f} / {near[seen].mean():.3f}", f"{covered[seen].mean():.3f}",
        f"{np.median(length[seen]):.2f} m", f"{(~marked[leaks]).mean():.3f}",
        f"{(~marked[loud]).mean():.3f}", f"{covered[loud & marked].mean():.3f}",
        f"{(~marked[dry]).mean():.3f}", f"{bold[still & (~leaks | faint)].mean():.3f}",
    ]  # fmt: skip
    return f"| {name} | " + " | ".join(cells) + " |"


HEADER = (
    "| world | leaks | within 1 ft | claim / came true | cover | zone | leaks quiet | "
    f"leaks of {LOUD_DB:.0f} dB quiet | their cover | dry quiet | dry or inaudible located |\n"
    "|---|---|---|---|---|---|---|---|---|---|---|"
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


if __name__ == "__main__":
    main()
