"""Checks are declared once, found by themselves, and go by the parameters of the run."""

from __future__ import annotations

import inspect
import json
from dataclasses import fields
from unittest import mock

import numpy as np
import pytest
import shapely

import leakgeo
from leakgeo.errors import ParameterError
from leakgeo.job.checks.registry import check, load_checks
from leakgeo.options import CHECK_PARAMETERS
from leakgeo.reason import Reason
from leakgeo.registry import load_steps
from leakgeo.runner.chunks import DefaultErrors
from tests.job import jobs
from tests.test_cli import leakgeo_command

ASIDE_M, SIZE = 9.0, 8
OFF = "taped_readings_off_route"


def aside():
    """Give readings taped along the first route, whose positions are 9 m off it."""
    along = np.linspace(1, 29, SIZE)
    table = jobs.readings(SIZE, chainage_m=along)
    points = shapely.points(jobs.EAST + along, np.full(SIZE, jobs.NORTH - ASIDE_M))
    return table.set_geometry(points, crs=jobs.CRS)


@pytest.fixture
def job(tmp_path):
    return jobs.write(tmp_path / "job.gpkg", readings=aside())


def off_its_route(faults):
    return [fault for fault in faults if fault.code == OFF]


def command(*words):
    done = leakgeo_command(*words, "--json")
    assert done.returncode in (0, 1), done.stderr
    return [f for f in json.loads(done.stdout)["faults"] if f["code"] == OFF]


@pytest.mark.parametrize(("given", "count"), [({}, 1), ({"route_sd_m": 5}, 0),
                                              ({"reading_sd_m": 5}, 0)])  # fmt: skip
def test_from_python(job, given, count):
    assert len(off_its_route(leakgeo.read_job(job, **given).faults)) == count
    assert len(off_its_route(leakgeo.profile(job, **given).job.faults)) == count


def test_a_run_gives_its_parameters_to_the_checks(job, tmp_path):
    # What the run does with the job afterwards is not of interest here.
    with mock.patch("leakgeo.registry.Step.__call__", lambda _, result, **__: result):
        assert len(off_its_route(leakgeo.run(job, tmp_path / "a").job.faults)) == 1
        assert off_its_route(leakgeo.run(job, tmp_path / "b", route_sd_m=5).job.faults) == []


@pytest.mark.parametrize("words", [("check",), ("profile", "--out", "out")])
def test_from_the_command_line(job, tmp_path, monkeypatch, words):
    monkeypatch.chdir(tmp_path)
    name, *rest = words
    assert len(command(name, job, *rest)) == 1
    rest += ["--overwrite"] if rest else []
    assert command(name, job, *rest, "--route-sd-m", 5) == []


def test_a_parameter_that_no_check_has_is_refused(job):
    with pytest.raises(ParameterError, match="no parameter route_sd; they have route_sd_m"):
        leakgeo.read_job(job, route_sd=5)
    with pytest.raises(ParameterError, match="outside"):
        leakgeo.read_job(job, route_sd_m=-1)


def test_what_checks_go_by_are_parameters_of_steps_and_come_with_every_chunk():
    of_steps = [p for step in load_steps().values() for p in step.parameters]
    assert all(any(p is own for own in of_steps) for p in CHECK_PARAMETERS)
    assert {p.name for p in CHECK_PARAMETERS} <= {f.name for f in fields(DefaultErrors)}


def test_no_check_has_a_default_of_its_own():
    for one in load_checks():
        given = inspect.signature(one.function).parameters.values()
        assert all(p.default is inspect.Parameter.empty for p in given), one.name
        assert one.function.__doc__, one.name


@pytest.fixture
def no_old_pipe():
    """Declare one more check, for as long as a test."""
    from leakgeo.job.checks import registry

    before = list(registry._declared)

    @check("routes", stage="read")
    def no_old_pipe(rows, issues):
        issues.report((rows["installed_year"] < 1900).to_numpy(), Reason("laid_long_ago"),
                      column="installed_year", values=rows["installed_year"],
                      rejects=False)  # fmt: skip

    load_checks.cache_clear()
    yield no_old_pipe
    registry._declared[:] = before
    load_checks.cache_clear()


def test_one_function_is_a_check(tmp_path, no_old_pipe):
    assert inspect.isfunction(no_old_pipe)
    job = jobs.read(tmp_path, routes=jobs.routes(installed_year=[1890, 1990]))
    (fault,) = jobs.about(job.faults, "routes", "installed_year")
    assert fault.reason == Reason("laid_long_ago", value="1890.0")
    # Without a message of its own a code is said as it stands.
    assert str(fault) == "routes L1: laid long ago (1890.0)"


def test_names_of_checks_differ():
    names = [one.name for one in load_checks()]
    assert len(names) == len(set(names))
