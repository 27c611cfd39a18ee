"""The raster of the leak's density: what it adds up to, where it lies, and its format."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point

from leakgeo.deliver import density_raster
from leakgeo.deliver.density_cells import LEAST_PER_M, spread
from leakgeo.deliver.density_raster import write_density
from tests.deliver.fixture import METRE, street

PIXEL = 0.1


@pytest.fixture(name="raster", scope="module")
def _raster(tmp_path_factory):
    folder = tmp_path_factory.mktemp("density")
    paths, faults = write_density(street(), folder, PIXEL)
    assert faults == ()
    return paths[0]


def expected(result) -> float:
    """Integrate profile times odds of a leak by the trapezoidal rule, where it is drawn."""
    leak = result["lines"].set_index("line_id")["leak_probability"]
    profile = result["profile"]
    density = profile["leak_density_per_m"] * profile["line_id"].map(leak)
    drawn = profile.assign(density=density.where(density > LEAST_PER_M, 0.0))
    return sum(np.trapezoid(p["density"], p["chainage_m"]) for _, p in drawn.groupby("line_id"))


def test_it_adds_up_to_the_leaks_that_are_expected(raster):
    with rasterio.open(raster) as image:
        total = image.read(1).sum() * PIXEL**2
    assert total == pytest.approx(expected(street()), rel=0.01)


def test_it_is_densest_at_the_mark_and_lies_on_the_pipe(raster):
    mark = street()["marks"].geometry.iloc[0]
    with rasterio.open(raster) as image:
        assert image.crs == METRE
        whole = image.read(1)
        row, column = image.index(mark.x, mark.y)
        near = whole[row - 40 : row + 40, max(column - 40, 0) : column + 40]
        top, left = np.unravel_index(near.argmax(), near.shape)
        assert np.hypot(top - 40, left - min(column, 40)) * PIXEL < 0.2
        values = list(image.sample([(mark.x, mark.y), (mark.x + 20, mark.y + 2)]))
    assert values[0] > 0
    assert values[1] == 0


@settings(max_examples=30, deadline=None)
@given(st.floats(0.02, 1.0), st.floats(0, 2 * np.pi), st.floats(0.05, 0.3))
def test_no_direction_or_error_changes_the_sum_and_the_spread(sd, turn, pixel):
    """Across a straight line the variance is that of the trace error, but for half a pixel."""
    at = np.linspace(0, 12, 61)
    x, y = 3e5 + at * np.cos(turn), 4e6 + at * np.sin(turn)
    column, row, density = spread(at, np.full(61, 1 / 12), x, y, sd, 0.8, pixel)
    mass = density * pixel**2
    assert mass.sum() == pytest.approx(0.8, rel=1e-3)
    off = -((column + 0.5) * pixel - 3e5) * np.sin(turn) + ((row + 0.5) * pixel - 4e6) * np.cos(
        turn
    )
    assert np.average(off, weights=mass) == pytest.approx(0, abs=pixel / 4)
    found = np.average(off**2, weights=mass)
    assert found == pytest.approx(sd**2, rel=0.02, abs=pixel**2 / 2)


def test_lines_far_apart_come_as_tiles_with_the_urgent_ones_first(tmp_path, monkeypatch):
    monkeypatch.setattr(density_raster, "MOST_PIXELS", 10_000)
    monkeypatch.setattr(density_raster, "TILE", 256)
    paths, (told,) = write_density(street(), tmp_path, PIXEL)
    assert f"{len(paths) - 1} tiles" in told.problem
    with rasterio.open(tmp_path / "leak_density.vrt") as mosaic:
        assert mosaic.read(1).sum() * PIXEL**2 == pytest.approx(expected(street()), rel=0.01)
        mark = street()["marks"].geometry.iloc[0]
        assert next(mosaic.sample([(mark.x, mark.y)]))[0] > 0


def test_too_many_tiles_leave_out_the_least_urgent_lines_and_say_so(tmp_path, monkeypatch):
    monkeypatch.setattr(density_raster, "MOST_PIXELS", 10_000)
    monkeypatch.setattr(density_raster, "TILE", 256)
    monkeypatch.setattr(density_raster, "MOST_TILES", 3)
    _, faults = write_density(street(), tmp_path, PIXEL)
    assert {f.feature for f in faults} >= {"", "Ulica Źródlana 3"}
    assert "Alder 12" not in {f.feature for f in faults}


def test_nothing_to_draw_is_no_file(tmp_path):
    result = street()
    none = result["profile"].assign(leak_density_per_m=0.0)
    empty = gpd.GeoDataFrame({"line_id": []}, geometry=[], crs=METRE)
    for layers in ({"profile": none}, {"profile": empty}, {}):
        rest = {k: v for k, v in result.layers.items() if k != "profile"}
        assert write_density(replace(result, layers={**rest, **layers}), tmp_path, 0.1) == ([], ())
    assert not list(tmp_path.iterdir())


def test_a_line_of_one_point_stops_nothing(tmp_path):
    result = street()
    one = result["profile"].iloc[:1].set_geometry([Point(0, 0)], crs=METRE)
    assert write_density(result.adding({"profile": one}), tmp_path, PIXEL)[1] == ()
