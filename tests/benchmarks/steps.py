"""Step tests on networks bundled with wntr: tests that a leak takes, beside bisection by length.

python -m tests.benchmarks.steps --leaks 12 --seed 31
"""

from __future__ import annotations

import argparse
import math

from tests.outside.hydraulics import first_valve, leaking_nodes, search, with_valves

STATES = ("known tight", "not known", "one passes")
CASES = (("Net2", 20, 1), ("Net2", 28, 2), ("Net3", 60, 1), ("Net3", 95, 1))


def main() -> None:
    """Print a table: means of tests, and leaks that are found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--leaks", type=int, default=12)
    parser.add_argument("--only", default="")
    parser.add_argument("--seed", type=int, help="draws other valves and leaks")
    parser.add_argument("--states", nargs="+", default=STATES, choices=STATES)
    given = parser.parse_args()
    leaks = given.leaks
    print("network valves segments state | tests: end, likeliest, by length | "
          "found, named, by length | tests until 0.9, of leaks")  # fmt: skip
    for name, valves, own in (case for case in CASES if case[0].startswith(given.only)):
        seed = own if given.seed is None else given.seed
        for state in given.states:
            case = with_valves(name, valves, seed, state == "known tight" or None)
            done = [
                search(case, n, passing=[first_valve(case, n)] if state == "one passes" else ())
                for n in leaking_nodes(case, leaks, seed)
            ]
            columns = ("tests", "likeliest", "by_length", "found", "named", "found_by_length")
            means = [sum(getattr(d, c) for d in done) / leaks for c in columns]
            segments = int((case.district.prior > 0.0).sum())
            sure = [d.sure for d in done if not math.isnan(d.sure)]
            last = f"| {sum(sure) / max(len(sure), 1):.2f} {len(sure)}"
            print(name, valves, segments, state, "|", *(f"{m:.2f}" for m in means), last,
                  flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
