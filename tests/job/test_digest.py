"""Layers of a result that were edited since are told from those that were merely opened."""

from __future__ import annotations

import shutil

import numpy as np
import pandas as pd
import pyogrio
import pytest

import leakgeo
from leakgeo.job.digest import LayerDigest, column_types
from leakgeo.job.results.earlier import earlier_layers
from leakgeo.job.schema import load_schemas
from tests.town import TOWN


@pytest.fixture
def out(few, tmp_path):
    return shutil.copytree(few[1], tmp_path / "out")


def edit(out, layer, change):
    path = out / "result.gpkg"
    frame = pyogrio.read_dataframe(path, layer=layer)
    change(frame)
    pyogrio.write_dataframe(frame, path, layer=layer)


def test_a_result_as_it_was_written_has_no_fault(town):
    result = leakgeo.read_result(town[1])
    assert result.faults == ()
    assert result.run_id == town[0].run_id


def test_a_layer_that_is_written_anew_without_a_change_has_none(out):
    edit(out, "marks", lambda frame: None)
    assert leakgeo.read_result(out).faults == ()


@pytest.mark.parametrize("layer", ["marks", "ties", "lines"])
def test_a_layer_that_was_edited_is_reported(out, layer, tmp_path):
    def change(frame):
        if layer == "lines":
            frame.loc[0, "message"] = "Dig anywhere."
        else:
            frame["geometry"] = frame.geometry.translate(0.001)

    edit(out, layer, change)
    (fault,) = leakgeo.read_result(out).faults
    assert fault.layer == layer
    assert fault.code == "layer_changed"
    done = leakgeo.export(out, out=tmp_path / "handed_over", density=False)
    assert fault in done.faults


def test_a_mark_that_was_moved_is_reported_where_digs_are_compared(out):
    edit(out, "marks", lambda f: f.__setitem__("chainage_m", f["chainage_m"] + 1.0))
    job = leakgeo.read_job(TOWN)
    assert [f.layer for f in earlier_layers(out, job.crs)[1]] == ["marks"]
    learned = leakgeo.learn(job, results=out)
    assert "layer_changed" in [f.code for f in learned.faults]


def test_a_record_of_another_run_or_none_is_reported(out):
    text = (out / "run.json").read_text("utf-8")
    run = leakgeo.read_result(out).run_id
    (out / "run.json").write_text(text.replace(run, "0000-0000-0000"), encoding="utf-8")
    (fault,) = leakgeo.read_result(out).faults
    assert fault.code == "result_of_other_run"
    assert dict(fault.reason.values)["written"] == "0000-0000-0000"
    (out / "run.json").unlink()
    (fault,) = leakgeo.read_result(out).faults
    assert fault.code == "result_without_record"


def test_times_numbers_and_what_is_missing_survive_a_geopackage(tmp_path):
    chance = np.random.default_rng(7)
    times = pd.to_datetime(chance.integers(0, 4 * 10**15, 500), unit="us", utc=True)
    frame = pd.DataFrame({
        "time": pd.Series(times).mask(chance.random(500) < 0.1),
        "number": pd.Series(chance.normal(size=500)).mask(chance.random(500) < 0.1),
        "count": pd.array(chance.integers(-5, 5, 500), dtype="Int64"),
        "flag": pd.array(chance.random(500) < 0.5, dtype="boolean"),
        "text": [str(k) if k % 7 else None for k in range(500)],
    })  # fmt: skip
    frame.loc[3, ["count", "flag"]] = pd.NA
    pyogrio.write_dataframe(frame, tmp_path / "t.gpkg", layer="t")
    read = pyogrio.read_dataframe(tmp_path / "t.gpkg", layer="t")
    types = {"time": "datetime", "number": "number", "count": "integer", "flag": "boolean"}
    digests = []
    for table in (frame, read.sample(frac=1.0, random_state=1)):
        digest = LayerDigest(types)
        digest.add(table)
        digests.append(digest.value)
    assert digests[0] == digests[1]
    assert column_types(load_schemas()["marks"])["chainage_m"] == "number"
