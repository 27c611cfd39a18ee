"""What following the advice saves: a few readings, then where `advise` says, until it says enough.

On each simulated line the same ground (leak, coupling of every place, bursts to come) is walked
twice: in the usual way, a stop every 1.2 m and then one every 0.3 m about the loudest; and by the
advice, from a line that nobody has listened to. Run
``python -m tests.benchmarks.advice --fields 200 --seed 1``; everything is seeded. With
``--world`` the lines are those of a world of physics of its own (`tests.worlds.sites`).
"""

from __future__ import annotations

import argparse
import re
import tempfile
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

import leakgeo
from leakgeo.simulate import Conditions
from leakgeo.simulate.job import fields_to_layers
from leakgeo.simulate.site import Site, draw_site
from leakgeo.simulate.write import write_job
from tests.benchmarks.own import estimates, estimates_of
from tests.benchmarks.score import Score, score
from tests.worlds.sites import SITES, Heard, WorldSite, layers_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from leakgeo.result import Result
    from leakgeo.simulate import Recorded
    from tests.benchmarks.estimate import Estimate

COARSE_M, FINE_M, FINE_STEPS = 1.2, 0.3, 7
EACH, MOST_ROUNDS = 4, 30
SHORT_M, MOST_SHARE = 0.6, 0.6
DECILES = np.arange(10, 100, 10)


@dataclass(frozen=True)
class Walk:
    """A line walked in one way: its record, what was made of it, and why the crew stopped."""

    field: Recorded | Heard
    estimate: Estimate
    why: str = ""


def draw_sites(n: int, seed: int, conditions: Conditions) -> list[Site]:
    """Draw lines, each from its own seed, so that more of them leave the first as they were."""
    return [draw_site(np.random.default_rng([seed, i]), conditions) for i in range(n)]


def length_m(site: Site | WorldSite) -> float:
    """Return the length of a line, simulated or of another world."""
    return site.length_m if isinstance(site, WorldSite) else site.truth.ground.length_m


def _layers(fields: Mapping[str, Recorded | Heard]) -> dict[str, pd.DataFrame]:
    if any(isinstance(f, Heard) for f in fields.values()):
        return layers_of(fields)
    return fields_to_layers(list(fields.values()), line_ids=list(fields))


def usual(site: Site | WorldSite) -> Recorded | Heard:
    """Walk in coarse steps, then in fine steps about the loudest of them."""
    length = length_m(site)
    coarse = np.arange(0.0, length, COARSE_M)
    walk = np.zeros(len(coarse), dtype=np.intp)
    shown = site.field(coarse, walk).level
    loudest = float(coarse[shown == shown.max()].mean())
    fine = loudest + FINE_M * np.arange(-FINE_STEPS, FINE_STEPS + 1)
    fine = fine[(fine >= 0.0) & (fine <= length)]
    stops = np.concatenate([coarse, fine])
    return site.field(stops, np.append(walk, np.ones(len(fine), dtype=np.intp)))


def walk_usual(sites: Sequence[Site | WorldSite]) -> list[Walk]:
    """Walk all lines in the usual way."""
    fields = [usual(site) for site in sites]
    found = estimates(_layers({f"L-{k:04d}": f for k, f in enumerate(fields)}))
    return [Walk(f, e) for f, e in zip(fields, found, strict=True)]


@dataclass(frozen=True)
class _Going:
    """A line as far as it was walked: stops, and the walk of each."""

    site: Site | WorldSite
    stop_m: np.ndarray
    walk: np.ndarray

    @property
    def field(self) -> Recorded | Heard:
        return self.site.field(self.stop_m, self.walk)

    def on(self, stop_m: np.ndarray) -> _Going:
        """The same line with more stops; those of the first round are a walk of their own."""
        later = np.full(len(stop_m), int(len(self.walk) > 0))
        return replace(
            self, stop_m=np.append(self.stop_m, stop_m), walk=np.append(self.walk, later)
        )


def walk_advised(
    sites: Sequence[Site | WorldSite], each: int = EACH, rounds: int = MOST_ROUNDS, **given: object
) -> list[Walk]:
    """Walk all lines by the advice, `each` stops a round, until it has none or the rounds end."""
    going = {f"L-{k:04d}": _Going(s, np.empty(0), np.empty(0, int)) for k, s in enumerate(sites)}
    done: dict[str, Walk] = {}
    for turn in range(rounds + 1):
        if not going:
            break
        result = _advised(going, how_many=each, first_walks="all", **given)
        going, ended = _next_round(going, result, last=turn == rounds)
        done |= ended
    return [done[name] for name in sorted(done)]


def _advised(going: dict[str, _Going], **given: object) -> Result:
    layers = _layers({name: g.field for name, g in going.items()})
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "fields.gpkg"
        write_job({k: v for k, v in layers.items() if k != "truth"}, path)
        return leakgeo.advise(path, **given)


