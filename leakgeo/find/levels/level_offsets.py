"""Level offsets: constant differences in level between walks and between filter bands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.sound.constants import Constants


# Constants of ``spread`` that offsets depend on.
PRIORS = ("known_gain_db", "walk_db", "turn_db")


@dataclass(frozen=True)
class LevelOffsets:
    """Walk and band of each reading, and the priors of the offsets between them.

    Parameters
    ----------
    walk, band, gain_change : ndarray of int, shape (n,)
        Codes; walk 0 and band 0 are the reference. A gain change is a further offset of one band of
        a walk, because the gain may have been changed between bands; code 0 has none.
    walk_sd_db : ndarray of float, shape (walks - 1,)
        Standard deviation of the prior of the offset of each walk from 1 on.
    band_sd_db, gain_change_sd_db : ndarray of float, shape (bands - 1,), (gain changes,)
        The same for bands and gain changes.
    bands : tuple of str
        Names of the bands by code.
    """

    walk: Ints
    band: Ints
    gain_change: Ints
    walk_sd_db: Floats
    band_sd_db: Floats
    gain_change_sd_db: Floats
    bands: tuple[str, ...]

    @property
    def sd_db(self) -> Floats:
        """Standard deviations of all offsets: walks, then bands, then gain changes."""
        return np.concatenate([self.walk_sd_db, self.band_sd_db, self.gain_change_sd_db])

    def indicators(self) -> Floats:
        """Return 1 for each offset that a reading has, else 0, shape (n, offsets)."""
        codes = (self.walk, self.band, self.gain_change)
        sds = (self.walk_sd_db, self.band_sd_db, self.gain_change_sd_db)
        parts = [c[:, None] == np.arange(1, len(s) + 1) for c, s in zip(codes, sds, strict=True)]
        return np.concatenate(parts, axis=1).astype(float)


def passes(walk: Ints, stop: Ints, band: Ints, kind: Ints) -> Ints:
    """Give walks that are one pass along the line, heard in several bands, the same code.

    Such walks share stops and differ only in the band.

    Parameters
    ----------
    walk, stop, band, kind : ndarray of int, shape (n,)
        Codes of the readings of all lines, from 0. `kind` combines sensor, air and unit.

    Returns
    -------
    ndarray of int, shape (n,)

    Examples
    --------
    >>> zero = np.zeros(4, dtype=int)
    >>> walk, stop, band = np.array([[0, 1, 2, 2], [0, 0, 1, 2], [0, 1, 0, 0]])
    >>> passes(walk, stop, band, zero).tolist()
    [0, 0, 1, 1]
    """
    order = np.lexsort((band, stop))
    here, there = order[:-1], order[1:]
    one = (stop[here] == stop[there]) & (band[here] != band[there]) & (kind[here] == kind[there])
    pairs = walk[here[one]], walk[there[one]]
    size = int(walk.max(initial=0)) + 1
    joined = coo_array((np.ones(len(pairs[0])), pairs), shape=(size, size))
    return np.asarray(connected_components(joined, directed=False)[1][walk], dtype=np.int64)


def level_offsets_of(
    passing: Ints, walk: Ints, kind: Ints, gain_known: Bools, band: Ints, bands: tuple[str, ...],
    constants: Constants,
) -> LevelOffsets:  # fmt: skip
    """Return the level offsets among the readings of one line.

    Walks of one sensor with known gains differ by little, others by any amount. The offset of a
    walk is the same in all of its bands, unless its gain is unknown and may have been changed.

    Parameters
    ----------
    passing, walk, kind, band : ndarray of int, shape (n,)
        Codes of the pass along the line, of the walk, of the combination of sensor, air and unit,
        and of the band.
    gain_known : ndarray of bool, shape (n,)
    bands : tuple of str
        Names of the bands by the codes in `band`.
    constants : Constants

    Returns
    -------
    LevelOffsets

    Examples
    --------
    >>> walk, zero = np.array([7, 7, 3]), np.zeros(3, dtype=int)
    >>> from leakgeo.sound.constants import load_constants
    >>> offsets = level_offsets_of(walk, walk, zero, zero > 0, zero, ("wide",), load_constants())
    >>> offsets.walk.tolist()
    [0, 0, 1]
    """
    spread = constants.spread
    pass_rank, first = rank_by_count(passing)
    close = gain_known[first] & gain_known[first[0]] & (kind[first] == kind[first[0]])
    band_rank, first_band = rank_by_count(band)
    gain_change = _gain_changes(pass_rank, band_rank, walk, gain_known)
    return LevelOffsets(
        pass_rank,
        band_rank,
        gain_change,
        np.where(close[1:], spread["known_gain_db"], spread["walk_db"]),
        np.full(len(first_band) - 1, spread["walk_db"]),
        np.full(int(gain_change.max()), spread["turn_db"]),
        tuple(bands[b] for b in band[first_band]),
    )


def _gain_changes(pass_rank: Ints, band_rank: Ints, walk: Ints, gain_known: Bools) -> Ints:
    """Return codes of possible gain changes between the bands of a pass; 0 for none."""
    free = (pass_rank > 0) & (band_rank > 0) & ~gain_known
    change = np.zeros(len(walk), dtype=np.int64)
    if not free.any():
        return change
    change[free] = 1 + np.unique(walk[free], return_inverse=True)[1]
    return change


def rank_by_count(code: Ints) -> tuple[Ints, Ints]:
    """Return the rank of each code by frequency (0 is the most frequent), and first indices.

    Examples
    --------
    >>> [part.tolist() for part in rank_by_count(np.array([5, 3, 3]))]
    [[1, 0, 0], [1, 0]]
    """
    if (code == code[0]).all():
        return np.zeros(len(code), dtype=np.int64), np.zeros(1, dtype=np.int64)
    # As numpy.unique, which takes several times as long for the readings of one line.
    by_code = code.argsort(kind="stable")
    ordered = code[by_code]
    new = ordered[1:] != ordered[:-1]
    begin = np.append(0, np.flatnonzero(new) + 1)
    count = np.diff(np.append(begin, len(code)))
    order = np.argsort(-count, kind="stable")
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    found = np.empty(len(code), dtype=np.int64)
    found[by_code[0]] = rank[0]
    found[by_code[1:]] = rank[np.cumsum(new)]
    return found, by_code[begin[order]]
