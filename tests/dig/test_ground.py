"""Cover from the ground model less the pipe's Z: which source, which unit, and when not at all."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pyproj
import pytest
import rasterio
from rasterio import Affine
from shapely import LineString, Point

from leakgeo.job.rasters.ground import GroundModel
from leakgeo.job.read import read_job
from tests.dig.conftest import METRES, X0, Y0

FOOT = 1200 / 3937  # US survey foot


def slope(x, y):
    """Height of the invented ground in metres: a plane."""
    return 250.0 + 0.02 * (x - X0) + 0.05 * (y - Y0)


def plane():
    """Give a ground model of one-metre cells around the mark."""
    column, row = np.meshgrid(np.arange(60) + 0.5, np.arange(60) + 0.5)
    heights = slope(X0 - 30 + column, Y0 + 30 - row)
    return GroundModel(heights, (1.0, 0.0, X0 - 30, 0.0, -1.0, Y0 + 30), METRES, 1.0)


def deep(cover):
    """Give a pipe with Z at vertices whose crown lies `cover` under the ground all along."""
    return LineString([(X0, Y0 + y, slope(X0, Y0 + y) - cover) for y in (-12, 20)])


def test_the_cover_is_ground_less_z_where_none_is_on_record(dig, gas_main):
    route = {"depth_m": None, "geometry": deep(1.1)}
    zone, _, _ = dig([gas_main(3.0)], route=route, ground=plane())
    assert zone["depth_m"] == pytest.approx(1.1 + 0.025 + 0.15, abs=1e-6)
    assert zone["depth_source"] == "ground_less_pipe_z"
    assert "ground model less the pipe's Z" in zone["cautions"]
    assert zone["dig_status"] == "no_hold_recorded"


def test_the_record_goes_first_and_a_difference_is_reported(dig, gas_main):
    agree, _, _ = dig([gas_main(3.0)], route={"geometry": deep(0.95)}, ground=plane())
    apart, _, _ = dig([gas_main(3.0)], route={"geometry": deep(1.6)}, ground=plane())
    for zone in (agree, apart):
        assert zone["depth_source"] == "cover_on_record"
        assert zone["depth_m"] == pytest.approx(0.9 + 0.025 + 0.15)
    assert "expect either" not in agree["cautions"]
    assert "1.60 m, and the record 0.90 m" in apart["cautions"]


@pytest.mark.parametrize(
    ("geometry", "ground"),
    [
        (LineString([(X0, Y0 - 12), (X0, Y0 + 20)]), plane()),  # no Z
        (deep(-0.5), plane()),  # pipe above the ground
        (deep(1.0), None),
        (deep(1.0), GroundModel(np.full((60, 60), np.nan), plane().transform, METRES, 1.0)),
        (deep(1.0), GroundModel(plane().elevation_m, (1, 0, X0 + 9e3, 0, -1, Y0), METRES, 1.0)),
    ],
)
def test_without_a_height_the_cover_is_not_known_and_holds(dig, gas_main, geometry, ground):
    zone, _, _ = dig([gas_main(3.0)], route={"depth_m": None, "geometry": geometry}, ground=ground)
    assert zone["depth_source"] is None
    assert "cover over the pipe is not known" in zone["holds"]


# -- as it is read

ROUTES_CRS = "EPSG:2227+6360"  # California zone 3, US survey feet across and upwards


def write_job(folder, *, crs=ROUTES_CRS, raster_crs="EPSG:26910", unit="metre", heights_in=1.0):
    """Write a job whose pipe lies 1.2 m under an invented ground, and its ground model."""
    away = pyproj.Transformer.from_crs("EPSG:26910", pyproj.CRS(crs).to_2d(), always_xy=True)
    step = FOOT if "2227" in crs else 1.0
    ends = [(X0, Y0 - 12), (X0, Y0 + 20)]
    line = LineString([(*away.transform(x, y), (slope(x, y) - 1.2) / step) for x, y in ends])
    routes = gpd.GeoDataFrame({"line_id": ["L-1"], "diameter_mm": 25.0}, geometry=[line], crs=crs)
    at = [Point(X0, Y0 + y) for y in range(-10, 19, 4)]
    readings = gpd.GeoDataFrame(
        {"reading_id": [f"r{i}" for i in range(8)], "line_id": "L-1", "sound_level": 50.0,
         "sound_unit": "db"}, geometry=at, crs="EPSG:26910",
    )  # fmt: skip
    folder.mkdir()
    routes.to_file(folder / "routes.gpkg", layer="routes")
    readings.to_file(folder / "readings.gpkg", layer="readings")
    column, row = np.meshgrid(np.arange(80) + 0.5, np.arange(80) + 0.5)
    heights = slope(X0 - 40 + column, Y0 + 40 - row) / heights_in
    heights[:3] = -9999.0
    with rasterio.open(
        folder / "ground.tif", "w", driver="GTiff", width=80, height=80, count=1, dtype="float32",
        crs=raster_crs, transform=Affine(1, 0, X0 - 40, 0, -1, Y0 + 40), nodata=-9999.0,
    ) as raster:  # fmt: skip
        raster.write(heights.astype("float32"), 1)
        if unit:
            raster.units = (unit,)
    return folder


@pytest.mark.parametrize(("unit", "heights_in"), [("metre", 1.0), ("US survey foot", FOOT)])
def test_feet_and_metres_are_distinguished(tmp_path, unit, heights_in):
    job = read_job(write_job(tmp_path / "job", unit=unit, heights_in=heights_in))
    height = job.ground.elevation_at([X0, X0 + 0.8], [Y0, Y0 - 2.7], pyproj.CRS(26910))
    assert height == pytest.approx([slope(X0, Y0), slope(X0 + 0.8, Y0 - 2.7)], abs=0.002)
    assert job.ground.z_unit_m == pytest.approx(FOOT)
    assert "have the same datum" in " ".join(str(f) for f in job.faults)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"crs": "EPSG:2227"}, "unit of the routes' Z is not known"),
        ({"raster_crs": "EPSG:4269", "unit": None}, "unit of its heights is not known"),
        ({"raster_crs": None}, "no CRS"),
        ({"raster_crs": "EPSG:26918"}, "does not cover the routes"),
    ],
)
def test_a_ground_model_that_can_not_be_used_says_why(tmp_path, changed, said):
    job = read_job(write_job(tmp_path / "job", **changed))
    assert job.ground is None
    assert said in " ".join(str(f) for f in job.faults if f.layer == "ground")


def test_heights_of_another_unit_than_the_z_are_not_a_cover(tmp_path):
    """The raster says metres and holds feet: every pipe would be hundreds of metres deep."""
    job = read_job(write_job(tmp_path / "job", unit="metre", heights_in=FOOT))
    assert job.ground is None
    (said,) = [f for f in job.faults if f.layer == "ground"]
    assert "datums or units differ" in said.problem
    assert said.effect == "rejected"


def test_a_broken_ground_model_does_not_stop_the_job(tmp_path):
    folder = write_job(tmp_path / "job")
    (folder / "ground.tif").write_bytes(b"II*\0 not a raster")
    job = read_job(folder)
    assert job.ground is None
    assert any(f.layer == "ground" and "can't be read" in f.problem for f in job.faults)


def test_one_beside_a_geopackage_is_found_by_its_name(tmp_path):
    folder = write_job(tmp_path / "job")
    for name in ("routes", "readings"):
        gpd.read_file(folder / f"{name}.gpkg").to_file(tmp_path / "street.gpkg", layer=name)
    assert read_job(tmp_path / "street.gpkg").ground is None
    (folder / "ground.tif").rename(tmp_path / "street_ground.tif")
    before = sorted(p.name for p in tmp_path.iterdir())
    assert read_job(tmp_path / "street.gpkg").ground is not None
    assert sorted(p.name for p in tmp_path.iterdir()) == before


def test_one_inside_the_geopackage_is_found_and_nothing_is_written(tmp_path):
    folder = write_job(tmp_path / "job")
    path = tmp_path / "street.gpkg"
    with rasterio.open(folder / "ground.tif") as raster:
        profile = {**raster.profile, "driver": "GPKG", "RASTER_TABLE": "ground"}
        heights = raster.read(1)
    with rasterio.open(path, "w", **{k: v for k, v in profile.items() if k != "tiled"}) as raster:
        raster.write(heights, 1)
        raster.units = ("metre",)
    for name in ("routes", "readings"):
        gpd.read_file(folder / f"{name}.gpkg").to_file(path, layer=name, mode="a")
    before = path.read_bytes()
    there = sorted(p.name for p in tmp_path.iterdir())
    job = read_job(path)
    height = job.ground.elevation_at([X0], [Y0], pyproj.CRS(26910))
    assert height == pytest.approx([slope(X0, Y0)], abs=0.02)
    assert path.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == there


def test_heights_between_the_middles_of_cells_agree_with_rasterio(tmp_path):
    folder = write_job(tmp_path / "job")
    job = read_job(folder)
    with rasterio.open(folder / "ground.tif") as raster:
        x, y = raster.xy(30, 41)  # the middle of a cell
        value = next(raster.sample([(x, y)]))[0]
    there = job.ground.elevation_at([x], [y], pyproj.CRS(26910))
    assert there[0] == pytest.approx(value, abs=1e-3)


def test_covers_that_differ_by_more_than_15_cm_are_reported(varied):
    routes = [{"geometry": deep(0.9 + apart)} for apart in (0.14, -0.14, 0.16, -0.16)]
    zones, _ = varied([{"route": r} for r in routes], 0.0, layers={"ground": plane()})
    shown = ["covers_differ" in codes for codes in zones["caution_codes"]]
    assert shown == [False, False, True, True]


def test_a_modelled_cover_over_50_m_or_below_zero_is_not_known(varied):
    routes = [{"depth_m": None, "geometry": deep(c)} for c in (49.9, 50.1, 0.01, -0.01)]
    zones, _ = varied([{"route": r} for r in routes], 0.0, layers={"ground": plane()})
    unknown = ["cover_not_known" in codes for codes in zones["hold_codes"]]
    assert unknown == [False, True, False, True]
    assert zones["depth_source"].isna().tolist() == unknown


def test_the_depth_counts_an_unknown_diameter_as_300_mm_and_protection_starts_at_5_feet(varied):
    # 29 CFR 1926.652(a)(1)(ii): none in a trench of less than 5 ft (1.52 m).
    covers = [(0.0, None), (1.3199, 50.0), (1.32, 50.0), (1.3201, 50.0)]
    zones, _ = varied([{"route": {"depth_m": c, "diameter_mm": d}} for c, d in covers])
    assert zones["depth_m"].tolist() == pytest.approx([0.45, 1.5199, 1.52, 1.5201])
    assert zones["depth_m"].iloc[2] == 1.52  # the very limit
    deep_dig = ["dig_deep" in codes for codes in zones["caution_codes"]]
    assert deep_dig == [False, False, True, True]
    assert zones["hold_codes"].tolist() == [[]] * 4
