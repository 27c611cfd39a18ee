"""Satellite errors: what is each reading's own, and what the offsets of a visit show of them."""

from __future__ import annotations

import numpy as np
import pytest

from leakgeo.find.levels.fix_errors import Fixes, error_covariance, offset_evidence
from leakgeo.find.levels.positions import split_error
from leakgeo.sound.constants import load_constants

N, SD = 40, 1.5
LAW = load_constants().walk_law


def offsets(seed, common):
    """Offsets of a walk of which a share of the variance is common to all stops."""
    rng = np.random.default_rng(seed)
    return SD * (common**0.5 * rng.normal() + (1 - common) ** 0.5 * rng.normal(size=N))


def fixes(offset_m, sd_m=SD):
    walk = np.zeros(len(offset_m), dtype=int)
    sd = np.full(len(offset_m), sd_m)
    return Fixes(np.arange(float(len(walk))), offset_m, sd, sd > 0.2, walk, walk == 0, True, 0.1)


@pytest.mark.parametrize("seed", range(10))
def test_own_errors_are_told_from_a_shared_one(seed):
    sd, walk = np.full(N, SD), np.zeros(N, dtype=int)
    alone, _ = split_error(offsets(seed, 0.0), sd, walk)
    together, shift = split_error(offsets(seed, 0.95), sd, walk)
    assert together.mean() < 0.6 * alone.mean()
    assert shift[0] > 0.8 * SD


def test_the_offsets_of_a_visit_show_how_much_of_the_error_is_shared():
    shared = {}
    for common in (0.0, 0.95):
        found = [error_covariance(fixes(offsets(seed, common)), LAW) for seed in range(20)]
        shared[common] = np.array([c[0, 1] / c[0, 0] for c in found])
    # A walk whose offsets happen to lean is not told from one that drifts.
    assert np.median(shared[0.0]) < 0.15
    assert shared[0.95].min() > 0.4


def test_points_put_on_the_route_teach_nothing_and_keep_their_error():
    snapped = fixes(np.zeros(N))
    assert not snapped.seen.any()
    assert (offset_evidence(snapped, LAW)[0] == 0.0).all()
    assert np.diagonal(error_covariance(snapped, LAW)) == pytest.approx(1.05 * SD**2)


def test_a_good_fix_among_coarse_ones_is_as_good_as_stated():
    mixed = fixes(offsets(1, 0.6))
    mixed.sd_m[5], mixed.coarse[5] = 0.02, False
    covariance = error_covariance(mixed, LAW)
    assert covariance[5, 5] == pytest.approx(0.02**2)
    assert covariance[5, 6] == 0.0
