"""What a walk beside a tap opened to a trickle gains: zones with and without it, and its bits.

Run ``python -m tests.benchmarks.trickle``. Each line is located twice, from the same readings but
for those of the tap. Bits are the logarithm to base 2 of the density of the leak at its true place,
with the walk over without it; those expected are `leakgeo.find.advise.trickle.trickle_gain_bits`.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.advise.cramer_rao import Listening
from leakgeo.find.advise.trickle import trickle_gain_bits
from leakgeo.find.levels.readings import readings_by_line
from leakgeo.find.locate.step import spreading_of
from leakgeo.find.posterior.tap_calibration import taught_by_taps
from leakgeo.route.lines import lines_in
from leakgeo.sound.constants import constants_in
from tests.benchmarks.estimate import FOOT_M
from tests.benchmarks.own import estimates_of, located
from tests.benchmarks.score import outcome
from tests.worlds.trickle import STOPS, WORLDS
from tests.worlds.world import World

if TYPE_CHECKING:
    from leakgeo.result import Result


@dataclass(frozen=True)
class Compared:
    """Leaking lines of a world that have a mark either way, and whose tap taught.

    Parameters
    ----------
    without, with_tap : ndarray, shape (n, 4)
        As `tests.benchmarks.score.outcome`.
    bits, expected : ndarray, shape (n,)
    """

    without: np.ndarray
    with_tap: np.ndarray
    bits: np.ndarray
    expected: np.ndarray


def compared(world: World) -> Compared:
    """Locate a world with the walks beside taps, and without them."""
    quiet = world.layers["readings"]
    quiet = quiet[quiet["tap_open"].isna()].drop(columns="tap_open").reset_index(drop=True)
    done = located(world.layers), located({**world.layers, "readings": quiet})
    names = [str(i) for i in world.truth.index]
    found = [estimates_of(each, names) for each in done]
    taught, expected = _taught(done[0]), _expected(done[1], world)
    rows = [
        (outcome(leak, before), outcome(leak, after), _log2_density(done, name, leak),
         expected[name])
        for name, leak, after, before in zip(
            names, world.truth["leak_chainage_m"], *found, strict=True)
        if np.isfinite(leak) and name in taught and before.zones_m is not None
        and after.zones_m is not None
    ]  # fmt: skip
    without, with_tap, bits, gain = zip(*rows, strict=True)
    return Compared(np.array(without), np.array(with_tap), np.array(bits), np.array(gain))


def _taught(result: Result) -> set[str]:
    lines = lines_in(result)
    found = taught_by_taps(result["readings_on_route"], lines, constants_in(result))
    return {str(lines.table.index[k]) for k in found}


def _log2_density(done: tuple[Result, Result], name: str, leak_m: float) -> float:
    after, before = (_log2_at(each, name, leak_m) for each in done)
    return after - before


def _log2_at(result: Result, name: str, leak_m: float) -> float:
    own = result["profile"]
    own = own[own["line_id"] == name]
    log2 = np.log2(np.maximum(own["leak_density_per_m"], 1e-9))
    return float(np.interp(leak_m, own["chainage_m"], log2))


def _expected(result: Result, world: World) -> dict[str, float]:
    """Return the expected bits of each line, at its mark, before the walk."""
    lines, constants = lines_in(result), constants_in(result)
    marks = result["marks"].set_index("line_id")["chainage_m"]
    tap = world.layers["contacts"].set_index("line_id").geometry
    gain = {}
    for k, own in readings_by_line(result["readings_on_route"], lines, constants):
        name, length = str(lines.table.index[k]), float(lines.length_m[k])
        if name not in marks.index:
            continue
        known = bool(np.isfinite(lines.depth_m[k]))
        now = Listening(own.chainage_m, own.position_sd_m, own.smear_m,
                        spreading_of(lines, k, constants), length, known)  # fmt: skip
        at = float(lines.routes.lines[k].project(tap[name]))
        gain[name] = trickle_gain_bits(now, [marks[name]], at, constants, STOPS)
    return gain


def row(name: str, found: Compared) -> str:
    """Return the row of one world in the table."""
    cells = [name, f"{len(found.bits)}"]
    for (error, cover, length, claim), near in (
        (each.T, each[:, 0] <= FOOT_M) for each in (found.without, found.with_tap)
    ):
        cells += [
            f"{np.median(length):.2f} / {length.mean():.2f} m", f"{near.mean():.3f}",
            f"{claim.mean():.3f}", f"{cover.mean():.3f}", f"{np.median(error):.2f} m",
        ]  # fmt: skip
    se = found.bits.std() / len(found.bits) ** 0.5
    cells += [f"{found.expected.mean():.3f}", f"{found.bits.mean():.3f} ± {se:.3f}"]
    return "| " + " | ".join(cells) + " |"


_EACH = "zone, median / mean | within 1 ft | claim | cover | error"
HEADER = (
    f"| world | leaks | {_EACH} | with the tap: {_EACH} | bits expected | bits |\n"
    "|---|---|---|---|---|---|---|---|---|---|---|---|---|---|"
)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=100, help="lines of each world")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--world", choices=list(WORLDS), help="only this one")
    args = parser.parse_args()
    print(HEADER)
    for name, draw in WORLDS.items():
        if args.world in (None, name):
            print(row(name, compared(draw(args.lines, args.seed))), flush=True)


if __name__ == "__main__":
    main()
