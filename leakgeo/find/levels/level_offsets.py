"""Levels that differ by a constant: the steps between walks, between filter bands, and in both."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.sound.constants import Constants


@dataclass(frozen=True)
class Steps:
    """Which walk and band each reading is of, and how large the steps between them may be.

    Parameters
    ----------
    walk, band, turn : ndarray of int, shape (n,)
        Codes; 0 is the walk or band that the others are compared with. A turn is what a band of a
        walk differs by from the sum of the two steps, because its gain was turned; 0 has none.
    walk_step_db : ndarray of float, shape (walks - 1,)
        Expected size of the step from walk 0 to each other walk.
    band_step_db, turn_step_db : ndarray of float, shape (bands - 1,), (turns,)
        The same for bands and turns.
    bands : tuple of str
        Names of the bands by code.
    """

    walk: Ints
    band: Ints
    turn: Ints
    walk_step_db: Floats
    band_step_db: Floats
    turn_step_db: Floats
    bands: tuple[str, ...]

    @property
    def sizes_db(self) -> Floats:
        """Expected sizes of all steps: of walks, then bands, then turns."""
        return np.concatenate([self.walk_step_db, self.band_step_db, self.turn_step_db])

    def indicators(self) -> Floats:
        """Which steps each reading has taken, shape (n, steps)."""
        codes = (self.walk, self.band, self.turn)
        sizes = (self.walk_step_db, self.band_step_db, self.turn_step_db)
        taken = [c[:, None] == np.arange(1, len(s) + 1) for c, s in zip(codes, sizes, strict=True)]
        return np.hstack(taken).astype(float)


def passes(walk: Ints, stop: Ints, band: Ints, kind: Ints) -> Ints:
    """Code walks that are one pass along the line, heard in several bands, alike.

    They share stops and differ in the band alone.

    Parameters
    ----------
    walk, stop, band, kind : ndarray of int, shape (n,)
        Codes of the readings of all lines, from 0.

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


def steps_of(
    walk: Ints, turned: Ints, kind: Ints, gain_known: Bools, band: Ints, bands: tuple[str, ...],
    constants: Constants,
) -> Steps:  # fmt: skip
    """Find the steps among the readings of one line.

    Walks of one sensor with known gains differ by little, others by any amount. The gain of a walk
    is much the same in all of its bands, unless it isn't known and was turned between them.

    Parameters
    ----------
    walk, turned, kind, band : ndarray of int, shape (n,)
        Codes of the pass along the line, of the walk, of what else keeps readings apart (sensor,
        air, unit), and of the band.
    gain_known : ndarray of bool, shape (n,)
    bands : tuple of str
        Names of the bands by `band`.
    constants : Constants

    Returns
    -------
    Steps

    Examples
    --------
    >>> walk, zero = np.array([7, 7, 3]), np.zeros(3, dtype=int)
    >>> from leakgeo.sound.constants import load_constants
    >>> steps_of(walk, walk, zero, zero > 0, zero, ("wide",), load_constants()).walk.tolist()
    [0, 0, 1]
    """
    spread = constants.spread
    order, first = ranked(walk)
    close = gain_known[first] & gain_known[first[0]] & (kind[first] == kind[first[0]])
    band_order, first_band = ranked(band)
    turn = _turns(order, band_order, turned, gain_known)
    return Steps(
        order,
        band_order,
        turn,
        np.where(close[1:], spread["known_gain_db"], spread["walk_db"]),
        np.full(len(first_band) - 1, spread["walk_db"]),
        np.full(int(turn.max()), spread["turn_db"]),
        tuple(bands[b] for b in band[first_band]),
    )


def _turns(walk: Ints, band: Ints, turned: Ints, gain_known: Bools) -> Ints:
    """Code the gains that may have been turned between the bands of a further walk; 0 for none."""
    free = (walk > 0) & (band > 0) & ~gain_known
    turn = np.zeros(len(walk), dtype=np.int64)
    if not free.any():
        return turn
    turn[free] = 1 + np.unique(turned[free], return_inverse=True)[1]
    return turn


def ranked(code: Ints) -> tuple[Ints, Ints]:
    """Code values by how common they are, the commonest 0, and tell where each first stands.

    Examples
    --------
    >>> [part.tolist() for part in ranked(np.array([5, 3, 3]))]
    [[1, 0, 0], [1, 0]]
    """
    if (code == code[0]).all():
        return np.zeros(len(code), dtype=np.int64), np.zeros(1, dtype=np.int64)
    _, first, back, count = np.unique(code, True, True, True)
    order = np.argsort(-count, kind="stable")
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    return rank[back], first[order]
