"""What the advice saves when all of it is followed: its actions, beside stops alone and the usual.

The same sites (see `tests.benchmarks.closed_loop_sites`) are worked in three ways: by the usual
walk, a stop every 1.2 m and then one every foot about the loudest; by the stops that `advise`
proposes; and by the first of its actions, each turn, until it has none. Run
``python -m tests.benchmarks.closed_loop --lines 100 --seed 1 --world streets``; everything is
seeded. The costs are those of the advice, for all three.
"""

from __future__ import annotations

import argparse
import re
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

import leakgeo
from leakgeo.find.advise.action_costs import action_costs
from leakgeo.simulate.write import write_job
from tests.benchmarks.closed_loop_gain import (
    Belief,
    Gain,
    beliefs,
    by_kind,
    gain_between,
    gain_table,
    gains_by_truth,
)
from tests.benchmarks.closed_loop_simulator import simulator_sites
from tests.benchmarks.closed_loop_sites import (
    ASSUMED_KINDS,
    KINDS,
    LINE,
    Action,
    Site,
    joined,
)
from tests.benchmarks.closed_loop_streets import street_sites
from tests.benchmarks.closed_loop_words import contradictions
from tests.benchmarks.estimate import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from leakgeo.result import Result

WORLDS = {"streets": street_sites, "simulator": simulator_sites}
COARSE_M, FINE_STEPS = 1.2, 7
EACH, MOST_TURNS = 4, 25
# What a line without a leak may be said to be, by what is true of it.
_RIGHT = {
    "none": ("no_leak_heard", "other_source"), "machine": ("no_leak_heard", "other_source"),
    "fitting": ("no_leak_heard", "other_source"), "neighbour": ("no_leak_heard", "other_source"),
    "beyond_start": ("beyond_end",), "beyond_end": ("beyond_end",),
    "inside": ("beyond_end", "other_source"),
}  # fmt: skip
_SAID = ("no_leak_heard", "other_source", "beyond_end")


@dataclass
class Worked:
    """A site as it ended.

    Parameters
    ----------
    site : Site
    status : str
        Of its line in the end.
    mark_m : float
        Chainage of its mark; NaN without one.
    likely_m : float
        Likeliest place so far.
    why : str
        Code of the advice in the end; ``turns`` if they ended.
    """

    site: Site
    status: str
    mark_m: float
    likely_m: float
    why: str

    @property
    def end(self) -> str:
        """How the job ended: located, located within 1 m only, not this pipe, wrong or open."""
        truth, site = self.site.truth, self.site
        if site.closed:
            right = site.closed == "not_this_pipe"
            return "not this pipe" if right and truth.kind != "leak" else "wrong"
        if self.status == "located":
            off = abs(self.mark_m - truth.place_m) if truth.kind == "leak" else np.inf
            return "located" if off <= FOOT_M else "within 1 m" if off <= 1.0 else "wrong"
        if self.status in _SAID:
            return "not this pipe" if self.status in _RIGHT.get(truth.kind, ()) else "wrong"
        return "open"

    @property
    def near(self) -> bool:
        """Whether the likeliest place is within a foot of the leak."""
        off = abs(self.likely_m - self.site.truth.place_m)
        return self.site.truth.kind == "leak" and bool(off <= FOOT_M)


@dataclass
class Loop:
    """What came of one way of working.

    Parameters
    ----------
    worked : list of Worked
        By site.
    gains : list of (str, Gain)
        Of each action that was followed.
    said : list of str
        Words that contradict one another.
    turns : int
    """

    worked: list[Worked]
    gains: list[tuple[str, Gain]] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    turns: int = 0


