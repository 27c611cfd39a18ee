"""The Python interface: names, signatures, docstrings and types, and what libraries must not do."""

from __future__ import annotations

import doctest
import inspect
import logging
import re
import subprocess
import sys
from pathlib import Path
from threading import Barrier, Thread

import pyogrio
import pytest
from threadpoolctl import threadpool_info

import leakgeo
from leakgeo.errors import ParameterError
from leakgeo.functions import function_of
from leakgeo.job.read import read_job
from leakgeo.job.schema import load_schemas
from leakgeo.progress import progress_to
from leakgeo.registry import load_steps
from tests.stubs import STUB, stub
from tests.test_cli import leakgeo_command

ROOT = Path(__file__).parents[1]
USER = """
import geopandas as gpd
import leakgeo

job = leakgeo.read_job("job.gpkg")
result = leakgeo.locate(job, leak_prior=0.5, priors=["age"])
marks: gpd.GeoDataFrame = result["marks"]
routes: gpd.GeoDataFrame = job["routes"]
for name, layer in result.to_crs(4326).items():
    print(name.upper(), len(layer))
wrong: int = result["marks"]
leakgeo.locate(job, leakprior=0.5)
leakgeo.run("job.gpkg", "out", leakprior=0.5)
leakgeo.survey(3)
leakgeo.read_job("job.gpkg", route_sd=0.5)
"""


def test_a_star_gives_the_public_names_and_each_is_there():
    names: dict[str, object] = {}
    exec("from leakgeo import *", names)
    names.pop("__builtins__")
    assert set(names) == set(leakgeo.__all__) == {"__version__", *leakgeo._HOME, *leakgeo._STEPS}
    own = [n for n, s in load_steps().items() if s.function.startswith("leakgeo.")]
    assert sorted(leakgeo._STEPS) == sorted(own)
    assert set(leakgeo.__all__) <= set(dir(leakgeo))


def test_the_stub_is_what_the_steps_declare():
    assert STUB.read_text("utf-8") == stub(), "run: python -m tests.stubs"


def test_type_checkers_find_a_wrong_parameter_and_know_the_layers(tmp_path):
    (tmp_path / "user.py").write_text(USER, "utf-8")
    call = [sys.executable, "-m", "mypy", "--config-file", ROOT / "pyproject.toml", "--strict",
            "--cache-dir", ROOT / ".mypy_cache", tmp_path / "user.py"]  # fmt: skip
    done = subprocess.run(call, capture_output=True, text=True, cwd=ROOT, check=False)
    found = re.findall(r"user.py:(\d+): error: .*\[(.*)\]", done.stdout)
    assert [(USER.splitlines()[int(line) - 1].split("(")[0], code) for line, code in found] == [
        ('wrong: int = result["marks"]', "assignment"),
        ("leakgeo.locate", "call-arg"),
        ("leakgeo.run", "call-arg"),
        ("leakgeo.survey", "arg-type"),
        ("leakgeo.read_job", "call-arg"),
    ], done.stdout


@pytest.mark.parametrize("step", load_steps().values(), ids=lambda s: s.name)
def test_a_step_is_a_function_that_says_what_it_takes_and_makes(step):
    function = getattr(leakgeo, step.name)
    assert inspect.isfunction(function)
    assert function is function_of(step.name)
    assert (function.__module__, function.__name__) == ("leakgeo", step.name)
    known = inspect.signature(function).parameters
    assert {p.name: known[p.name].default for p in step.parameters} == {
        p.name: p.default for p in step.parameters
    }
    said = " ".join(function.__doc__.split())
    for p in step.parameters:
        unit = rf" \[{re.escape(p.unit)}\]" if p.unit else ""
        assert re.search(rf"\b{p.name} : [^:]*{unit}, default {re.escape(repr(p.default))}", said)
        assert p.help in said
    for made in step.makes:
        assert made in said
    assert "Raises ------ ParameterError" in said


@pytest.fixture(scope="module")
def read_once(tmp_path_factory, town):
    """A folder with the shipped example and its results; the job is read for all examples once."""
    folder = tmp_path_factory.mktemp("examples")
    (folder / "examples").symlink_to(ROOT / "examples")
    (folder / "out").symlink_to(town[1])
    jobs: dict[object, object] = {}

    def read(source, lines=None):
        key = source, *lines
        if key not in jobs:
            jobs[key] = read_job(source, lines=lines)
        return jobs[key]

    return folder, read


