"""Situations in which something else sounds, or the sound takes another way."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tests.situations.jobs import Case, Record
from tests.situations.meters import inside
from tests.situations.physics import Slab
from tests.situations.situation import situation
from tests.situations.verdicts import accepts

if TYPE_CHECKING:
    from collections.abc import Callable

NOT_A_LEAK = accepts("other_source", "no_leak_heard", never="located beyond_end")


@situation(
    "A transformer hums beside the line; the level is the same with air on and off.",
    S_1=accepts("other_source", never="located beyond_end"),
)
def transformer_hum(rng: np.random.Generator) -> Case:
    job = Record(rng)
    at = inside(rng, job, 6)
    aside = rng.uniform(0.8, 2)
    job.machine(at, aside, rng.uniform(12, 20))
    job.utility("TR-1", "electric", job.line.at(at, aside), 0.0)
    job.decoy(at)
    job.survey()
    job.air_pairs(at, 1.0)
    return job.case()


@situation(
    "Air is put in, and the level rises at the leak.",
    S_1=accepts("located", never="no_leak_heard other_source"),
)
def air_rises(rng: np.random.Generator) -> Case:
    job = Record(rng)
    at = inside(rng, job, 6)
    job.leak(at, rng.uniform(9, 16), air_db=rng.uniform(4, 9))
    job.survey()
    job.air_pairs(round(at, 1), 1.0)
    return job.case()


@situation(
    "Air is put in, and nothing changes at a hump like that of a leak.",
    S_1=accepts("other_source", never="located beyond_end"),
)
def air_changes_nothing(rng: np.random.Generator) -> Case:
    job = Record(rng)
    at = inside(rng, job, 6)
    # Water falls in a drain that crosses under the line.
    drain = job.line.at(at, np.array([-6.0, 6.0]))
    job.on_other_pipe(drain[0], drain[1], 6.0, rng.uniform(14, 22), depth_m=job.depth_m + 0.3)
    job.decoy(at)
    job.survey()
    job.air_pairs(round(at, 1), 1.0)
    return job.case()


@situation(
    "A lorry idles at the kerb for some minutes of the first walk, and is gone on the second.",
    S_1=NOT_A_LEAK,
)
def lorry_idles(rng: np.random.Generator) -> Case:
    job = Record(rng)
    at = inside(rng, job, 6)
    # Sixteen stops take about nine minutes, and the lorry leaves before the second walk.
    leaves = job.seconds + rng.uniform(1000, 1300)
    job.machine(at, 3.0, rng.uniform(10, 18), sounds=lambda seconds: seconds < leaves)
    job.decoy(at)
    job.survey(walks=2)
    return job.case()


@situation(
    "A lorry idles through the first walk; the second walk hears the leak elsewhere.",
    S_1=accepts("located", never="no_leak_heard other_source"),
)
def lorry_then_leak(rng: np.random.Generator) -> Case:
    job = Record(rng, length_m=(26, 36))
    lorry = rng.uniform(4, 8)
    at = job.line.length_m - rng.uniform(5, 9)
    leaves = job.seconds + 1500
    job.machine(lorry, 3.0, rng.uniform(18, 24), sounds=lambda seconds: seconds < leaves)
    job.leak(at, rng.uniform(13, 18))
    job.decoy(lorry)
    job.survey(walks=2)
    return job.case()


def cycle(rng: np.random.Generator) -> Callable[[np.ndarray], np.ndarray]:
    """Give when a pump runs that goes on and off."""
    period, on = rng.uniform(240, 600), rng.uniform(0.3, 0.6)
    begins = rng.uniform(0, period)
    return lambda seconds: ((seconds + begins) % period) < on * period


@situation(
    "A listed pump goes on and off: two walks differ; the meter stands still.",
    S_1=NOT_A_LEAK,
)
def pump_cycles(rng: np.random.Generator) -> Case:
    job = Record(rng, material="metal")
    at = inside(rng, job, 6)
    job.hiss(at, rng.uniform(12, 20), sounds=cycle(rng))
    job.contact("M-1", "meter", 0.0)
    job.contact("PU-1", "pump", at)
    job.meter(0.0, hours=3)
    job.decoy(at)
    job.survey(walks=2)
    return job.case()


@situation(
    "The leak is 3 m out on a branch that nobody mapped; a sweep at the tee rises toward it.",
    S_1=accepts(
        "other_source", "ambiguous", "keep_listening", never="located no_leak_heard beyond_end",
        actions="sweep trace",
    ),
)  # fmt: skip
def leak_on_unmapped_branch(rng: np.random.Generator) -> Case:
    job = Record(rng, material="metal", length_m=(22, 32))
    tee = inside(rng, job, 7)
    side, over = rng.choice([-1, 1]), rng.uniform(24, 30)
    branch = job.line.at(tee, side * np.array([0.0, 7.0]))
    job.on_other_pipe(branch[0], branch[1], rng.uniform(2.6, 3.4), over)
    # What of it comes through the tee runs both ways along the line.
    job.hiss(tee, over - rng.uniform(8, 12), direct_db=(-20, -10))
    job.decoy(tee)
    job.survey()
    job.sweep((tee,), np.arange(-4.0, 4.1, 1.0))
    return job.case()


@situation(
    "A branch that nobody mapped takes sound away at its tee; the leak is on the line.",
    S_1=accepts("located", never="no_leak_heard other_source beyond_end"),
)
def branch_not_mapped(rng: np.random.Generator) -> Case:
    job = Record(rng, material="metal", length_m=(24, 34))
    line = job.line
    tee = line.length_m / 2
    run = replace(line.run, losses=((job.pipe_m(tee), rng.uniform(3, 6)),))
    job.line = replace(line, run=run)
    job.leak(tee + rng.choice([-1, 1]) * rng.uniform(3, 6), rng.uniform(18, 26))
    job.survey()
    return job.case()


@situation(
    "A neighbour's mapped line runs 2.5 m beside, and its leak is louder on its own readings.",
    S_1=accepts("other_source", "no_leak_heard", never="located"),
    S_2=accepts("located", never="no_leak_heard other_source"),
)
def parallel_neighbour(rng: np.random.Generator) -> Case:
    job = Record(rng, length_m=(20, 28))
    other = job.add_line("S-2", job.line.length_m, (0.0, 2.5))
    at = inside(rng, job, 6)
    job.leak(at, rng.uniform(22, 28), line=other)
    job.decoy(at)
    job.survey()
    job.survey(line=other)
    return job.case()


@situation(
    "Two services cross; the leak is on the other one, 2 m from the crossing.",
    S_1=accepts("other_source", "no_leak_heard", never="located beyond_end"),
    S_2=accepts("located", never="no_leak_heard other_source"),
)
def crossed_services(rng: np.random.Generator) -> Case:
    job = Record(rng, length_m=(20, 28))
    crossing = inside(rng, job, 8)
    turn = rng.uniform(1.1, 2.0)
    start = np.array([crossing, 0.0]) - 10 * np.array([np.cos(turn), np.sin(turn)])
    other = job.add_line("S-2", 20.0, (float(start[0]), float(start[1])), turn)
    job.leak(10 + rng.choice([-1, 1]) * 2.0, rng.uniform(22, 28), line=other)
    job.decoy(crossing)
    job.survey()
    job.survey(line=other)
    return job.case()


@situation(
    "A joint of the slab rattles: a hump where nothing leaks, and the meter stands still.",
    S_1=NOT_A_LEAK,
)
def slab_joint(rng: np.random.Generator) -> Case:
    job = Record(rng, cover="concrete")
    at = inside(rng, job, 6)
    slab = job.street.slab
    job.street.slab = Slab(slab.over_m, ((at, rng.uniform(7, 12), rng.uniform(0.4, 0.9)),))
    job.street.air_share = rng.uniform(0.05, 0.2)
    job.contact("M-1", "meter", 0.0)
    job.meter(0.0, hours=3)
    job.surface(-2, job.line.length_m + 2, "concrete")
    job.decoy(at)
    job.survey()
    return job.case()


@situation(
    "A repair clamp, on record, sends out sound of the leak 6 to 9 m on.",
    S_1=accepts("located", never="no_leak_heard other_source"),
)
def repair_clamp(rng: np.random.Generator) -> Case:
    job = Record(rng, material="metal", length_m=(26, 36))
    clamp, over = rng.uniform(6, 9), rng.uniform(18, 26)
    at = clamp + rng.uniform(6, 9)
    job.leak(at, over)
    job.hiss(clamp, over - rng.uniform(3, 7), direct_db=(20, 30))
    job.past("repair", clamp, rng.uniform(3, 9))
    job.decoy(clamp)
    job.survey(fine_at=(clamp, at + rng.uniform(-0.5, 0.5)))
    return job.case()


@situation(
    "The leak is in a casing under the road, and sounds at both ends of the casing.",
    S_1=accepts(
        "ambiguous", "keep_listening", never="located no_leak_heard other_source beyond_end",
        actions="air sweep listen_between another_method",
    ),
)  # fmt: skip
def casing(rng: np.random.Generator) -> Case:
    job = Record(rng, length_m=(26, 34), cover="asphalt")
    begin = rng.uniform(8, 10)
    end, over = begin + rng.uniform(6, 8), rng.uniform(16, 22)
    line = job.line
    muffled = ((job.pipe_m(begin), job.pipe_m(end), 25.0),)
    job.line = replace(line, run=replace(line.run, muffled=muffled))
    job.hiss(begin, over, direct_db=(8, 14))
    job.hiss(end, over - rng.uniform(0, 3), direct_db=(8, 14))
    job.surface(begin, end, "asphalt")
    job.dig(begin - 0.5, "pipe_not_reached", -900, note="steel casing under the road seen here")
    job.decoy(begin, end)
    job.survey(fine_at=(begin, end))
    return job.case()
