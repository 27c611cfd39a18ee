"""The raster of the leak's density: what it adds up to, where it lies, and its format."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS, Transformer
from rasterio.windows import Window
from rio_cogeo.cogeo import cog_validate
from shapely import Point

from leakgeo.deliver.formats import density_raster, sparse_cog
from leakgeo.deliver.formats.density_cells import MIN_DENSITY_PER_M, LineDensity, spread, to_pixels
from leakgeo.deliver.formats.density_raster import write_density
from tests.deliver.fixture import METRE, street

PIXEL = 0.1
INDIANA_FEET = 6461
OUTPUTS = (32616, INDIANA_FEET, 4326, 3857)


def delivered(crs):
    """Give the street with results in a CRS."""
    result = street()
    return replace(result, job=replace(result.job, output_crs=CRS(crs)))


@pytest.fixture(name="raster", scope="module", params=OUTPUTS)
def _raster(tmp_path_factory, request):
    folder = tmp_path_factory.mktemp("density")
    assert write_density(delivered(request.param), folder, PIXEL) == ()
    assert [p.name for p in folder.iterdir()] == ["leak_density.tif"]
    return folder / "leak_density.tif"


def pixel_areas_m2(image):
    """Area of a pixel of each row on the ground, by polygons of geographiclib on WGS 84."""
    out = []
    to_degrees = Transformer.from_crs(image.crs, 4326, always_xy=True)
    for row in range(0, image.height, 64):
        # A thousand wide, since a single one has no more than six good digits.
        at, corners = image.transform, ((0, row), (1000, row), (1000, row + 1), (0, row + 1))
        x, y = np.array([(at.c + at.a * i, at.f + at.e * j) for i, j in corners]).T
        ring = Geodesic.WGS84.Polygon()
        for lon, lat in zip(*to_degrees.transform(x, y), strict=True):
            ring.AddPoint(lat, lon)
        out.append(abs(ring.Compute()[2]) / 1000)
    return np.repeat(out, 64)[: image.height]


def expected(result) -> float:
    """Integrate profile times odds of a leak by the trapezoidal rule, where it is drawn."""
    leak = result["lines"].set_index("line_id")["leak_probability"]
    profile = result["profile"]
    density = profile["leak_density_per_m"] * profile["line_id"].map(leak)
    drawn = profile.assign(density=density.where(density > MIN_DENSITY_PER_M, 0.0))
    return sum(np.trapezoid(p["density"], p["chainage_m"]) for _, p in drawn.groupby("line_id"))


def test_it_adds_up_to_the_leaks_that_are_expected(raster):
    with rasterio.open(raster) as image:
        total = (image.read(1).sum(axis=1, dtype=float) * pixel_areas_m2(image)).sum()
    assert total == pytest.approx(expected(street()), rel=0.005)


def test_pixels_are_of_that_size_on_the_ground_whatever_the_unit(raster):
    with rasterio.open(raster) as image:
        assert pixel_areas_m2(image) == pytest.approx(PIXEL**2, rel=0.02)
        assert image.overviews(1) == [2, 4][: len(image.overviews(1))] != []
        if image.crs.to_epsg() == INDIANA_FEET:
            assert image.res == pytest.approx([PIXEL * 3937 / 1200] * 2, rel=1e-12)
    assert cog_validate(str(raster), strict=True) == (True, [], [])


def test_it_is_densest_at_the_mark_and_lies_on_the_pipe(raster):
    mark = street()["marks"].geometry.iloc[0]
    with rasterio.open(raster) as image:
        assert image.crs.to_epsg() in OUTPUTS
        onto = Transformer.from_crs(METRE, image.crs, always_xy=True)
        row, column = image.index(*onto.transform(mark.x, mark.y))
        whole = image.read(1)
        low, first = max(row - 40, 0), max(column - 40, 0)
        near = whole[low : row + 40, first : column + 40]
        top, left = np.unravel_index(near.argmax(), near.shape)
        peak = onto.transform(*image.xy(top + low, left + first), direction="INVERSE")
        assert np.hypot(peak[0] - mark.x, peak[1] - mark.y) < 0.2
        places = [onto.transform(mark.x + by, mark.y + up) for by, up in ((0, 0), (20, 2))]
        values = list(image.sample(places))
    assert values[0] > 0
    assert values[1] == 0


def test_it_lies_where_the_layers_lie(tmp_path):
    """In the CRS of the results, as result.gpkg has it."""
    write_density(delivered(INDIANA_FEET), tmp_path, PIXEL)
    with rasterio.open(tmp_path / "leak_density.tif") as image:
        box = shapely.box(*image.bounds)
        assert image.crs.linear_units == "US survey foot"
    assert street()["marks"].to_crs(INDIANA_FEET).within(box).all()


@settings(max_examples=30, deadline=None)
@given(st.floats(0.02, 1.0), st.floats(0, 2 * np.pi), st.floats(0.05, 0.3))
def test_no_direction_or_error_changes_the_sum_and_the_spread(sd, turn, pixel):
    """Across a straight line the variance is that of the trace error, but for half a pixel."""
    at = np.linspace(0, 12, 61)
    x, y = 3e5 + at * np.cos(turn), 4e6 + at * np.sin(turn)
    line = LineDensity("L-1", at, np.full(61, 1 / 12), x, y, sd, 0.8)
    places_x, places_y, share = spread(line, pixel)
    column, row, mass = to_pixels(places_x / pixel, places_y / pixel, share)
    assert mass.sum() == pytest.approx(0.8, rel=1e-3)
    off = -((column + 0.5) * pixel - 3e5) * np.sin(turn) + ((row + 0.5) * pixel - 4e6) * np.cos(
        turn
    )
    assert np.average(off, weights=mass) == pytest.approx(0, abs=pixel / 4)
    found = np.average(off**2, weights=mass)
    assert found == pytest.approx(sd**2, rel=0.02, abs=pixel**2 / 2)


def far_apart(km):
    """Move the second line of the street so far east, and so far north."""
    result = delivered(METRE)
    layers, (_, second, *_) = dict(result.layers), result["lines"]["line_id"]
    for name in ("profile", "marks", "search_zones"):
        frame = layers[name].copy()
        moved = frame["line_id"] == second
        shifted = frame.loc[moved].geometry.translate(1000 * km, 1000 * km)
        layers[name] = frame.set_geometry(frame.geometry.where(~moved, shifted))
    return replace(result, layers=layers), second


def test_lines_far_apart_are_in_one_file_that_costs_what_it_holds(tmp_path):
    result, second = far_apart(40.0)
    assert write_density(result, tmp_path, PIXEL) == ()
    path = tmp_path / "leak_density.tif"
    assert [p.name for p in tmp_path.iterdir()] == [path.name]
    assert path.stat().st_size < 20e6  # of 640 GB that it spans
    with rasterio.open(path) as image:
        assert min(image.shape) > 400_000
        assert max(image.overviews(1)) == pytest.approx(1024, abs=2)
        total = sum(
            image.read(1, window=part).sum(dtype=float)
            for part in (Window(0, image.height - 1024, 2048, 1024),
                         Window(image.width - 1024, 0, 1024, 1024))
        )  # fmt: skip
        smallest = image.read(1, out_shape=(391, 391))
        mark = result["marks"].set_index("line_id").geometry[second]
        assert next(image.sample([(mark.x, mark.y)]))[0] > 0
    assert total * PIXEL**2 == pytest.approx(expected(street()), rel=0.005)
    held = np.argwhere(smallest > 0)
    assert (held.min(), held.max()) == (0, 390)
    assert cog_validate(str(path), strict=True) == (True, [], [])


def test_lines_too_far_apart_have_larger_pixels_and_that_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr(density_raster, "MAX_BLOCKS", 40)
    result, _ = far_apart(1.0)
    (told,) = write_density(result, tmp_path, PIXEL)
    assert "pixels of 0.1 m" in told.problem
    assert "they are 0.8 m" in told.problem
    with rasterio.open(tmp_path / "leak_density.tif") as image:
        assert image.res == pytest.approx([0.8, 0.8])
        assert image.read(1).sum() * 0.64 == pytest.approx(expected(street()), rel=0.03)


def test_offsets_of_more_than_four_gigabytes_are_read_too(tmp_path, monkeypatch):
    write_density(street(), tmp_path, PIXEL)
    path = tmp_path / "leak_density.tif"
    with rasterio.open(path) as image:
        classic = image.read(1)
    monkeypatch.setattr(sparse_cog, "_MAX_CLASSIC_BYTES", 0)
    write_density(street(), tmp_path, PIXEL)
    assert path.read_bytes()[:4] == b"II+\0"
    with rasterio.open(path) as image:
        assert (image.read(1) == classic).all()
    assert cog_validate(str(path), strict=True) == (True, [], [])


def test_nothing_to_draw_is_no_file(tmp_path):
    result = street()
    none = result["profile"].assign(leak_density_per_m=0.0)
    empty = gpd.GeoDataFrame({"line_id": []}, geometry=[], crs=METRE)
    for layers in ({"profile": none}, {"profile": empty}, {}):
        rest = {k: v for k, v in result.layers.items() if k != "profile"}
        assert write_density(replace(result, layers={**rest, **layers}), tmp_path, 0.1) == ()
    assert not list(tmp_path.iterdir())


def test_a_line_of_one_point_stops_nothing(tmp_path):
    result = street()
    one = result["profile"].iloc[:1].set_geometry([Point(0, 0)], crs=METRE)
    assert write_density(result.adding({"profile": one}), tmp_path, PIXEL) == ()
