"""A leak near a tee: told from the line that it is on, and not marked on another."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import shapely

from tests.benchmarks.own import located
from tests.find.tees import TEE_M, job

JOBS = 36


def drawn(lines):
    """Leaks, and what was found in one job of many tees far apart: lines and marks of each."""
    made = [job(np.random.default_rng([4, i]), lines) for i in range(JOBS)]
    apart = [moved(layers, i) for i, (layers, _) in enumerate(made)]
    result = located({n: pd.concat([a[n] for a in apart]) for n in ("routes", "readings")})
    found = {n: result[n] for n in ("lines", "marks")}
    for i, (_, leak) in enumerate(made):
        tables = [found[n][found[n]["line_id"].str.endswith(f" {i}")] for n in ("lines", "marks")]
        table, marks = (t.assign(line_id=t["line_id"].str.split().str[0]) for t in tables)
        yield leak, table.set_index("line_id"), marks


def moved(layers, i):
    """A job elsewhere, its names made its own."""
    away = {
        name: layer.assign(line_id=layer["line_id"] + f" {i}", geometry=layer.translate(0, 90 * i))
        for name, layer in layers.items()
    }
    readings = away["readings"]
    away["readings"] = readings.assign(reading_id=readings["reading_id"] + f" {i}")
    return away


@pytest.fixture(scope="module")
def both_walked():
    return list(drawn(("main", "branch")))


def test_the_line_that_leaks_is_told_from_the_other(both_walked):
    odds = np.array([
        (table.loc[name, "leak_probability"], leak[0] == name)
        for leak, table, _ in both_walked
        for name in ("main", "branch")
    ])  # fmt: skip
    assert abs(odds[:, 0].mean() - 0.5) < 0.05
    sure = odds[odds[:, 0] > 0.9]
    assert len(sure) > JOBS / 2
    assert sure[:, 1].mean() >= 0.95


def test_one_leak_has_one_mark(both_walked):
    for leak, table, marks in both_walked:
        bold = marks[marks["probability_within_1ft"] > 0.5]
        assert len(bold) <= 1
        assert (table["status"] == "located").sum() <= 1
        other = table.drop(leak[0]).iloc[0]
        if table.loc[leak[0], "leak_probability"] > 0.9:
            assert other["status"] == "no_leak_heard"
            assert leak[0] in other["message"]


def test_bold_marks_near_a_tee_come_true(both_walked):
    hits = [
        abs(mark.chainage_m - leak[1]) < 0.3048 and mark.line_id == leak[0]
        for leak, _, marks in both_walked
        for mark in marks[marks["probability_within_1ft"] > 0.8].itertuples()
    ]
    assert len(hits) > JOBS / 2
    assert np.mean(hits) >= 0.85


def test_a_leak_up_a_branch_that_was_not_walked_gets_no_bold_mark():
    found = list(drawn(("main",)))
    around = [table.loc["main"] for leak, table, _ in found if leak[0] == "branch"]
    assert len(around) >= 8
    assert np.mean([row["status"] == "located" for row in around]) <= 0.15
    there = [table.loc["main"] for leak, table, _ in found if leak[0] == "main"]
    assert np.mean([row["leak_probability"] > 0.9 for row in there]) >= 0.8


def test_a_pipe_in_two_routes_is_one_pipe():
    layers, _ = job(np.random.default_rng(8), ("main",), leak=("main", TEE_M + 3.0))
    layers["routes"] = layers["routes"].iloc[:1]
    whole = located(layers).layers["marks"].iloc[0]
    cut = TEE_M + 1.0
    routes, readings = layers["routes"], layers["readings"].copy()
    line = routes.geometry.iloc[0]
    parts = [
        shapely.ops.substring(line, 0, cut), shapely.ops.substring(line, cut, line.length)
    ]  # fmt: skip
    second = readings["chainage_m"] > cut
    readings["line_id"] = np.where(second, "east", "west")
    readings["chainage_m"] -= np.where(second, cut, 0.0)
    two = routes.loc[routes.index.repeat(2)].assign(line_id=["west", "east"])
    two = two.set_geometry(parts, crs=routes.crs)
    found = located({"routes": two, "readings": readings}).layers["marks"]
    mark = found.sort_values("probability_within_1ft").iloc[-1]
    assert mark["line_id"] == "east"
    assert mark["chainage_m"] + cut == pytest.approx(whole["chainage_m"], abs=0.1)
    claim = whole["probability_within_1ft"]
    assert mark["probability_within_1ft"] == pytest.approx(claim, abs=0.1)
