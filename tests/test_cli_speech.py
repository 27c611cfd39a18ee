"""How the command line speaks: quiet or verbose, colours, progress, completion, errors."""

from __future__ import annotations

import os
import pty
import re
import subprocess
import sys

import pytest
import shapely

from leakgeo.cli.bars import Clock
from leakgeo.progress import Progress
from tests.job.jobs import heard, routes, write
from tests.test_cli import TOWN, leakgeo_command

CODE = "from leakgeo.cli import main; main()"


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    path = tmp_path_factory.mktemp("speech") / "job.gpkg"
    return write(path, routes=routes().iloc[:1], readings=heard(12))


def on_a_terminal(*call, stdout=None, **environment):
    """Run with stderr on a terminal, stdout there too or in a pipe; give both as text."""
    ours, theirs = pty.openpty()
    names = ("NO_COLOR", "FORCE_COLOR")
    env = {k: v for k, v in os.environ.items() if k not in names} | {"TERM": "xterm"} | environment
    child = subprocess.Popen(
        [sys.executable, "-c", CODE, *map(str, call)], stdin=subprocess.DEVNULL,
        stdout=stdout or theirs, stderr=theirs, env=env,
    )  # fmt: skip
    os.close(theirs)
    piped = ""
    if child.stdout:
        with child.stdout:
            piped = child.stdout.read().decode()
    seen = b""
    while True:
        try:
            part = os.read(ours, 65536)
        except OSError:  # Linux says so where the other end is closed
            break
        if not part:
            break
        seen += part
    os.close(ours)
    child.wait()
    return seen.decode(), piped


def test_quiet_leaves_the_last_line_and_verbose_adds(job, tmp_path):
    call = ["locate", job, "--out", tmp_path / "out", "--overwrite"]
    usual, quiet = leakgeo_command(*call), leakgeo_command(*call, "--quiet")
    assert quiet.stdout.count("\n") == 1
    assert "1 line: " in quiet.stdout
    assert "Nothing here clears a dig" in quiet.stdout
    assert quiet.stderr == ""
    loud = leakgeo_command(*call, "--verbose")
    assert loud.stdout == usual.stdout
    assert re.search(r"locate +\d+\.\d\d s", loud.stderr)
    assert "Computed in" in loud.stderr
    assert re.search(r"bytes  .*result\.gpkg", loud.stderr)
    assert "leakgeo 0." in loud.stderr


def test_quiet_and_verbose_exclude_each_other_and_errors_are_told(job):
    both = leakgeo_command("check", job, "--quiet", "--verbose")
    assert both.returncode == 2
    assert both.stderr.startswith("Error: --quiet and --verbose")
    gone = leakgeo_command("check", "nowhere.gpkg", "--quiet")
    assert gone.stderr.startswith("Error: nowhere.gpkg: There is no such file")


def test_check_prints_every_fault_of_a_job_that_can_not_be_run(tmp_path):
    for name, text in {
        "routes": "line_id\n" + "".join(f"L-{k}\n" for k in range(20)),
        "readings": "reading_id,line_id,chainage_m,sound_level,sound_unit\nr,L-1,3,20,db",
    }.items():
        (tmp_path / f"{name}.csv").write_text(text)
    (tmp_path / "contacts.csv").write_text(
        "line_id,contact_id,tape_from_previous\n" + "".join(f"L-{k},A,far {k}\n" for k in range(20))
    )
    done = leakgeo_command("check", tmp_path)
    assert done.returncode == 2
    assert "noted: utilities" in done.stderr  # a note, and the last of them
    assert "more" not in done.stderr.splitlines()[-2]
    short = leakgeo_command("run", tmp_path, "--out", tmp_path / "out")
    assert "leakgeo check prints all." in short.stderr


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (["run"], "Missing argument 'JOB'. See: leakgeo run --help"),
        (["run", "JOB", "--out", "OUT", "--untis", "us"], "Did you mean"),
        (["run", "JOB", "--out", "OUT", "--units", "miles"], "'miles' is not one of"),
        (["run", "nowhere.gpkg", "--out", "OUT"], "no such file"),
        (["run", "JOB", "--out", "OUT", "--dig-date", "31.3."], "give it as 2026-03-31"),
        (["run", "JOB", "--out", "OUT", "--rule", "no_such"], "use one of generic"),
        (["run", "JOB", "--out", "OUT", "--rule", "no.toml#mine"], "no.toml"),
        (["run", "JOB", "--out", "OUT", "--holidays", "ATLANTIS"], "US-MI"),
        (["run", "JOB", "--out", "OUT", "--time-zone", "Mars"], "America/Detroit"),
        (["run", "JOB", "--out", "OUT", "--priors", "luck"], "past_leaks"),
        (["run", "JOB", "--out", "OUT", "--format", "paper"], "geojson"),
        (["run", "JOB", "--out", "OUT", "--calibration", "no.toml"], "no.toml"),
        (["clearance", "JOB", "--out", "OUT", "--dig-date", "soon"], "give it as 2026-03-31"),
        (["rum"], "Did you mean 'run'?"),
    ],
)
def test_errors_have_one_form_and_come_before_the_work(call, words, job, tmp_path):
    places = {"JOB": job, "OUT": tmp_path / "out"}
    done = leakgeo_command(*[places.get(a, a) for a in call])
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("Error: ")
    assert done.stderr.count("\n") == 1
    assert words in done.stderr
    assert not list(tmp_path.glob("out/*"))


