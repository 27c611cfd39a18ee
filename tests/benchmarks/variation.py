"""What becomes of the claims when the ground is not as the simulator has it.

Each constant of the simulator is made twice and half what it was (those in decibels are moved by as
many), and leakgeo locates fresh lines with its own constants left as they are. Run
``python -m tests.benchmarks.variation --fields 200 --seed 1``; ``accuracy --vary`` does the same.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from leakgeo.simulate import Conditions, World
from tests.benchmarks.draws import draw_fields
from tests.benchmarks.own import own
from tests.benchmarks.score import score

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

SCALED = (
    "coupling_sd_db", "coupling_length_m", "reading_sd_db", "burst_share", "burst_db",
    "bad_contact_share", "bad_contact_db", "soil_db_per_m", "plastic_db_per_m",
    "metal_carries_times", "metal_reflects", "depth_m", "slab_m", "soft_m", "surface_step_sd_db",
    "least_excess_db", "tape_sd_m", "stride_sd_m", "depth_known_ratio_sd",
)  # fmt: skip
MOVED_DB = {"pipe_radiates_db": 3.0, "source_level_db": 6.0, "floor_db": 6.0,
            "other_excess_db": 6.0}  # fmt: skip
# What is told of a satellite fix, and how much of its error a walk shares.
OF_FIXES = ("claimed_sd_ratio", "common_share", "common_readings", "trace_sd_m")
FIX_SD_M = 1.5
HEADER = (
    "| constant | changed | lines | within 1 ft | claim | 90 % zone: cover | median length |\n"
    "|---|---|---|---|---|---|---|"
)


def variations() -> Iterator[tuple[str, str, Conditions]]:
    """Give the name of a constant, how it is changed, and the conditions with it changed."""
    tape = Conditions(tape_share=1.0)
    yield "as they are, tape", "", tape
    for name in SCALED:
        for factor in (0.5, 2.0):
            changed = World().scaled(name, factor)
            yield name, f"x {factor:g}", replace(tape, constants=changed)
    for name, by in MOVED_DB.items():
        for sign in (-1.0, 1.0):
            yield name, f"{sign * by:+g} dB", replace(tape, constants=moved(name, sign * by))
    fixes = replace(tape, fix_sd_m=FIX_SD_M)
    yield f"as they are, fixes of {FIX_SD_M} m", "", fixes
    for name in OF_FIXES:
        for factor in (0.5, 2.0):
            changed = World().scaled(name, factor)
            yield f"{name}, fixes", f"x {factor:g}", replace(fixes, constants=changed)


def moved(name: str, by: float) -> World:
    """Give the constants with one range moved."""
    constants = World()
    return replace(constants, **{name: tuple(v + by for v in getattr(constants, name))})


def table(fields: int, seed: int) -> Iterator[str]:
    """Give the rows of the table as they are done."""
    yield HEADER
    for name, how, conditions in variations():
        drawn = draw_fields(fields, seed, conditions)
        cells = score(drawn, own(drawn)).cells()
        kept = ("lines", "within 1 ft", "claim", "cover", "length")
        yield f"| {name} | {how} | " + " | ".join(cells[k] for k in kept) + " |"


def main(given: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fields", type=int, default=200, help="lines of each row")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args(given)
    for line in table(args.fields, args.seed):
        print(line, flush=True)


if __name__ == "__main__":
    main()
