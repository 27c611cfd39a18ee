"""Law of walks by satellite, from all walks of a job."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.ground.mixing import mixing_weights
from leakgeo.find.levels.fix_errors import offset_evidence
from leakgeo.find.levels.segments import step_evidence, steps_seen
from leakgeo.find.levels.walks import paced_runs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.arrays import Floats
    from leakgeo.find.levels.walks import Visit
    from leakgeo.sound.walk_law import WalkLaw

# The law before counts as that of so many visits, and of so many walks.
PRIOR_VISITS, PRIOR_WALKS = 5.0, 10.0
# Offsets of fewer fixes, and fewer stops in a run, teach nothing.
_LEAST_FIXES, _LEAST_STOPS = 8, 5


def learned_walk_law(visits: Sequence[Visit], law: WalkLaw) -> WalkLaw:
    """Return the law of the errors of fixes, and of the steps, that visits teach.

    The offsets of fixes from their routes teach the errors. Then runs of stops teach the steps.

    Parameters
    ----------
    visits : sequence of Visit
    law : WalkLaw
        It counts as `PRIOR_VISITS` visits and `PRIOR_WALKS` walks.

    Returns
    -------
    WalkLaw
        With the nodes of `law`.
    """
    rows = [offset_evidence(v.fixes, law)[0] for v in visits
            if np.sum(v.fixes.seen) >= _LEAST_FIXES]  # fmt: skip
    if rows:
        weight = mixing_weights(np.array(rows), law.error_weight, PRIOR_VISITS)
        law = replace(law, error_weight=weight, visits=len(rows))
    steps = [row for v in visits for row in _steps(v, law)]
    if steps:
        weight = mixing_weights(np.array(steps), law.step_weight, PRIOR_WALKS)
        law = replace(law, step_weight=weight, walks=len(steps))
    return law


def _steps(visit: Visit, law: WalkLaw) -> list[Floats]:
    """Return the log likelihood of the step of each run of a visit at each node."""
    visit, run, covariance = paced_runs(visit, law)
    at = np.flatnonzero(run >= 0)
    if len(at) == 0:
        return []
    own = covariance[np.ix_(at, at)]
    step, variance = steps_seen(visit.fixes.chainage_m[at], own, run[at])
    long = np.bincount(run[at]) >= _LEAST_STOPS
    return list(step_evidence(step[long], variance[long], law))
