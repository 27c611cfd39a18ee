"""Digs compared with marks: cases, rates, odds, and the calibration."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

import leakgeo
from leakgeo.deliver.folder.learn import FILE
from leakgeo.errors import ParameterError
from leakgeo.find.learn.calibration import (
    Calibration,
    DigCase,
    calibration_from,
    fit_calibration,
    outliers,
)
from leakgeo.find.learn.tables import hit_rates, odds_table, wilson
from leakgeo.find.locate.step import Search
from leakgeo.sound.spreading import Spreading, relative_level
from leakgeo.wording import with_texts, wording
from tests.job import jobs
from tests.town import TOWN

FOOT_M = 0.3048
LEAK_M = 12.3


@given(st.integers(1, 200), st.data())
def test_wilson_is_where_the_score_test_turns(cases, data):
    # Its ends are the shares p with (share - p)^2 = z^2 p (1 - p) / n (Wilson, 1927).
    hits = data.draw(st.integers(0, cases))
    z = stats.norm.ppf(0.975)
    low, high = wilson(hits, cases)
    for end in (low, high):
        if 1e-9 < end < 1 - 1e-9:
            score = (hits / cases - end) ** 2
            assert score == pytest.approx(z**2 * end * (1 - end) / cases, abs=1e-9)
    assert low <= hits / cases <= high


def test_wilson_of_nothing_is_unknown():
    assert np.isnan(wilson(0, 0)).all()


def bell(sd, mark=10.0, leak=None, leak_probability=1.0):
    x = np.arange(0.0, 20.01, 0.1)
    return DigCase(x, stats.norm.pdf(x, mark, sd), np.nan if leak is None else leak, mark,
               leak_probability)  # fmt: skip


@pytest.mark.parametrize("true_times", [0.6, 1.0, 1.8])
def test_the_exponent_is_that_which_made_the_digs(true_times):
    # A normal density to the power g is one with its deviation over the root of g.
    rng = np.random.default_rng(8)
    digs = [bell(0.5, leak=10 + rng.normal(0, 0.5 * true_times)) for _ in range(300)]
    found = fit_calibration(digs, 30)
    assert found.exponent == pytest.approx(true_times**-2, rel=0.2)
    assert abs(found.exponent - true_times**-2) < 4 * found.exponent_sd
    assert found.cases == 300


def test_few_digs_move_it_less_than_many():
    few = fit_calibration([bell(0.5, leak=10.9)] * 30, 30)
    many = fit_calibration([bell(0.5, leak=10.9)] * 300, 30)
    assert many.exponent < few.exponent < 1.0
    assert many.exponent_sd < few.exponent_sd


def test_too_few_digs_calibrate_nothing():
    assert fit_calibration([bell(0.5, leak=10.1)] * 29, 30) is None
    assert fit_calibration([], 10) is None


def test_dry_holes_widen():
    wet = fit_calibration([bell(0.5, leak=10.2)] * 30, 30)
    dry = fit_calibration([bell(0.5, leak=10.2)] * 30 + [bell(0.5)] * 30, 30)
    assert dry.exponent < wet.exponent


def test_leaks_where_none_was_thought_of_are_reported_and_break_nothing():
    lost = [bell(0.1, leak=19.9)] * 30
    assert 0.2 <= fit_calibration(lost, 30).exponent <= 1.01
    assert outliers([*lost, bell(0.5, leak=10.4), bell(0.5)]) == 30


@given(st.floats(0.2, 3.0))
def test_applied_keeps_order_and_sum(exponent):
    p = np.array([0.0, 0.1, 0.6, 0.3])
    after = Calibration(exponent, 0.1, 30).applied(p)
    assert after.sum() == pytest.approx(1.0)
    assert np.argsort(after).tolist() == np.argsort(p).tolist()
    assert (after.max() > p.max()) == (exponent > 1.0) or exponent == pytest.approx(1.0)


def test_one_changes_nothing():
    p = np.random.default_rng(1).dirichlet(np.ones(50))
    assert Calibration(1.0, 0.1, 30).applied(p) == pytest.approx(p)


def test_an_exponent_widens_a_normal_as_the_integral_says():
    x = np.linspace(-10, 10, 4001)
    p = stats.norm.pdf(x, 0, 0.5)
    after = Calibration(0.5, 0.1, 30).applied(p / p.sum())
    total = integrate.quad(lambda u: stats.norm.pdf(u, 0, 0.5) ** 0.5, -10, 10)[0]
    held = integrate.quad(lambda u: stats.norm.pdf(u, 0, 0.5) ** 0.5, -1, 1)[0]
    assert after[np.abs(x) <= 1].sum() == pytest.approx(held / total, abs=2e-3)


@pytest.mark.parametrize(
    "text",
    [
        "exponent = 1.0",
        "[calibration]\nexponent = 9.0\nexponent_sd = 0.1\ncases = 40",
        "[calibration]\nexponent = nan\nexponent_sd = 0.1\ncases = 40",
        "[calibration]\nexponent = 'wide'\nexponent_sd = 0.1\ncases = 40",
        "[calibration]\nexponent = 1.0\ncases = 40",
        "calibration = 3",
        "not toml",
    ],
)
def test_a_file_that_is_no_calibration_is_refused(tmp_path, text):
    path = tmp_path / "c.toml"
    path.write_text(text)
    with pytest.raises(ParameterError, match="calibration file"):
        calibration_from(path)


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(ParameterError, match="calibration file"):
        calibration_from(tmp_path / "none.toml")


def cases(claims, hits, **columns):
    n = len(claims)
    table = {"counted": True, "within_1ft": hits, "within_1m": [True] * n, "crew": "A",
             "probability_within_1ft": claims, "status": "located", "material": "pvc",
             "surface": ["grass"] * n}  # fmt: skip
    return pd.DataFrame({**table, **columns})


def test_rates_by_group_add_up():
    table = cases([0.9, 0.8, 0.7, 0.6], [True, True, False, False], crew=["A", "A", "B", None])
    rates = hit_rates(table, Calibration(0.8, 0.1, 4)).set_index(["group", "value"])
    whole = rates.loc[("all", "all")]
    assert (whole["cases"], whole["hits_1ft"], whole["hits_1m"]) == (4, 2, 4)
    assert whole["stated_1ft"] == pytest.approx(0.75)
    assert (whole["low_1ft"], whole["high_1ft"]) == wilson(2, 4)
    assert whole["exponent"] == 0.8
    assert rates.loc["crew", "cases"].to_dict() == {"A": 2, "B": 1, "unknown": 1}
    for group in ("material", "surface", "status", "crew"):
        assert rates.loc[group, "cases"].sum() == 4


def test_odds_are_held_against_what_came_true():
    table = cases([0.95] * 40 + [0.1] * 30, [True] * 20 + [False] * 50)
    odds = with_texts(odds_table(table), wording()).set_index("from_probability")
    assert odds["cases"].to_dict() == {0.0: 30, 0.9: 40}
    assert odds.loc[0.9, "achieved"] == 0.5
    assert "less than stated" in odds.loc[0.9, "message"]
    assert "as stated" in odds.loc[0.0, "message"]


@pytest.mark.parametrize("digs", [1, 29])
def test_few_digs_are_not_compared_with_what_was_stated(digs):
    rates = with_texts(hit_rates(cases([0.74] * digs, [False] * digs), None), wording())
    assert rates["message"].iloc[0] == (
        f"0 of {digs} within one foot; too few to compare with what was stated."
    )


def job(folder, name="job.gpkg", lines=1, **layers):
    """Give a job of like lines 100 m apart, each with a leak at 12.3 m."""
    x = np.arange(0.5, 29.0, 0.5)
    level = 60 + relative_level(x - LEAK_M, Spreading(0.9, 0.8, 0.4, 1.5, 10**-1.4))
    names = [f"L{i}" for i in range(lines)]
    north = jobs.NORTH + 100.0 * np.arange(lines)
    routes = [shapely.LineString([(jobs.EAST, n), (jobs.EAST + 30, n)]) for n in north]
    points = [shapely.Point(jobs.EAST + a, n) for n in north for a in x]
    rng = np.random.default_rng(3)
    shown = np.tile(level, lines) + rng.normal(0, 1.0, x.size * lines)
    folder.mkdir(exist_ok=True)
    jobs.write(
        folder / name,
        routes=jobs.layer(routes, line_id=names, material="copper", depth_m=0.9),
        readings=jobs.layer(points, reading_id=[f"R{i}" for i in range(len(points))],
                            line_id=np.repeat(names, x.size), walk_id=np.repeat(names, x.size),
                            sound_level=shown.round(), sound_unit="db", surface="grass",
                            chainage_m=np.tile(x, lines)),
        **layers,
    )  # fmt: skip
    return folder / name


def holes(rows, line_number=None):
    """Give excavations: (line, chainage, found, further columns) each."""
    table = pd.DataFrame([{"line_id": f"L{i}", "found": found, **more}
                          for i, _, found, more in rows])  # fmt: skip
    points = [shapely.Point(jobs.EAST + at, jobs.NORTH + 100.0 * i) for i, at, _, _ in rows]
    return jobs.layer(points, **{c: table[c].to_list() for c in table})


def test_one_hole_of_a_line_counts(tmp_path):
    dug = holes([
        (0, 12.3, "leak", {"crew": "blue"}), (0, 20.0, "leak", {}), (1, 12.2, "dry", {}),
        (1, 25.0, "leak", {}), (2, 12.2, "dry", {}), (3, 20.0, "dry", {}), (4, 10.0, "leak", {}),
    ])  # fmt: skip
    result = leakgeo.learn(job(tmp_path, lines=5, dig_outcomes=dug))
    table = result["learned_cases"]
    assert table["counted"].tolist() == [True, False, False, True, True, False, True]
    assert table["within_1ft"].fillna(False).tolist() == [True] + [False] * 6
    assert table.loc[0, "error_m"] < FOOT_M
    assert table.loc[5, "reason_code"] == "dry_away_from_mark"
    assert table.loc[1, "reason_code"] == "another_hole_counts"
    assert set(table["surface"]) == {"grass"}
    assert table.loc[0, "crew"] == "blue"
    assert result["learned"].loc[0, "cases"] == 4
    reported = [f.problem for f in result.faults if f.layer == "dig_outcomes"]
    assert sum(t.startswith("It does not count") for t in reported) == 3
    assert "1 of 4 leaks lay" in reported[-1] or "2 of 4 leaks lay" in reported[-1]
    assert "4 digs count; with fewer than 30 nothing is calibrated." in reported


def test_a_hole_that_did_not_reach_the_pipe_is_no_dry_hole(tmp_path):
    dug = holes([(0, 12.2, "pipe_not_reached", {}), (1, 12.2, None, {}), (2, 12.2, "dry", {}),
                 (3, 12.2, "pipe_not_reached", {}), (3, 12.3, "leak", {})])  # fmt: skip
    result = leakgeo.learn(job(tmp_path, lines=4, dig_outcomes=dug))
    table = result["learned_cases"]
    assert table["counted"].tolist() == [False, False, True, False, True]
    assert table["within_1ft"].isna().tolist() == [True, True, False, True, False]
    assert table.loc[[0, 1], "reason_code"].tolist() == ["pipe_not_reached", "found_not_recorded"]
    assert result["learned"].loc[0, "cases"] == 2
    assert [f.feature for f in result.faults if "found no leak" in f.problem] == ["L2"]


def test_a_job_without_marks_is_located_once_and_only_where_it_was_dug(tmp_path, monkeypatch):
    path, located = job(tmp_path, lines=2, dig_outcomes=holes([(0, 12.3, "leak", {})])), []
    find = Search.find
    monkeypatch.setattr(Search, "find", lambda self, line: located.append(line) or find(self, line))
    assert "marks" not in leakgeo.learn(path).layers
    assert len(located) == 1
    leakgeo.learn(job(tmp_path, "bare.gpkg"))
    assert len(located) == 1


def test_a_mark_where_a_hole_found_nothing_is_reported(tmp_path):
    dug = holes([(0, 12.2, "dry", {}), (1, 12.2, "leak", {}), (2, 20.0, "dry", {})])
    path = job(tmp_path, lines=3, dig_outcomes=dug)
    reported = [f for f in leakgeo.learn(path).faults if "found no leak" in f.problem]
    assert [f.feature for f in reported] == ["L0"]
    mark = leakgeo.locate(path)["marks"].set_index("line_id").loc["L0", "chainage_m"]
    assert f"A hole {abs(mark - 12.2):.1f} m from the mark" in reported[0].problem


def test_a_tape_from_the_mark_outweighs_a_position(tmp_path):
    dug = holes([(0, 11.0, "leak", {"from_mark_m": 0.2})])
    table = leakgeo.learn(job(tmp_path, dig_outcomes=dug))["learned_cases"]
    assert table.loc[0, "error_m"] == pytest.approx(0.2)
    assert bool(table.loc[0, "within_1ft"])
    assert table.loc[0, "hole_chainage_m"] < table.loc[0, "mark_chainage_m"]


def test_no_outcome_teaches_nothing(tmp_path):
    result = leakgeo.learn(job(tmp_path), out=tmp_path / "out")
    assert result["learned"].empty
    assert result["learned_cases"].empty
    assert not (tmp_path / "out" / FILE).exists()


def test_an_earlier_result_is_what_was_dug_by(tmp_path):
    path = job(tmp_path)
    leakgeo.write_result(leakgeo.locate(path), tmp_path / "first")
    later = job(tmp_path / "later", dig_outcomes=holes([(0, 12.3, "leak", {})]))
    by_file = leakgeo.learn(later, results=tmp_path / "first" / "result.gpkg")
    by_folder = leakgeo.learn(later, results=tmp_path / "first")
    anew = leakgeo.learn(later)
    assert "marks" not in by_file.layers
    for found in (by_file, by_folder):
        row, own = found["learned_cases"].loc[0], anew["learned_cases"].loc[0]
        assert row["error_m"] == pytest.approx(own["error_m"], abs=1e-6)
        assert row["probability_within_1ft"] == pytest.approx(own["probability_within_1ft"])


@pytest.mark.parametrize("what", ["job.gpkg", "nowhere.gpkg"])
def test_what_is_no_result_is_refused(tmp_path, what):
    path = job(tmp_path)
    with pytest.raises(ParameterError, match="results"):
        leakgeo.learn(path, results=tmp_path / what)


def test_enough_digs_write_a_calibration_that_is_read_back(tmp_path):
    dug = holes([(i, 12.3, "leak", {}) for i in range(12)])
    path, out = job(tmp_path, lines=12, dig_outcomes=dug), tmp_path / "out"
    result = leakgeo.learn(path, least_cases=12, out=out)
    read = calibration_from(out / FILE)
    whole = result["learned"].loc[0]
    assert read.cases == 12
    assert read.exponent == pytest.approx(whole["exponent"], abs=1e-3)
    assert f"{read.exponent:.2f}" in str(read.as_fault())
    assert read.as_fault().effect == "noted"
    # With fewer, a file of an earlier run goes: nobody should calibrate by it unawares.
    leakgeo.learn(path, least_cases=13, out=out)
    assert not (out / FILE).exists()


def test_a_calibration_upon_a_calibration_is_reported_against_the_model(tmp_path):
    dug = holes([(i, 12.3, "leak", {}) for i in range(10)])
    located = leakgeo.locate(job(tmp_path, lines=10, dig_outcomes=dug))
    plain = leakgeo.learn(located, least_cases=10)["learned"].loc[0]
    lines = located["lines"].assign(calibration_exponent=0.5)
    again = leakgeo.learn(located.adding({"lines": lines}), least_cases=10)["learned"].loc[0]
    assert again["exponent"] == pytest.approx(0.5 * plain["exponent"])


def test_a_dry_hole_at_the_mark_is_compared_with_the_mark_of_the_readings_alone():
    job = leakgeo.read_job(TOWN, lines=["S-109"])
    # Repairs of other lines set readings aside, which teach the noise law again without holes.
    job = replace(job, dig_outcomes=None, routes=job.routes.drop(columns="repaired_time"))
    bare = leakgeo.locate(job)
    mark = bare["marks"].iloc[0]
    hole = gpd.GeoDataFrame(
        {"line_id": ["S-109"], "found": ["dry"], "exposed_from_m": [mark["chainage_m"] - 0.6],
         "exposed_to_m": [mark["chainage_m"] + 0.6], "reason": [None], "time": [None],
         "repaired": [None], "from_mark_m": [None], "crew": [None]},
        geometry=[mark.geometry], crs=bare["marks"].crs,
    ).to_crs(bare.job.crs)  # fmt: skip
    dug = leakgeo.locate(replace(bare.job, dig_outcomes=hole))
    assert dug["lines"]["leak_probability"].iloc[0] < 0.8
    case = leakgeo.learn(dug, least_cases=10)["learned_cases"].iloc[0]
    assert case["mark_chainage_m"] == mark["chainage_m"]
    assert case["leak_probability"] == bare["lines"]["leak_probability"].iloc[0] > 0.95
    assert case["found"] == "dry"
