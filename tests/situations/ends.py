"""Situations at the ends of a line, and on stretches that nobody listened to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.situations.jobs import BEFORE_M, Case, Record
from tests.situations.meters import inside
from tests.situations.situation import situation
from tests.situations.verdicts import accepts


@situation(
    "The leak is 4 m before the start of the route, and the level still rises there.",
    S_1=accepts("beyond_end", never="located no_leak_heard"),
)
def leak_before_start(rng: np.random.Generator) -> Case:
    job = Record(rng)
    job.heard(job.leak(-4.0, 20), 0.0, rng.uniform(9, 16))
    job.beyond(0.0)
    job.survey()
    return job.case()


@situation(
    "The leak is 3 m past the far end of the route, and the level still rises there.",
    S_1=accepts("beyond_end", never="located no_leak_heard"),
)
def leak_past_end(rng: np.random.Generator) -> Case:
    job = Record(rng)
    job.heard(job.leak(job.line.length_m + 3.0, 20), job.line.length_m, rng.uniform(9, 16))
    job.beyond(job.line.length_m)
    job.survey()
    return job.case()


@situation(
    "A main ends dead and sends the sound back; the leak is 6 to 9 m before its end.",
    S_1=accepts("located", never="no_leak_heard beyond_end other_source"),
)
def dead_end_main(rng: np.random.Generator) -> Case:
    job = Record(rng, length_m=(35, 50), material="cast_iron")
    line = job.line
    # The pipe stops where the trace does, and its end cap sends nearly everything back.
    shut = replace(line.run, end=line.run.at(BEFORE_M + line.length_m)[0], back=(0.2, 0.95))
    job.line = replace(line, run=shut)
    job.leak(line.length_m - rng.uniform(6, 9), rng.uniform(18, 26))
    job.contact("HY-1", "hydrant", line.length_m)
    job.survey()
    return job.case()


@situation(
    "Only the first half of a long line was walked, and is quiet; the meter turns.",
    S_1=accepts(
        "keep_listening", never="no_leak_heard located other_source beyond_end",
        actions="walk_rest",
    ),
)  # fmt: skip
def far_stretch_not_walked(rng: np.random.Generator) -> Case:
    job = Record(rng, length_m=(52, 64), material="plastic")
    job.leak(job.line.length_m - rng.uniform(6, 12), rng.uniform(14, 22))
    job.contact("M-1", "meter", 0.0)
    job.meter(rng.uniform(80, 400), hours=3, house_valve="shut")
    job.survey(to_m=25.0)
    return job.case()


@situation(
    "The line has nothing but a survey at two fittings, one of them loud.",
    S_1=accepts("not_listened_to", never="located no_leak_heard rejected", actions="walk_rest"),
)
def two_fittings_only(rng: np.random.Generator) -> Case:
    job = Record(rng, material="metal")
    job.leak(inside(rng, job), rng.uniform(16, 26))
    job.contact("M-1", "meter", 0.0)
    job.contact("H-1", "hose_bib", job.line.length_m)
    # A neighbour's line, far away, was walked, or there would be no job.
    other = job.add_line("S-2", 20.0, (0.0, 30.0))
    job.survey(line=other)
    return job.case()


@situation(
    "Tap water runs beyond the house end, and a leak is on the line; the meter turns with it shut.",
    S_1=accepts("located", never="no_leak_heard beyond_end other_source"),
)
def outlet_and_leak(rng: np.random.Generator) -> Case:
    job = Record(rng, length_m=(26, 36))
    length = job.line.length_m
    at = rng.uniform(6, 12)
    job.leak(at, rng.uniform(16, 22))
    job.heard(job.hiss(length + rng.uniform(2.5, 4), 20), length, rng.uniform(10, 18))
    job.contact("M-1", "meter", 0.0)
    job.valve("HV-1", "house", length, leaks_by=False)
    flow = rng.uniform(60, 200)
    job.meter(flow + rng.uniform(100, 300), hours=1, start_h=-6, house_valve="open")
    job.meter(flow, hours=2, start_h=-4, house_valve="shut")
    job.survey(fine_at=(round(at / 1.5) * 1.5, length - 1))
    return job.case()
