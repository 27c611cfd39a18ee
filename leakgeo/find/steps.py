"""Levels that differ by a constant: the steps between walks, and between filter bands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.sound.constants import Constants


@dataclass(frozen=True)
class Steps:
    """Which walk and band each reading is of, and how large the steps between them may be.

    Parameters
    ----------
    walk, band : ndarray of int, shape (n,)
        Codes; 0 is the walk or band that the others are compared with.
    walk_step_db : ndarray of float, shape (walks - 1,)
        Expected size of the step from walk 0 to each other walk.
    band_step_db : ndarray of float, shape (bands - 1,)
        The same for bands.
    bands : tuple of str
        Names of the bands by code.
    """

    walk: Ints
    band: Ints
    walk_step_db: Floats
    band_step_db: Floats
    bands: tuple[str, ...]

    @property
    def sizes_db(self) -> Floats:
        """Expected sizes of all steps, those of walks first."""
        return np.concatenate([self.walk_step_db, self.band_step_db])

    def indicators(self) -> Floats:
        """Which steps each reading has taken, shape (n, steps)."""
        walks = self.walk[:, None] == np.arange(1, len(self.walk_step_db) + 1)
        bands = self.band[:, None] == np.arange(1, len(self.band_step_db) + 1)
        return np.hstack([walks, bands]).astype(float)


def steps_of(
    walk: Ints, kind: Ints, gain_known: Bools, band: Ints, bands: tuple[str, ...],
    constants: Constants,
) -> Steps:  # fmt: skip
    """Find the steps among the readings of one line.

    Walks of one sensor with known gains differ by little, others by any amount; the gain of a walk
    is the same in all of its bands.

    Parameters
    ----------
    walk, kind, band : ndarray of int, shape (n,)
        Codes of the walk, of what else keeps readings apart (sensor, air, unit), and of the band.
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
    >>> steps_of(walk, zero, zero > 0, zero, ("wide",), load_constants()).walk.tolist()
    [0, 0, 1]
    """
    spread = constants.spread
    ranked, first = _ranked(walk)
    close = gain_known[first] & gain_known[first[0]] & (kind[first] == kind[first[0]])
    ranked_band, first_band = _ranked(band)
    return Steps(
        ranked,
        ranked_band,
        np.where(close[1:], spread["known_gain_db"], spread["walk_db"]),
        np.full(len(first_band) - 1, spread["walk_db"]),
        tuple(bands[b] for b in band[first_band]),
    )


def _ranked(code: Ints) -> tuple[Ints, Ints]:
    """Code values by how common they are, the commonest 0, and tell where each first stands."""
    _, first, back, count = np.unique(code, True, True, True)
    order = np.argsort(-count, kind="stable")
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    return rank[back], first[order]
