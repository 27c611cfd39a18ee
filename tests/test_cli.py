"""The commands: exit codes, sentences, and that each is the function of the API."""

from __future__ import annotations

import io
import json
import re
import shlex
import subprocess
import sys
import warnings
from contextlib import redirect_stderr, redirect_stdout
from types import SimpleNamespace
from unittest import mock

import numpy as np
import pyogrio
import pytest
import shapely

import leakgeo
from leakgeo.cli import main
from leakgeo.registry import load_steps
from tests.job.jobs import heard, readings, routes, write
from tests.town import TOWN
from tests.wording.english import english_words


def leakgeo_command(*arguments: object, together: bool = False) -> SimpleNamespace:
    """Run the command line in this process, as a shell would call it.

    Where `together`, stdout also has what goes to stderr, as a terminal shows it.
    """
    out = io.StringIO()
    err = out if together else io.StringIO()
    with (
        mock.patch.object(sys, "argv", ["leakgeo", *map(str, arguments)]),
        redirect_stdout(out),
        redirect_stderr(err),
        pytest.raises(SystemExit) as stopped,
    ):
        main()
    return SimpleNamespace(
        returncode=stopped.value.code, stdout=out.getvalue(), stderr=err.getvalue()
    )


@pytest.mark.parametrize("step", load_steps())
def test_each_step_is_a_command_with_its_parameters(step):
    done = leakgeo_command(step, "--help")
    assert done.returncode == 0
    for parameter in load_steps()[step].parameters:
        assert str(parameter.option) in done.stdout


def test_a_good_job_exits_with_zero_and_warns_of_nothing(tmp_path):
    write(tmp_path / "job.gpkg", routes=routes().iloc[:1], readings=heard(12))
    code = "from leakgeo.cli import main; main()"
    call = [sys.executable, "-W", "error", "-c", code, "run", "job.gpkg", "--out", "out"]
    done = subprocess.run(call, capture_output=True, text=True, check=False, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "L1" in done.stdout
    assert "Nothing here clears a dig" in done.stdout


def test_a_rejected_line_exits_with_one_and_the_others_are_done(tmp_path):
    broken = routes()
    broken.loc[1, "geometry"] = shapely.LineString()
    write(tmp_path / "job.gpkg", routes=broken, readings=heard(12))
    done = leakgeo_command("run", tmp_path / "job.gpkg", "--out", tmp_path / "out")
    assert done.returncode == 1, done.stderr
    assert "L2     Not computed" in done.stdout
    assert "routes L2" in done.stderr


def test_a_line_asked_for_in_vain_exits_with_one(tmp_path):
    write(tmp_path / "job.gpkg", routes=routes().iloc[:1], readings=heard(12))
    call = ["locate", tmp_path / "job.gpkg", "--out", tmp_path / "out", "--line", "L1"]
    assert leakgeo_command(*call).returncode == 0
    done = leakgeo_command(*call, "--line", "L7", "--overwrite")
    assert done.returncode == 1
    assert "L7 was selected" in done.stderr


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
        ["run", "https://example.org/job.gpkg", "--out", "OUT"],
        ["run", TOWN],
        ["run", TOWN, "--out", "OUT", "--units", "miles"],
        ["run", TOWN, "--out", "OUT", "--line", "no such line"],
        ["profile", TOWN, "--out", "OUT", "--step-m", "-1"],
        ["clearance", "JOB", "--out", "OUT", "--rule", "none"],
        ["dance"],
    ],
)
def test_a_wrong_call_is_a_sentence_and_exits_with_two(arguments, tmp_path):
    write(tmp_path / "job.gpkg", routes=routes().iloc[:1], readings=heard(12))
    places = {"OUT": tmp_path / "out", "JOB": tmp_path / "job.gpkg"}
    done = leakgeo_command(*[places.get(a, a) for a in arguments])
    assert done.returncode == 2
    assert "Error" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("points", "code", "said"),
    [
        (readings(6).iloc[:0], 0, "2 lines: 2 not listened to"),
        (readings(6, sound_level=np.nan), 1, "1 not computed"),
    ],
)
def test_a_job_with_nothing_to_use_is_told_and_written(tmp_path, points, code, said):
    write(tmp_path / "job.gpkg", routes=routes(), readings=points)
    done = leakgeo_command("run", tmp_path / "job.gpkg", "--out", tmp_path / "out")
    assert done.returncode == code, done.stderr
    assert said in done.stdout
    counted = json.loads((tmp_path / "out" / "run.json").read_text("utf-8"))["counts"]["readings"]
    assert counted["used"] == 0
    assert counted["in"] == counted["rejected"] == len(points)


def test_people_see_feet_and_the_numbers_of_a_layer_stay_in_metres(tmp_path):
    write(tmp_path / "job.gpkg", routes=routes().iloc[:1], readings=heard(12))
    done = leakgeo_command("run", tmp_path / "job.gpkg", "--out", tmp_path / "out", "--units", "us")
    assert re.search(r"likeliest \d+ ft", done.stdout)
    assert not re.search(r"\d m\b", done.stdout)
    summary = (tmp_path / "out" / "summary.csv").read_text("utf-8-sig")
    assert not re.search(r"\d m\b", summary)
    lines = pyogrio.read_dataframe(tmp_path / "out" / "result.gpkg", layer="lines")
    at = re.search(r"likeliest (\d+) ft (?:(\d+) in )?from", lines["message"][0])
    inches = 12 * int(at[1]) + int(at[2] or 0)
    assert abs(0.0254 * inches - json.loads(lines["values"][0])["chainage_m"]) < 0.0128


