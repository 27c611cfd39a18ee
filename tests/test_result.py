"""What a person sees of a job and a result in an interpreter."""

from __future__ import annotations

import pytest

import leakgeo
from tests.job.jobs import readings, routes, write


@pytest.fixture
def result(tmp_path):
    write(tmp_path / "job.gpkg", routes=routes().iloc[:1], readings=readings(12))
    return leakgeo.locate(tmp_path / "job.gpkg")


def test_a_result_says_in_a_few_lines_what_it_holds(result):
    said = repr(result)
    assert said.startswith("Result of Job job.gpkg: routes 1, readings 12; ")
    assert "\n  marks: 1 rows" in said
    assert len(said) < 600


def test_layers_are_had_by_name(result):
    assert result["marks"] is result.layers["marks"]
    with pytest.raises(KeyError, match="readings_on_route, profile"):
        result["dig_zones"]


def test_a_layer_goes_to_the_crs_that_the_routes_came_in(result):
    assert result["marks"].crs == result.job.crs
    assert result["marks"].to_crs(result.job.output_crs).crs == result.job.output_crs
