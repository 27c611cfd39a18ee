"""Passes along a line, and the level offsets between them."""

from __future__ import annotations

import numpy as np

from leakgeo.find.levels.level_offsets import level_offsets_of, passes
from leakgeo.sound.constants import load_constants

CONSTANTS = load_constants()
# Two passes of three stops each, in two bands; a walk is a pass in a band.
STOP = np.repeat(np.arange(6), 2)
BAND = np.tile([0, 1], 6)
WALK = 2 * (STOP // 3) + BAND
KIND = np.zeros(12, dtype=int)


def offsets(gain_known):
    walk = passes(WALK, STOP, BAND, KIND)
    return level_offsets_of(
        walk, WALK, KIND, np.full(12, gain_known), BAND, ("low", "high"), CONSTANTS
    )


def test_walks_that_share_stops_in_two_bands_are_one_pass():
    found = passes(WALK, STOP, BAND, KIND)
    assert len(np.unique(found)) == 2
    assert (np.diff(found) != 0).sum() == 1


def test_walks_that_share_stops_in_one_band_stay_apart():
    found = passes(np.array([0, 1]), np.zeros(2, dtype=int), np.zeros(2, dtype=int), KIND[:2])
    assert found[0] != found[1]


def test_other_sensors_stay_apart():
    found = passes(np.array([0, 1]), np.zeros(2, dtype=int), np.array([0, 1]), np.array([0, 1]))
    assert found[0] != found[1]


def test_known_gains_have_no_gain_change():
    assert offsets(gain_known=True).gain_change_sd_db.size == 0
    assert offsets(gain_known=True).walk_sd_db == [CONSTANTS.spread["known_gain_db"]]


def test_an_unknown_gain_may_change_only_in_the_further_walk_and_band():
    found = offsets(gain_known=False)
    assert found.gain_change_sd_db == [CONSTANTS.spread["turn_db"]]
    assert (found.gain_change > 0).sum() == 3
    assert np.all((found.gain_change > 0) == ((found.walk > 0) & (found.band > 0)))


def test_each_offset_has_its_own_column():
    found = offsets(gain_known=False)
    columns = found.indicators()
    assert columns.shape == (12, len(found.sd_db))
    # With the level, each of the four walks can have any level.
    assert np.linalg.matrix_rank(np.column_stack([np.ones(12), columns])) == 4
