"""The law of the noise that a job teaches: from all its lines, whatever is asked for."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import leakgeo
from leakgeo.errors import ParameterError
from leakgeo.find.ground.file import ground_toml, noise_law_from
from leakgeo.simulate import Conditions, World
from leakgeo.simulate.job import fields_to_layers
from leakgeo.simulate.write import write_job
from leakgeo.sound.constants import load_constants
from leakgeo.sound.noise_law import NoiseLaw
from tests.benchmarks.draws import draw_fields


def layers(lines, coupling_times=1.0, seed=4):
    world = World().scaled("coupling_sd_db", coupling_times)
    made = fields_to_layers(
        draw_fields(lines, seed, Conditions(tape_share=1.0, constants=world))
    )  # fmt: skip
    made.pop("truth")
    return made


def law(job, **settings):
    return NoiseLaw.from_table(leakgeo.ground(job, **settings)["noise_law"])


@pytest.fixture(scope="module")
def rough(tmp_path_factory):
    path = tmp_path_factory.mktemp("rough") / "job.gpkg"
    write_job(layers(40, 2.0), path)
    return path


def test_rough_and_smooth_ground_are_told_apart(rough, tmp_path):
    write_job(layers(40, 0.5), tmp_path / "job.gpkg")
    smooth, shipped = law(tmp_path / "job.gpkg").centre()[0], load_constants().noise_law
    assert smooth < 0.85 * shipped.centre()[0]
    assert law(rough).centre()[0] > 1.25 * shipped.centre()[0]


def test_one_line_of_a_job_has_the_law_and_the_mark_of_the_whole_job(rough):
    whole = leakgeo.locate(rough)
    name = whole["marks"]["line_id"].iloc[0]
    alone = leakgeo.locate(leakgeo.read_job(rough, lines=[name]))
    pd.testing.assert_frame_equal(alone["noise_law"], whole["noise_law"])
    for layer in ("marks", "search_zones"):
        ours = whole[layer].query("line_id == @name").reset_index(drop=True)
        pd.testing.assert_frame_equal(alone[layer].reset_index(drop=True), ours)


def test_the_order_of_lines_and_readings_does_not_matter(rough, tmp_path):
    shuffled = {k: v.sample(frac=1.0, random_state=1) for k, v in layers(40, 2.0).items()}
    write_job(shuffled, tmp_path / "job.gpkg")
    np.testing.assert_array_equal(law(tmp_path / "job.gpkg").weight, law(rough).weight)


def test_readings_that_name_no_line_teach_as_those_that_do(rough, tmp_path):
    unnamed = layers(40, 2.0)
    unnamed["readings"] = unnamed["readings"].assign(line_id=None)
    write_job(unnamed, tmp_path / "job.gpkg")
    found, named = law(tmp_path / "job.gpkg"), law(rough)
    assert found.lines == named.lines
    np.testing.assert_allclose(found.weight, named.weight, atol=0.02)


def test_a_law_is_carried_to_the_next_job_to_the_last_bit(rough, tmp_path):
    taught = law(rough)
    path = tmp_path / "ground.toml"
    path.write_text(ground_toml(taught), "utf-8")
    write_job(layers(2), tmp_path / "next.gpkg")
    given = law(tmp_path / "next.gpkg", ground=path)
    np.testing.assert_array_equal(given.weight, taught.weight)
    assert given.lines == taught.lines == 40


@pytest.mark.parametrize(
    ("text", "cause"),
    [
        ("", "noise_law"),
        ("[noise_law]\nnodes = 3", "four numbers"),
        ("[noise_law]\nnodes = [[1, 2, 3]]", "four numbers"),
        ("[noise_law]\nnodes = [['a', 2, 3, 1]]", "four numbers"),
        ("[noise_law]\nnodes = [[1, 2, 0, 1]]", "above zero"),
        ("[noise_law]\nnodes = [[1, 2, 1, 0]]", "above"),
        ("[noise_law]\nnodes = [[1, 2, 1, inf]]", "four numbers"),
        ("[noise_law]\nlines = 'x'\nnodes = [[1, 2, 1, 1]]", "can't be read"),
        ("nonsense", "can't be read"),
    ],
)
def test_a_file_that_is_no_law_is_refused(text, cause, tmp_path):
    path = tmp_path / "ground.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(ParameterError, match=cause):
        noise_law_from(path)


def test_a_job_without_readings_has_the_shipped_law(tmp_path):
    few = layers(2)
    few["readings"] = few["readings"].iloc[:5]
    write_job(few, tmp_path / "job.gpkg")
    found, shipped = law(tmp_path / "job.gpkg"), load_constants().noise_law
    assert found.lines == 0
    np.testing.assert_array_equal(found.weight, shipped.weight)
