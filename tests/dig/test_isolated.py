"""Lines that someone has seen shut off and vented: only those that are named."""

from __future__ import annotations

import pytest

import leakgeo
from leakgeo.cli import main
from leakgeo.errors import ParameterError
from leakgeo.runner.task import PlannedStep
from leakgeo.steps import CLEARANCE
from leakgeo.wording import active_wording
from tests.town import TOWN

LIVE = "the line is under pressure"


@pytest.fixture(name="two")
def _two(small_result, gas_main, mark):
    """Give a result with marks on two lines, both under pressure."""
    result = small_result([gas_main(3.0)], marks=[mark(), mark(line_id="L-2")])
    routes = result.job.routes
    result.job.__dict__["routes"] = routes.loc[[0, 0]].assign(line_id=["L-1", "L-2"])
    return result


def test_a_line_that_is_not_named_is_not_isolated(two, clear, sheets):
    done = clear(two, isolated=("L-1",))
    holds = sheets(done).set_index("line_id")["holds"]
    assert LIVE not in holds["L-1"]
    assert LIVE in holds["L-2"]


@pytest.mark.parametrize("given", ["L-1", ["L-1"], ("L-1", "L-1"), {"L-1"}])
def test_one_line_or_several_may_be_given(two, given, sheets):
    done = leakgeo.clearance(two, isolated=given)
    holds = sheets(done).set_index("line_id")["holds"]
    assert (LIVE in holds["L-1"], LIVE in holds["L-2"]) == (False, True)
    assert done.parameters["clearance"]["isolated"] == ("L-1",)


def test_no_line_is_isolated_unless_it_is_said(two, sheets):
    assert sheets(leakgeo.clearance(two))["holds"].str.contains(LIVE).all()


def test_a_line_that_no_route_has_is_refused(two):
    with pytest.raises(ParameterError, match=r"no route .* has line_id L-3\. Did you mean L-"):
        leakgeo.clearance(two, isolated=["L-1", "L-3"])


@pytest.mark.parametrize("value", [True, False])
def test_all_lines_at_once_are_refused(two, value):
    with pytest.raises(ParameterError, match="give the line_id of each"):
        leakgeo.clearance(two, isolated=value)


def test_a_chunk_takes_the_lines_that_it_has():
    settings = {"isolated": ("L-1", "L-9"), "rule": "generic"}
    there = PlannedStep(CLEARANCE, settings).for_lines({"L-1", "L-2"})
    assert there.settings == {**settings, "isolated": ("L-1",)}


def test_the_command_refuses_before_anything_is_worked_out(tmp_path, capsys, monkeypatch):
    call = ["leakgeo", "run", str(TOWN), "--out", str(tmp_path / "out"), "--isolated", "L-404",
            "--units", "us"]  # fmt: skip
    monkeypatch.setattr("sys.argv", call)
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 2
    assert "isolated: no route of the job has line_id L-404." in capsys.readouterr().err
    assert not (tmp_path / "out" / "result.gpkg").exists()
    assert active_wording().units == "si"


@pytest.mark.parametrize(
    ("pressure_kpa", "holds"),
    [(0.0, []), (0.1, ["line_under_pressure"]), (30.0, ["line_under_pressure"])],
)
def test_any_pressure_holds(dig, gas_main, pressure_kpa, holds):
    zone, _, _ = dig([gas_main(3.0)], route={"pressure_kpa": pressure_kpa}, isolated=())
    assert zone["hold_codes"] == holds
    assert ("under_pressure" in zone["caution_codes"]) is bool(holds)
