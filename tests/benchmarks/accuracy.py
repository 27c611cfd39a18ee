"""How near the marks are, beside simple ways and beside the most that the readings can tell.

Run ``python -m tests.benchmarks.accuracy``; everything is seeded. The limit is a locator that is
told every true constant of each line (see ``informed``); it is slow, so it is asked about the first
lines only. ``--quick`` takes a minute, ``--vary`` prints what other grounds do to the claims.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.simulate import Conditions, World
from tests.benchmarks import efficiency, variation
from tests.benchmarks.baselines import gaussian_process, loudest, middle_of_two
from tests.benchmarks.draws import draw_fields
from tests.benchmarks.informed import informed
from tests.benchmarks.own import own
from tests.benchmarks.plots import plot
from tests.benchmarks.score import HEADER, against, groups, reliability, score
from tests.benchmarks.timing import timing

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from leakgeo.simulate import Recorded
    from tests.benchmarks.estimate import Estimate
    from tests.benchmarks.score import Score

Locator = "Callable[[Sequence[Recorded]], list[Estimate]]"
SIMPLE: dict[str, Callable[[Recorded], Estimate]] = {
    "loudest reading": loudest,
    "middle of the two loudest": middle_of_two,
    "scikit-learn Gaussian process, peak": gaussian_process,
}
OWN, LIMIT = "leakgeo", "limit: told every constant"
HERE = " (where the limit was asked)"


class Bench:
    """The methods, and how many lines each is asked about."""

    def __init__(self, args: argparse.Namespace) -> None:
        self.args = args

    def scores(self, fields: Sequence[Recorded], limited: int) -> dict[str, Score]:
        """Score every method; the limit, and leakgeo once more beside it, on the first lines."""
        found = {name: [locate(f) for f in fields] for name, locate in SIMPLE.items()}
        if not self.args.without_own:
            found[OWN] = own(fields)
        scores = {name: score(fields, estimates) for name, estimates in found.items()}
        first = fields[:limited]
        if first:
            scores[LIMIT] = score(first, self.limit(first))
        if OWN in found and 0 < len(first) < len(fields):
            scores[OWN + HERE] = score(first, found[OWN][: len(first)])
        if OWN in found:
            _print_verdicts(fields, found[OWN])
        return scores

    def limit(self, fields: Sequence[Recorded]) -> list[Estimate]:
        """Ask the informed locator, on several cores; answers are kept where that was asked for."""
        import joblib

        kept = joblib.Memory(self.args.keep, verbose=0).cache(informed)
        return joblib.Parallel(self.args.jobs)(joblib.delayed(kept)(f) for f in fields)

    def report(self, title: str, fields: Sequence[Recorded], limited: int) -> dict[str, Score]:
        """Print the table of one kind of field, and give the scores by method."""
        leaking = sum(f.leaks for f in fields)
        print(f"\n## {title}: {len(fields)} lines, {leaking} leak\n", flush=True)
        scores = self.scores(fields, limited)
        print("\n" + "\n".join([HEADER, *(s.row(name) for name, s in scores.items())]))
        beside = scores.get(OWN + HERE, scores.get(OWN))
        if beside and LIMIT in scores:
            print(f"\nleakgeo, {against(beside, scores[LIMIT])}")
        return scores


def _print_verdicts(fields: Sequence[Recorded], estimates: Sequence[Estimate]) -> None:
    """Print how often a leak, and no leak, is called so; and what bold claims are worth."""
    leaks = np.array([f.leaks for f in fields])
    quiet = np.array([e.chainage_m is None for e in estimates])
    if leaks.any():
        print(f"- no leak heard on {quiet[leaks].mean():.3f} of {leaks.sum()} lines that leak")
    if (~leaks).any():
        print(f"- no leak heard on {quiet[~leaks].mean():.3f} of {(~leaks).sum()} that don't")
    result = score(fields, estimates)
    bold = result.claim > 0.8
    if bold.any():
        share = result.within_foot[bold].mean()
        print(f"- of {bold.sum()} claims over 0.8, {share:.3f} hold")


def print_parts(fields: Sequence[Recorded], scores: dict[str, Score], limited: int) -> None:
    """Print the table by condition, and claims against what came true."""
    print("\n" + HEADER)
    for part, mask in groups(fields).items():
        print(scores[OWN].of(mask).row(f"{part}: leakgeo"))
        if LIMIT in scores:
            first = groups(fields[:limited])[part]
            print(scores[LIMIT].of(first).row(f"{part}: limit"))
    for name in (OWN, LIMIT):
        if name in scores:
            marked = scores[name].marked
            print(f"\n## Claims within one foot, {name}\n")
            print(reliability(marked.claim, marked.within_foot))


def arguments(given: Sequence[str] | None = None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fields", type=int, default=400, help="lines of each kind")
    parser.add_argument("--limit", type=int, default=200, help="of them, taped, for the limit")
    parser.add_argument(
        "--limit-fixes", type=int, default=25, help="of them, each of the other kinds, for it"
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=-1, help="cores for the limit")
    parser.add_argument("--keep", type=Path, help="folder to keep the limit's answers in")
    parser.add_argument("--plot", type=Path, default=Path("examples/accuracy.png"))
    parser.add_argument("--quick", action="store_true", help="a tenth of the lines")
    parser.add_argument("--vary", action="store_true", help="vary the simulator's constants")
    parser.add_argument("--without-own", action="store_true", help="leave leakgeo out")
    args = parser.parse_args(given)
    if args.quick:
        args.fields, args.limit, args.limit_fixes = 40, 20, 3
    return args


def taped(bench: Bench, conditions: Conditions) -> dict[str, Score]:
    """Report on the taped lines, and draw the picture."""
    args = bench.args
    fields = draw_fields(args.fields, args.seed, conditions)
    scores = bench.report("Tape", fields, args.limit)
    if OWN in scores:
        print_parts(fields, scores, args.limit)
    drawn = {name: s for name, s in scores.items() if not name.endswith(HERE)}
    if plot(drawn, args.plot):
        print(f"\nPicture: {args.plot}")
    return scores


def others(bench: Bench, conditions: Conditions) -> None:
    """Report on satellite fixes, two bands, lines with another source, lines without a leak."""
    args = bench.args
    kinds = {
        f"Satellite fixes, {sd} m": replace(conditions, fix_sd_m=sd) for sd in World().fix_sd_m
    }
    kinds["Tape, low and high band"] = replace(conditions, bands=("low", "high"))
    kinds["Tape, wide, low and high band"] = replace(conditions, bands=("wide", "low", "high"))
    kinds["Tape, another source on every line"] = replace(conditions, other_source_share=1.0)
    for title, kind in kinds.items():
        fields = draw_fields(args.fields, args.seed + 1, kind)
        bench.report(title, fields, args.limit_fixes)
    if args.without_own:
        return
    for share, what in ((0.0, "nothing else sounds"), (1.0, "another source on every line")):
        none = replace(conditions, leak_share=0.0, other_source_share=share)
        fields = draw_fields(args.fields, args.seed + 2, none)
        print(f"\n## No leak, {what}: {len(fields)} lines\n")
        _print_verdicts(fields, own(fields))


def main(given: Sequence[str] | None = None) -> None:
    """Run the benchmark."""
    args = arguments(given)
    if args.vary:
        variation.main(["--fields", str(args.fields), "--seed", str(args.seed)])
        return
    bench, conditions = Bench(args), Conditions(tape_share=1.0)
    taped(bench, conditions)
    others(bench, conditions)
    if args.without_own:
        return
    fields = draw_fields(min(args.fields, 100), args.seed, conditions)
    print(f"\n## Time\n\n{timing(fields)}", flush=True)
    each = max(args.fields // 2, 20)
    print(f"\n## Efficiency: {each} lines a row\n\n{efficiency.table(each, args.seed)}")


if __name__ == "__main__":
    main()
