"""A run as a scheduler calls it: what changed since the last one, metrics, the example units."""

from __future__ import annotations

import json
import shlex
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import click
import pandas as pd
import pytest
from prometheus_client import parser as plain
from prometheus_client.openmetrics import parser as openmetrics

from leakgeo.cli.entry import cli
from leakgeo.deliver.folder.changes import KINDS, changes_between, write_changes
from leakgeo.job.schema import load_schema
from leakgeo.runner.metrics import metrics_text
from leakgeo.staging import exclusive
from tests.test_cli import leakgeo_command

NIGHTLY = Path(__file__).parents[1] / "examples" / "nightly"
FOOT_M = 0.3048


def edited(result: Path, copy: Path, *statements: str) -> Path:
    """Copy a result, and change its tables by SQL, without the triggers that need a GIS."""
    copy.parent.mkdir(parents=True, exist_ok=True)
    shutil.copy(result, copy)
    with closing(sqlite3.connect(copy)) as base, base:
        names = base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        base.execute("BEGIN")
        for statement in (*(f'DROP TRIGGER "{name}"' for (name,) in names), *statements):
            base.execute(statement)
    return copy


def values(text: str) -> dict[tuple[str, str], float]:
    """Read metrics as both readers do: by name and the value of the label besides the result."""
    found = [
        {
            (s.name, next((v for k, v in s.labels.items() if k != "result"), "")): s.value
            for family in read.text_string_to_metric_families(text)
            for s in family.samples
        }
        for read in (openmetrics, plain)
    ]
    assert found[0] == found[1]
    return found[0]


@pytest.fixture
def result(few):
    return few[1] / "result.gpkg"


def test_nothing_has_changed_between_a_result_and_itself(result):
    found = changes_between(result, result)
    assert found.counts == dict.fromkeys(KINDS, 0)
    assert found.rows.empty
    assert found.run_id


def test_each_change_is_named_once(result, tmp_path):
    old = edited(
        result, tmp_path / "old.gpkg",
        "UPDATE lines SET status = 'rejected' WHERE line_id = 'H-117'",
        "UPDATE lines SET line_id = 'H-0' WHERE line_id = 'S-117'",
        "UPDATE lines SET dig_status = 'no_hold_recorded' WHERE line_id = 'H-102'",
        "UPDATE marks SET rank = 2 WHERE line_id = 'H-126'",
        "DELETE FROM holds WHERE line_id = 'H-102' AND code = 'line_under_pressure'",
        "INSERT INTO holds (line_id, mark_rank, \"order\", utility_id, code, message) VALUES "
        "('H-102', 1, 99, 'U-1', 'no_answer', '=1+1')",
    )  # fmt: skip
    found = changes_between(old, result)
    rows = {kind: list(own["line_id"]) for kind, own in found.rows.groupby("change")}
    assert rows == {
        "status": ["H-117"], "line_new": ["S-117"], "line_gone": ["H-0"], "dig_status": ["H-102"],
        "mark_new": ["H-126"], "mark_gone": ["H-126"], "hold_new": ["H-102"],
        "hold_cleared": ["H-102"],
    }  # fmt: skip
    assert {k: n for k, n in found.counts.items() if n} == {k: len(v) for k, v in rows.items()}
    write_changes(found, tmp_path / "changes.csv", "us", "new")
    table = pd.read_csv(tmp_path / "changes.csv").set_index("change")
    assert table.loc["hold_cleared", ["utility_id", "before"]].tolist() == ["U-1", "no_answer"]
    assert table.loc["hold_cleared", "message"] == "'=1+1"
    assert table.loc["hold_new", "after"] == "line_under_pressure"
    declared = load_schema("changes")
    assert [c.replace("_ft", "_m") for c in table.reset_index()] == list(declared.columns)
    assert set(declared.field("change").codes) == set(KINDS)


@pytest.mark.parametrize(("feet", "moved"), [(0.9, 0), (1.1, 1)])
def test_a_mark_has_moved_if_it_is_more_than_a_foot_away(result, tmp_path, feet, moved):
    import geopandas as gpd
    from shapely.affinity import translate

    # The CRS of the town is in feet.
    marks = gpd.read_file(result, layer="marks")
    mark = marks[marks["line_id"] == "H-126"].iloc[0]
    blob = translate(mark.geometry, xoff=feet).wkb.hex()
    old = edited(result, tmp_path / "old.gpkg", "UPDATE marks SET geom = CAST(substr(geom, 1, 8) "
                 f"|| x'{blob}' AS BLOB) WHERE line_id = 'H-126'")  # fmt: skip
    found = changes_between(old, result)
    assert found.counts["mark_moved"] == moved == len(found.rows)
    assert found.rows["moved_m"].tolist() == pytest.approx([feet * FOOT_M] * moved, rel=1e-3)


def test_what_was_not_worked_out_is_not_compared(result, tmp_path):
    old = edited(result, tmp_path / "old.gpkg", "DROP TABLE holds")
    assert changes_between(old, result).counts.keys() == set(KINDS) - {"hold_new", "hold_cleared"}
    # A layer without rows was worked out.
    empty = edited(result, tmp_path / "empty.gpkg", "DROP TABLE holds", "UPDATE run_record SET "
                   "record = json_set(record, '$.without_rows.holds', json('{}'))")  # fmt: skip
    assert changes_between(empty, result).counts["hold_new"] > 10
    (tmp_path / "no.gpkg").write_text("no database")
    assert changes_between(tmp_path / "no.gpkg", result) is None
    assert changes_between(tmp_path / "none.gpkg", result) is None


