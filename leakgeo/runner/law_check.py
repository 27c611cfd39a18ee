"""Whether a law of noise learned from the job as it is now would move the status of a line."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.arrays import floats, texts
from leakgeo.faults import Fault
from leakgeo.reason import Reason
from leakgeo.registry import load_steps
from leakgeo.result import Result
from leakgeo.runner.task import Task
from leakgeo.runner.whole_job import LAWS

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from leakgeo.arrays import Objects
    from leakgeo.runner.chunks import ChunkPlan
    from leakgeo.runner.kept_lines import KeptLines
    from leakgeo.runner.task import PlannedStep

# Share of the lines that taught the law, of which so many changed since, that asks for a look.
_CHANGED = 0.05
# Lines that are worked out with both laws: those that changed, and those nearest to another status.
_MOST_LINES, _MOST_NAMED = 20, 5


def note_changes(kept: KeptLines) -> bool:
    """Note the lines that changed in this update; return whether the law is worth a look."""
    law = kept.law
    if not law:
        return False
    changed = sorted({*law.get("changed", ()), *kept.changed})
    due = len(changed) - int(law.get("looked_at", 0)) > _CHANGED * len(law["lines"])
    law["changed"], law["looked_at"] = changed, len(changed) if due else law.get("looked_at", 0)
    return due


def moved_by_law(
    result: Result, plan: ChunkPlan, steps: Sequence[PlannedStep], ground: PlannedStep,
    changed: Collection[str],
) -> list[Fault]:  # fmt: skip
    """Return a note if the law of the job as it is now would move the status of a line.

    Parameters
    ----------
    result : Result
        Of an update with a law that is held.
    plan : ChunkPlan
        Of its whole job.
    steps : sequence of PlannedStep
        The steps by line.
    ground : PlannedStep
        The step that learns the law, with the settings of the update.
    changed : collection of str
        Lines that this update worked out. Of the others only those nearest to another status are
        looked at: all would take as long as learning the law again.
    """
    table = result.layers["lines"]
    names = texts(table, "line_id").astype(str)
    looked_at = _nearest(result, names, changed)
    now = load_steps()["ground"](Result(result.job), **{**ground.settings, "ground": None})
    laws = {name: now.layers[name] for name in LAWS}
    own = np.isin(texts(plan.job.routes, "line_id").astype(str), list(looked_at))
    earlier = replace(result, layers={**result.layers, **laws}, kept=None)
    done = Task.of(_before(earlier, steps), steps).run(plan.part(own)).layers["lines"]
    before = dict(zip(names, texts(table, "status"), strict=True))
    after = zip(texts(done, "line_id").astype(str), texts(done, "status"), strict=True)
    moved = [name for name, status in after if before.get(name) != status]
    if not moved:
        return []
    more = ["..."] if len(moved) > _MOST_NAMED else []
    named = ", ".join([*moved[:_MOST_NAMED], *more])
    reason = Reason("law_would_move", lines=named, moved=len(moved), looked_at=len(looked_at))
    return [Fault("job", reason, effect="noted")]


def _nearest(result: Result, names: Objects, changed: Collection[str]) -> set[str]:
    """Return lines that changed, and those whose probabilities are nearest to one half."""
    table, marks = result.layers["lines"], result.layers["marks"]
    at_mark = dict(zip(texts(marks, "line_id").astype(str),
                       floats(marks, "probability_within_1ft"), strict=True))  # fmt: skip
    leak = floats(table, "leak_probability")
    mark = np.array([at_mark.get(name, np.nan) for name in names])
    off = np.fmin(np.abs(leak - 0.5), np.abs(mark - 0.5))
    order = names[np.argsort(np.where(np.isfinite(off), off, np.inf), kind="stable")]
    return {*sorted(changed)[:_MOST_LINES], *order[:_MOST_LINES].tolist()}


def _before(result: Result, steps: Sequence[PlannedStep]) -> Result:
    """Return a result without the layers and runs of the steps by line and of later ones."""
    by_line = {one.step.name for one in steps}
    first = next(k for k, one in enumerate(result.made) if one.step in by_line)
    made = result.made[:first]
    kept = {name for one in made for name in one.layers}
    layers = {name: layer for name, layer in result.layers.items() if name in kept}
    return replace(result, layers=layers, made=made, faults=(), streamed={})
