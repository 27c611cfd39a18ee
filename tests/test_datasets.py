"""The sample jobs: shipped once, in the wheel, and as the simulator makes them."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pyogrio
import pytest

import leakgeo
from leakgeo import datasets
from leakgeo.commands import demo_command
from leakgeo.simulate.small_jobs import simulate_in_feet, simulate_two_walks
from leakgeo.simulate.town import DEFAULT_SEED
from leakgeo.simulate.write import write_job

ROOT = Path(__file__).parents[1]
SMALL = {"two_walks": simulate_two_walks, "in_feet": simulate_in_feet}


@pytest.mark.parametrize("name", SMALL)
def test_a_small_job_is_what_the_code_makes(name, tmp_path):
    layers = SMALL[name]()
    leak = layers.pop("truth")["chainage_m"].iloc[0]
    write_job(layers, tmp_path / "made.gpkg")
    shipped = getattr(datasets, name)()
    assert set(pyogrio.list_layers(shipped)[:, 0]) == {*layers} - {"utilities"} | (
        {"utility_lines"} if "utilities" in layers else set()
    )
    for layer, _ in pyogrio.list_layers(shipped):
        there, made = (pyogrio.read_dataframe(p, layer=layer)
                       for p in (shipped, tmp_path / "made.gpkg"))  # fmt: skip
        assert there.drop(columns="geometry").equals(made.drop(columns="geometry"))
        assert there.geometry.geom_equals_exact(made.geometry, 1e-6).all()
        about = pyogrio.read_info(shipped, layer=layer)["layer_metadata"]["leakgeo"]
        assert "Simulated" in about
    assert f"{leak:.2f} m" in getattr(datasets, name).__doc__


def test_every_sample_job_is_in_the_wheel_and_small():
    put = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    put = put["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    for name in datasets.__all__:
        assert put[f"examples/{name}/job.gpkg"] == f"leakgeo/datasets/{name}.gpkg"
    sizes = [(ROOT / f"examples/{name}/job.gpkg").stat().st_size for name in datasets.__all__]
    assert sum(sizes) < 1_000_000


def test_the_second_walk_of_two_has_another_gain_that_is_estimated():
    result = leakgeo.profile(datasets.two_walks())
    readings = result["readings_on_route"].groupby("walk_id")
    assert not result["readings_on_route"]["gain_known"].any()
    off = readings["level_db"].max() - readings["level_comparable_db"].max()
    assert abs(off["W-1/fine"] - off["W-1/coarse"]) > 3.0


def test_tapes_in_feet_are_placed_where_they_were_walked():
    job = leakgeo.read_job(datasets.in_feet())
    assert job.units() == "us"
    on = leakgeo.profile(job)["readings_on_route"]
    metres = job.readings["tape"].str.removesuffix(" ft").astype(float) * 0.3048
    assert on["used"].all()
    # The satellite fixes, 3 m, hardly move them.
    assert (on["chainage_m"] - metres).abs().max() < 0.1


def test_the_demo_is_the_shipped_town_unless_a_seed_is_given():
    seeds = [p.default for _, p in demo_command().parameters if p.name == "seed"]
    assert seeds == [DEFAULT_SEED]
