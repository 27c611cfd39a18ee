"""Situations that the meter, its valves or the water in use decide."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.situations.jobs import Case, Record
from tests.situations.situation import situation
from tests.situations.verdicts import accepts

if TYPE_CHECKING:
    import numpy as np


def inside(rng: np.random.Generator, job: Record, margin_m: float = 5.0) -> float:
    """Draw a chainage away from the ends."""
    return float(rng.uniform(margin_m, job.line.length_m - margin_m))


@situation(
    "A listed stop valve hisses in the middle; the meter stands still for three hours.",
    S_1=accepts("other_source", never="located"),
)
def valve_hisses_meter_still(rng: np.random.Generator) -> Case:
    job = Record(rng, material="metal")
    at = inside(rng, job)
    job.hiss(at, rng.uniform(12, 24))
    job.contact("M-1", "meter", 0.0)
    job.contact("SV-1", "stop_valve", at)
    job.meter(0.0, hours=3)
    job.decoy(at)
    job.survey()
    return job.case()


@situation(
    "Water runs inside the house: the meter turns with the house valve open, not with it shut.",
    S_1=accepts("beyond_end", "other_source", never="located"),
)
def water_runs_inside(rng: np.random.Generator) -> Case:
    job = Record(rng)
    length = job.line.length_m
    water = job.hiss(length + rng.uniform(2.5, 5), 20)
    job.heard(water, length, rng.uniform(9, 16))
    job.beyond(length)
    job.contact("M-1", "meter", 0.0)
    job.contact("H-1", "stop_valve", length)
    job.valve("HV-1", "house", length)
    flow = rng.uniform(30, 200)
    job.meter(flow, hours=1.5, start_h=-6, house_valve="open")
    job.meter(0.0, hours=3, start_h=-4, house_valve="shut")
    job.survey()
    return job.case()


@situation(
    "A tap was left open during test and walk: the meter turned and the level rises to the house.",
    S_1=accepts(
        "beyond_end", "other_source", "keep_listening", never="located no_leak_heard",
        actions="close_outlets check_meter",
    ),
)  # fmt: skip
def tap_left_open(rng: np.random.Generator) -> Case:
    job = Record(rng)
    length = job.line.length_m
    water = job.hiss(length + rng.uniform(1.5, 4), 20)
    job.heard(water, length, rng.uniform(9, 18))
    job.beyond(length)
    job.contact("M-1", "meter", 0.0)
    job.contact("T-1", "hose_bib", length, own_over_db=25)
    job.meter(rng.uniform(200, 600), hours=1, start_h=1.5, water_used=True)
    job.survey()
    return job.case()


@situation(
    "A flooded leak makes no sound; the meter turns with the house valve shut.",
    S_1=accepts(
        "keep_listening", never="no_leak_heard located other_source not_listened_to",
        actions="air another_method night",
    ),
)  # fmt: skip
def flooded_leak_silent(rng: np.random.Generator) -> Case:
    job = Record(rng)
    job.leak(inside(rng, job), -20)
    job.contact("M-1", "meter", 0.0)
    job.valve("HV-1", "house", job.line.length_m)
    job.meter(rng.uniform(80, 500), hours=3, house_valve="shut")
    job.survey()
    return job.case()


@situation(
    "The meter is stuck at nothing, but the leak is loud and the shut line loses its pressure.",
    S_1=accepts(
        "located", "keep_listening", "ambiguous", never="no_leak_heard other_source",
        actions="check_meter",
    ),
)  # fmt: skip
def stuck_meter(rng: np.random.Generator) -> Case:
    job = Record(rng)
    job.leak(inside(rng, job), rng.uniform(18, 28))
    job.contact("M-1", "meter", 0.0)
    job.contact("P-1", "hose_bib", job.line.length_m - 0.5)
    job.valve("CS-1", "curb_stop", 0.5, leaks_by=False)
    job.valve("HV-1", "house", job.line.length_m, leaks_by=False)
    job.meter(0.0, hours=3)
    job.isolated("P-1", ("CS-1", "HV-1"), before_kpa=410, after_kpa=rng.uniform(20, 150))
    job.survey()
    return job.case()


@situation(
    "A coarse register stood still for ten minutes, which shows nothing; the leak is loud.",
    S_1=accepts("located", never="no_leak_heard other_source"),
)
def coarse_register(rng: np.random.Generator) -> Case:
    job = Record(rng)
    job.leak(inside(rng, job), rng.uniform(18, 26))
    job.contact("M-1", "meter", 0.0)
    job.meter(rng.uniform(20, 60), hours=1 / 6, resolution_l=1000)
    job.survey()
    return job.case()


@situation(
    "The line begins at a meter that never turns; the leak is 3 m before it, toward the main.",
    S_1=accepts("beyond_end", never="located no_leak_heard"),
)
def leak_before_meter(rng: np.random.Generator) -> Case:
    job = Record(rng)
    job.heard(job.leak(-rng.uniform(2.5, 3.5), 20), 0.0, rng.uniform(9, 16))
    job.beyond(0.0)
    job.contact("M-1", "meter", 0.0)
    job.contact("H-1", "hose_bib", job.line.length_m, side="customer")
    job.meter(0.0, hours=3)
    job.survey()
    return job.case()


@situation(
    "A meter in mid-line never turns; the leak is upstream of it, where it can't count it.",
    S_1=accepts("located", never="no_leak_heard other_source"),
)
def leak_upstream_of_meter(rng: np.random.Generator) -> Case:
    job = Record(rng, length_m=(22, 34))
    job.leak(rng.uniform(4, 8), rng.uniform(18, 26))
    job.contact("CS-1", "curb_stop", 0.0, side="utility")
    job.contact("M-1", "meter", rng.uniform(13, 15))
    job.contact("H-1", "hose_bib", job.line.length_m, side="customer")
    job.meter(0.0, hours=3)
    job.survey()
    return job.case()


@situation(
    "The leak is on the line, 0.8 m before the house; the meter turns with the house valve shut.",
    S_1=accepts("located", never="no_leak_heard beyond_end other_source"),
)
def leak_at_house_wall(rng: np.random.Generator) -> Case:
    job = Record(rng)
    length = job.line.length_m
    job.leak(length - rng.uniform(0.7, 0.9), rng.uniform(18, 26))
    job.contact("M-1", "meter", 0.0)
    job.contact("H-1", "stop_valve", length)
    job.valve("HV-1", "house", length, leaks_by=False)
    job.meter(rng.uniform(60, 300), hours=2, house_valve="shut")
    job.survey()
    return job.case()


@situation(
    "A pressure-reducing valve, listed, is louder than the leak 24 m on; the meter turns.",
    S_1=accepts("located", never="no_leak_heard other_source"),
)
def reducing_valve_louder(rng: np.random.Generator) -> Case:
    job = Record(rng, length_m=(34, 40))
    valve = rng.uniform(2, 4)
    over = rng.uniform(14, 20)
    job.hiss(valve, over + rng.uniform(3, 8))
    job.leak(valve + 24, over)
    job.contact("M-1", "meter", 0.0)
    job.contact("PRV-1", "pressure_reducing_valve", valve)
    job.contact("H-1", "hose_bib", job.line.length_m)
    job.valve("V-1", "pressure_reducing", valve)
    job.meter(rng.uniform(60, 300), hours=2, house_valve="shut")
    job.decoy(valve)
    job.survey(fine_at=(valve, round((valve + 24) / 1.5) * 1.5))
    return job.case()


@situation(
    "Read before the leak was repaired yesterday; the meter has stood still since.",
    S_1=accepts("no_leak_heard", never="located"),
)
def repaired_meter_still(rng: np.random.Generator) -> Case:
    job = Record(rng)
    at = inside(rng, job)
    job.hiss(at, rng.uniform(16, 26))
    job.contact("M-1", "meter", 0.0)
    job.meter(rng.uniform(60, 300), hours=2, start_h=-6, house_valve="shut")
    job.survey()
    job.dig(at, "leak", 1, repaired=True)
    job.past("repair", at, -1 / 365)
    job.meter(0.0, hours=4, start_h=30, house_valve="shut")
    job.decoy(at)
    return job.case()


@situation(
    "Read before the leak was repaired yesterday; the meter turns on: there is another leak.",
    S_1=accepts(
        "keep_listening", "located", never="no_leak_heard other_source",
        actions="listen_again walk_rest",
    ),
)  # fmt: skip
def repaired_meter_turns(rng: np.random.Generator) -> Case:
    job = Record(rng, length_m=(24, 34))
    at = rng.uniform(4, 8)
    job.hiss(at, rng.uniform(20, 28))
    job.leak(at + rng.uniform(9, 12), rng.uniform(2, 8))
    job.contact("M-1", "meter", 0.0)
    job.meter(rng.uniform(200, 300), hours=2, start_h=-6, house_valve="shut")
    job.survey()
    job.dig(at, "leak", 1, repaired=True)
    job.past("repair", at, -1 / 365)
    job.meter(rng.uniform(60, 150), hours=4, start_h=30, house_valve="shut")
    job.decoy(at)
    return job.case()
