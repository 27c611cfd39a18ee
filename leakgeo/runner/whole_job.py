"""Steps of the whole job, run again only if what they read of it changed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from leakgeo.job.latest_month import latest_month
from leakgeo.job.model import LAYERS
from leakgeo.provenance import content_of
from leakgeo.runner.task import run_steps

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.job.reuse import Reuse
    from leakgeo.progress import Listener
    from leakgeo.result import Result
    from leakgeo.runner.task import PlannedStep

#: Layers with what was learned from the whole job.
LAWS = ("noise_law", "walk_law")


def run_on_whole_job(
    result: Result, steps: Sequence[PlannedStep], reuse: Reuse, tell: Listener | None = None
) -> Result:
    """Run steps of which none learns a law, or take over what they made of the same job.

    They read no readings but the latest month of them. Steps of other packages may read anything,
    so they run each time.

    Parameters
    ----------
    result : Result
        With the job only.
    steps : sequence of PlannedStep
    reuse : Reuse
        Has what they made before.
    tell : callable, optional
        Called with each step as it begins.
    """
    if not all(one.step.function.startswith("leakgeo.") for one in steps):
        return run_steps(result, steps, tell)
    job = result.job
    layers = [getattr(job, name) for name in LAYERS if name != "readings"]
    settings = repr([(one.step.name, [content_of(v) for v in one.settings.values()])
                     for one in steps])  # fmt: skip
    made = reuse(
        "whole job", lambda *_: run_steps(result, steps, tell), *layers, job.ground,
        repr(latest_month(job)), settings,
    )  # fmt: skip
    return replace(made, job=job)
