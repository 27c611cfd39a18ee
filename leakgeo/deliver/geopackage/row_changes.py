"""Which rows of a table stay, move, go and come, from the keys of its rows before and after."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from leakgeo.arrays import Ints


@dataclass(frozen=True, eq=False)
class RowChanges:
    """Changes that turn one list of rows into another.

    Parameters
    ----------
    place : ndarray of int, shape (n,)
        Place of each row of the new list in the old one, in ascending order; -1 if it is new.
    before : int
        Number of rows of the old list.

    Examples
    --------
    >>> old, new = (np.array(list(keys), dtype=np.uint64) for keys in ((1, 2, 3, 4), (1, 9, 3, 4)))
    >>> changes = RowChanges.of(old, new)
    >>> changes.new.tolist(), changes.gone.tolist()
    ([1], [1])
    >>> fewer = RowChanges.of(old, np.array([2, 3, 4], dtype=np.uint64))
    >>> list(fewer.moves(np.arange(1, 5), np.arange(1, 4)))
    [(2, 4, -1)]
    """

    place: Ints
    before: int

    @classmethod
    def of(cls, old: NDArray[np.uint64], new: NDArray[np.uint64]) -> RowChanges:
        """Return the changes between two lists of keys; of rows that swap places, some are new."""
        known = pd.Index(old)
        if not known.is_unique:
            return cls(np.full(len(new), -1), len(old))
        place = known.get_indexer(pd.Index(new))
        stays = np.flatnonzero(place >= 0)
        if (np.diff(place[stays]) <= 0).any():
            ascends = np.zeros(len(new), dtype=bool)
            ascends[stays[_longest_ascent(place[stays])]] = True
            place = np.where(ascends, place, -1)
        return cls(place, len(old))

    @property
    def new(self) -> Ints:
        """Rows of the new list that the old one lacks."""
        return np.flatnonzero(self.place < 0)

    @property
    def gone(self) -> Ints:
        """Rows of the old list that the new one lacks."""
        stays = np.zeros(self.before, dtype=bool)
        stays[self.place[self.place >= 0]] = True
        return np.flatnonzero(~stays)

    @property
    def none(self) -> bool:
        """Whether both lists are the same."""
        return len(self.place) == self.before and not len(self.new)

    def moves(self, old: Ints, new: Ints) -> Iterator[tuple[int, int, int]]:
        """Yield the first and the last old number, and the shift, of the runs of rows that move.

        Parameters
        ----------
        old, new : ndarray of int
            Numbers of the rows of both lists, ascending.
        """
        stays = np.flatnonzero(self.place >= 0)
        was = old[self.place[stays]]
        shift = new[stays] - was
        for run in np.split(np.arange(len(stays)), np.flatnonzero(np.diff(shift)) + 1):
            if len(run) and shift[run[0]]:
                yield int(was[run[0]]), int(was[run[-1]]), int(shift[run[0]])


def _longest_ascent(values: Ints) -> Ints:
    """Return the indices of a longest ascending subsequence (patience sorting)."""
    tops: list[int] = []
    top_at: list[int] = []
    before = np.full(len(values), -1)
    for k, value in enumerate(values.tolist()):
        pile = bisect_left(tops, value)
        tops[pile : pile + 1] = [value]
        top_at[pile : pile + 1] = [k]
        before[k] = top_at[pile - 1] if pile else -1
    found, k = [], top_at[-1] if top_at else -1
    while k >= 0:
        found.append(k)
        k = int(before[k])
    return np.array(found[::-1], dtype=np.int64)
