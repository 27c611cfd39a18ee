"""Each situation through the locator, beside what would be accepted."""

from __future__ import annotations

import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.simulate.write import write_job
from tests.situations import controls, digs, ends, meters, sources, sweeps  # noqa: F401
from tests.situations.situation import SITUATIONS
from tests.situations.verdicts import Verdict, accepted, mistaken

if TYPE_CHECKING:
    from tests.situations.jobs import Case
    from tests.situations.situation import Situation

_NOWHERE = np.empty((0, 2))
_LONGEST = 90


@dataclass(frozen=True)
class Draw:
    """One draw of a situation, judged.

    Parameters
    ----------
    said : dict of str to Verdict
        For each line that is judged.
    accepted, mistaken : bool
        Whether the verdicts on all of its lines would be accepted; whether one is a known mistake.
    error_m : float
        Distance from the mark of S-1 to the nearest leak, m; inf without either.
    """

    said: dict[str, Verdict]
    accepted: bool
    mistaken: bool
    error_m: float


def verdicts(case: Case, last: str = "clearance") -> dict[str, Verdict]:
    """Take a job through the steps up to the last, and read what is said of its lines.

    Parameters
    ----------
    case : Case
    last : str
        Name of a step; only clearance writes the next action.
    """
    import leakgeo
    from leakgeo.registry import load_steps
    from leakgeo.wording import wording
    from leakgeo.wording.layers import with_texts

    until = load_steps()[last].order
    steps = [name for name, step in load_steps().items() if step.order <= until]
    with tempfile.TemporaryDirectory() as folder:
        write_job(case.layers, Path(folder) / "job.gpkg")
        result = leakgeo.read_job(Path(folder) / "job.gpkg")
    for step in steps:
        result = getattr(leakgeo, step)(result)
    lines = with_texts(result.layers["lines"], wording()).set_index("line_id")
    marks = result.layers["marks"].to_crs(case.layers["routes"].crs)
    places = dict(list(marks.geometry.get_coordinates().groupby(marks["line_id"])))
    said = {}
    for name, line in lines.iterrows():
        own = places[name].to_numpy() if name in places else np.full((1, 2), np.nan)
        # Of several marks the one that is farthest from any leak is judged.
        leaks = np.reshape(case.leaks.get(name, _NOWHERE), (-1, 2))
        off = np.linalg.norm(own[:, None] - leaks, axis=2).min(axis=1, initial=np.inf)
        place = own[np.argmax(off)]
        action = line.get("next_action") or ""
        said[name] = Verdict(line["status"], place, line["chainage_m"], action)
    return said


def judged(one: Situation, number: int, last: str = "clearance") -> Draw:
    """Draw a situation and judge what is said of it after the last step."""
    case = one.draw(number)
    said = {name: verdict for name, verdict in verdicts(case, last).items() if name in one.wanted}
    good = [
        accepted(one.wanted[name], verdict, case.leaks.get(name, _NOWHERE), case.end_m)
        for name, verdict in said.items()
    ]
    bad = [
        mistaken(one.wanted[name], verdict, case.decoys.get(name, _NOWHERE))
        for name, verdict in said.items()
    ]
    error = said["S-1"].error_m(case.leaks.get("S-1", _NOWHERE))
    return Draw(said, len(good) == len(one.wanted) and all(good), any(bad), error)


HEADER = (
    "| situation | accepted | mistakes | statuses | first mark is off | first next action |\n"
    "|---|---|---|---|---|---|\n"
)


def row(one: Situation, draws: list[Draw]) -> str:
    """Give the row of a situation as Markdown."""
    got = Counter(" / ".join(verdict.status for verdict in d.said.values()) for d in draws)
    statuses = ", ".join(f"{status} {n}" for status, n in got.most_common())
    error, action = draws[0].error_m, draws[0].said["S-1"].action
    cells = (
        one.name,
        f"{sum(d.accepted for d in draws)}/{len(draws)}",
        f"{sum(d.mistaken for d in draws)}",
        statuses,
        f"{error:.2f} m" if np.isfinite(error) else "",
        action if len(action) <= _LONGEST else f"{action[:_LONGEST]} ...",
    )
    return "| " + " | ".join(cells).replace("\n", " ") + " |\n"


def totals(table: dict[str, list[Draw]]) -> str:
    """Give the shares over all situations, and the controls that were lost."""
    hard = [d for name, draws in table.items() if not SITUATIONS[name].control for d in draws]
    plain = {name: draws for name, draws in table.items() if SITUATIONS[name].control}
    lost = [f"{name} {n}" for name, draws in plain.items()
            if (n := sum(not d.accepted for d in draws))]  # fmt: skip
    every = [d for draws in table.values() for d in draws]
    lines = [f"accepted: {share(every, 'accepted')}; mistakes: {share(every, 'mistaken')}"]
    if hard:
        lines.append(f"without controls: {share(hard, 'accepted')} accepted, "
                     f"{share(hard, 'mistaken')} mistakes")  # fmt: skip
    if plain:
        lines.append(f"controls lost: {', '.join(lost) or 'none'}")
    return "\n".join(lines) + "\n"


def share(draws: list[Draw], what: str) -> str:
    """Give a count and its percentage."""
    many = sum(getattr(d, what) for d in draws)
    return f"{many} of {len(draws)} ({many / len(draws):.0%})"
