"""Situations that readings across the line decide."""

from __future__ import annotations

import numpy as np

from tests.situations.jobs import BEFORE_M, BEYOND_M, Case, Record
from tests.situations.meters import inside
from tests.situations.situation import situation
from tests.situations.verdicts import accepts

ACROSS_M = np.arange(-4.0, 4.1, 1.0)


@situation(
    "Eighteen readings across are loudest toward the neighbour's mapped pipe, which leaks.",
    S_1=accepts("other_source", never="located beyond_end"),
)
def sweep_to_neighbour(rng: np.random.Generator) -> Case:
    job = Record(rng)
    at, aside = inside(rng, job, 6), rng.choice([-1, 1]) * rng.uniform(2.5, 3.5)
    length = job.line.length_m
    ends = job.line.at(np.array([-BEFORE_M, length + BEYOND_M]), aside)
    leak = job.on_other_pipe(ends[0], ends[1], at + BEFORE_M, 20)
    job.heard(leak, at, rng.uniform(8, 14))
    job.utility("W-7", "potable_water", ends, round(job.depth_m, 1))
    job.decoy(at)
    job.survey()
    job.sweep((at - 0.5, at + 0.5), ACROSS_M)
    return job.case()


@situation(
    "Readings across are loudest 2.2 m left of the trace everywhere: the trace is wrong.",
    S_1=accepts(
        "located", "ambiguous", "keep_listening", never="no_leak_heard other_source",
        actions="trace",
    ),
)  # fmt: skip
def trace_is_wrong(rng: np.random.Generator) -> Case:
    job = Record(rng)
    job.line = job.move_pipe(2.2)
    at = inside(rng, job, 6)
    job.heard(job.leak(at, 20), at, rng.uniform(10, 16))
    job.decoy(at)
    job.survey()
    job.sweep((at - 2.5, at, at + 2.5), np.arange(-3.0, 5.1, 1.0))
    return job.case()


@situation(
    "Readings across rise steadily to one side, toward a machine beyond the garden wall.",
    S_1=accepts("other_source", "no_leak_heard", never="located beyond_end"),
)
def sweep_to_machine(rng: np.random.Generator) -> Case:
    job = Record(rng)
    at = inside(rng, job, 6)
    job.machine(at, rng.choice([-1, 1]) * rng.uniform(5, 7), rng.uniform(10, 16))
    job.decoy(at)
    job.survey()
    job.sweep((at - 0.5, at + 0.5), ACROSS_M)
    return job.case()
