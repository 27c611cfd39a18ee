"""Levels that differ by a constant: the steps between walks, and between filter bands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.sound.constants import load_constants

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints


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


def steps_of(own: pd.DataFrame) -> Steps:
    """Find the steps among the readings of one line.

    Walks of one sensor with known gains differ by little, others by any amount; the gain of a walk
    is the same in all of its bands.

    Parameters
    ----------
    own : pandas.DataFrame
        Readings with ``walk``, ``sensor``, ``air``, ``gain_known`` and ``band``.

    Returns
    -------
    Steps
    """
    spread = load_constants().spread
    walk, first = _coded(own["walk"])
    heads = own.iloc[first]
    alike = np.ones(len(first), dtype=bool)
    for column in ("sensor", "air", "sound_unit"):
        kind = heads[column].fillna("").to_numpy()
        alike &= kind == kind[0]
    known = heads["gain_known"].to_numpy(dtype=bool)
    close = (alike & known & known[0])[1:]
    band, first_of_band = _coded(own["band"].fillna("wide"))
    names = own["band"].fillna("wide").iloc[first_of_band]
    return Steps(
        walk,
        band,
        np.where(close, spread["known_gain_db"], spread["walk_db"]),
        np.full(len(names) - 1, spread["walk_db"]),
        tuple(names),
    )


def _coded(values: pd.Series) -> tuple[Ints, Ints]:
    """Code values by how common they are, the commonest 0, and tell where each first stands."""
    code, names = pd.factorize(values, sort=True)
    order = np.argsort(-np.bincount(code), kind="stable")
    rank = np.empty(len(names), dtype=np.int64)
    rank[order] = np.arange(len(names))
    ranked = rank[code]
    return ranked, np.array([np.argmax(ranked == k) for k in range(len(names))])
