"""Pages printed from a result that was read back are those of the run, without its job."""

from __future__ import annotations

import math
import re
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace

import geopandas as gpd
import pytest
from pypdf import PdfReader

import leakgeo
from leakgeo.errors import JobError, ParameterError
from leakgeo.job.results.read_back import is_result
from leakgeo.job.results.stored_record import PREFIX, RUN_RECORD
from tests.deliver.shown import map_data
from tests.test_cli import leakgeo_command
from tests.town import TOWN

# The map packs shapes in whole steps; a shape that went to the file and back may round otherwise.
NUMBER = re.compile(r"-?\d*\.\d+")
SHAPES = {"at", "ring", "digAt"}


@pytest.fixture(scope="module")
def kept(town, tmp_path_factory):
    """Give a copy of the results, far from the job, as the run left them."""
    folder = tmp_path_factory.mktemp("kept") / "out"
    shutil.copytree(town[1], folder)
    return folder


def no_work(*_: object, **__: object) -> None:
    raise AssertionError("the job was opened, or a step was run")


def without_shapes(value):
    if isinstance(value, dict):
        return {k: without_shapes(v) for k, v in value.items() if k not in SHAPES}
    if isinstance(value, (list, tuple)):
        return [without_shapes(v) for v in value]
    return None if isinstance(value, float) and math.isnan(value) else value


def drawn(folder):
    """Give what is drawn on each page of a report."""
    pages = PdfReader(folder / "report.pdf").pages
    return [page.get_contents().get_data().decode("latin-1") for page in pages]


def page_of(path, line):
    """Give the words of a line's first page, but for the page's number."""
    pages = (page.extract_text() for page in PdfReader(path).pages)
    found = (re.sub(r"\bpage \d+", "", text) for text in pages)
    return next(text for text in found if line in text.splitlines()[:6])


def test_map_and_report_are_those_of_the_run_and_nothing_is_worked_out(
    town, kept, tmp_path, monkeypatch
):
    for where in ("leakgeo.job.read.read_job", "leakgeo.find.locate.step.locate",
                  "leakgeo.dig.clearance.clearance"):  # fmt: skip
        monkeypatch.setattr(where, no_work)
    result = leakgeo.read_result(kept)
    leakgeo.report(result, out=tmp_path)
    for one, other in zip(*map(drawn, (tmp_path, kept)), strict=True):
        # Coordinates went to the CRS of the file and back.
        assert NUMBER.split(one) == NUMBER.split(other)
        assert [*map(float, NUMBER.findall(one))] == pytest.approx(
            [*map(float, NUMBER.findall(other))], abs=0.02
        )
    before, after = (without_shapes(map_data(one, "us")) for one in (town[0], result))
    assert after == before
    leakgeo.map(result, out=tmp_path)
    assert (tmp_path / "map.html").stat().st_size > 100_000


def test_its_job_is_the_one_that_was_run(town, kept):
    job, result = town[0].job, leakgeo.read_result(kept)
    assert (result.job.crs, result.job.output_crs) == (job.crs, job.output_crs)
    assert list(result.job) == list(job)
    for name, layer in result.job.items():
        assert layer["reason"].isna().tolist() == job[name]["reason"].isna().tolist()
        if "geometry" in layer:
            assert (
                layer.geometry.geom_equals_exact(job[name].geometry.force_2d(), 1e-6).tolist()
                == job[name].geometry.notna().tolist()
            )
    assert (result.job.source, result.job.digest) == ("job.gpkg", job.digest)
    assert result.run_id == town[0].run_id
    assert result.faults == ()


def test_a_line_is_printed_on_the_command_line(kept, tmp_path):
    done = leakgeo_command("report", kept, "--line", "H-101", "--out", tmp_path / "sheets")
    assert done.returncode == 0, done.stderr
    assert [p.name for p in (tmp_path / "sheets").iterdir()] == ["report.pdf"]
    assert page_of(tmp_path / "sheets" / "report.pdf", "H-101") == page_of(
        kept / "report.pdf", "H-101"
    )
    assert "H-118" not in "".join(
        p.extract_text() for p in PdfReader(tmp_path / "sheets" / "report.pdf").pages
    )


def test_nothing_is_worked_out_from_it(kept):
    result = leakgeo.read_result(kept)
    with pytest.raises(ParameterError, match="Give the job"):
        leakgeo.clearance(result, rule="generic")
    assert is_result(kept)
    assert not is_result(TOWN)


def test_layers_of_the_job_that_were_changed_since_are_reported(town, kept, tmp_path):
    shutil.copytree(kept, tmp_path / "out")
    with closing(sqlite3.connect(tmp_path / "out" / "result.gpkg")) as base, base:
        base.execute(f"UPDATE {PREFIX}meter_tests SET line_id = 'X-1'")
        base.execute(f"UPDATE {RUN_RECORD} SET record = '[1'")
    result = leakgeo.read_result(tmp_path / "out")
    assert [fault.layer for fault in result.faults] == [f"{PREFIX}meter_tests"]
    assert len(result.job.routes) == len(
        town[0].job.routes
    )  # the layers are there without the record


def test_a_result_without_its_job_is_exported_alone(town, tmp_path):
    older = replace(town[0], job=replace(town[0].job, routes=town[0].job.routes[:0]))
    leakgeo.export(older, out=tmp_path, density=False)
    for draw in (leakgeo.map, leakgeo.report):
        with pytest.raises(ParameterError, match="Run the job again"):
            draw(older, out=tmp_path)


@pytest.mark.parametrize("name", ["", "result.gpkg"])
def test_a_result_in_place_of_a_job_is_named_with_what_to_do(kept, tmp_path, name):
    with pytest.raises(JobError) as raised:
        leakgeo.learn(kept / name)
    assert [(f.layer, f.code, f.effect) for f in raised.value.faults] == [
        ("job", "job_is_result", "stops")
    ]
    done = leakgeo_command("learn", kept / name, "--out", tmp_path / "learned")
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert f"leakgeo learn JOB --results {kept / name}" in done.stderr
    assert "no layer" not in done.stderr
    assert not (tmp_path / "learned").exists()


def test_a_job_with_a_result_in_its_folder_is_read(kept, tmp_path):
    for name in ("routes", "readings"):
        layer = gpd.read_file(TOWN, layer=name)
        layer.to_file(tmp_path / f"{name}.gpkg", layer=name)
    shutil.copy(kept / "result.gpkg", tmp_path / "result.gpkg")
    assert is_result(tmp_path)
    assert len(leakgeo.read_job(tmp_path).routes) == 29