def advised(sites: Mapping[str, Site], how_many: int = EACH, **given: object) -> Result:
    """Take the jobs of some sites, as one, through the steps up to the advice."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.gpkg"
        write_job(joined(sites), path)
        return leakgeo.advise(path, how_many=how_many, first_walks="all", **given)


def worked_out(sites: Mapping[str, Site], result: Result, why: str = "") -> list[Worked]:
    """Read from a result how sites ended."""
    lines = result.layers["lines"].set_index("line_id")
    found = []
    for name, site in sites.items():
        line = lines.loc[name + LINE]
        at = float(line["chainage_m"]) if pd.notna(line["chainage_m"]) else np.nan
        status = str(line["status"])
        code = why or str(line["advice_code"])
        found.append(Worked(site, status, at if status == "located" else np.nan, at, code))
    return found


def usual(sites: Mapping[str, Site]) -> Loop:
    """Walk each line in coarse steps, then in steps of a foot about the loudest."""
    for site in sites.values():
        coarse = np.arange(0.0, site.length_m, COARSE_M)
        level = site.walk(coarse)
        loudest = float(coarse[level == level.max()].mean())
        fine = loudest + FOOT_M * np.arange(-FINE_STEPS, FINE_STEPS + 1)
        fine = fine[(fine >= 0.0) & (fine <= site.length_m)]
        site.walk(fine)
        readings = len(coarse) + len(fine)
        site.spent.readings += readings
        site.spent.actions += ["listen", "listen"]
        site.spent.add("listen", minutes(coarse) + minutes(fine))
    result = advised(sites)
    return Loop(worked_out(sites, result, "usual"), turns=1)


def minutes(stops_m: Sequence[float] | np.ndarray) -> float:
    """Give the minutes of listening at some stops, as the advice has it."""
    walked = float(np.abs(np.diff(np.asarray(stops_m))).sum())
    return action_costs().minutes("listen", stops=len(stops_m), walk_m=walked)


@dataclass(frozen=True)
class Chosen:
    """An action that is to be done, the bits that it is expected to tell, and its minutes."""

    action: Action
    bits: float
    minutes: float


def stops_alone(name: str, site: Site, result: Result) -> Chosen | None:
    """Choose the proposed stops, if there are any."""
    stops = _stops(result).get(name + LINE)
    if stops is None:
        return None
    bits = stops["expected_gain_bits"].to_numpy(float)
    at = tuple(stops["chainage_m"].to_numpy(float).tolist())
    return Chosen(Action("listen", stops_m=at), float(bits.sum()), minutes(at))


def first_action(name: str, site: Site, result: Result, patience: int = 0) -> Chosen | None:
    """Choose the first action that was not done without a record before, if there is any.

    With patience, an action other than to listen is not done more often at one place.
    """
    rows = result.layers["next_actions"]
    own = rows[rows["line_id"] == name + LINE].sort_values("order")
    for _, row in own.iterrows():
        action = _action(name, row, result)
        tired = patience and action.kind not in LISTENS and site.times(action) >= patience
        if action.key not in site.done and not tired:
            return Chosen(action, float(row["expected_gain_bits"]), float(row["minutes"]))
    return None


def _action(name: str, row: pd.Series, result: Result) -> Action:
    kind, stops = str(row["action"]), _stops(result).get(name + LINE)
    at = tuple(stops["chainage_m"].tolist()) if kind in LISTENS and stops is not None else ()
    contact, valve = (_named(row[key]) for key in ("contact_id", "valve_id"))
    place = float(row["chainage_m"]) if pd.notna(row["chainage_m"]) else np.nan
    if kind in ABOUT_LIKELIEST and not np.isfinite(place):
        place = likeliest(name, result)
    return Action(kind, place, contact, valve, at)


def likeliest(name: str, result: Result) -> float:
    """Give the likeliest place of a leak on a line, heard or not."""
    lines = result.layers["lines"].set_index("line_id")
    at = lines.loc[name + LINE, "chainage_m"]
    profile = result.layers["profile"]
    own = profile[profile["line_id"] == name + LINE].dropna(subset="leak_density_per_m")
    if pd.notna(at) or own.empty:
        return float(at)
    return float(own["chainage_m"][own["leak_density_per_m"].idxmax()])


def _named(ids: object) -> str:
    """Give ids without the four figures of their site."""
    parts = [] if pd.isna(ids) else str(ids).split(",")
    return ",".join(part.strip()[4:] for part in parts)


def _stops(result: Result) -> dict[str, pd.DataFrame]:
    stops = result.layers["next_readings"].sort_values(["line_id", "order"])
    return dict(list(stops.groupby("line_id")))


def followed(
    sites: Mapping[str, Site], policy: Callable[[str, Site, Result], Chosen | None],
    turns: int = MOST_TURNS, **given: object,
) -> Loop:  # fmt: skip
    """Work sites by a policy, one action of each a turn, until it has none or the turns end."""
    loop = Loop([])
    going, ended = dict(sites), dict[str, Worked]()
    asked = dict[str, tuple[Chosen, Belief | None]]()
    for turn in range(turns + 1):
        result = advised(going, **given)
        loop.turns = turn
        loop.said += [f"turn {turn}: {words}" for words in contradictions(result.layers)]
        held = beliefs(result)
        loop.gains += _told(going, asked, held)
        asked = {}
        for name, site in list(going.items()):
            goes_on = turn < turns and not site.closed
            chosen = policy(name, site, result) if goes_on else None
            if chosen is not None:
                asked[name] = chosen, held.get(name + LINE)
                _do(site, chosen)
            else:
                why = site.closed or ("turns" if turn == turns else "")
                ended[name] = worked_out({name: site}, result, why)[0]
                del going[name]
        if not going:
            break
    loop.worked = [ended[name] for name in sites]
    return loop


def _do(site: Site, chosen: Chosen) -> None:
    site.do(chosen.action)
    site.spent.add(chosen.action.kind, chosen.minutes)


def _told(
    going: Mapping[str, Site], asked: Mapping[str, tuple[Chosen, Belief | None]],
    held: Mapping[str, Belief],
) -> list[tuple[str, Gain]]:  # fmt: skip
    """Give what the actions of the last turn told."""
    found = []
    for name, (chosen, before) in asked.items():
        after = held.get(name + LINE)
        if name in going and before and after:
            gain = gain_between(before, after, going[name].truth, chosen.bits)
            found.append((chosen.action.kind, gain))
    return found


def table(loops: Mapping[str, Loop]) -> str:
    """Set the ways of working side by side."""
    head = ["way", "readings", "minutes", "actions", "located within 1 ft", "only within 1 m",
            "not this pipe, right", "wrong", "open", "likeliest within 1 ft", "turns"]  # fmt: skip
    rows = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    plain = next(iter(loops.values()))
    for name, loop in loops.items():
        rows.append(_row(name, loop))
    rows.append("")
    rows += ["| way | readings, leak | minutes, leak | readings, no leak | minutes, no leak |",
             "|" + "---|" * 5]  # fmt: skip
    for name, loop in loops.items():
        cells = [f"{_mean(loop, what, leaks=leaks):.1f}" for leaks in (True, False)
                 for what in ("readings", "minutes")]  # fmt: skip
        rows.append("| " + " | ".join([name, *cells]) + " |")
    rows.append("")
    for name, loop in list(loops.items())[1:]:
        ratios = (f"{what} {_mean(loop, what) / _mean(plain, what):.2f}"
                  for what in ("readings", "minutes"))  # fmt: skip
        rows.append(f"- {name} over usual: " + ", ".join(ratios))
    return "\n".join(rows)


def _mean(loop: Loop, what: str, *, leaks: bool | None = None) -> float:
    own = [getattr(w.site.spent, what) for w in loop.worked
           if leaks in (None, w.site.truth.kind == "leak")]  # fmt: skip
    return float(np.mean(own)) if own else np.nan


def _row(name: str, loop: Loop) -> str:
    ends = Counter(w.end for w in loop.worked)
    leaks = [w for w in loop.worked if w.site.truth.kind == "leak"]
    others = len(loop.worked) - len(leaks)
    shares = [
        f"{ends['located'] / max(len(leaks), 1):.3f} of {len(leaks)}",
        f"{ends['within 1 m'] / max(len(leaks), 1):.3f}",
        f"{ends['not this pipe'] / max(others, 1):.3f} of {others}",
        f"{ends['wrong'] / len(loop.worked):.3f}", f"{ends['open'] / len(loop.worked):.3f}",
        f"{np.mean([w.near for w in leaks]):.3f}" if leaks else "",
    ]  # fmt: skip
    actions = np.mean([len(w.site.spent.actions) for w in loop.worked])
    cells = [f"{_mean(loop, 'readings'):.1f}", f"{_mean(loop, 'minutes'):.1f}", f"{actions:.1f}"]
    return "| " + " | ".join([name, *cells, *shares, str(loop.turns)]) + " |"


def by_truth(loops: Mapping[str, Loop]) -> str:
    """Count how the jobs of each truth ended, for each way."""
    rows = ["| truth | " + " | ".join(loops) + " |", "|" + "---|" * (1 + len(loops))]
    for kind in sorted({w.site.truth.kind for loop in loops.values() for w in loop.worked}):
        cells = []
        for loop in loops.values():
            own = Counter(w.end for w in loop.worked if w.site.truth.kind == kind)
            cells.append(", ".join(f"{end} {n}" for end, n in own.most_common()))
        rows.append(f"| {kind} | " + " | ".join(cells) + " |")
    return "\n".join(rows)


def report(name: str, loop: Loop) -> str:
    """Tell what was done, what it told, why the crews stopped, and what was said."""
    done = Counter(kind for w in loop.worked for kind in w.site.spent.actions)
    why = Counter(w.why for w in loop.worked)
    kinds = Counter(re.sub(r"^turn \d+: \S+ ", "", words) for words in loop.said)
    said = [f"  - {n} times: a line {words}" for words, n in kinds.most_common(20)]
    spent = Counter[str]()
    for w in loop.worked:
        spent.update(w.site.spent.minutes_of)
    total = sum(spent.values()) or 1.0
    minutes = ", ".join(f"{k} {m / total:.0%}" for k, m in spent.most_common())
    return "\n".join([
        f"### {name}", "", f"minutes: {minutes}",
        "done: " + ", ".join(f"{k} {n}" for k, n in done.most_common()),
        "ended with: " + ", ".join(f"{k} {n}" for k, n in why.most_common()),
        f"contradictions: {len(loop.said)}", *said, "", gain_table(by_kind(loop.gains)), "",
        gains_by_truth(loop.gains), "",
    ])  # fmt: skip


# Actions at the stops that are proposed, and those about the likeliest place.
LISTENS, ABOUT_LIKELIEST = ("listen", "walk_on"), ("night", "probe")
WAYS = {"usual": None, "stops": stops_alone, "actions": first_action}


def main(given: Sequence[str] | None = None) -> None:
    """Print the comparison."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--world", choices=list(WORLDS), default="streets")
    parser.add_argument("--turns", type=int, default=MOST_TURNS)
    parser.add_argument("--ways", nargs="+", choices=list(WAYS), default=list(WAYS))
    parser.add_argument("--sweep-step", type=float, default=2 * FOOT_M, help="between places, m")
    parser.add_argument("--assumed", action="store_true", help="kinds as the locator assumes")
    parser.add_argument("--patience", type=int, default=0, help="how often a crew does the same")
    parser.add_argument("--without", default="", help="actions that the crew can't do")
    parser.add_argument("--lines-too", action="store_true", help="how each line was worked")
    args = parser.parse_args(given)
    loops = {}
    for name in args.ways:
        begin = time.perf_counter()
        kinds = ASSUMED_KINDS if args.assumed else KINDS
        sites = WORLDS[args.world](args.lines, args.seed, kinds)
        for site in sites.values():
            site.sweep_step_m = args.sweep_step
        without = {"without": args.without} if args.without and name == "actions" else {}
        loops[name] = worked_by(name, sites, args.turns, args.patience, **without)
        sys.stderr.write(f"{name}: {time.perf_counter() - begin:.0f} s\n")
    print(table(loops), by_truth(loops), sep="\n\n", end="\n\n")
    for name, loop in loops.items():
        print(report(name, loop))
        if args.lines_too:
            print(*each_line(loop), "", sep="\n")


def worked_by(way: str, sites: Mapping[str, Site], turns: int = MOST_TURNS, patience: int = 0,
              **given: object) -> Loop:  # fmt: skip
    """Work sites in one of the ways."""
    policy = WAYS[way]
    if policy is first_action:
        policy = partial(first_action, patience=patience)
    return usual(sites) if policy is None else followed(sites, policy, turns, **given)


def each_line(loop: Loop) -> list[str]:
    """Tell of each line what is true, what was done, and how it ended."""
    return [
        f"{i:04d} {w.site.truth.kind} at {w.site.truth.place_m:.1f} of {w.site.length_m:.1f} m: "
        f"{' '.join(w.site.spent.actions)} -> {w.end} ({w.status}, {w.why}, {w.likely_m:.2f})"
        for i, w in enumerate(loop.worked)
    ]


if __name__ == "__main__":
    main()
