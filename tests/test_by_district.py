"""A large job by district: each layer is that of a whole run, however the job is stored."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest

from leakgeo import read_result, run
from leakgeo.deliver.views.line_list import list_of
from leakgeo.errors import JobError
from leakgeo.job.guards.memory import VARIABLE
from leakgeo.job.results.read_back import is_result, iter_layer
from leakgeo.job.sources import open_source
from leakgeo.runner.by_district import run as by_district
from leakgeo.runner.by_district.large_layers import large_layers
from leakgeo.runner.journal import FOLDER
from leakgeo.selection import Selection
from tests.town import QUICK, TOWN, assert_same_rows


@pytest.fixture(autouse=True)
def large(monkeypatch):
    """Run each job in pieces of a few lines as if it were large."""
    monkeypatch.setattr(by_district, "FROM_LINES", 0)


def in_pieces(job, out, lines=2, **given):
    """Run a job by district, and hold that it was run so."""
    done = run(job, out, chunk_lines=lines, workers=1, **QUICK, **given)
    assert done.counted is not None
    assert not (out / FOLDER).exists()
    return done


def listed(folder, name):
    table = pd.read_csv(folder / name, dtype=str, keep_default_na=False)
    return sorted(map(tuple, table.drop(columns="run_id", errors="ignore").to_numpy().tolist()))


def test_the_town_is_the_same_by_district(whole, tmp_path, monkeypatch):
    monkeypatch.setattr(by_district, "TOP_LINES", 3)  # so that products show less than the files
    read = []

    def noted(folder, name, crs):
        read.append(name)
        return iter_layer(folder, name, crs)

    monkeypatch.setattr(by_district, "iter_layer", noted)
    done = in_pieces(TOWN, tmp_path, 15)
    assert set(read) == {"locate_requests", "ties", "marks"}  # no other layer is read as a whole
    assert_same_rows(whole, tmp_path)
    assert listed(tmp_path, "summary.csv") == listed(whole, "summary.csv")
    more = set(listed(tmp_path, "faults.csv")) - set(listed(whole, "faults.csv"))
    assert [row[6] for row in more] == ["The map shows 1 of 29 lines, the first by priority."]
    asked = [json.loads((f / "locate_request.geojson").read_text("utf-8"))["features"]
             for f in (whole, tmp_path)]  # fmt: skip
    assert sorted(map(str, asked[0])) == sorted(map(str, asked[1]))
    counts = [json.loads((f / "run.json").read_text("utf-8"))["counts"] for f in (whole, tmp_path)]
    of_products = [one.pop("faults_by_effect") for one in counts]
    assert counts[0] == counts[1]
    assert of_products[0]["rejected"] == of_products[1]["rejected"]
    again = read_result(tmp_path)
    assert again.run_id == done.run_id
    assert len(again.layers["profile"]) == done.counted.rows["profile"]


def test_a_result_larger_than_memory_is_finished_and_listed(few, tmp_path, monkeypatch):
    """Its layers are read batch by batch: as a whole it would be refused."""
    monkeypatch.setattr(by_district, "TOP_LINES", 3)
    size = (few[1] / "result.gpkg").stat().st_size
    monkeypatch.setenv(VARIABLE, str(2.0 * size / 1e9))
    in_pieces(few[0], tmp_path)
    large = tmp_path / "result.gpkg"
    with pytest.raises(JobError, match="the limit is"), open_source(large):
        pass
    assert is_result(tmp_path)
    assert len(list_of(tmp_path, Selection()).rows)


def messy(few):
    """A job of a few lines as people have it: ids missing or unknown, and a reading far away."""
    routes, readings = (pyogrio.read_dataframe(few, layer=n) for n in ("routes", "readings"))
    free = np.arange(len(readings)) % 3 == 0
    readings.loc[free, "line_id"] = None
    readings.loc[1, "line_id"] = "no such line"
    readings.loc[4, "reading_id"] = None
    far = readings.iloc[[7]].assign(line_id=None, reading_id="far")
    far = far.set_geometry(far.geometry.translate(1e6, 1e6))
    readings = pd.concat([readings, far], ignore_index=True)
    return routes, gpd.GeoDataFrame(readings, crs=routes.crs)


def test_a_messy_job_is_the_same_after_a_kill(few, tmp_path):
    routes, readings = messy(few[0])
    job, mapping, out = tmp_path / "own.gpkg", tmp_path / "map.toml", tmp_path / "parts"
    named = readings.rename(columns={"sound_level": "LEVEL", "line_id": "SERVICE"})
    pyogrio.write_dataframe(routes, job, layer="pipes")
    pyogrio.write_dataframe(named.iloc[::2], job, layer="walk one")
    pyogrio.write_dataframe(named.iloc[1::2], job, layer="walk two")
    columns = "columns.sound_level = 'LEVEL'\ncolumns.line_id = 'SERVICE'\n"
    mapping.write_text(
        f"[routes]\nlayer = 'pipes'\n[[readings]]\nlayer = 'walk one'\n{columns}"
        f"[[readings]]\nlayer = 'walk two'\n{columns}", "utf-8"
    )  # fmt: skip
    run(job, tmp_path / "whole", mapping=mapping, **QUICK)
    before = killed(job, out, mapping)
    told = []
    in_pieces(job, out, mapping=mapping, resume=True, tell=told.append)
    assert sum(t.step == "chunks" for t in told) == 3 - before
    assert_same_rows(tmp_path / "whole", out)
    assert listed(tmp_path / "whole", "faults.csv") == listed(out, "faults.csv")


def killed(job, out, mapping):
    """Kill a run when some districts are stored; how many there are."""
    given = {"chunk_lines": 2, "workers": 1, "mapping": str(mapping), **QUICK}
    code = (
        "import leakgeo; from leakgeo.runner.by_district import run; run.FROM_LINES = 0; "
        f"leakgeo.run({str(job)!r}, {str(out)!r}, **{given})"
    )
    child = subprocess.Popen([sys.executable, "-c", code])
    parts = out / FOLDER
    until = time.monotonic() + 120
    while not list(parts.glob("[0-9]*")) and time.monotonic() < until:
        time.sleep(0.02)
    os.kill(child.pid, signal.SIGKILL)
    child.wait()
    stored = {path.name for path in parts.glob("[0-9]*")}
    assert 1 <= len(stored) < 3
    assert not (out / "result.gpkg").exists()
    return len(stored)


def test_typed_sheets_are_read_whole(few, tmp_path):
    job = tmp_path / "job"
    job.mkdir()
    routes, readings = (pyogrio.read_dataframe(few[0], layer=n) for n in ("routes", "readings"))
    pyogrio.write_dataframe(routes, job / "routes.gpkg", layer="routes")
    readings.drop(columns="geometry").to_csv(job / "readings.csv", index=False)
    with open_source(job) as opened:
        assert large_layers(opened, None) is None
    with open_source(few[0]) as opened:
        assert [one.name for one in large_layers(opened, None)] == ["readings"]
