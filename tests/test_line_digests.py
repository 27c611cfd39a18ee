"""The digest of a line notices each thing that its result depends on, and what it does not."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pyproj
import pytest

import leakgeo
from leakgeo.find.ground.file import ground_toml
from leakgeo.job.model import NOT_SELECTED
from leakgeo.job.read import read_job
from leakgeo.result import Result
from leakgeo.runner import line_digests as module
from leakgeo.runner.chain import planned_steps
from leakgeo.runner.chunks import ChunkPlan
from leakgeo.runner.layer_steps import default_errors
from leakgeo.runner.line_digests import LineDigests, line_digests
from leakgeo.runner.task import run_steps
from leakgeo.runner.whole_job import LAWS
from leakgeo.sound.constants import load_constants
from tests.test_update import LINES, changed, few_lines, row_of

ALL = set(LINES)
# A change at one of them is a change beside the other.
PAIR, THREE = {"H-133", "H-134"}, {"A-201", "A-202", "A-206"}


@pytest.fixture(scope="module")
def law(tmp_path_factory):
    path = tmp_path_factory.mktemp("law") / "ground.toml"
    assumed = load_constants(None)
    path.write_text(ground_toml(assumed.noise_law, assumed.walk_law))
    return path


def digests(layers, law, *, then=lambda plan, result: (plan, result), early=("ground",), **given):
    """Digests of the lines of a job; `then` changes what comes of the `early` steps."""
    steps = [s for s in planned_steps({"ground": law, **given}) if not s.step.writes_files]
    result = run_steps(Result(read_job(layers)), [s for s in steps if s.step.name in early])
    plan = ChunkPlan.of(result.job, 1000, default_errors(steps), assign=True)
    plan, result = then(plan, result)
    return line_digests(plan, result, [s for s in steps if s.step.by_line], LAWS)


@pytest.fixture(scope="module")
def before(law):
    return digests(few_lines(), law)


def unlike(one, other):
    assert [*one.of_line] == [*other.of_line]
    return {name for name, digest in one.of_line.items() if other.of_line[name] != digest}


def edit(name, line, turn=0, **values):
    def made(layers):
        row = turn if line is None else row_of(layers, name, line, turn)
        return changed(layers, name, row, **values)

    return made


def no_line(layers):
    """Layers with a meter test of no line."""
    tests = layers["meter_tests"]
    free = tests.iloc[[0]].assign(line_id=None)
    return {**layers, "meter_tests": pd.concat([tests, free], ignore_index=True)}


EDITS = {
    "a route, and beside it": (edit("routes", "H-133", depth_m=1.9), PAIR),
    "a fitting": (edit("contacts", "H-133", 1, side="customer"), PAIR),
    "a utility": (edit("utilities", None, 3, owner="Someone (invented)"), PAIR),
    "a surface": (edit("surfaces", None, 5, surface="gravel"), PAIR),
    "a record": (edit("history", None, date=pd.Timestamp("2008-03-01", tz="UTC")), PAIR),
    "a hole": (edit("dig_outcomes", "A-206", cause="joint"), THREE),
    "a meter test": (edit("meter_tests", "H-133", water_used=True), PAIR),
    "an isolation test": (edit("isolation_tests", None, after=120.0), THREE),
    # The age of records near the H- lines counts from it.
    "the last month": (edit("contacts", "A-202", time=pd.Timestamp("2031-05-06", tz="UTC")), ALL),
    "a layer less": (lambda layers: {n: f for n, f in layers.items() if n != "surfaces"}, ALL),
    "a test of no line": (no_line, ALL),
    "a utility of no place": (edit("utilities", None, geometry=None), ALL),
}  # fmt: skip


@pytest.mark.parametrize("what", EDITS)
def test_a_change_of_the_job_is_noticed_where_it_matters(before, law, what):
    made, wanted = EDITS[what]
    assert unlike(before, digests(made(few_lines()), law)) == wanted


def test_a_valve_is_noticed_where_no_test_with_it_is_known(law):
    def then(plan, result):
        job = replace(plan.job, isolation=None, valve_closures=None)
        return replace(plan, job=job), result

    leaking = edit("valves", None, leaks_by=True)(few_lines())
    found = [digests(layers, law, then=then) for layers in (few_lines(), leaking)]
    assert unlike(*found) == THREE


def test_readings_are_noticed_by_their_line_alone(before, law):
    row = row_of(few_lines(), "readings", "H-133", 3)
    found = digests(changed(few_lines(), "readings", row, sound_level=80.0), law)
    assert unlike(before, found) == {"H-133"}
    assert {n for n, h in before.heard.items() if found.heard[n] != h} == {"H-133"}
    assert found.loose == before.loose
    assert "H-133" in found.beside["H-134"]
    # Of a line that could not be worked out, any line beside may have been the reason.
    assert "H-133" in found.read_with("H-134", None, failed=True)
    assert found.read_with("H-134", None, failed=False) == {}


def test_a_name_with_a_separator_is_not_taken_for_two():
    found = LineDigests({"a": "0"}, {"b; c": 5, "d": 7}, "", {"a": ("b; c", "d")})
    assert found.read_with("a", "b; c", failed=False) == {"b; c": 5, "d": 7}
    assert LineDigests({}, {"b": 5, "d": 7}, "", {"a": ("b", "d")}).read_with(
        "a", "b", failed=False) == {"b": 5}  # fmt: skip


def test_lines_that_are_not_selected_are_loose(before, law):
    found = digests(few_lines(), law, then=lambda plan, result: (_selected(plan), result))
    assert {*found.of_line} == {"A-206"}
    assert found.of_line["A-206"] == before.of_line["A-206"]
    assert found.loose != before.loose


def _selected(plan):
    routes = plan.job.routes
    reason = routes["reason"].where(routes["line_id"] == "A-206", NOT_SELECTED)
    return replace(plan, job=replace(plan.job, routes=routes.assign(reason=reason)))


def test_rankings_of_earlier_steps_are_noticed_but_not_those_over_all_lines(law):
    job = read_job(few_lines())
    first = run_steps(Result(job), [s for s in planned_steps({}) if s.step.name == "survey"])

    def ranked(name, **values):
        def then(plan, result):
            result = replace(result, layers={**first.layers, **result.layers})
            layer = result.layers[name].copy()
            own = layer["line_id"] == "H-133"
            assert own.any()
            for column, value in values.items():
                layer.loc[own, column] = value
            return plan, replace(result, layers={**result.layers, name: layer})

        return digests(few_lines(), law, then=then)

    before = ranked("contact_ranking")
    assert unlike(before, ranked("contact_ranking", chainage_m=3.25)) == PAIR
    assert unlike(before, ranked("survey_bracket", from_chainage_m=3.25)) == PAIR
    assert unlike(before, ranked("contact_ranking", rank=99)) == set()


def test_parameters_are_noticed_by_the_lines_they_name_or_by_all(before, law):
    assert unlike(before, digests(few_lines(), law, isolated=("A-206",))) == THREE
    assert unlike(before, digests(few_lines(), law, leak_prior=0.31)) == ALL
    assert unlike(before, digests(few_lines(), law, workers=1)) == set()


def test_the_law_versions_and_other_readings_of_the_job_are_noticed(before, law, monkeypatch):
    def quieter(plan, result):
        law = result.layers["noise_law"].copy()
        number = law.select_dtypes("number").columns[0]
        law.loc[law.index[0], number] += 1e-9
        return plan, replace(result, layers={**result.layers, "noise_law": law})

    assert unlike(before, digests(few_lines(), law, then=quieter)) == ALL
    monkeypatch.setattr(module, "versions", lambda: {"leakgeo": "another"})
    assert unlike(before, digests(few_lines(), law)) == ALL


def test_files_of_parameters_are_noticed_by_their_content(before, law, tmp_path):
    own = tmp_path / "rules.toml"
    shipped = (Path(leakgeo.__file__).parent / "dig" / "rules.toml").read_text("utf-8")
    own.write_text(shipped)
    name = f"{own}#michigan_460_723"
    first = digests(few_lines(), law, rule=name)
    assert unlike(before, first) == ALL
    (tmp_path / "copy.toml").write_text(shipped)
    assert unlike(first, digests(few_lines(), law, rule=name.replace("rules", "copy"))) == set()
    own.write_text(f"{shipped}\n")
    assert unlike(first, digests(few_lines(), law, rule=name)) == ALL


def test_what_all_lines_share_is_noticed(before, law):
    def of_job(**values):
        def then(plan, result):
            return replace(plan, job=replace(plan.job, **values)), result

        return digests(few_lines(), law, then=then)

    # Whether the job has utilities at all decides a hold, near a line or not.
    assert unlike(before, of_job(counts={"utilities": 0})) == ALL
    assert unlike(before, of_job(output_crs=pyproj.CRS(4326))) == ALL
    assert unlike(before, of_job(crs=pyproj.CRS(32616))) == ALL

    def acted(showed):
        return of_job(action_results=pd.DataFrame({"line_id": ["A-206"], "result": [showed]}))

    assert unlike(acted("louder"), acted("same")) == THREE


def test_elevations_are_noticed_around_a_line(law):
    def on(ground):
        def then(plan, result):
            return replace(plan, job=replace(plan.job, ground=ground)), result

        return digests(few_lines(), law, then=then)

    def ground(elevation_m):
        west, _, _, north = bounds
        return SimpleNamespace(crs=crs, transform=(10.0, 0.0, west, 0.0, -10.0, north),
                               elevation_m=elevation_m, z_unit_m=1.0)  # fmt: skip

    job = read_job(few_lines())
    crs, bounds = pyproj.CRS(job.crs), job.routes.total_bounds + [-500.0, -500.0, 500.0, 500.0]
    flat = np.zeros((120, 400))
    hill = flat.copy()
    at = job.routes.set_index("line_id").geometry["H-133"].centroid
    hill[int((bounds[3] - at.y) / 10.0), int((at.x - bounds[0]) / 10.0)] = 2.0
    before = on(ground(flat))
    assert unlike(before, on(ground(hill))) == PAIR
    assert unlike(before, on(SimpleNamespace(**{**vars(ground(flat)), "z_unit_m": 0.3}))) == ALL
