"""How the locator does on walks by satellite, beside one that is told steps and errors.

Run ``python -m tests.benchmarks.satellite``. The worlds are those of `tests.worlds.satellite`, and
the simulator; nothing is tuned to the former. The last two columns are the shares within a foot of
a locator that is told where the crew turned, the steps, and the law of the errors; and of the
loudest reading. Of the simulator the former is `tests.benchmarks.informed`, which is told
everything but the place.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING
from unittest.mock import patch

import numpy as np
import pandas as pd

from leakgeo.find.levels import readings as levels
from leakgeo.find.levels.segments import placed_by_steps
from leakgeo.find.levels.walks import WalkPositions
from leakgeo.simulate import Conditions
from leakgeo.simulate import World as Ranges
from leakgeo.simulate.job import fields_to_layers
from tests.benchmarks.baselines import loudest
from tests.benchmarks.draws import draw_fields
from tests.benchmarks.estimate import FOOT_M
from tests.benchmarks.informed import informed
from tests.benchmarks.own import estimates_of, located
from tests.benchmarks.score import outcome
from tests.worlds import satellite
from tests.worlds.satellite import KINDS, SIZES_M, draw_with_secrets
from tests.worlds.world import World

if TYPE_CHECKING:
    from collections.abc import Callable

    from leakgeo.arrays import Floats, Ints
    from tests.benchmarks.estimate import Estimate

# A leak is audible if it is this far above the background where it is loudest.
AUDIBLE_DB = 6.0


@dataclass(frozen=True)
class Drawn:
    """A world, and the estimates of a locator that is told its secrets."""

    world: World
    told: Callable[[], list[Estimate]]


def simulated(sd_m: float, share: tuple[float, float], lines: int, seed: int) -> Drawn:
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
    world = World(layers, pd.DataFrame(truth, index=names))
    return Drawn(world, lambda: [informed(f) for f in fields])


def walked(kind: str, sd_m: float, lines: int, seed: int) -> Drawn:
    """Draw a world of `tests.worlds.satellite`."""
    world, secrets = draw_with_secrets(lines, seed, kind, sd_m)
    own = secrets.set_index("reading_id")

    def told() -> list[Estimate]:
        with patch.object(levels, "walk_positions", partial(told_positions, own)):
            return _estimates(world)

    return Drawn(world, told)


def told_positions(secrets: pd.DataFrame, own: pd.DataFrame, line: Ints, *_: object
                   ) -> WalkPositions:  # fmt: skip
    """Stand in for `walk_positions`: runs, steps and law of the errors are told."""
    n = len(own)
    a, b, c, d, e = np.zeros((5, n))
    found = WalkPositions(
        own["chainage_m"].to_numpy(copy=True), a, b, c, d, e, np.zeros(n, int), []
    )
    first = 0
    for k in np.unique(line):
        rows = np.flatnonzero(line == k)
        rows = rows[np.argsort(secrets["second"].loc[own["reading_id"].iloc[rows]].to_numpy())]
        know = secrets.loc[own["reading_id"].iloc[rows]]
        run, step = _told_runs(know)
        paced = placed_by_steps(
            found.chainage_m[rows], _told_covariance(know), run, step, np.full(len(step), 1e-6),
            step,
        )  # fmt: skip
        found.chainage_m[rows], found.own_sd_m[rows] = paced.chainage_m, paced.own_sd_m
        found.shift_sd_m[rows], found.spacing_sd_m[rows] = (
            paced.shift_sd_m[run], paced.spacing_sd_m[run]
        )  # fmt: skip
        found.stops_from_middle[rows], found.common_sd_m[rows] = (
            paced.stops_from_middle, paced.common_sd_m
        )  # fmt: skip
        found.run[rows] = first + run
        first += len(step)
    return found


def _told_runs(know: pd.DataFrame) -> tuple[Ints, Floats]:
    """Return the runs and their steps, positive along the route."""
    run = np.unique(know["part"], return_inverse=True)[1]
    ahead = know["true_m"].groupby(run).agg(lambda x: np.sign(x.iloc[-1] - x.iloc[0]))
    return run, (know["step_m"].groupby(run).first() * ahead).to_numpy()


def _told_covariance(know: pd.DataFrame) -> Floats:
    """Return the covariance of the errors; jumps are normal errors with their variance."""
    size, kind = float(know["size_m"].iloc[0]), know["kind"].iloc[0]
    n, share = len(know), satellite.DRIFT_SHARE
    if kind != "drift":
        return size**2 * np.eye(n)
    slow = satellite.drift_correlation(know["second"].to_numpy())
    return size**2 * (share * slow + (1.0 - share) * np.eye(n))


WORLDS: dict[str, Callable[[int, int], Drawn]] = {
    "simulator white 1.5 m": partial(simulated, 1.5, (0.0, 0.0)),
    "simulator drift 1.5 m": partial(simulated, 1.5, (0.4, 0.8)),
    **{f"{k} {s} m": partial(walked, k, s) for k in KINDS for s in SIZES_M},
    "mixture 1.5 m": partial(walked, "mixture", 1.5),
}


def _estimates(world: World) -> list[Estimate]:
    return estimates_of(located(world.layers), [str(i) for i in world.truth.index])


def row(name: str, drawn: Drawn, *, told: bool) -> str:
    """Return the row of one world in the table."""
    truth = drawn.world.truth
    found = _estimates(drawn.world)
    leak = truth["leak_chainage_m"].to_numpy()
    audible = np.isfinite(leak) & (truth["over_floor_db"].to_numpy() >= AUDIBLE_DB)
    marked = np.array([e.chainage_m is not None for e in found])
    outcomes = [outcome(at, e) for at, e in zip(leak, found, strict=True)]
    error, covered, length, claim = np.array(outcomes).T
    near, seen = error <= FOOT_M, audible & marked
    best, silent = np.full((2, len(leak)), np.nan)
    if told:
        most = drawn.told()
        best = np.array([outcome(at, e)[0] <= FOOT_M for at, e in zip(leak, most, strict=True)])
        silent = np.array([e.chainage_m is None for e in most])
    ear = np.abs(truth["loudest_m"].to_numpy() - leak) <= FOOT_M
    cells = [
        f"{audible.sum()}", f"{near[audible].mean():.3f}",
        f"{claim[seen].mean():.3f} / {near[seen].mean():.3f}", f"{covered[seen].mean():.3f}",
        f"{np.median(length[seen]):.2f} m", f"{(~marked[audible]).mean():.3f}",
        f"{best[audible].mean():.3f} / {silent[audible].mean():.3f}", f"{ear[audible].mean():.3f}",
    ]  # fmt: skip
    return f"| {name} | " + " | ".join(cells) + " |"


HEADER = (
    f"| world | leaks of {AUDIBLE_DB:.0f} dB | within 1 ft | claim / came true | cover | zone | "
    "quiet | told / quiet | loudest |\n|---|---|---|---|---|---|---|---|---|"
)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=100, help="lines of each world")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--no-told", action="store_true", help="leave out the locator told more")
    parser.add_argument("--world", choices=list(WORLDS), action="append", help="only these")
    args = parser.parse_args()
    print(HEADER)
    for name, drawn in WORLDS.items():
        if not args.world or name in args.world:
            done = drawn(args.lines, args.seed)
            print(row(name, done, told=not args.no_told), flush=True)


if __name__ == "__main__":
    main()
