"""The profile that a run stores: straight lines between its points give those left out."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import leakgeo
from leakgeo.find.locate.thinned import DENSITY_SHARE, LEVEL_SHARE, PLACE_M, PROBABILITY, thinned
from tests.job.jobs import heard, routes, write

LEVEL, SD, DENSITY = "level_comparable_db", "level_comparable_sd_db", "leak_density_per_m"


def drawn(seed, name="a"):
    """Draw the profile of one line, denser where the leak may be, along a bent trace."""
    rng = np.random.default_rng(seed)
    length = rng.uniform(1.0, 90.0)
    at = np.unique(np.r_[0.0, rng.uniform(0.0, length, rng.integers(1, 200)), length].round(3))
    modes = rng.uniform(0.0, length, 3)
    density = np.exp(-0.5 * ((at[:, None] - modes) / rng.uniform(0.1, 9.0, 3)) ** 2).sum(1)
    density /= np.sum(np.diff(at) * 0.5 * (density[1:] + density[:-1]))
    turn = rng.uniform(0.0, length)
    shapes = shapely.points(5e5 + np.minimum(at, turn), 5e6 + np.maximum(at - turn, 0.0))
    level = 40.0 + 4.0 * np.sin(at / rng.uniform(0.5, 20.0)) + rng.normal(0.0, 0.2, len(at))
    sd = rng.uniform(0.5, 3.0) + 0.3 * np.cos(at)
    frame = pd.DataFrame({"line_id": name, "chainage_m": at, LEVEL: level, SD: sd,
                          DENSITY: density})  # fmt: skip
    return gpd.GeoDataFrame(frame, geometry=shapes, crs=32633)


def sums(at, density):
    """Integrate from the start of a line up to each point."""
    return np.r_[0.0, np.cumsum(np.diff(at) * 0.5 * (density[1:] + density[:-1]))]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_straight_lines_give_the_points_left_out(seed):
    full = drawn(seed)
    thin, at = thinned(full), full["chainage_m"].to_numpy()
    places = thin["chainage_m"].to_numpy()
    rows = np.searchsorted(at, places)
    pd.testing.assert_frame_equal(thin, full.iloc[rows].reset_index(drop=True))
    assert {0, len(full) - 1, full[LEVEL].argmax(), full[DENSITY].argmax()} <= set(rows.tolist())

    def off(values):
        values = np.asarray(values)
        return np.abs(np.interp(at, places, values[rows]) - values)

    assert (off(full[LEVEL]) <= LEVEL_SHARE * full[SD] + 1e-9).all()
    assert (off(full[SD]) <= LEVEL_SHARE * full[SD] + 1e-9).all()
    assert (off(full[DENSITY]) <= DENSITY_SHARE * full[DENSITY].max() + 1e-9).all()
    assert (off(full.geometry.x) <= PLACE_M + 1e-6).all()
    assert (off(full.geometry.y) <= PLACE_M + 1e-6).all()
    true, kept = sums(at, full[DENSITY].to_numpy())[rows], sums(places, thin[DENSITY].to_numpy())
    assert np.abs(kept - true).max() <= PROBABILITY + 1e-9


def test_each_line_is_thinned_as_if_alone():
    # A line of one point, one that begins beyond the end of the last, one without a density.
    parts = [drawn(1, "a"), drawn(2, "b").iloc[:1], drawn(3, "c").assign(**{DENSITY: np.nan})]
    parts.append(drawn(4, "d").assign(chainage_m=lambda f: f["chainage_m"] + 1000.0))
    together = thinned(pd.concat(parts, ignore_index=True))
    alone = pd.concat(list(map(thinned, parts)), ignore_index=True)
    pd.testing.assert_frame_equal(together, alone)
    assert len(together) < 0.7 * sum(map(len, parts))
    empty = parts[0].iloc[:0]
    assert thinned(empty) is empty


def test_a_line_that_lacks_some_values_keeps_all_of_its_points():
    partly = drawn(5)
    partly.loc[3:4, LEVEL] = np.nan
    pd.testing.assert_frame_equal(thinned(partly), partly)


def test_a_run_stores_the_profile_of_its_steps_thinned(tmp_path):
    path = write(tmp_path / "job.gpkg", routes=routes().iloc[:1], readings=heard(12))
    run = leakgeo.run(path, out=tmp_path / "out")
    full = leakgeo.locate(leakgeo.profile(leakgeo.ground(leakgeo.read_job(path))))["profile"]
    thin = thinned(full)
    assert len(thin) < len(full)
    pd.testing.assert_frame_equal(run["profile"][thin.columns], thin)
