"""Runs that are stopped, or can't write: a clear word, nothing half-written, and they go on."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import time

import pyogrio
import pytest

from leakgeo import run
from leakgeo.runner import chain
from leakgeo.runner.journal import FOLDER
from tests.test_cli import leakgeo_command
from tests.town import TOWN, assert_same

MINUTES = 300.0


def command_line(job, out, *more, chunk_lines=1):
    """The command line in a process of its own, with small chunks."""
    code = (f"import leakgeo.runner.chain as c; c.CHUNK_LINES = {chunk_lines}\n"
            f"c.run.__kwdefaults__['chunk_lines'] = {chunk_lines}\n"
            f"import sys; sys.argv = ['leakgeo', 'run', {str(job)!r}, '--out', {str(out)!r}, "
            f"*{list(more)!r}]\n"
            "from leakgeo.cli import main\nif __name__ == '__main__': main()")  # fmt: skip
    script = out.parent / f"{out.name}.py"
    script.write_text(code)
    return subprocess.Popen([sys.executable, str(script)], stderr=subprocess.PIPE, text=True,
                            stdout=subprocess.PIPE, start_new_session=True)  # fmt: skip


def parts(out):
    return len(list((out / FOLDER).glob("[0-9]*")))


def group_is_gone(leader):
    until = time.monotonic() + 30
    while time.monotonic() < until:
        try:
            os.killpg(leader, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.05)
    return False


def test_a_request_to_end_stops_all_processes_and_the_run_goes_on(few, tmp_path, monkeypatch):
    (job, result), out = few, tmp_path / "out"
    child = command_line(job, out, "--workers", "2", chunk_lines=2)
    until = time.monotonic() + MINUTES
    while not parts(out) and child.poll() is None and time.monotonic() < until:
        time.sleep(0.02)
    os.killpg(child.pid, signal.SIGTERM)
    _, told = child.communicate(timeout=MINUTES)
    assert child.returncode == 2
    assert "Traceback" not in told
    assert "Stopped" in told
    assert group_is_gone(child.pid)
    assert not (out / "result.gpkg").exists()
    assert 1 <= parts(out) < 3
    monkeypatch.setitem(chain.run.__kwdefaults__, "chunk_lines", 2)
    again = leakgeo_command("run", job, "--out", out, "--workers", "1", "--resume")
    assert again.returncode == 0, again.stderr
    assert_same(result, out)


def run_without_room(size, *call):
    """Run the command line in a copy of this process whose files may have so many bytes."""
    reads, writes = os.pipe()
    child = os.fork()
    if child == 0:
        code = 1
        try:
            # As Python does at its start: else the process is killed at the limit.
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
            done = leakgeo_command("run", *call)
            os.write(writes, done.stderr.encode())
            code = done.returncode
        finally:
            os._exit(code)
    os.close(writes)
    with os.fdopen(reads, "rb") as told:
        said = told.read().decode()
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), said


@pytest.mark.parametrize(
    ("chunk_lines", "size", "said"),
    [(1, 12_000, "Free disk space, and continue"), (1000, 60_000, "can't be written")],
    ids=["parts", "result"],
)
def test_no_room_is_said_and_leaves_nothing_half_written(
    few, tmp_path, monkeypatch, chunk_lines, size, said
):
    # A limit to the size of a file is to a process what a full disk is: the write fails.
    out = tmp_path / "out"
    monkeypatch.setattr(chain, "CHUNK_LINES", chunk_lines)
    monkeypatch.setitem(chain.run.__kwdefaults__, "chunk_lines", chunk_lines)
    code, told = run_without_room(size, few[0], "--out", out, "--workers", "1", "--line", "H-101",
                                  "--no-density")  # fmt: skip
    assert code == 2, told
    assert "Traceback" not in told
    assert said in told
    left = {p.name for p in out.glob("*")} - {FOLDER}
    assert not {"result.gpkg", "summary.csv", "run.json"} & left
    assert not [name for name in left if name.startswith(".leakgeo-staging")]


def test_a_folder_that_cannot_be_made_is_said(tmp_path):
    (tmp_path / "file").write_text("")
    blocked = leakgeo_command("run", TOWN, "--out", tmp_path / "file" / "out")
    assert blocked.returncode == 2
    assert "Traceback" not in blocked.stderr
    assert "can't be made" in blocked.stderr


def test_a_result_that_a_program_has_open_is_replaced_beside_it(few, tmp_path):
    job, result = few
    shutil.copytree(result, tmp_path, dirs_exist_ok=True)
    path = tmp_path / "result.gpkg"
    reader = sqlite3.connect(path)
    try:
        reader.execute("BEGIN EXCLUSIVE")
        before = reader.execute("SELECT count(*) FROM marks").fetchone()
        run(job, tmp_path, overwrite=True)
        assert reader.execute("SELECT count(*) FROM marks").fetchone() == before
        reader.rollback()
    finally:
        reader.close()
    assert pyogrio.read_info(path, layer="marks")["features"] == before[0]
    assert_same(result, tmp_path)
