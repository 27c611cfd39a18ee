"""Lines of other worlds that are walked at any stops: the same ground, whatever stops follow."""

from __future__ import annotations

import numpy as np
import pytest

from leakgeo.job.read import read_job
from tests.worlds.sites import SITES, layers_of


@pytest.mark.parametrize("world", list(SITES))
def test_more_stops_leave_the_levels_of_the_first(world):
    site = SITES[world](1, 2)
    stops, walk = np.linspace(1.0, site.length_m - 1.0, 12), np.repeat([0, 1], 6)
    few, many = site.field(stops[:7], walk[:7]), site.field(stops, walk)
    if (few.readings["sound_unit"] == "db").all():
        assert few.level.tolist() == many.level[:7].tolist()
    for name in ("chainage_m", "time", "walk"):
        assert (few.readings[name] == many.readings[name].iloc[:7]).all()
    with pytest.raises(ValueError, match="161 stops"):
        site.field(np.zeros(161), np.zeros(161, dtype=int))


@pytest.mark.parametrize("world", list(SITES))
def test_lines_of_a_world_are_a_job(world):
    stops = np.arange(1.0, 14.0)
    heard = {f"L-{k}": SITES[world](1, k).field(stops, np.zeros(13, dtype=int)) for k in range(2)}
    job = read_job(layers_of(heard))
    assert job.readings["reason"].isna().all()
    assert job.readings.groupby("line_id").size().to_dict() == {"L-0": 13, "L-1": 13}


@pytest.mark.parametrize("world", list(SITES))
def test_a_leak_is_loudest_about_its_place(world):
    sites = [SITES[world](2, k) for k in range(12)]
    near = []
    for site in (s for s in sites if np.isfinite(s.leak_m)):
        stops = np.arange(0.5, site.length_m, 0.5)
        level = site.field(stops, np.zeros(len(stops), dtype=int)).level
        near.append(abs(stops[np.argmax(level)] - site.leak_m))
    assert np.median(near) < 1.5