def test_the_chain_takes_the_parameters_of_every_step(tmp_path):
    write(tmp_path / "job.gpkg", routes=routes().iloc[:1], readings=heard(12))
    done = leakgeo_command(
        "run", tmp_path / "job.gpkg", "--out", tmp_path / "out",
        "--leak-prior", "0.2", "--step-m", "0.5",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    told = json.loads((tmp_path / "out" / "run.json").read_text("utf-8"))["parameters"]
    assert told["locate"]["leak_prior"] == 0.2
    assert told["profile"]["step_m"] == 0.5


def test_a_failure_of_the_program_does_not_look_like_a_job_done():
    with mock.patch("leakgeo.runner.chain.run", side_effect=ZeroDivisionError("a slip")):
        done = leakgeo_command("run", "job.gpkg", "--out", "out")
    assert done.returncode == 2
    assert "a slip" in done.stderr


def test_help_shows_how_to_begin_line_by_line():
    done = leakgeo_command("--help")
    assert "\n  leakgeo check JOB.gpkg" in done.stdout
    assert "leakgeo run job.gpkg --out out" in leakgeo_command("run", "--help").stdout


def test_results_are_not_replaced_unless_asked(tmp_path):
    write(tmp_path / "job.gpkg", routes=routes().iloc[:1], readings=heard(12))
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


def test_check_tells_what_shows_only_on_the_routes(tmp_path):
    """A gap in a route, and a reading off its line, are told before anyone runs the job."""
    broken = routes()
    broken.loc[1, "geometry"] = shapely.MultiLineString([
        shapely.get_coordinates(broken.geometry.iloc[1]) + [0.0, 60.0 * k] for k in (0, 1)
    ])  # fmt: skip
    away = readings().set_geometry(readings().translate(0, 90))
    write(tmp_path / "job.gpkg", routes=broken, readings=away)
    done = leakgeo_command("check", tmp_path / "job.gpkg")
    assert done.returncode == 1
    assert "routes L2: Its parts are" in done.stderr
    assert "m from its route" in done.stderr


def test_a_template_is_a_job_without_lines(tmp_path):
    done = leakgeo_command("template", tmp_path / "job.gpkg")
    assert done.returncode == 0
    path = tmp_path / "two words.gpkg"
    said = leakgeo_command("template", path).stdout
    assert shlex.split(said.split("then: ")[1]) == ["leakgeo", "check", str(path)]
    with pytest.raises(leakgeo.JobError):
        leakgeo.read_job(tmp_path / "job.gpkg")


def test_the_end_of_the_name_chooses_what_a_template_is(tmp_path):
    done = leakgeo_command("template", tmp_path / "job.doc")
    assert done.returncode == 2
    assert ".gpkg for a job; .xlsx for a workbook; .pdf for sheets to print" in done.stderr
    for call, option in (
        (("x.pdf", "--from", "stops.csv"), "--from"), (("x.pdf", "--crs", "4326"), "--crs"),
        (("x.gpkg", "--job", "job.gpkg"), "--job"), (("x.xlsx", "--units", "us"), "--units"),
        (("x.pdf", "--line", "A"), "--line"),
    ):  # fmt: skip
        done = leakgeo_command("template", tmp_path / call[0], *call[1:])
        assert (done.returncode, option in done.stderr) == (2, True)
    assert not list(tmp_path.iterdir())


def test_typed_stops_are_counted_and_what_comes_next_is_said(tmp_path):
    stops = tmp_path / "stops.csv"
    stops.write_text("line,from,tape,level,unit\nA,start,1 m,40,db\n,,2 m,x,\n")
    job = tmp_path / "job.gpkg"
    first, again = (leakgeo_command("template", job, "--from", stops) for _ in range(2))
    assert first.returncode == 1
    assert "stops.csv: 2 rows: 1 stop added, 1 left out." in first.stdout
    assert "stops.csv line 3" in first.stderr
    assert f"leakgeo check {job}" in first.stdout
    assert "0 stops added, 1 in the job already, 1 left out" in again.stdout
    other = ("template", tmp_path / "otro.gpkg", "--from", stops, "--language", "es")
    spanish = leakgeo_command(*other)
    assert "stops.csv: 2 filas: 1 parada agregada, 1 omitida." in spanish.stdout
    assert "stops.csv línea 3: sound_level no es un número" in spanish.stderr
    told = (spanish.stdout + spanish.stderr).replace("stops.csv", "").replace("--out out", "")
    assert english_words([re.sub(r"leakgeo \w+ \S+|sound_level|readings", " ", told)]) == {}
    for made in ("empty.gpkg", "libro.xlsx", "hojas.pdf"):
        done = leakgeo_command("template", tmp_path / made, "--language", "es")
        assert done.stdout.startswith("Hay ")
    stopped = leakgeo_command("check", tmp_path / "libro.xlsx", "--language", "es")
    assert "el trabajo no se puede ejecutar" in stopped.stderr
    refused = leakgeo_command("template", job, "--from", stops, "--crs", "EPSG:2263")
    assert (refused.returncode, "--crs" in refused.stderr) == (2, True)


def test_a_missing_grid_of_proj_is_not_told_in_the_words_of_a_library(monkeypatch):
    def warned(_: object) -> int:
        warnings.warn("Best transformation is not available due to missing Grid", stacklevel=2)
        return 0

    monkeypatch.setattr("leakgeo.cli.entry._run", warned)
    assert leakgeo_command("check", "job.gpkg").returncode == 0


def test_help_imports_nothing_heavy():
    code = "import sys; from leakgeo.registry import load_steps; load_steps(); import leakgeo.cli;"
    code += "print([m for m in ('numpy', 'pandas', 'numba', 'geopandas') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
