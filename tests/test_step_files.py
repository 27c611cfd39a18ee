"""Commands of one step: the files that they write, and the units of a job in a foot CRS."""

from __future__ import annotations

import json

import pyogrio
import pytest

import leakgeo
from leakgeo.registry import load_steps, with_units
from leakgeo.runner.chain import run_step
from tests.test_cli import leakgeo_command
from tests.town import TOWN

SHEETS = ("map.html", "report.pdf")


@pytest.fixture(name="cleared", scope="module")
def _cleared(tmp_path_factory):
    out = tmp_path_factory.mktemp("cleared") / "out"
    return run_step(load_steps()["clearance"], TOWN, out, lines=("S-109",)), out


def test_clearance_writes_a_map_and_a_report_of_its_own_lines(cleared):
    result, out = cleared
    record = json.loads((out / "run.json").read_text("utf-8"))
    assert set(SHEETS) <= set(record["files"])
    assert record["parameters"]["map"]["out"] == str(out)
    page = (out / SHEETS[0]).read_text("utf-8")
    assert result.run_id in page
    assert "S-109" in page
    assert list(result["lines"]["line_id"]) == ["S-109"]


def test_a_job_in_a_foot_crs_is_in_feet_unless_si_is_asked_for(cleared):
    result, out = cleared
    record = json.loads((out / "run.json").read_text("utf-8"))
    assert {record["parameters"][name]["units"] for name in ("map", "report")} == {"us"}
    stored = pyogrio.read_dataframe(out / "result.gpkg", layer="lines")
    assert " ft " in stored["message"].item()
    assert with_units({"units": None}, result.job) == {"units": "us"}
    assert with_units({"units": "si"}, result.job) == {"units": "si"}
    metres = leakgeo.read_job({
        name: getattr(result.job, name) for name in ("routes", "readings")
    })  # fmt: skip
    assert with_units({"units": None}, metres) == {"units": "si"}


def test_marks_have_the_card_of_their_line(cleared):
    result, _ = cleared
    lines = result["lines"].set_index("line_id")
    for mark in result["marks"].to_dict("records"):
        line = lines.loc[mark["line_id"]]
        for name in ("held_by_code", "held_by_values", "next_action_code", "code", "values"):
            assert mark[name] == line[name]
    assert result["marks"]["held_by_code"].notna().all()


@pytest.mark.parametrize("step", ["advise", "clearance"])
def test_the_help_lists_every_file(step):
    text = " ".join(leakgeo_command(step, "--help").stdout.split())
    assert "map.html, report.pdf; layers:" in text
