"""The commands: exit codes, sentences, and that each is the function of the API."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
import shapely

import leakgeo
from leakgeo.registry import load_steps
from tests.job.jobs import readings, routes, write

TOWN = Path(__file__).parents[1] / "examples" / "town" / "job.gpkg"


def leakgeo_command(*arguments: object) -> subprocess.CompletedProcess[str]:
    code = "from leakgeo.cli import main; main()"
    words = [sys.executable, "-W", "error", "-c", code, *map(str, arguments)]
    return subprocess.run(words, capture_output=True, text=True, check=False, timeout=300)


@pytest.mark.parametrize("step", load_steps())
def test_each_step_is_a_command_with_its_parameters(step):
    done = leakgeo_command(step, "--help")
    assert done.returncode == 0
    for parameter in load_steps()[step].parameters:
        assert f"--{parameter.name.replace('_', '-')}" in done.stdout


def test_a_good_job_exits_with_zero(tmp_path):
    write(tmp_path / "job.gpkg", routes=routes().iloc[:1], readings=readings(12))
    done = leakgeo_command("run", tmp_path / "job.gpkg", "--out", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    assert "L1" in done.stdout
    assert "Nothing here clears a dig" in done.stdout


def test_a_rejected_line_exits_with_one_and_the_others_are_done(tmp_path):
    broken = routes()
    broken.loc[1, "geometry"] = shapely.LineString()
    write(tmp_path / "job.gpkg", routes=broken, readings=readings(12))
    done = leakgeo_command("run", tmp_path / "job.gpkg", "--out", tmp_path / "out")
    assert done.returncode == 1, done.stderr
    assert "L2  rejected" in done.stdout
    assert "routes L2" in done.stderr


@pytest.mark.parametrize(
    ("spoilt", "words"),
    [
        ({"routes": None}, "routes"),
        ({"readings": None}, "readings"),
        ({"routes": routes(depth_m=-1.0, line_id=None)}, "line_id"),
    ],
)
def test_a_job_that_cannot_be_run_exits_with_two(tmp_path, spoilt, words):
    write(tmp_path / "job.gpkg", **{"routes": routes(), "readings": readings(), **spoilt})
    done = leakgeo_command("run", tmp_path / "job.gpkg", "--out", tmp_path / "out")
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out" / "result.gpkg").exists()


@pytest.mark.parametrize(
    "arguments",
    [
        ["run", "nowhere.gpkg", "--out", "OUT"],
        ["run", TOWN],
        ["run", TOWN, "--out", "OUT", "--units", "miles"],
        ["run", TOWN, "--out", "OUT", "--line", "no such line"],
        ["profile", TOWN, "--out", "OUT", "--step-m", "-1"],
        ["clearance", TOWN, "--out", "OUT", "--rule", "none"],
        ["dance"],
    ],
)
def test_a_wrong_call_is_a_sentence_and_exits_with_two(arguments, tmp_path):
    done = leakgeo_command(*[tmp_path / "out" if a == "OUT" else a for a in arguments])
    assert done.returncode == 2
    assert "Error" in done.stderr
    assert "Traceback" not in done.stderr


def test_results_are_not_replaced_unless_asked(tmp_path):
    write(tmp_path / "job.gpkg", routes=routes().iloc[:1], readings=readings(12))
    call = ["locate", tmp_path / "job.gpkg", "--out", tmp_path / "out"]
    assert leakgeo_command(*call).returncode == 0
    again = leakgeo_command(*call)
    assert again.returncode == 2
    assert "overwrite" in again.stderr
    assert leakgeo_command(*call, "--overwrite").returncode == 0


def test_check_changes_nothing_and_tells_everything(tmp_path):
    write(
        tmp_path / "job.gpkg", routes=routes(), readings=readings(line_id=["L1", "L9", "L1", None])
    )
    before = (tmp_path / "job.gpkg").read_bytes()
    done = leakgeo_command("check", tmp_path / "job.gpkg")
    assert done.returncode == 1
    assert "L9" in done.stderr
    assert (tmp_path / "job.gpkg").read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["job.gpkg"]


def test_a_template_is_a_job_without_lines(tmp_path):
    assert leakgeo_command("template", tmp_path / "job.gpkg").returncode == 0
    with pytest.raises(leakgeo.JobError):
        leakgeo.read_job(tmp_path / "job.gpkg")


def test_help_imports_nothing_heavy():
    code = "import sys; from leakgeo.registry import load_steps; load_steps(); import leakgeo.cli;"
    code += "print([m for m in ('numpy', 'pandas', 'numba', 'geopandas') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
