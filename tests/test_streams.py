"""Standard streams that are closed, full or not read, with real processes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.job.jobs import readings, routes, write

pytestmark = pytest.mark.skipif(os.name == "nt", reason="streams are closed by a POSIX shell")
CODE = "from leakgeo.cli import main; main()"
FULL = Path("/dev/full")


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    path = tmp_path_factory.mktemp("streams") / "job.gpkg"
    return write(path, routes=routes().iloc[:1], readings=readings(12))


def shell(line: str, *call: object, code: str = CODE, **environment: str):
    """Run leakgeo, as ``$@``, in a line of a shell that has no pipefail; give its end."""
    words = ["bash", "-c", line, "bash", sys.executable, "-c", code, *map(str, call)]
    return subprocess.run(
        words, capture_output=True, text=True, check=False, env={**os.environ, **environment},
    )  # fmt: skip


@pytest.mark.parametrize("call", [("--help",), ("steps",), ("steps", "--json")])
def test_a_reader_that_leaves_early_is_no_failure(call):
    done = shell('"$@" | head -n 1 >&2; exit ${PIPESTATUS[0]}', *call)
    assert (done.returncode, done.stdout) == (0, "")
    assert done.stderr.count("\n") == 1


def test_the_exit_code_is_that_of_the_command_when_nobody_reads(tmp_path):
    done = shell('"$@" | true; exit ${PIPESTATUS[0]}', "plugin", tmp_path / "plugin.zip")
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert (tmp_path / "plugin.zip").exists()
    wrong = shell('"$@" | true; exit ${PIPESTATUS[0]}', "plugin", tmp_path / "plugin.zip", "--json")
    assert wrong.returncode == 2


@pytest.mark.parametrize(
    ("to", "why"),
    [("/dev/full", "can't be written (No space left on device), so not all was shown there."),
     ("&-", "is closed, so nothing could be shown there.")],
)  # fmt: skip
@pytest.mark.parametrize("json_too", [[], ["--json"]])
def test_a_full_or_closed_stdout_is_one_sentence_and_the_results_are_there(
    tmp_path, to, why, json_too
):
    if to == "/dev/full" and not FULL.exists():
        pytest.skip("no /dev/full here")
    out = tmp_path / "plugin.zip"
    done = shell(f'"$@" >{to}', "plugin", out, *json_too)
    assert done.returncode == 2
    said = f"Standard output {why} The results are written: {out}."
    last = done.stderr.splitlines()[-1]
    assert (json.loads(last)["message"] if json_too else last.removeprefix("Error: ")) == said
    assert "Traceback" not in done.stderr
    assert "leakgeo failed" not in done.stderr
    assert out.stat().st_size > 1000


@pytest.mark.parametrize(
    ("streams", "call", "said"),
    [("2>&-", ["run"], None), ("<&- 2>&-", ["run"], None), ("2>&- >&-", ["run", "--json"], None),
     ("2>/dev/full", ["run", "--json"], "Missing argument"),
     ("2>/dev/full", ["check", "nowhere.gpkg", "--json"], "There is no such file")],
)  # fmt: skip
def test_a_stderr_that_takes_nothing_changes_no_exit_code(streams, call, said):
    done = shell(f'"$@" {streams}', *call)
    assert (done.returncode, done.stderr) == (2, "")
    if said:
        assert said in json.loads(done.stdout)["error"]["message"]


def test_a_job_is_checked_without_a_stderr(job):
    done = shell('"$@" 2>&-', "check", job)
    assert done.returncode == 0
    assert "readings: 12 read" in done.stdout


def test_no_file_gets_the_number_of_a_closed_stream(tmp_path):
    """Else what is printed would be written into a result."""
    code = f"""
import os, leakgeo.cli.entry as entry
before = entry._run
def run(console):
    os.write(1, b"printed"); os.write(2, b"printed")
    with open({str(tmp_path / "file")!r}, "wb") as file:
        file.write(bytes([48 + file.fileno()]))
    return before(console)
entry._run = run
{CODE}"""
    done = shell('"$@" <&- >&- 2>&-', "--version", code=code)
    assert done.returncode == 2
    assert int((tmp_path / "file").read_text()) > 2


NOISY = f"""
import os, sys, warnings, logging, threading
import leakgeo.job.read
before = leakgeo.job.read.read_job
def read(*a, **k):
    warnings.warn("a warning\\nof two lines", UserWarning)
    logging.getLogger("library").warning("a log")
    print("printed", file=sys.stderr)
    os.write(2, b"of a compiled library\\n")
    thread = threading.Thread(target=lambda: 1 / 0)
    thread.start(); thread.join()
    os.system("echo of a child >&2; printf 'without an end' >&2")
    return before(*a, **k)
leakgeo.job.read.read_job = read
{CODE}"""


def test_each_line_of_stderr_is_a_json_object(job):
    done = shell('"$@"', "check", job, "--json", code=NOISY,
                 PYTHONWARNINGS="always")  # fmt: skip
    assert done.returncode == 0
    assert json.loads(done.stdout)["exit_code"] == 0
    events = [json.loads(line) for line in done.stderr.splitlines()]
    assert all(isinstance(e, dict) and "event" in e for e in events)
    notes = [e["message"] for e in events if e["event"] == "note"]
    for said in ("UserWarning: a warning\nof two lines", "a log", "printed",
                 "of a compiled library", "of a child", "without an end",
                 "ZeroDivisionError: division by zero"):  # fmt: skip
        assert notes.count(said) == 1, said


def test_people_hear_of_a_warning_only_if_they_ask_for_more(job):
    code = NOISY.partition("    logging")[0] + "    return before(*a, **k)\n" + (
        f"leakgeo.job.read.read_job = read\n{CODE}")  # fmt: skip
    call = ["check", job]
    assert "a warning" not in shell('"$@"', *call, code=code).stderr
    assert "UserWarning: a warning" in shell('"$@"', *call, "--verbose", code=code).stderr
