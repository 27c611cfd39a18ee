"""Weights of the shipped noise law: learned from several simulated worlds together.

Run ``python -m tests.benchmarks.ground``; it prints the nodes for ``sound/constants.toml``.
"""

from __future__ import annotations

import argparse

import numpy as np

from leakgeo.find.ground.mixing import mixing_weights
from leakgeo.find.ground.step import line_evidence
from leakgeo.find.levels.readings import readings_by_line
from leakgeo.find.levels.step import readings_on_route
from leakgeo.route.lines import lines_of
from leakgeo.simulate import Conditions, World
from leakgeo.sound.constants import load_constants
from tests.benchmarks.draws import draw_fields
from tests.benchmarks.own import job_of

# Factors on the ranges of the simulator, one world each.
WORLDS = (
    {}, {"coupling_sd_db": 0.5}, {"coupling_sd_db": 2.0}, {"coupling_length_m": 0.5},
    {"coupling_length_m": 2.0}, {"reading_sd_db": 0.5}, {"reading_sd_db": 1.6},
)  # fmt: skip


def evidence(lines: int, seed: int) -> np.ndarray:
    """Return the log evidence of lines of all worlds at each node, shape (lines, nodes)."""
    assumed, rows = load_constants(), []
    for k, factors in enumerate(WORLDS):
        world = World()
        for name, factor in factors.items():
            world = world.scaled(name, factor)
        fields = draw_fields(lines, seed + k, Conditions(tape_share=1.0, constants=world))
        job = job_of(fields)
        routes = lines_of(job, 0.3)
        readings, _ = readings_on_route(job, routes, 1.5, 0.1, trust_declarations=False)
        heard = readings_by_line(readings, routes, assumed)
        rows += [line_evidence((routes, i, own), assumed) for i, own in heard]
    return np.array([row for row in rows if row is not None])


def main() -> None:
    """Print the nodes with their weights."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=60, help="lines of each world")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    law = load_constants().noise_law
    even = np.full(len(law.weight), 1.0 / len(law.weight))
    weight = mixing_weights(evidence(args.lines, args.seed), even)
    for node, share in zip(law.nodes.tolist(), weight.tolist(), strict=True):
        print(f"  [{', '.join(map(str, node))}, {share:.3f}],")


if __name__ == "__main__":
    main()
