"""Walks whose levels look as if the instrument, not the pipe, had made them: told, never mended."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.faults import Fault
from leakgeo.reason import Reason
from leakgeo.sound.compare import GROUP_BY

if TYPE_CHECKING:
    from collections.abc import Iterable

    from leakgeo.arrays import Bools, Floats, Ints

# Fewer readings than this say nothing of an instrument.
FEWEST = 6
# A run of one displayed value is suspect when noise would give it on fewer walks than one in this.
RARE = 2e-3
# How often two readings of whole decibels are alike, at the most, and of whole units by their size:
# a normal error of s units is alike with 1 / (2 s sqrt(pi)), and noise is 0.15 of a linear value.
ALIKE_DB, NOISE_SHARE = 0.3, 0.15
# Readings at one end of a display, at least, and their share of the walk; so many at a value that
# is no usual end of one, in decibels and in linear units.
AT_END, AT_END_SHARE = 3, 0.15
AT_TOP_DB, AT_TOP_LINEAR = 9, 6
# Where displays usually end: round figures, and what so many bits or digits hold.
ENDS = (99, 100, 127, 128, 200, 255, 256, 500, 511, 512, 999, 1000, 1023, 1024, 4095, 4096)
# A step of gain: so many readings on either side, flat within this, so much apart.
SIDE, FLAT_DB, STEP_DB = 4, 2.0, 8.0
# Levels of so many stops, with so many rises among them, never only rise: noise turns some back.
IN_ORDER, RISES = 12, 6
# Walks that are nearer than this along the line can still be held against each other.
NEAR_M = 1.0


@dataclass(frozen=True)
class Walks:
    """Readings in the order they were taken, walk after walk.

    Parameters
    ----------
    walk : ndarray of int, shape (n,)
        Code of each reading's walk, ascending.
    shown, level_db, chainage_m : ndarray of float, shape (n,)
        What the display showed; the level without known gain; the place.
    surface : ndarray of int, shape (n,)
    linear, gain_known : ndarray of bool, shape (n,)
    names : pandas.DataFrame
        ``line_id``, ``walk_id`` and ``reading_id`` of each reading.
    """

    walk: Ints
    shown: Floats
    level_db: Floats
    chainage_m: Floats
    surface: Ints
    linear: Bools
    gain_known: Bools
    names: pd.DataFrame

    @property
    def size(self) -> Ints:
        """Readings in each walk, shape (walks,)."""
        return np.bincount(self.walk)

    def first(self) -> Ints:
        """First reading of each walk, shape (walks,)."""
        return np.searchsorted(self.walk, np.arange(len(self.size)))


def suspect_walks(readings: pd.DataFrame, shown: Floats) -> list[Fault]:
    """Tell of walks that look clipped, stuck, all alike, changed in gain, or beyond comparison.

    Each can come about on a good line, so none is more than noted. On simulated good lines, all
    together are noted on fewer than one in a hundred; ``tests/battery`` holds that.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``, used rows alone are looked at.
    shown : ndarray of float, shape (n,)
        What the display showed.

    Returns
    -------
    list of Fault
    """
    walks = _in_order(readings, shown)
    if not len(walks.walk):
        return []
    alike = _all_alike(walks)
    return [*_told_alike(walks, alike), *_clipped(walks, alike), *_stuck(walks, alike),
            *_stepped(walks), *_sorted(walks), *_apart(walks)]  # fmt: skip


def _in_order(readings: pd.DataFrame, shown: Floats) -> Walks:
    good = np.flatnonzero(np.asarray(readings["used"], dtype=bool))
    own = readings.iloc[good]
    keys = [own[c].fillna("") for c in (*GROUP_BY, "band") if c in own]
    walk = own.groupby([*keys, own["gain_known"]], sort=True).ngroup().to_numpy()
    place, seq = floats(own, "chainage_m"), floats(own, "seq")
    order = np.lexsort((place, np.nan_to_num(seq, nan=0.0), walk))
    own = own.iloc[order]
    return Walks(
        np.asarray(walk[order], dtype=np.int64), shown[good][order], floats(own, "level_db"),
        place[order], np.asarray(pd.factorize(texts(own, "surface"))[0], dtype=np.int64),
        texts(own, "sound_unit") == "scale", np.asarray(own["gain_known"], dtype=bool),
        own[["line_id", "walk_id", "reading_id"]].reset_index(drop=True),
    )  # fmt: skip


def _fault(walks: Walks, row: int, code: str, **values: object) -> Fault:
    name = walks.names.iloc[row]
    named = pd.notna(name["walk_id"])
    walk = Reason("walk", walk=str(name["walk_id"])[:60]) if named else Reason("walk_unnamed")
    return Fault("readings", Reason(code, walk=walk, **values), str(name["line_id"]),
                 "sound_level", f"{walks.shown[row]:g}", "noted")  # fmt: skip


def _spread(walks: Walks) -> tuple[Floats, Floats]:
    """Least and greatest value shown in each walk."""
    first = walks.first()
    return np.minimum.reduceat(walks.shown, first), np.maximum.reduceat(walks.shown, first)


def _all_alike(walks: Walks) -> Bools:
    least, most = _spread(walks)
    return np.asarray((least == most) & (walks.size >= FEWEST))


def _told_alike(walks: Walks, alike: Bools) -> Iterable[Fault]:
    first = walks.first()
    for k in np.flatnonzero(alike):
        row = int(first[k])
        yield _fault(
            walks, row, "level_all_alike", level=f"{walks.shown[row]:g}", stops=walks.size[k]
        )


def _clipped(walks: Walks, alike: Bools) -> Iterable[Fault]:
    """Several readings at the end of a display: what is beyond it is not known."""
    (_, most), count = _spread(walks), walks.size
    at_top = np.bincount(walks.walk, walks.shown == most[walks.walk])
    at_zero = np.bincount(walks.walk, walks.shown == 0)
    linear = walks.linear[walks.first()]
    # Small linear values are alike by rounding; others by chance, unless there are many.
    by_chance = np.where(linear, np.where(most >= 20, AT_TOP_LINEAR, np.inf), AT_TOP_DB)
    enough = np.where(np.isin(most, ENDS), AT_END, by_chance)
    top = (at_top >= np.maximum(enough, AT_END_SHARE * count)) & ~alike & (most > 0)
    zero = (at_zero >= np.maximum(AT_END, AT_END_SHARE * count)) & ~alike
    for k in np.flatnonzero(top):
        row = int(np.flatnonzero((walks.walk == k) & (walks.shown == most[k]))[0])
        yield _fault(walks, row, "display_full", level=f"{most[k]:g}", times=int(at_top[k]))
    for k in np.flatnonzero(zero):
        row = int(np.flatnonzero((walks.walk == k) & (walks.shown == 0))[0])
        yield _fault(walks, row, "display_at_zero", times=int(at_zero[k]), stops=int(count[k]))


def _stuck(walks: Walks, alike: Bools) -> Iterable[Fault]:
    """A run of one value that is longer than noise lets it be."""
    begins = np.ones(len(walks.walk), dtype=bool)
    begins[1:] = (np.diff(walks.walk) != 0) | (np.diff(walks.shown) != 0)
    first = np.flatnonzero(begins)
    run = np.diff(np.append(first, len(begins)))
    value = np.maximum(np.abs(walks.shown[first]), 0.1)
    by_size = np.clip(1.0 / (2.0 * np.sqrt(np.pi) * NOISE_SHARE * value), 0.0, 0.95)
    same = np.where(walks.linear[first], np.maximum(by_size, 0.2), ALIKE_DB)
    count = walks.size[walks.walk[first]]
    chance = count * same ** (run - 1.0)
    rare = (run >= FEWEST) & (chance < RARE) & (walks.shown[first] != 0)
    found = np.flatnonzero(rare & ~alike[walks.walk[first]])
    found = found[np.lexsort((-run[found], walks.walk[first[found]]))]
    # The longest run of a walk stands for all.
    for k in found[np.unique(walks.walk[first[found]], return_index=True)[1]]:
        row = int(first[k])
        yield _fault(
            walks, row, "level_stuck", level=f"{walks.shown[row]:g}", times=run[k],
            reading=walks.names["reading_id"][row],
        )  # fmt: skip


def _stepped(walks: Walks) -> Iterable[Fault]:
    """A level that changes at once, and is flat before and after: likely the gain, untold."""
    if len(walks.walk) < 2 * SIDE:
        return
    window = np.lib.stride_tricks.sliding_window_view
    # What a linear display shows as 0 has no level of its own.
    hidden = walks.linear & (walks.shown == 0)
    level = window(np.where(hidden, np.inf, walks.level_db), 2 * SIDE)
    walk, surface = window(walks.walk, 2 * SIDE), window(walks.surface, 2 * SIDE)
    before, after = level[:, :SIDE], level[:, SIDE:]
    with np.errstate(invalid="ignore"):
        step = np.median(after, axis=1) - np.median(before, axis=1)
        flat = (np.ptp(before, axis=1) <= FLAT_DB) & (np.ptp(after, axis=1) <= FLAT_DB)
    one_walk = walk[:, 0] == walk[:, -1]
    same_ground = surface[:, SIDE - 1] == surface[:, SIDE]
    at = np.flatnonzero(flat & one_walk & same_ground & (np.abs(step) >= STEP_DB))
    for k in at[np.unique(walk[at, 0], return_index=True)[1]]:
        row = int(k) + SIDE
        yield _fault(
            walks, row, "level_jumps", by_db=abs(step[k]), louder=bool(step[k] > 0),
            reading=walks.names["reading_id"][row],
        )  # fmt: skip


def _sorted(walks: Walks) -> Iterable[Fault]:
    """Levels that only rise, or only fall: a column that was sorted without its rows."""
    first = walks.first()
    step = np.diff(walks.shown, prepend=walks.shown[0])
    step[first] = 0.0
    least, most = np.minimum.reduceat(step, first), np.maximum.reduceat(step, first)
    steps = np.add.reduceat(step != 0, first)
    one_way = (least >= 0) | (most <= 0)
    for k in np.flatnonzero(one_way & (walks.size >= IN_ORDER) & (steps >= RISES)):
        yield _fault(
            walks, int(first[k]), "levels_in_order", rise=bool(most[k] > 0), stops=walks.size[k]
        )


def _apart(walks: Walks) -> Iterable[Fault]:
    """Walks of unknown gain that share no stretch with any other of their line."""
    first = walks.first()
    low = np.minimum.reduceat(walks.chainage_m, first)
    high = np.maximum.reduceat(walks.chainage_m, first)
    line = pd.factorize(walks.names["line_id"].to_numpy()[first])[0]
    table = pd.DataFrame({"line": line, "low": low, "high": high, "row": first})
    table = table[~walks.gain_known[first]].sort_values(["line", "low"])
    # In order of their beginnings, a walk stands alone if all before it end, and the next begins,
    # beyond its reach.
    past = table.groupby("line")["high"].cummax().groupby(table["line"]).shift()
    coming = table.groupby("line")["low"].shift(-1)
    several = table.groupby("line")["row"].transform("size") > 1
    cut = several & (table["low"] - past > NEAR_M)
    del coming
    for row in table.loc[cut, "row"]:
        yield _fault(walks, int(row), "walk_apart")
