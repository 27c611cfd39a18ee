"""Results of another version: what is read of an older and of a newer one, and what is refused."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from types import SimpleNamespace

import pytest

import leakgeo
from leakgeo.errors import OutputError, ParameterError
from leakgeo.job.results.read_back import is_result
from leakgeo.job.results.stored_record import PREFIX, RUN_RECORD
from leakgeo.runner.journal import Journal, run_key


@pytest.fixture(name="copy")
def _copy(few, tmp_path):
    """Give a copy of a result, and a function that runs SQL on its layers."""
    folder = tmp_path / "out"
    shutil.copytree(few[1], folder)

    def change(*statements):
        with closing(sqlite3.connect(folder / "result.gpkg")) as base, base:
            triggers = base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            for (name,) in triggers.fetchall():
                base.execute(f'DROP TRIGGER "{name}"')
            for statement in statements:
                base.execute(statement)

    return folder, change


def drop(table):
    """Give the SQL that takes a layer out of a GeoPackage."""
    entries = ("gpkg_contents", "gpkg_geometry_columns", "gpkg_ogr_contents", "gpkg_extensions")
    forgotten = [f"DELETE FROM {each} WHERE table_name = '{table}'" for each in entries]
    return [f'DROP TABLE "{table}"', *forgotten]


def tables_of(folder):
    with closing(sqlite3.connect(folder / "result.gpkg")) as base:
        return [name for (name,) in base.execute("SELECT table_name FROM gpkg_contents")]


def test_a_result_from_before_the_job_was_stored_is_read_and_exported_alone(copy, tmp_path):
    folder, change = copy
    older = [name for name in tables_of(folder) if name.startswith(PREFIX) or name == RUN_RECORD]
    assert len(older) > 2
    change(*(statement for name in older for statement in drop(name)))
    assert is_result(folder)
    result = leakgeo.read_result(folder)
    assert len(result["lines"]) == 6
    assert len(result.job.routes) == 0
    leakgeo.export(result, out=tmp_path / "files", density=False, format="geojson")
    assert (tmp_path / "files" / "exported").is_dir()
    with pytest.raises(ParameterError, match="Run the job again"):
        leakgeo.report(result, out=tmp_path / "sheets")


def test_what_a_newer_version_adds_is_left_and_what_an_older_one_lacks_is_empty(copy, few):
    folder, change = copy
    change(
        "ALTER TABLE lines ADD COLUMN added_later REAL",
        "CREATE TABLE layer_of_later (fid INTEGER PRIMARY KEY, a TEXT)",
        "INSERT INTO gpkg_contents (table_name, data_type, identifier) "
        "VALUES ('layer_of_later', 'attributes', 'layer_of_later')",
        "ALTER TABLE marks DROP COLUMN limited_by",
        f"UPDATE {RUN_RECORD} SET record = json_set(record, '$.added_later', 1)",
    )
    result = leakgeo.read_result(folder)
    assert "layer_of_later" not in result.layers
    assert "limited_by" not in result["marks"]
    assert result.run_id == json.loads((few[1] / "run.json").read_text("utf-8"))["run_id"]
    # Both layers differ from what the run wrote, and that is reported.
    assert {"lines", "marks"} <= {fault.layer for fault in result.faults}


def test_a_run_that_another_version_began_is_not_continued(tmp_path, monkeypatch):
    job = SimpleNamespace(layers_digest="1")
    before = run_key(job, {}, 1)
    Journal(tmp_path, before).begin(resume=False)
    Journal(tmp_path, run_key(job, {}, 1)).begin(resume=True)
    monkeypatch.setattr(leakgeo, "__version__", "0.2.0")
    with pytest.raises(OutputError, match="had other versions, so it can't be resumed"):
        Journal(tmp_path, run_key(job, {}, 1)).begin(resume=True)