COLOUR = re.compile(r"\x1b\[[\d;]*3\d")


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_a_terminal_shows_colours_unless_they_are_not_wanted():
    for call in (["run"], ["--help"]):
        assert COLOUR.search(on_a_terminal(*call)[0])
        assert not COLOUR.search(on_a_terminal(*call, NO_COLOR="1")[0])
        assert "\x1b" not in on_a_terminal(*call, TERM="dumb")[0]


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_each_stream_has_its_own_colours_and_a_bar_is_on_the_terminal(tmp_path, monkeypatch):
    broken = routes()
    broken.loc[1, "geometry"] = shapely.LineString()
    write(tmp_path / "job.gpkg", routes=broken, readings=heard(12))
    call = ["locate", tmp_path / "job.gpkg", "--out", tmp_path / "out", "--overwrite"]
    seen, piped = on_a_terminal(*call, stdout=subprocess.PIPE)
    assert "\x1b[35mrejected" in seen
    assert "1/1" in seen
    assert "L1     Keep listening. No mark yet" in piped
    assert "\x1b" not in piped
    monkeypatch.setenv("FORCE_COLOR", "1")
    forced = leakgeo_command(*call).stdout
    assert re.search(r"L1     (\x1b\[[\d;]+m)+Keep listening\x1b\[0m", forced)


def test_words_do_not_hang_on_colour(job, tmp_path):
    done = leakgeo_command("locate", job, "--out", tmp_path / "out")
    assert "\x1b" not in done.stdout + done.stderr
    assert re.search(r"L1     (Mark|Keep listening|Several places|No leak heard)", done.stdout)


def test_time_left_follows_from_the_parts_that_are_done(monkeypatch):
    now = [100.0]
    monkeypatch.setattr("leakgeo.cli.bars.time.monotonic", lambda: now[0])
    clock = Clock()
    assert clock.seconds_left(Progress("locate", 0, 10)) is None
    # The first part may hold what is done once, such as compiling.
    now[0] += 60.0
    assert clock.seconds_left(Progress("locate", 1, 10)) is None
    now[0] += 20.0
    assert clock.seconds_left(Progress("locate", 5, 10)) == pytest.approx(25.0)
    assert clock.seconds_left(Progress("report", 0, 1)) is None
    assert clock.seconds_left(Progress("report", 1, 1)) == 0.0
    # A run that is resumed begins in the middle.
    assert clock.seconds_left(Progress("chunks", 6, 10)) is None
    now[0] += 5.0
    assert clock.seconds_left(Progress("chunks", 7, 10)) == pytest.approx(15.0)
    assert clock.seconds_left(Progress("map")) is None


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_shell_gets_a_script(shell):
    script = leakgeo_command("completion", shell).stdout
    assert "_LEAKGEO_COMPLETE" in script
    assert leakgeo_command("completion", "--help").stdout.count(shell) >= 2


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("leakgeo ", {"run", "check", "locate"}),
        ("leakgeo cl", {"clearance"}),
        ("leakgeo run --un", {"--units"}),
        ("leakgeo run --units ", {"si", "us"}),
        ("leakgeo completion ", {"bash", "zsh", "fish"}),
        ("leakgeo locate jo", {"jo"}),
    ],
)
def test_a_shell_completes(words, wanted):
    env = os.environ | {"_LEAKGEO_COMPLETE": "bash_complete", "COMP_WORDS": words,
                        "COMP_CWORD": str(len(words.split(" ")) - 1)}  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-c", CODE], env=env, capture_output=True, text=True, check=True
    )
    kinds, names = zip(*(line.split(",", 1) for line in done.stdout.splitlines()), strict=True)
    assert set(names) >= wanted
    assert wanted != {"jo"} or kinds == ("file",)


def test_gallons_are_told_on_the_screen_too(tmp_path):
    done = leakgeo_command("meter", TOWN, "--out", tmp_path / "out", "--units", "us")
    assert "gallons a day" in done.stdout
    assert "litres" not in done.stdout


def test_the_package_runs_as_a_module():
    done = subprocess.run(
        [sys.executable, "-m", "leakgeo", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout.startswith("leakgeo, version")
