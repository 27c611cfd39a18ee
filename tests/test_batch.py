"""A large job in chunks: the same results, however it is cut, killed or resumed."""

from __future__ import annotations

import json
import multiprocessing
import os
import signal
import subprocess
import sys
import time

import pandas as pd
import pyogrio
import pytest

from leakgeo import run
from leakgeo.deliver.views.top_lines import top_lines
from leakgeo.errors import OutputError
from leakgeo.runner.journal import FOLDER
from tests.town import TOWN, assert_same


def test_chunks_and_processes_change_nothing_even_if_a_worker_dies(whole, tmp_path):
    killed = []

    def kill_one(told):
        if told.step == "chunks" and not killed:
            child = multiprocessing.active_children()[0]
            killed.append(child.pid)
            os.kill(child.pid, signal.SIGKILL)

    done = run(TOWN, tmp_path, chunk_lines=10, workers=2, tell=kill_one)
    assert killed
    assert done.run_id == json.loads((whole / "run.json").read_text("utf-8"))["run_id"]
    assert_same(whole, tmp_path)


def test_chosen_lines_are_the_same_in_chunks(few, tmp_path):
    job = tmp_path / "job.gpkg"
    job.write_bytes(few[0].read_bytes())
    chosen = sorted(pyogrio.read_dataframe(job, layer="routes")["line_id"])[:2]
    done = pd.DataFrame({
        "line_id": [chosen[0], *chosen], "action": ["look_inside", "listen_beyond", "find_source"],
        "result": ["found", "found", "not_found"], "beyond": [None, "end", None],
    })  # fmt: skip
    pyogrio.write_dataframe(done, job, layer="action_results")
    quick = {"lines": chosen, "density": False, "map_lines": 1, "report_lines": 1}
    whole = run(job, tmp_path / "whole", **quick)
    cut = run(job, tmp_path / "cut", **quick, chunk_lines=1, workers=1)
    assert_same(tmp_path / "whole", tmp_path / "cut")
    # In memory too, down to the types of columns that are empty in one chunk or in all.
    assert [n for n, layer in whole.layers.items() if not layer.equals(cut.layers[n])] == []
    evidence = pyogrio.read_dataframe(tmp_path / "cut" / "result.gpkg", layer="evidence")
    assert evidence.query("kind == 'action'")["line_id"].tolist() == chosen


def test_a_run_that_was_killed_is_finished(few, tmp_path):
    job, result = few
    into = f"{str(job)!r}, {str(tmp_path)!r}, chunk_lines=2, workers=1"
    code = f"import leakgeo; leakgeo.run({into})"
    child = subprocess.Popen([sys.executable, "-c", code])
    parts = tmp_path / FOLDER
    until = time.monotonic() + 120
    while not list(parts.glob("[0-9]*")) and time.monotonic() < until:
        time.sleep(0.02)
    os.kill(child.pid, signal.SIGKILL)
    child.wait()
    assert 1 <= len(list(parts.glob("[0-9]*"))) < 3
    assert not (tmp_path / "result.gpkg").exists()
    told = []
    run(job, tmp_path, chunk_lines=2, workers=1, resume=True, tell=told.append)
    assert sum(t.step == "chunks" for t in told) < 3
    assert_same(result, tmp_path)


def test_a_run_that_changed_is_not_resumed(few, tmp_path):
    def stop(told):
        if told.step == "chunks":
            raise KeyboardInterrupt

    job, out = tmp_path / "job.gpkg", tmp_path / "out"
    job.write_bytes(few[0].read_bytes())
    asked = {"chunk_lines": 1, "workers": 1}
    with pytest.raises(KeyboardInterrupt):
        run(job, out, **asked, tell=stop)
    for changed in ({"leak_prior": 0.5}, {"chunk_lines": 4}):
        with pytest.raises(OutputError, match="had other parameters"):
            run(job, out, resume=True, **{**asked, **changed})
        assert (out / FOLDER).exists()
    readings = pyogrio.read_dataframe(job, layer="readings")
    readings.loc[0, "sound_level"] += 1.0
    pyogrio.write_dataframe(readings, job, layer="readings")
    with pytest.raises(OutputError, match="had other input"):
        run(job, out, **asked, resume=True)


def test_all_lines_are_shown_however_few_are_held(few, tmp_path, monkeypatch):
    monkeypatch.setattr("leakgeo.runner.merge.TOP_LINES", 2)
    done = run(few[0], tmp_path, chunk_lines=3, workers=1, format="geoparquet")
    held = done.layers["profile"]["line_id"].nunique()
    every = pyogrio.read_dataframe(tmp_path / "result.gpkg", layer="profile", read_geometry=False)
    assert held <= 2 < every["line_id"].nunique()
    assert len(done.whole("profile")) == len(every)
    exported = pd.read_parquet(tmp_path / "exported" / "geoparquet" / "profile.parquet")
    assert len(exported) == len(every)
    shown = top_lines(done, 4).layers["profile"]["line_id"].nunique()
    assert held < shown <= 4