def _next_round(
    going: dict[str, _Going], result: Result, *, last: bool
) -> tuple[dict[str, _Going], dict[str, Walk]]:
    """Lines that go on, with their new stops, and those that have ended."""
    stops = dict(list(result["next_readings"].groupby("line_id")["chainage_m"]))
    advice = result["lines"].set_index("line_id")["advice"]
    found = dict(zip(going, estimates_of(result, list(going)), strict=True))
    ended = {
        name: Walk(g.field, found[name], "rounds" if name in stops else str(advice[name]))
        for name, g in going.items()
        if last or name not in stops
    }
    on = {n: g.on(stops[n].to_numpy()) for n, g in going.items() if n not in ended}
    return on, ended


@dataclass(frozen=True)
class Outcome:
    """Of the leaking lines: readings taken, and how the marks and zones came out."""

    readings: np.ndarray
    score: Score

    @property
    def zone_m(self) -> np.ndarray:
        """Length of the zones, infinite where there is none."""
        return np.where(np.isfinite(self.score.length_m), self.score.length_m, np.inf)

    @property
    def short(self) -> np.ndarray:
        """Which lines have a zone that is short enough."""
        return self.zone_m <= SHORT_M + 1e-6

    def row(self, name: str) -> str:
        """Give one row of the table."""
        s = self.score
        return (
            f"| {name} | {self.readings.mean():.1f} | {self.short.mean():.3f} "
            f"| {s.within_foot.mean():.3f} | {(s.error_m <= 1).mean():.3f} "
            f"| {np.nanmean(s.covered):.3f} | {np.median(self.zone_m):.2f} m "
            f"| {np.nanmean(s.claim):.3f} |"
        )


def outcome(walks: Sequence[Walk]) -> Outcome:
    """Score walks, of the lines that leak."""
    readings = np.array([w.field.level.size for w in walks if w.field.leaks], dtype=float)
    return Outcome(readings, score([w.field for w in walks], [w.estimate for w in walks]))


HEADER = (
    f"| walk | readings | zone {SHORT_M} m or less | within 1 ft | within 1 m | zone holds leak "
    "| median zone | claims |\n|---|---|---|---|---|---|---|---|"
)


def deciles(name: str, values: np.ndarray, digits: int) -> str:
    """Give a row of deciles."""
    cells = np.percentile(values, DECILES, method="nearest")
    return f"| {name} | " + " | ".join(f"{v:.{digits}f}" for v in cells) + " |"


def table(plain: Outcome, advised: Outcome) -> str:
    """Set the two ways of walking side by side, with their spread over the lines."""
    share = advised.readings / plain.readings
    head = "| tenths of the lines | " + " | ".join(f"{d} %" for d in DECILES) + " |"
    rows = [
        HEADER, plain.row("usual"), advised.row("advised"), "",
        head, "|" + "---|" * (len(DECILES) + 1),
        deciles("readings, usual", plain.readings, 0),
        deciles("readings, advised", advised.readings, 0),
        deciles("advised / usual", share, 2),
        deciles("zone, usual (m)", plain.zone_m, 2),
        deciles("zone, advised (m)", advised.zone_m, 2),
        deciles("error, usual (m)", plain.score.error_m, 2),
        deciles("error, advised (m)", advised.score.error_m, 2), "",
        *_in_all(plain, advised),
    ]  # fmt: skip
    return "\n".join(rows)


def _in_all(plain: Outcome, advised: Outcome) -> list[str]:
    share, both = advised.readings / plain.readings, plain.short & advised.short
    few = share <= MOST_SHARE
    ratio = advised.readings.sum() / plain.readings.sum()
    strays = advised.readings - ratio * plain.readings
    more = advised.score.within_foot.astype(float) - plain.score.within_foot
    told = {
        "lines that leak": len(share),
        "readings, advised over usual, in all": ratio,
        "its standard error": np.sqrt((strays**2).sum()) / plain.readings.sum(),
        "marks within 1 ft, advised less usual": more.mean(),
        "standard error of that": more.std() / np.sqrt(len(more)),
        f"lines with at most {MOST_SHARE} of the usual readings": few.mean(),
        f"lines with a zone of {SHORT_M} m or less and so few readings": (
            advised.short & few
        ).mean(),
        "lines short by both ways": both.mean(),
        "lines short by the usual way alone": (plain.short & ~both).mean(),
        "lines short by advice alone": (advised.short & ~both).mean(),
    }
    if both.any():
        times = advised.readings[both].sum() / plain.readings[both].sum()
        told["readings where both are short, advised over usual"] = times
    return [f"- {what}: {value:.3f}" for what, value in told.items()]


def main(given: Sequence[str] | None = None) -> None:
    """Print the comparison."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fields", type=int, default=200, help="lines")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--each", type=int, default=EACH, help="stops a round")
    parser.add_argument("--world", choices=list(SITES), help="instead of the simulator")
    args = parser.parse_args(given)
    if args.world:
        sites = [SITES[args.world](args.seed, k) for k in range(args.fields)]
    else:
        sites = draw_sites(args.fields, args.seed, Conditions(tape_share=1.0))
    plain, advised = walk_usual(sites), walk_advised(sites, args.each)
    print(table(outcome(plain), outcome(advised)))
    for why, count in Counter(re.split(r"[:.]| the zone", w.why)[0] for w in advised).most_common():
        print(f"- ended {count} times with: {why}")


if __name__ == "__main__":
    main()
