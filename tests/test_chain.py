"""The main job, end to end, on the shipped town and on the pipes of a real network."""

from __future__ import annotations

import json
import os
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest

import leakgeo
from leakgeo.errors import OutputError
from leakgeo.find.locate.thinned import PROBABILITY
from leakgeo.job.schema import load_schemas
from leakgeo.runner.chain import run
from leakgeo.staging import exclusive
from tests.real_routes import real_job, real_layers
from tests.town import TOWN

FILES = ("result.gpkg", "map.html", "report.pdf", "summary.csv", "faults.csv", "run.json")


@pytest.fixture(scope="module")
def real(tmp_path_factory):
    # So many that the margin over the loudest reading isn't lost by chance.
    lines = 130
    job = real_job(tmp_path_factory.mktemp("real"), lines)
    truth = real_layers(lines)["truth"].set_index("line_id")["chainage_m"]
    return leakgeo.locate(job), truth


def counts(out: Path) -> dict[str, object]:
    return json.loads((out / "run.json").read_text("utf-8"))["counts"]


def test_every_file_and_layer_is_there(town):
    result, out = town
    assert all((out / name).stat().st_size > 100 for name in FILES)
    tables = set(pyogrio.list_layers(out / "result.gpkg")[:, 0])
    wanted = set(load_schemas("output"))
    assert wanted & tables == {name for name in wanted if len(result.layers[name])}
    assert set(leakgeo.read_result(out).layers) == set(result.layers) == wanted


def test_readings_in_are_used_or_rejected_with_a_reason(town):
    result, out = town
    readings = gpd.read_file(out / "result.gpkg", layer="readings_on_route")
    used = readings["used"].astype(bool)
    assert len(readings) == result.job.counts["readings"]
    # Those of a sweep or an air test have a reason although they are used.
    apart = readings["sweep_m"].notna() | readings["reason_code"].eq("air_compared")
    assert readings["reason"].isna().eq(used)[~apart].all()
    assert readings["reason"].notna()[~used].all()
    told = counts(out)["readings"]
    assert told["in"] == told["used"] + told["rejected"] == len(readings)


def test_every_line_has_one_row_and_a_message(town):
    result, _ = town
    lines = result["lines"]
    assert sorted(lines["line_id"]) == sorted(result.job.routes["line_id"])
    assert lines["message"].str.len().min() > 10
    assert sorted(lines["priority"]) == list(range(1, len(lines) + 1))


def test_a_mark_says_whether_it_is_one_to_go_by(town):
    result, _ = town
    status = result.layers["lines"].set_index("line_id")["status"]
    marks = result.layers["marks"]
    assert marks["status"].tolist() == status.loc[marks["line_id"]].tolist()
    assert {"located", "keep_listening"} <= set(marks["status"])


def test_no_dig_is_ready_and_nothing_is_called_safe(town):
    result, out = town
    assert set(result.layers["lines"]["dig_status"].dropna()) <= {"hold", "no_hold_recorded"}
    text = (out / "map.html").read_text("utf-8") + (out / "summary.csv").read_text("utf-8")
    assert "is safe" not in text.lower()
    assert "safe to" not in text.lower()


def test_zones_hold_their_mark_and_their_probability(town):
    result, _ = town
    zones, marks = result.layers["search_zones"], result.layers["marks"]
    held = zones.groupby("line_id")["probability"].sum()
    assert held.between(0.9 - 1e-9, 1.0).all()
    first = zones[zones["rank"] == 1].set_index("line_id")
    inside = first.geometry.buffer(0.3048).contains(marks.set_index("line_id").geometry)
    assert inside.mean() > 0.9


def test_the_posterior_density_of_a_line_adds_up_to_one(town):
    profile = town[0].layers["profile"].dropna(subset="leak_density_per_m")
    total = profile.groupby("line_id")[["chainage_m", "leak_density_per_m"]].apply(
        lambda p: np.trapezoid(p["leak_density_per_m"], p["chainage_m"])
    )
    # Straight lines between the points that are stored change the sum by at most PROBABILITY.
    assert total.to_numpy() == pytest.approx(1.0, abs=0.015 + PROBABILITY)