def test_columns_are_there_after_the_step_that_is_said_to_fill_them_in():
    job = read_job(ROOT / "examples" / "town" / "job.gpkg", lines=["H-118", "H-126"])
    result, done = leakgeo.locate(job), {""}
    assert result["marks"]["message"].tolist() == [
        dict(zip(result["lines"]["line_id"], result["lines"]["message"], strict=True))[line]
        for line in result["marks"]["line_id"]
    ]
    for step in ("", "advise", "clearance"):
        result = function_of(step)(result) if step else result
        done.add(step)
        for name in ("lines", "marks"):
            fields = load_schemas("output")[name].fields
            declared = {f.name for f in fields if f.filled_in_by in done} - {"run_id"}
            assert set(result[name]) - {"geometry"} == declared, (step, name)
    told = inspect.getdoc(leakgeo.locate)
    assert re.search(r"Added\s+by clearance: held_by", told)


@pytest.mark.parametrize("name", load_steps())
def test_the_example_of_a_step_runs(name, read_once, monkeypatch):
    folder, read = read_once
    monkeypatch.chdir(folder)
    monkeypatch.setattr("leakgeo.job.read.read_job", read)
    (test,) = doctest.DocTestFinder().find(getattr(leakgeo, name), name, globs={})
    assert len(test.examples) >= 3
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    assert runner.run(test).failed == 0


def test_lists_are_taken_where_lists_are_natural():
    locate, export = load_steps()["locate"], load_steps()["export"]
    assert locate.settings({"priors": ["age", "fittings"]})["priors"] == "age,fittings"
    assert export.settings({"format": ("kml",)})["format"] == "kml"
    assert locate.settings({"priors": "age, fittings"})["priors"] == "age, fittings"
    for wrong in (["age", "luck"], ["age", 3]):
        with pytest.raises(ParameterError, match="priors: "):
            locate.settings({"priors": wrong})


def test_errors_of_the_interface_speak_of_parameters_and_those_of_commands_of_options(tmp_path):
    with pytest.raises(ParameterError, match=r"^priors: 'luck' is not known"):
        leakgeo.locate("job.gpkg", priors="luck")
    call = ["locate", "x.gpkg", "--out", tmp_path / "o", "--priors", "luck"]
    told = leakgeo_command(*call).stderr
    assert "--priors: 'luck' is not known" in told
    (tmp_path / "run.json").write_text("{}")
    with pytest.raises(leakgeo.OutputError, match="replace it with overwrite"):
        leakgeo.run("job.gpkg", tmp_path)


def test_progress_goes_to_the_log_and_nothing_is_printed(caplog, capfd):
    job = read_job(ROOT / "examples" / "town" / "job.gpkg", lines=["H-101"])
    seen = []
    with caplog.at_level(logging.DEBUG, "leakgeo"), progress_to(seen.append):
        leakgeo.locate(job)
    assert [r.getMessage() for r in caplog.records if r.name == "leakgeo"] == list(map(str, seen))
    assert seen
    assert capfd.readouterr() == ("", "")


def test_without_a_handler_a_warning_prints_nothing():
    call = "import leakgeo, logging; logging.getLogger('leakgeo').warning('x')"
    done = subprocess.run([sys.executable, "-c", call], capture_output=True, check=True)
    assert done.stderr == done.stdout == b""


def test_versions_are_printed_for_a_report(capsys):
    leakgeo.show_versions()
    told = capsys.readouterr().out
    assert f"leakgeo: {leakgeo.__version__}" in told
    assert "gdal: " in told


def test_settings_of_the_process_are_undone_by_the_last_thread_alone():
    """Two runs at once: the first to end must not give the other more threads, or a slow disk."""
    from leakgeo.deliver.geopackage.layers import unflushed
    from leakgeo.registry import single_threaded

    before = [(pool["filepath"], pool["num_threads"]) for pool in threadpool_info()]
    inside, after = Barrier(2), Barrier(2)
    seen = []

    def first():
        with single_threaded, unflushed:
            inside.wait(20)
        after.wait(20)

    thread = Thread(target=first)
    thread.start()
    with single_threaded, unflushed:
        inside.wait(20)
        after.wait(20)
        seen += [p["num_threads"] for p in threadpool_info() if p["user_api"] == "blas"]
        seen.append(pyogrio.get_gdal_config_option("OGR_SQLITE_SYNCHRONOUS"))
    thread.join()
    assert set(seen[:-1]) <= {1}
    assert seen[-1] is False or seen[-1] == "OFF"
    assert [(pool["filepath"], pool["num_threads"]) for pool in threadpool_info()] == before
    assert pyogrio.get_gdal_config_option("OGR_SQLITE_SYNCHRONOUS") is None
