"""Holes as evidence: pipe seen dry has no leak, and a leak that was seen is there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd
import shapely
from scipy.special import ndtr

from leakgeo.arrays import floats, texts
from leakgeo.find.evidence.likelihood import Likelihood
from leakgeo.find.weights import load_weights
from leakgeo.job.checks import CHAINAGE_ONLY_SD_M, HOLE_SD_M, OFF_LINE_M
from leakgeo.job.model import without_fault
from leakgeo.reason import Reason, with_next
from leakgeo.route.place import place_on_routes

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import geopandas as gpd

    from leakgeo.arrays import Floats, Ints
    from leakgeo.find.posterior.rivals import Rival
    from leakgeo.job.model import Job
    from leakgeo.route.lines import Lines


@dataclass(frozen=True, order=True)
class Exposed:
    """A stretch of pipe that a hole exposed.

    Parameters
    ----------
    from_m, to_m : float
        Chainages of its ends.
    sd_m : float
        Error that both share (1-sigma).
    found : {"dry", "leak"}
    day : str
        Day of the hole in UTC, ``""`` where not known.
    taped : bool
        Whether the place of the leak was taped, and not only that of the hole.
    """

    from_m: float
    to_m: float
    sd_m: float
    found: Literal["dry", "leak"]
    day: str
    taped: bool = False

    @property
    def middle_m(self) -> float:
        """Chainage of the middle of the stretch."""
        return (self.from_m + self.to_m) / 2.0

    def holds(self, chainage_m: Floats) -> Floats:
        """Return the probability that each place on the line is in the stretch."""
        begin, end = ((chainage_m - each) / self.sd_m for each in (self.from_m, self.to_m))
        # Of a stretch without length rounding would leave less than nothing.
        return np.asarray(np.maximum(ndtr(begin) - ndtr(end), 0.0))

    def log_likelihood(self, chainage_m: Floats) -> Floats:
        """Return the log likelihood of what was seen, for a leak at each place on the line."""
        weight, inside = load_dig_weights(), self.holds(chainage_m)
        if self.found == "dry":
            return np.asarray(np.log1p(-(1.0 - weight["missed"]) * inside))
        return np.asarray(np.log(weight["mistaken"] + (1.0 - weight["mistaken"]) * inside))

    @property
    def log_likelihood_without_leak(self) -> float:
        """Log likelihood of what was seen if no leak is on the line."""
        return 0.0 if self.found == "dry" else float(np.log(load_dig_weights()["mistaken"]))

    def reason(self) -> Reason:
        """Return what was seen, where and when."""
        code = "dig_saw_dry_pipe" if self.found == "dry" else "dig_saw_leak"
        return Reason(code, from_m=self.from_m, to_m=self.to_m, day=self.day,
                      dated=bool(self.day))  # fmt: skip


@dataclass(frozen=True)
class SeenLeak:
    """A leak that was seen in holes and is not repaired.

    Parameters
    ----------
    exposed : tuple of Exposed
        Stretches of the holes, sorted; one or more.
    """

    exposed: tuple[Exposed, ...]

    @property
    def taped(self) -> bool:
        """Whether the place of the leak was taped in any of them."""
        return any(each.taped for each in self.exposed)

    def log_likelihood(self, chainage_m: Floats) -> Floats:
        """Return the log likelihood of what was seen, for a leak at each place on the line."""
        each = [stretch.log_likelihood(chainage_m) for stretch in self.exposed]
        return np.asarray(np.sum(each, axis=0))

    def is_right(self, chainage_m: Floats) -> Floats:
        """Return the probability that a leak at each place on the line is the one that was seen.

        Else every record of it is a mistake.
        """
        mistaken = len(self.exposed) * np.log(load_dig_weights()["mistaken"])
        return np.asarray(-np.expm1(mistaken - self.log_likelihood(chainage_m)))


@dataclass(frozen=True)
class DigEvidence:
    """Holes on one line.

    Parameters
    ----------
    exposed : tuple of Exposed
        Stretches with dry pipe or a leak that is still there, sorted.
    """

    exposed: tuple[Exposed, ...]

    @property
    def dry(self) -> list[tuple[float, float]]:
        """Ends of the stretches without a leak."""
        return [(each.from_m, each.to_m) for each in self.exposed if each.found == "dry"]

    def leaks(self) -> tuple[SeenLeak, ...]:
        """Return the leaks that were seen; holes close to each other saw the same leak."""
        leaks: list[list[Exposed]] = []
        near_m = load_dig_weights()["same_leak_m"]
        saw = [each for each in self.exposed if each.found == "leak"]
        for each in sorted(saw, key=lambda e: (e.middle_m, e)):
            if leaks and each.middle_m - leaks[-1][-1].middle_m <= near_m:
                leaks[-1].append(each)
            else:
                leaks.append([each])
        return tuple(SeenLeak(tuple(own)) for own in leaks)

    def likelihood(self, chainage_m: Floats, rivals: Sequence[Rival] = ()) -> Likelihood:
        """Return the likelihood of what was seen under each explanation of a posterior.

        Parameters
        ----------
        chainage_m : ndarray of float, shape (g,)
            Cells of the posterior.
        rivals : sequence of Rival
            Rivals of the posterior, shape (r,); a hole is no evidence about any of them.

        Returns
        -------
        Likelihood
            Of kind ``dig``.
        """
        none = sum(each.log_likelihood_without_leak for each in self.exposed)
        leak = np.sum([each.log_likelihood(chainage_m) for each in self.exposed], axis=0)
        reason = with_next(*(each.reason() for each in self.exposed))
        return Likelihood("dig", leak, none, np.full(len(rivals), none), none, reason)


def dig_likelihoods(job: Job, lines: Lines) -> dict[int, DigEvidence]:
    """Return the evidence of the holes on each line.

    A hole that did not reach the pipe, or whose result is not recorded, is no evidence; nor is a
    leak that was repaired.

    Parameters
    ----------
    job : Job
    lines : Lines

    Returns
    -------
    dict of int to DigEvidence
        By index of the line in `lines`; does not depend on the order of the rows.
    """
    digs = job.dig_outcomes
    if digs is None or digs.empty:
        return {}
    digs = digs.reset_index(drop=True)
    placed = place_holes(digs, lines)
    table = _exposed(digs, placed, lines)
    good = without_fault(placed["reason"]).to_numpy() & (table["line"] >= 0).to_numpy()
    table = table[good & table["found"].isin(["dry", "leak"]).to_numpy()]
    found = {}
    for line in np.unique(table["line"]).tolist():
        own = table[table["line"] == line]
        kept = own[~own["repaired"] & ~_repaired_later(own)]
        # A hole that was entered twice is one hole.
        stretches = {
            Exposed(*row)
            for row in kept[["from_m", "to_m", "sd_m", "found", "day", "taped"]].itertuples(
                index=False
            )
        }
        if stretches:
            found[line] = DigEvidence(tuple(sorted(stretches)))
    return found


def place_holes(digs: gpd.GeoDataFrame, lines: Lines) -> pd.DataFrame:
    """Place holes on their lines, as `leakgeo.route.place.place_on_routes` does.

    Parameters
    ----------
    digs : geopandas.GeoDataFrame
        ``dig_outcomes`` of a job.
    lines : Lines

    Returns
    -------
    pandas.DataFrame
        Index of `digs`.
    """
    line = lines.index_of(texts(digs, "line_id"))
    leak = _on_line(floats(digs, "leak_chainage_m"), line, lines)
    bare = shapely.is_missing(digs.geometry.to_numpy())
    reason = texts(digs, "reason")
    reason[bare & pd.isna(reason)] = Reason("dig_without_place")
    taped = np.isfinite(leak) & (line >= 0)
    # A position has no weight beside a chainage along the line that the dig names.
    points = digs.assign(
        reason=reason, tape_m=leak, chainage_sd_m=load_dig_weights()["edge_sd_m"],
        position_sd_m=np.where(taped, CHAINAGE_ONLY_SD_M, HOLE_SD_M),
    )  # fmt: skip
    return place_on_routes(points, lines, reading_sd_m=HOLE_SD_M, tape_sd_m=HOLE_SD_M)


def _on_line(chainage_m: Floats, line: Ints, lines: Lines) -> Floats:
    """Return chainages, NaN where they are beyond the line; the checks report these."""
    length = np.where(line >= 0, lines.length_m[line], np.inf) if len(lines.length_m) else np.inf
    return np.where(chainage_m <= length + OFF_LINE_M, chainage_m, np.nan)


def _exposed(digs: pd.DataFrame, placed: pd.DataFrame, lines: Lines) -> pd.DataFrame:
    """Return line, exposed stretch and its error, result, repair and time of each hole."""
    weight, line = load_dig_weights(), placed["line"].to_numpy(dtype=np.int64)
    ends = np.sort(np.stack([floats(digs, "exposed_from_m"), floats(digs, "exposed_to_m")]), axis=0)
    length = np.where(line >= 0, lines.length_m[line], np.nan)
    with np.errstate(invalid="ignore"):
        measured = ends[1] <= length + OFF_LINE_M
    hole, leak = (
        floats(placed, "chainage_m"),
        _on_line(floats(digs, "leak_chainage_m"), line, lines),
    )
    begin, end = (hole + side * weight["half_length_m"] for side in (-1.0, 1.0))
    # Of the pipe that was seen, the leak is where it was taped.
    taped = np.isfinite(leak) & (digs["found"] == "leak").to_numpy()
    ends = np.where(taped, [leak - weight["leak_half_m"], leak + weight["leak_half_m"]], ends)
    measured |= taped
    time = pd.Series(pd.NaT, digs.index) if "time" not in digs else digs["time"]
    repaired = pd.Series(False, digs.index) if "repaired" not in digs else digs["repaired"]
    return pd.DataFrame({
        "line": line, "hole_m": hole, "found": texts(digs, "found"), "time": time,
        "from_m": np.where(measured, ends[0], begin), "to_m": np.where(measured, ends[1], end),
        "sd_m": np.where(measured, weight["edge_sd_m"], HOLE_SD_M), "taped": taped,
        "day": ["" if pd.isna(each) else f"{each:%Y-%m-%d}" for each in time],
        "repaired": repaired.astype("boolean").fillna(value=False).to_numpy(dtype=bool),
    })  # fmt: skip


def _repaired_later(own: pd.DataFrame) -> pd.Series[bool]:
    """Return whether each hole saw a leak that was repaired there afterwards."""
    near = load_dig_weights()["same_leak_m"]
    repairs = own[own["repaired"] & (own["found"] == "leak")]
    later = [
        bool(((repairs["hole_m"] - hole).abs().le(near) & ~(repairs["time"] < time)).any())
        for hole, time in zip(own["hole_m"], own["time"], strict=True)
    ]
    return pd.Series(later, own.index, dtype=bool) & (own["found"] == "leak")


def load_dig_weights() -> Mapping[str, float]:
    """Load the assumptions about holes; ``digs.toml`` explains them."""
    return load_weights("leakgeo.find.evidence", "digs")["hole"]