def test_a_job_on_real_routes_runs_through(real):
    result, _ = real
    lines = result.layers["lines"]
    assert len(lines) == 130
    assert (lines["status"] != "rejected").sum() >= 120


def test_the_mark_beats_the_loudest_reading_on_real_routes(real):
    result, truth = real
    truth = truth.dropna()
    marks = result.layers["marks"].set_index("line_id")["chainage_m"]
    used = result.layers["readings_on_route"].query("used")
    loudest = used.loc[used.groupby("line_id")["level_db"].idxmax()].set_index("line_id")
    both = pd.DataFrame({"mark": marks, "ear": loudest["chainage_m"], "leak": truth}).dropna()
    foot = 0.3048
    by_mark = (both["mark"] - both["leak"]).abs() < foot
    by_ear = (both["ear"] - both["leak"]).abs() < foot
    assert len(both) > 85
    # McNemar's test on the lines where the two differ: one-sided at one in a thousand.
    better, worse = (by_mark & ~by_ear).sum(), (by_ear & ~by_mark).sum()
    assert better - worse > 3.1 * (better + worse) ** 0.5


@pytest.fixture(scope="module")
def one_line(tmp_path_factory):
    """One line of the town, run by itself, with few products."""
    return run(TOWN, tmp_path_factory.mktemp("one") / "out", lines="H-126", density=False,
               map_lines=1, report_lines=1)  # fmt: skip


def test_only_the_lines_asked_for_are_worked_out(one_line):
    result = one_line
    assert result.layers["lines"]["line_id"].tolist() == ["H-126"]
    assert len(result.layers["readings_on_route"]) == result.job.counts["readings"]


@pytest.mark.skipif(os.name == "nt", reason="folders can't be held there")
def test_two_runs_do_not_write_into_one_folder(tmp_path):
    out = tmp_path / "out"
    with exclusive(out), pytest.raises(OutputError, match="another run is writing there"):
        run(TOWN, out, overwrite=True)
    assert not out.exists()
    with exclusive(out):
        pass


def test_a_job_that_cannot_be_run_leaves_no_folder(tmp_path):
    with pytest.raises(leakgeo.JobError):
        run({}, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_bad_neighbour_changes_nothing(town, one_line):
    alone = one_line.layers["marks"].iloc[0]
    marks = town[0].layers["marks"].set_index("line_id")
    assert alone["chainage_m"] == marks.loc["H-126", "chainage_m"]
    assert alone["probability_within_1ft"] == marks.loc["H-126", "probability_within_1ft"]


def test_the_contract_tells_every_column_that_is_written(town):
    schemas = load_schemas("output")
    tables = set(pyogrio.list_layers(town[1] / "result.gpkg")[:, 0])
    assert len(tables & set(schemas)) > len(schemas) - 5
    for name in tables & set(schemas):
        written = pyogrio.read_info(town[1] / "result.gpkg", layer=name)["fields"]
        assert set(written) == set(schemas[name].columns), name


def test_a_line_that_defeats_the_computing_stops_no_other(monkeypatch):
    from leakgeo.find.locate import step as locate

    real_find, name = locate.Search.find, "H-126"

    def find(search, line):
        if search.lines.table.index[line] == name:
            raise ArithmeticError("made to fail")
        return real_find(search, line)

    monkeypatch.setattr(locate.Search, "find", find)
    result = leakgeo.locate(leakgeo.read_job(TOWN, lines=[name, "H-101", "M-1"]))
    lines = result["lines"].set_index("line_id")
    assert lines.loc[name, "status"] == "rejected"
    assert "made to fail" in lines.loc[name, "message"]
    assert (lines["status"] == "located").any()
    assert [f.feature for f in result.faults if "made to fail" in f.problem] == [name]
