"""Walks with suspect levels: clipped, stuck, sorted, changed in gain. They are only reported."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.faults import Fault
from leakgeo.reason import Reason
from leakgeo.route.sweeps import along_the_line
from leakgeo.sound.compare import GROUP_BY

if TYPE_CHECKING:
    from collections.abc import Iterable

    from leakgeo.arrays import Bools, Floats, Ints

# Least number of readings of a walk, or of a run, that is judged.
MIN_READINGS = 6
# A run of one displayed value is suspect if its probability from noise is below this.
MAX_RUN_PROBABILITY = 2e-3
# Probability that two consecutive readings are equal: in whole decibels, at most this; in linear
# units 1 / (2 s sqrt(pi)) for a normal error of s units, with s as a share of the value.
EQUAL_DB, NOISE_SHARE = 0.3, 0.15
# Least number of readings at the end of a display, and their least share of the walk. If the value
# is not a usual end, least number in decibels and in linear units.
AT_END, AT_END_SHARE = 3, 0.15
AT_TOP_DB, AT_TOP_LINEAR = 9, 6
# Usual ends of displays: round figures, and the limits of bits and digits.
ENDS = (99, 100, 127, 128, 200, 255, 256, 500, 511, 512, 999, 1000, 1023, 1024, 4095, 4096)
# A gain change: number of readings before and after it, their largest range, and the least jump.
JUMP_READINGS, FLAT_DB, JUMP_DB = 4, 2.0, 8.0
# Noise does not leave levels sorted over this many stops with this many changes.
SORTED_STOPS, SORTED_CHANGES = 12, 6
# Walks within this distance along the line can be compared with each other.
COMPARABLE_M = 1.0


@dataclass(frozen=True)
class Walks:
    """Used readings in the order of listening, walk after walk.

    Parameters
    ----------
    walk : ndarray of int, shape (n,)
        Code of the walk of each reading, ascending.
    shown, level_db, chainage_m : ndarray of float, shape (n,)
        Displayed value; level without known gain; chainage.
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
        """Number of readings of each walk, shape (walks,)."""
        return np.bincount(self.walk)

    def first(self) -> Ints:
        """Return the index of the first reading of each walk, shape (walks,)."""
        return np.searchsorted(self.walk, np.arange(len(self.size)))


def suspect_walks(readings: pd.DataFrame, shown: Floats) -> list[Fault]:
    """Report walks that look clipped, stuck, constant, sorted, changed in gain, or not comparable.

    Each of these can occur on a good line, so the faults are only noted. Fewer than one in a
    hundred simulated good lines have one, which ``tests/battery`` checks.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``; only rows used along the line are checked.
    shown : ndarray of float, shape (n,)
        Displayed values.

    Returns
    -------
    list of Fault
        All with the effect ``noted``.
    """
    walks = _in_order(readings, shown)
    if not len(walks.walk):
        return []
    constant = _is_constant(walks)
    return [*_constant(walks, constant), *_clipped(walks, constant), *_stuck(walks, constant),
            *_gain_jumps(walks), *_sorted(walks), *_isolated(walks)]  # fmt: skip


def _in_order(readings: pd.DataFrame, shown: Floats) -> Walks:
    """Return the used readings, sorted by walk, ``seq`` and chainage."""
    used = np.flatnonzero(along_the_line(readings))
    own = readings.iloc[used]
    keys = [own[c].fillna("") for c in (*GROUP_BY, "band") if c in own]
    walk = own.groupby([*keys, own["gain_known"]], sort=True).ngroup().to_numpy()
    place, seq = floats(own, "chainage_m"), floats(own, "seq")
    order = np.lexsort((place, np.nan_to_num(seq, nan=0.0), walk))
    own = own.iloc[order]
    return Walks(
        np.asarray(walk[order], dtype=np.int64), shown[used][order], floats(own, "level_db"),
        place[order], np.asarray(pd.factorize(texts(own, "surface"))[0], dtype=np.int64),
        texts(own, "sound_unit") == "scale", np.asarray(own["gain_known"], dtype=bool),
        own[["line_id", "walk_id", "reading_id"]].reset_index(drop=True),
    )  # fmt: skip


def _fault(walks: Walks, row: int, code: str, **values: object) -> Fault:
    """Return a noted fault of the walk that a reading belongs to."""
    name = walks.names.iloc[row]
    named = pd.notna(name["walk_id"])
    walk = Reason("walk", walk=str(name["walk_id"])[:60]) if named else Reason("walk_unnamed")
    return Fault("readings", Reason(code, walk=walk, **values), str(name["line_id"]),
                 "sound_level", f"{walks.shown[row]:g}", "noted")  # fmt: skip


def _range(walks: Walks) -> tuple[Floats, Floats]:
    """Return the smallest and largest displayed value of each walk."""
    first = walks.first()
    return np.minimum.reduceat(walks.shown, first), np.maximum.reduceat(walks.shown, first)


def _is_constant(walks: Walks) -> Bools:
    """Return which walks have one displayed value only, shape (walks,)."""
    least, most = _range(walks)
    return np.asarray((least == most) & (walks.size >= MIN_READINGS))


def _constant(walks: Walks, constant: Bools) -> Iterable[Fault]:
    """Report walks with one displayed value only."""
    first = walks.first()
    for k in np.flatnonzero(constant):
        row = int(first[k])
        yield _fault(
            walks, row, "level_all_alike", level=f"{walks.shown[row]:g}", stops=walks.size[k]
        )


