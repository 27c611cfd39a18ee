"""A layer in the projection of the routes, but in the other kind of foot."""

from __future__ import annotations

import pyproj
import pytest
import shapely

from leakgeo.job.read import read_job
from tests.job import jobs

US_FEET = pyproj.CRS(2229)
EAST, NORTH = 6_480_000.0, 1_850_000.0


def twin(*, same_origin):
    """Give EPSG:2229 in international feet, its false origin in metres or in number the same."""
    text = US_FEET.to_wkt("WKT1_ESRI").replace(
        'UNIT["US survey foot",0.304800609601219]', 'UNIT["Foot",0.3048]'
    )
    if same_origin:
        text = text.replace("6561666.667", "6561679.79").replace("1640416.667", "1640419.948")
    return pyproj.CRS(text)


def faults(utilities_crs, routes_crs=US_FEET):
    main = shapely.LineString([(EAST, NORTH), (EAST + 100, NORTH)])
    gas = shapely.LineString([(EAST, NORTH + 6), (EAST + 100, NORTH + 6)])
    readings = jobs.readings().set_geometry(
        [shapely.Point(EAST + 10 * k, NORTH) for k in range(4)]
    ).set_crs(routes_crs, allow_override=True)  # fmt: skip
    job = read_job(
        {
            "routes": jobs.layer([main], crs=routes_crs, line_id=["L1"]),
            "readings": readings,
            "utilities": jobs.layer([gas], crs=utilities_crs, kind=["gas"]),
        }
    )
    return [f for f in job.faults if f.code == "feet_differ"]


@pytest.mark.parametrize(("same_origin", "moved_m"), [(True, 4.11), (False, 0.08)])
def test_the_other_foot_in_one_layer_is_noted_with_how_far_it_moves(same_origin, moved_m):
    theirs = twin(same_origin=same_origin)
    (fault,) = faults(theirs)
    assert (fault.layer, fault.effect) == ("utilities", "noted")
    values = dict(fault.reason.values)
    assert (values["foot"], values["routes_foot"]) == ("international", "us_survey")
    assert values["moved_m"] == pytest.approx(moved_m, abs=0.06)
    assert "international feet" in fault.problem


@pytest.mark.parametrize("crs", [US_FEET, pyproj.CRS(2229).to_wkt("WKT1_ESRI")])
def test_one_foot_is_not_noted(crs):
    assert faults(crs) == []


def test_parts_of_a_mapped_layer_in_two_feet_are_noted(tmp_path):
    main = shapely.LineString([(EAST, NORTH), (EAST + 100, NORTH)])
    path = tmp_path / "job.gpkg"
    points = [shapely.Point(EAST + 10 * k, NORTH) for k in range(4)]
    readings = jobs.readings().set_geometry(points).set_crs(US_FEET, allow_override=True)
    jobs.layer([main], crs=US_FEET, line_id=["L1"]).to_file(path, layer="routes")
    readings.to_file(path, layer="readings")
    jobs.layer([main], crs=US_FEET, kind=["gas"]).to_file(path, layer="gas")
    theirs = twin(same_origin=True)
    jobs.layer([main], crs=theirs, kind=["sewer"]).to_file(path, layer="sewer")
    mapping = tmp_path / "map.toml"
    mapping.write_text('[[utilities]]\nlayer = "gas"\n[[utilities]]\nlayer = "sewer"\n', "utf-8")
    found = [f for f in read_job(path, mapping=mapping).faults if f.code == "parts_in_two_feet"]
    assert [(f.layer, f.effect) for f in found] == [("utilities", "noted")]
    assert dict(found[0].reason.values)["moved_m"] == pytest.approx(4.11, abs=0.06)