def test_a_run_that_replaces_a_result_says_what_changed(few, tmp_path):
    job, before = few
    out, metrics = tmp_path / "out", tmp_path / "metrics" / "leakgeo.prom"
    call = ["run", job, "--out", out, "--line", "S-117", "--no-density", "--metrics", metrics,
            "--keep-earlier"]  # fmt: skip
    edited(before / "result.gpkg", out / "result.gpkg",
           "UPDATE lines SET status = 'rejected' WHERE line_id = 'S-117'")  # fmt: skip
    done = leakgeo_command(*call, "--overwrite", "--json")
    assert done.returncode == 0, done.stderr
    changes = json.loads(done.stdout)["changes"]
    assert changes["counts"]["line_gone"] == 5
    assert changes["lines"]["status"] == ["S-117"]
    assert changes["lines"]["line_gone"] == ["H-101", "H-102", "H-117", "H-126", "S-109"]
    record = json.loads((out / "run.json").read_text("utf-8"))
    assert record["changes"]["counts"] == changes["counts"]
    assert "changes.csv" in record["files"]
    found = values(metrics.read_text("utf-8"))
    assert found["leakgeo_run_success", ""] == 1
    assert found["leakgeo_run_exit_code", ""] == 0
    assert found["leakgeo_changes", "line_gone"] == 5
    assert found["leakgeo_lines", "rejected"] == 0
    assert sum(v for (name, _), v in found.items() if name == "leakgeo_lines") == 1
    assert found["leakgeo_readings", "used"] == record["counts"]["readings"]["used"]

    # Marks are compared with holes by the result that the holes were dug by.
    (earlier,) = (out / "superseded").iterdir()
    learned = leakgeo_command("learn", job, "--results", earlier, "--out", tmp_path / "learned")
    assert learned.returncode == 0, learned.stderr
    assert "was superseded by run" in learned.stderr

    # A run that fails leaves the figures of the result that is still there.
    job_gone = leakgeo_command("run", tmp_path / "none.gpkg", *call[2:], "--overwrite")
    assert job_gone.returncode == 2
    after = values(metrics.read_text("utf-8"))
    assert after["leakgeo_run_success", ""] == 0
    assert after["leakgeo_run_exit_code", ""] == 2
    ended = ("leakgeo_last_success_timestamp_seconds", "")
    assert after[ended] == found[ended] <= after["leakgeo_run_timestamp_seconds", ""]
    assert after["leakgeo_changes", "line_gone"] == 5
    assert [path.name for path in metrics.parent.iterdir()] == ["leakgeo.prom"]


def test_a_second_run_at_once_is_told_by_the_metrics(few, tmp_path):
    out, metrics = tmp_path / "out", tmp_path / "leakgeo.prom"
    shutil.copytree(few[1], out)
    with exclusive(out):
        done = leakgeo_command("run", few[0], "--out", out, "--update", "--metrics", metrics)
    assert done.returncode == 2
    assert "another run is writing there" in done.stderr
    found = values(metrics.read_text("utf-8"))
    assert (found["leakgeo_run_success", ""], found["leakgeo_run_exit_code", ""]) == (0, 2)
    assert found["leakgeo_lines", "located"] > 0


def test_a_first_run_that_fails_has_metrics_and_no_folder(tmp_path):
    metrics, out = tmp_path / "leakgeo.prom", tmp_path / 'a "night"'
    call = ["run", tmp_path / "none.gpkg", "--out", out, "--metrics", metrics]
    assert leakgeo_command(*call).returncode == 2
    assert values(metrics.read_text("utf-8"))["leakgeo_run_success", ""] == 0
    assert not out.exists()
    # The error of the run is what people read, also where the metrics can't be written.
    (tmp_path / "file").touch()
    done = leakgeo_command(*call[:-1], tmp_path / "file" / "leakgeo.prom")
    assert done.returncode == 2
    assert "There is no such file" in done.stderr


def test_metrics_name_their_unit_and_escape_the_folder(tmp_path):
    text = metrics_text(tmp_path / 'a "b\\', 1, 0.0, 2.5)
    families = list(openmetrics.text_string_to_metric_families(text))
    assert {f.unit for f in families if f.name.endswith("_seconds")} == {"seconds"}
    assert all(f.documentation and f.type == "gauge" for f in families)
    assert {s.labels["result"] for f in families for s in f.samples} == {'a "b\\'}


def calls() -> list[list[str]]:
    """Give the calls of leakgeo in the example units."""
    unit = (NIGHTLY / "leakgeo-nightly.service").read_text("utf-8").splitlines()
    lines = [line.partition("=")[2] for line in unit if line.startswith("ExecStart")]
    cron = (NIGHTLY / "leakgeo.cron").read_text("utf-8").splitlines()
    lines += [line.split(maxsplit=6)[6] for line in cron if line[:1].isdigit()]
    return [shlex.split(line) for line in lines]


@pytest.mark.parametrize("call", calls(), ids=lambda call: call[1])
def test_the_example_units_call_commands_that_there_are(call):
    program, name, *arguments = call
    assert Path(program).name == "leakgeo"
    context = cli.get_command(click.Context(cli), name).make_context(name, arguments)
    given = {k: v for k, v in context.params.items() if v not in (None, (), "", False)}
    assert len(given) > 2


def test_the_example_units_call_both_commands():
    assert [call[1] for call in calls()] == ["run", "round", "run"]