def _clipped(walks: Walks, constant: Bools) -> Iterable[Fault]:
    """Report walks with several readings at one end of the display, beyond which it can't show."""
    (_, most), count = _range(walks), walks.size
    at_top = np.bincount(walks.walk, walks.shown == most[walks.walk])
    at_zero = np.bincount(walks.walk, walks.shown == 0)
    linear = walks.linear[walks.first()]
    # Small linear values are equal because of rounding; larger ones by chance, if only few are.
    by_chance = np.where(linear, np.where(most >= 20, AT_TOP_LINEAR, np.inf), AT_TOP_DB)
    enough = np.where(np.isin(most, ENDS), AT_END, by_chance)
    top = (at_top >= np.maximum(enough, AT_END_SHARE * count)) & ~constant & (most > 0)
    zero = (at_zero >= np.maximum(AT_END, AT_END_SHARE * count)) & ~constant
    for k in np.flatnonzero(top):
        row = int(np.flatnonzero((walks.walk == k) & (walks.shown == most[k]))[0])
        yield _fault(walks, row, "display_full", level=f"{most[k]:g}", times=int(at_top[k]))
    for k in np.flatnonzero(zero):
        row = int(np.flatnonzero((walks.walk == k) & (walks.shown == 0))[0])
        yield _fault(walks, row, "display_at_zero", times=int(at_zero[k]), stops=int(count[k]))


def _stuck(walks: Walks, constant: Bools) -> Iterable[Fault]:
    """Report walks with a run of one value that is too long for noise."""
    begins = np.ones(len(walks.walk), dtype=bool)
    begins[1:] = (np.diff(walks.walk) != 0) | (np.diff(walks.shown) != 0)
    first = np.flatnonzero(begins)
    run = np.diff(np.append(first, len(begins)))
    value = np.maximum(np.abs(walks.shown[first]), 0.1)
    by_size = np.clip(1.0 / (2.0 * np.sqrt(np.pi) * NOISE_SHARE * value), 0.0, 0.95)
    same = np.where(walks.linear[first], np.maximum(by_size, 0.2), EQUAL_DB)
    count = walks.size[walks.walk[first]]
    probability = count * same ** (run - 1.0)
    rare = (run >= MIN_READINGS) & (probability < MAX_RUN_PROBABILITY) & (walks.shown[first] != 0)
    found = np.flatnonzero(rare & ~constant[walks.walk[first]])
    found = found[np.lexsort((-run[found], walks.walk[first[found]]))]
    # Only the longest run of a walk is reported.
    for k in found[np.unique(walks.walk[first[found]], return_index=True)[1]]:
        row = int(first[k])
        yield _fault(
            walks, row, "level_stuck", level=f"{walks.shown[row]:g}", times=run[k],
            reading=walks.names["reading_id"][row],
        )  # fmt: skip


def _gain_jumps(walks: Walks) -> Iterable[Fault]:
    """Report jumps between two flat stretches: probably a gain change that was not recorded."""
    if len(walks.walk) < 2 * JUMP_READINGS:
        return
    window = np.lib.stride_tricks.sliding_window_view
    # A linear display at 0 has no definite level.
    hidden = walks.linear & (walks.shown == 0)
    level = window(np.where(hidden, np.inf, walks.level_db), 2 * JUMP_READINGS)
    walk, surface = window(walks.walk, 2 * JUMP_READINGS), window(walks.surface, 2 * JUMP_READINGS)
    before, after = level[:, :JUMP_READINGS], level[:, JUMP_READINGS:]
    with np.errstate(invalid="ignore"):
        jump = np.median(after, axis=1) - np.median(before, axis=1)
        flat = (np.ptp(before, axis=1) <= FLAT_DB) & (np.ptp(after, axis=1) <= FLAT_DB)
    one_walk = walk[:, 0] == walk[:, -1]
    same_ground = surface[:, JUMP_READINGS - 1] == surface[:, JUMP_READINGS]
    at = np.flatnonzero(flat & one_walk & same_ground & (np.abs(jump) >= JUMP_DB))
    for k in at[np.unique(walk[at, 0], return_index=True)[1]]:
        row = int(k) + JUMP_READINGS
        yield _fault(
            walks, row, "level_jumps", by_db=abs(jump[k]), louder=bool(jump[k] > 0),
            reading=walks.names["reading_id"][row],
        )  # fmt: skip


def _sorted(walks: Walks) -> Iterable[Fault]:
    """Report levels that only rise or only fall: the column was probably sorted by itself."""
    first = walks.first()
    change = np.diff(walks.shown, prepend=walks.shown[0])
    change[first] = 0.0
    least, most = np.minimum.reduceat(change, first), np.maximum.reduceat(change, first)
    changes = np.add.reduceat(change != 0, first)
    monotonic = (least >= 0) | (most <= 0)
    enough = (walks.size >= SORTED_STOPS) & (changes >= SORTED_CHANGES)
    for k in np.flatnonzero(monotonic & enough):
        yield _fault(
            walks, int(first[k]), "levels_in_order", rise=bool(most[k] > 0), stops=walks.size[k]
        )


def _isolated(walks: Walks) -> Iterable[Fault]:
    """Report walks of unknown gain that begin beyond the end of all earlier ones of their line."""
    first = walks.first()
    low = np.minimum.reduceat(walks.chainage_m, first)
    high = np.maximum.reduceat(walks.chainage_m, first)
    line = pd.factorize(walks.names["line_id"].to_numpy()[first])[0]
    table = pd.DataFrame({"line": line, "low": low, "high": high, "row": first})
    table = table[~walks.gain_known[first]].sort_values(["line", "low"])
    end_before = table.groupby("line")["high"].cummax().groupby(table["line"]).shift()
    for row in table.loc[table["low"] - end_before > COMPARABLE_M, "row"]:
        yield _fault(walks, int(row), "walk_apart")
