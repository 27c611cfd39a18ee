"""Controls: plain leaks that must be located, whatever else the locator learns to weigh."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tests.situations.jobs import Case, Record
from tests.situations.situation import situation
from tests.situations.verdicts import accepts

if TYPE_CHECKING:
    from typing import Any

LOCATED = accepts("located", never="no_leak_heard other_source beyond_end")


def plain(rng: np.random.Generator, **street: Any) -> tuple[Record, float]:
    """Give a good street with a loud leak away from its ends."""
    job = Record(rng, good=True, **{"material": "metal", "cover": "grass"} | street)
    at = float(rng.uniform(5, job.line.length_m - 5))
    job.leak(at, rng.uniform(18, 28), direct_db=(8, 15))
    return job, at


def far_from(rng: np.random.Generator, job: Record, at: float, apart_m: float) -> float:
    """Draw a chainage well away from another."""
    places = rng.uniform(1, job.line.length_m - 1, 200)
    return float(places[np.abs(places - at).argmax()] if apart_m > 8 else
                 places[np.abs(places - at) > apart_m][0])  # fmt: skip


@situation("A loud leak in good ground, taped.", control=True, S_1=LOCATED)
def control_loud(rng: np.random.Generator) -> Case:
    job, _ = plain(rng)
    job.survey()
    return job.case()


@situation("A loud leak, and a meter that turns as a leak makes it.", control=True, S_1=LOCATED)
def control_meter_agrees(rng: np.random.Generator) -> Case:
    job, _ = plain(rng)
    job.contact("M-1", "meter", 0.0)
    job.meter(rng.uniform(40, 400), house_valve="shut")
    job.survey()
    return job.case()


@situation("A loud leak, and a valve elsewhere that is known to be tight.", control=True,
           S_1=LOCATED)  # fmt: skip
def control_quiet_valve(rng: np.random.Generator) -> Case:
    job, at = plain(rng)
    valve = far_from(rng, job, at, 6)
    job.contact("C-1", "curb_stop", valve)
    job.valve("V-1", "curb_stop", valve, leaks_by=False)
    job.survey()
    return job.case()


@situation("A loud leak, and one far along the line that was repaired years ago.", control=True,
           S_1=LOCATED)  # fmt: skip
def control_past_leak(rng: np.random.Generator) -> Case:
    job, at = plain(rng, length_m=(24, 34))
    old = far_from(rng, job, at, 10)
    job.past("past_leak", old, 6)
    job.past("repair", old, 6)
    job.decoy(old)
    job.survey()
    return job.case()


@situation("A loud leak, and a dry hole far along the line.", control=True, S_1=LOCATED)
def control_dry_hole_far(rng: np.random.Generator) -> Case:
    job, at = plain(rng, length_m=(24, 34))
    hole = far_from(rng, job, at, 10)
    job.dig(hole, "dry", -3, wide_m=1.0)
    job.decoy(hole)
    job.survey()
    return job.case()


@situation("A loud leak on a plastic pipe.", control=True, S_1=LOCATED)
def control_plastic(rng: np.random.Generator) -> Case:
    job, _ = plain(rng, material="plastic")
    job.survey()
    return job.case()


@situation("A loud leak on a copper pipe.", control=True, S_1=LOCATED)
def control_copper(rng: np.random.Generator) -> Case:
    job, _ = plain(rng, material="copper")
    job.survey()
    return job.case()


@situation("A loud leak under asphalt, heard with a plate.", control=True, S_1=LOCATED)
def control_asphalt_plate(rng: np.random.Generator) -> Case:
    job, _ = plain(rng, cover="asphalt")
    job.survey()
    return job.case()


@situation("A loud leak under grass, heard with a spike.", control=True, S_1=LOCATED)
def control_grass_spike(rng: np.random.Generator) -> Case:
    job, _ = plain(rng, sensor="ground_spike")
    job.survey()
    return job.case()


@situation("A loud leak, walked twice with the same outcome.", control=True, S_1=LOCATED)
def control_two_walks(rng: np.random.Generator) -> Case:
    job, _ = plain(rng)
    job.survey(walks=2)
    return job.case()


@situation("A loud leak, and a sweep across that is loudest over the pipe.", control=True,
           S_1=LOCATED)  # fmt: skip
def control_sweep_over_pipe(rng: np.random.Generator) -> Case:
    job, at = plain(rng)
    job.survey()
    job.sweep((at + rng.normal(0, 0.2),), np.arange(-2.0, 2.1, 0.5))
    return job.case()
