"""Situations that holes decide: dry, not deep enough, or with a leak in them; and two leaks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.situations.jobs import Case, Record
from tests.situations.meters import inside
from tests.situations.situation import situation
from tests.situations.verdicts import accepts

if TYPE_CHECKING:
    import numpy as np


@situation(
    "Three dry holes at the old mark, where it is loudest; the leak is 7 to 10 m on.",
    S_1=accepts(
        "located", "ambiguous", "keep_listening", "other_source", never="no_leak_heard",
        actions="listen_again listen_between sweep air another_method",
    ),
)  # fmt: skip
def three_dry_holes(rng: np.random.Generator) -> Case:
    job = Record(rng, length_m=(26, 36))
    old = rng.uniform(6, 9)
    at, over = old + rng.uniform(7, 10), rng.uniform(10, 16)
    # A machine makes the hump, and the leak is heard beside it.
    job.machine(old, rng.uniform(0.5, 1.5), over + rng.uniform(2, 5), fall_db_m=(1.0, 2.0))
    job.leak(at, over)
    for days, beside in ((-3, 0.0), (-2, -1.0), (-1, 1.0)):
        job.dig(old + beside, "dry", days, wide_m=1.0)
    job.decoy(old - 1, old - 0.5, old, old + 0.5, old + 1)
    job.contact("M-1", "meter", 0.0)
    job.meter(rng.uniform(60, 300), house_valve="shut")
    job.survey(fine_at=(old, at + rng.uniform(-0.5, 0.5)))
    return job.case()


@situation(
    "A hole at the mark did not reach the pipe, which is no evidence; the leak is there.",
    S_1=accepts("located", never="no_leak_heard other_source"),
)
def hole_not_deep_enough(rng: np.random.Generator) -> Case:
    job = Record(rng)
    at = inside(rng, job)
    job.leak(at, rng.uniform(18, 26))
    job.dig(at + rng.normal(0, 0.1), "pipe_not_reached", -1)
    job.survey()
    return job.case()


@situation(
    "A dry hole shows the pipe 1.0 to 1.4 m beside the leak, where the hump is broad.",
    S_1=accepts("located", never="no_leak_heard other_source"),
)
def dry_hole_beside_leak(rng: np.random.Generator) -> Case:
    job = Record(rng)
    at = inside(rng, job)
    hole = at + rng.choice([-1, 1]) * rng.uniform(1.0, 1.4)
    job.leak(at, rng.uniform(18, 26))
    job.dig(hole, "dry", -1, wide_m=0.8)
    job.decoy(hole)
    job.survey()
    return job.case()


@situation(
    "Two leaks 2 m apart make one broad hump.",
    S_1=accepts(
        "located", "ambiguous", never="no_leak_heard other_source", actions="listen_between sweep",
    ),
)  # fmt: skip
def leaks_2_m_apart(rng: np.random.Generator) -> Case:
    job = Record(rng)
    at, over = inside(rng, job, 6), rng.uniform(18, 24)
    job.leak(at, over)
    job.leak(at + 2, over - rng.uniform(0, 3))
    job.decoy(at + 1)
    job.survey()
    return job.case()


@situation(
    "Two leaks 20 m apart, both seen in holes and not yet repaired.",
    S_1=accepts("located", "ambiguous", never="no_leak_heard other_source", actions="repair"),
)
def leaks_20_m_apart(rng: np.random.Generator) -> Case:
    job = Record(rng, length_m=(32, 40))
    at, over = rng.uniform(5, 8), rng.uniform(16, 22)
    for place in (at, at + 20):
        job.leak(place, over - rng.uniform(0, 3))
    job.survey(fine_at=(at, at + 20))
    for place in (at, at + 20):
        job.dig(place, "leak", 1, repaired=False)
    return job.case()


@situation(
    "A dry hole at the loudest place, where a valve is listed; the leak is 8 to 11 m on.",
    S_1=accepts("located", never="no_leak_heard other_source"),
)
def dry_hole_at_valve(rng: np.random.Generator) -> Case:
    job = Record(rng, length_m=(26, 36))
    valve, over = rng.uniform(5, 8), rng.uniform(14, 20)
    at = valve + rng.uniform(8, 11)
    job.hiss(valve, over + rng.uniform(2, 5))
    job.leak(at, over)
    job.dig(valve, "dry", -2, wide_m=1.2)
    job.decoy(valve)
    job.contact("M-1", "meter", 0.0)
    job.contact("SV-1", "stop_valve", valve)
    job.meter(rng.uniform(60, 300), house_valve="shut")
    job.survey(fine_at=(valve, at + rng.uniform(-0.5, 0.5)))
    return job.case()
