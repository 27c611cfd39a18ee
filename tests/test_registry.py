"""Steps: declared once, checked, and loaded so that a broken one stops nothing."""

from __future__ import annotations

import inspect
from datetime import date, datetime
from importlib import import_module
from importlib.metadata import EntryPoint, EntryPoints

import pandas as pd
import pytest

import leakgeo
from leakgeo import registry
from leakgeo.errors import ParameterError
from leakgeo.registry import Parameter, Step, discover, load_steps


@pytest.mark.parametrize("step", load_steps().values(), ids=lambda s: s.name)
def test_the_declaration_is_the_signature_of_the_function(step):
    module, _, name = step.function.partition(":")
    signature = inspect.signature(getattr(import_module(module), name))
    given = [p for p in signature.parameters.values() if p.kind is p.KEYWORD_ONLY]
    assert [p.name for p in given] == [p.name for p in step.parameters]
    assert all(p.default is p.empty for p in given)


def test_entry_points_declare_the_same_steps():
    from importlib.metadata import entry_points

    declared = {p.name: p.load() for p in entry_points(group=registry.ENTRY_POINT_GROUP)}
    assert declared == load_steps()


@pytest.mark.parametrize(
    "day", ["2026-03-31", date(2026, 3, 31), datetime(2026, 3, 31, 7), pd.Timestamp("2026-03-31")]
)
def test_a_date_may_be_text_or_an_object(day):
    assert Parameter("dig_date", "date", None, "Day.").check(day) == "2026-03-31"


@pytest.mark.parametrize(
    ("kind", "value"),
    [
        ("number", "deep"),
        ("integer", None),
        ("number", -1.0),
        ("number", float("nan")),
        ("number", True),
        ("integer", 2.7),
        ("boolean", "no"),
        ("boolean", 1),
        ("choice", "x"),
    ],
)
def test_a_wrong_value_is_told(kind, value):
    parameter = Parameter("depth", kind, 1, "Depth.", choices=("a",) if kind == "choice" else (),
                          minimum=0.0, maximum=9.0)  # fmt: skip
    if value is None:
        assert parameter.check(value) == 1
        return
    with pytest.raises(ParameterError, match="depth"):
        parameter.check(value)


def test_an_unknown_parameter_names_the_known_ones():
    with pytest.raises(ParameterError, match="how_many"):
        load_steps()["advise"].settings({"howmany": 3})


def test_a_broken_step_of_another_package_is_reported(monkeypatch):
    own = Step("shout", "builtins:print", "Shout.", "Other")
    monkeypatch.setattr("tests.test_registry.OWN", own, raising=False)
    points = [
        EntryPoint("broken", "no_such_module:STEP", registry.ENTRY_POINT_GROUP),
        EntryPoint("odd", "os:sep", registry.ENTRY_POINT_GROUP),
        EntryPoint("shout", "tests.test_registry:OWN", registry.ENTRY_POINT_GROUP),
        EntryPoint("locate", "tests.test_registry:OWN", registry.ENTRY_POINT_GROUP),
        EntryPoint("locate", "leakgeo.steps:LOCATE", registry.ENTRY_POINT_GROUP),
    ]
    monkeypatch.setattr(registry, "entry_points", lambda group: EntryPoints(points))
    discover.cache_clear()
    steps, broken = discover()
    discover.cache_clear()
    assert list(steps) == ["locate", "shout"]
    assert steps["locate"].summary != "Shout."
    assert {b.name for b in broken} == {"broken", "odd"}
    assert "no_such_module" in next(b.reason for b in broken if b.name == "broken")


def test_a_step_takes_no_number_for_a_job():
    with pytest.raises(ParameterError, match="path of a job, not a int"):
        leakgeo.locate(3)


def test_a_wrong_parameter_stops_the_chain_before_anything_is_written(tmp_path):
    with pytest.raises(ParameterError, match="leak_prio"):
        leakgeo.run("job.gpkg", tmp_path / "out", leak_prio=0.5)
    with pytest.raises(ParameterError, match="leak_prior"):
        leakgeo.run("job.gpkg", tmp_path / "out", leak_prior=5)
    assert not (tmp_path / "out").exists()
