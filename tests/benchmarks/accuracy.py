"""How near the marks are, beside simple ways and beside the most that the readings can tell.

Run ``python -m tests.benchmarks.accuracy --fields 200 --seed 1``; everything is seeded. The limit
is a locator that is told every true constant of each line (see ``informed``).
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.simulate import Conditions, Constants, simulate_field
from tests.benchmarks.baselines import gaussian_process, loudest, middle_of_two
from tests.benchmarks.informed import informed
from tests.benchmarks.own import own
from tests.benchmarks.score import HEADER, groups, plot_reliability, reliability, score

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from leakgeo.simulate import Field
    from tests.benchmarks.estimate import Estimate

Locator = "Callable[[Sequence[Field]], list[Estimate]]"


def one_by_one(locate: Callable[[Field], Estimate]) -> Locator:
    """Make a locator of many fields from one of a single field."""
    return lambda fields: [locate(field) for field in fields]


METHODS: dict[str, Locator] = {
    "loudest reading": one_by_one(loudest),
    "middle of the two loudest": one_by_one(middle_of_two),
    "scikit-learn Gaussian process, peak": one_by_one(gaussian_process),
    "leakgeo": own,
    "limit: told every constant": one_by_one(informed),
}
TOLD = ("leakgeo", "limit: told every constant")


def draw_fields(n: int, seed: int, conditions: Conditions) -> list[Field]:
    """Draw fields, each from its own seed, so that more of them leave the first as they were."""
    return [simulate_field(np.random.default_rng([seed, i]), conditions) for i in range(n)]


def run(fields: Sequence[Field], names: Sequence[str]) -> dict[str, list[Estimate]]:
    """Let each method locate all fields, and print the time a line."""
    found = {}
    for name in names:
        begin = time.perf_counter()
        found[name] = METHODS[name](fields)
        each = (time.perf_counter() - begin) / max(len(fields), 1)
        print(f"- {name}: {1000 * each:.1f} ms a line")
    return found


def report(title: str, fields: Sequence[Field], names: Sequence[str], *, parts: bool) -> dict:
    """Print the table of one kind of field, and give the scores by method."""
    print(f"\n## {title}: {len(fields)} lines, {sum(f.leaks for f in fields)} leak\n")
    found = run(fields, names)
    scores = {name: score(fields, estimates) for name, estimates in found.items()}
    print("\n" + "\n".join([HEADER, *(s.row(name) for name, s in scores.items())]))
    if parts:
        told = [name for name in TOLD if name in scores]
        rows = [
            scores[name].of(mask).row(f"{part}: {name.split(':')[0]}")
            for part, mask in groups(fields).items()
            for name in told
        ]
        print("\n" + "\n".join([HEADER, *rows]))
    for name in TOLD:
        if name in found:
            _print_verdicts(name, fields, found[name])
    return scores


def _print_verdicts(name: str, fields: Sequence[Field], estimates: Sequence[Estimate]) -> None:
    """Print how often a leak, and no leak, is called so; and what bold claims are worth."""
    leaks = np.array([f.leaks for f in fields])
    quiet = np.array(
        [e.status == "no_leak_heard" if e.status else e.leak_probability < 0.5 for e in estimates]
    )
    print(f"\n{name}: no leak heard on {quiet[leaks].mean():.3f} of {leaks.sum()} lines that leak")
    if (~leaks).any():
        print(f"{name}: and on {quiet[~leaks].mean():.2f} of {(~leaks).sum()} that don't")
    result = score(fields, estimates)
    bold = result.claim > 0.8
    if bold.any():
        print(
            f"{name}: of {bold.sum()} claims over 0.8, {result.within_foot[bold].mean():.2f} hold"
        )


def arguments(given: Sequence[str] | None = None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fields", type=int, default=200, help="lines with taped positions")
    parser.add_argument(
        "--satellite",
        type=int,
        default=None,
        help="lines with fixes of each accuracy; a quarter of --fields if not given",
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--bands", default="wide", help="comma-separated: wide, low, high")
    parser.add_argument("--alone", action="store_true", help="no other sources")
    parser.add_argument(
        "--constant",
        action="append",
        default=[],
        help="constant of the simulator to scale; may be repeated",
    )
    parser.add_argument("--scale", type=float, default=2.0, help="factor for --constant")
    parser.add_argument("--without", action="append", default=[], help="method to leave out")
    parser.add_argument("--plot", type=Path, default=None, help="PNG of claims against outcome")
    return parser.parse_args(given)  # fmt: skip


def conditions_of(args: argparse.Namespace) -> Conditions:
    """Give the conditions that the command line asks for."""
    constants = Constants()
    for name in args.constant:
        constants = constants.scaled(name, args.scale)
    alone = {"other_source_share": 0.0} if args.alone else {}
    bands = tuple(args.bands.split(","))
    return Conditions(constants=constants, bands=bands, tape_share=1.0, **alone)


def main(given: Sequence[str] | None = None) -> None:
    """Run the benchmark."""
    args = arguments(given)
    conditions = conditions_of(args)
    names = [name for name in METHODS if name not in args.without]
    scores = report("Tape", draw_fields(args.fields, args.seed, conditions), names, parts=True)
    told = {name: scores[name] for name in TOLD if name in scores}
    for name, result in told.items():
        print(f"\n## Claims within one foot, {name}\n\n{reliability(result)}")
    if args.plot and plot_reliability(told, args.plot):
        print(f"\nPlot: {args.plot}")
    each = args.fields // 4 if args.satellite is None else args.satellite
    for sd in Constants().fix_sd_m if each else ():
        fixes = replace(conditions, fix_sd_m=sd)
        fields = draw_fields(each, args.seed + 1, fixes)
        report(f"Satellite fixes, {sd} m", fields, names, parts=False)


if __name__ == "__main__":
    main()
