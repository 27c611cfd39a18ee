"""A save of a job by another process is noticed once it is complete."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing, contextmanager, suppress
from typing import TYPE_CHECKING

import pytest

from leakgeo.errors import JobError
from leakgeo.job.saves import SaveWatch
from leakgeo.job.sources import read_only_copy
from tests.town import TOWN

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

# Long enough for any machine; a save that is noticed ends the wait at once.
LONG_S, SHORT_S = 30.0, 0.4
WRITER = """
import os, shutil, sqlite3, sys, time
path = sys.argv[1]
base = sqlite3.connect(path, isolation_level=None) if path.endswith(".gpkg") else None
def add(name):
    base.execute("INSERT INTO closed_valves (test_id, valve_id) VALUES (?, 'V')", (name,))
print("ready", flush=True)
for line in sys.stdin:
    exec(line)
    print("done", flush=True)
"""


@contextmanager
def writer(path: Path) -> Iterator[Callable[[str], None]]:
    """Give another process that runs lines of Python about a file."""
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path)], text=True,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    ) as process:  # fmt: skip
        assert process.stdin is not None
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"

        def do(line: str) -> None:
            process.stdin.write(line + "\n")  # type: ignore[union-attr]
            process.stdin.flush()  # type: ignore[union-attr]
            assert process.stdout.readline() == "done\n"  # type: ignore[union-attr]

        yield do
        process.stdin.close()


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "job.gpkg"
    shutil.copyfile(TOWN, path)
    return path


def closures_in(path: Path) -> set[str]:
    """Return the closures that a reader finds."""
    with read_only_copy(path) as (readable, _), closing(sqlite3.connect(readable)) as base:
        return {row[0] for row in base.execute("SELECT test_id FROM closed_valves")}


@pytest.mark.parametrize("mode", ["WAL", "DELETE", "PERSIST"])
def test_commits_of_another_process_are_noticed_one_by_one(job: Path, mode: str) -> None:
    with writer(job) as do:
        do(f"base.execute('PRAGMA journal_mode = {mode}').fetchall()")
        watch = SaveWatch(job)
        assert not watch.wait(timeout_s=SHORT_S)
        do("add('one')")
        assert watch.wait(timeout_s=LONG_S)
        assert "one" in closures_in(job)
        assert not watch.wait(timeout_s=SHORT_S)
        do("add('two'); time.sleep(0.05); add('three')")
        assert watch.wait(timeout_s=LONG_S)
        if not {"two", "three"} <= closures_in(
            job
        ):  # the machine may have stood still between them
            assert watch.wait(timeout_s=LONG_S)
        assert {"two", "three"} <= closures_in(job)


def test_open_transaction_is_no_save_until_it_is_committed(job: Path) -> None:
    watch = SaveWatch(job)
    with writer(job) as do:
        do("base.execute('BEGIN'); add('open')")
        assert not watch.wait(timeout_s=1.0)
        do("base.execute('COMMIT')")
        assert watch.wait(timeout_s=LONG_S)
    assert "open" in closures_in(job)


def test_transaction_that_is_rolled_back_is_no_save(job: Path) -> None:
    watch = SaveWatch(job)
    with writer(job) as do:
        do("base.execute('BEGIN'); add('never'); base.execute('ROLLBACK')")
        assert not watch.wait(timeout_s=SHORT_S)


def test_save_while_the_job_is_read_is_reported_by_the_next_wait(job: Path) -> None:
    watch = SaveWatch(job)
    with writer(job) as do:
        do("add('first')")
        assert watch.wait(timeout_s=LONG_S)
        do("add('meanwhile')")
    assert watch.wait(timeout_s=LONG_S)
    assert "meanwhile" in closures_in(job)


@pytest.mark.parametrize("name", ["job.gpkg", "routes.geojson", "job.xlsx"])
def test_file_written_in_two_halves_is_reported_whole(tmp_path: Path, name: str) -> None:
    path, new = tmp_path / name, b'{"type": "FeatureCollection", "features": []}'
    if name == "job.gpkg":
        new = TOWN.read_bytes()
    if name == "job.xlsx":
        from leakgeo.job.workbook.template import write_workbook

        new = write_workbook(tmp_path / "other.xlsx").read_bytes()
    path.write_bytes(b"before")
    watch = SaveWatch(path)
    half = tmp_path / "new.bin"
    half.write_bytes(new)
    with writer(tmp_path / "none") as do:
        do(f"data = open({str(half)!r}, 'rb').read(); out = open({str(path)!r}, 'wb')")
        do("out.write(data[:len(data) // 2]); out.flush()")
        assert not watch.wait(timeout_s=SHORT_S)
        do("out.write(data[len(data) // 2:]); out.close()")
        assert watch.wait(timeout_s=LONG_S)
    assert path.read_bytes() == new


def test_save_by_replacing_the_file(job: Path) -> None:
    other = job.with_name("other.gpkg")
    shutil.copy2(job, other)
    watch = SaveWatch(job.parent)
    with writer(job.with_name("none")) as do:
        do(f"os.replace({str(other)!r}, {str(job)!r})")
        assert watch.wait(timeout_s=LONG_S)
        assert not watch.wait(timeout_s=SHORT_S)


def test_change_of_one_size_within_one_tick_of_the_clock(tmp_path: Path) -> None:
    path = tmp_path / "routes.csv"
    path.write_text("line_id\nA\n")
    stat = path.stat()
    watch = SaveWatch(tmp_path)
    path.write_text("line_id\nB\n")
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))  # as on a drive with coarse times
    assert watch.wait(timeout_s=LONG_S)


def test_files_beside_the_layers_are_no_change(tmp_path: Path) -> None:
    (tmp_path / "routes.csv").write_text("line_id\nA\n")
    watch = SaveWatch(tmp_path)
    for name in ("plan.pdf", "~$stops.xlsx", ".~lock.stops.csv#", "notes.txt"):
        (tmp_path / name).write_text("seen")
    assert not watch.wait(timeout_s=SHORT_S)
    (tmp_path / "readings.csv").write_text("reading_id\n1\n")
    assert watch.wait(timeout_s=LONG_S)


def test_program_that_writes_without_a_pause_is_not_waited_for(job: Path) -> None:
    watch, stop = SaveWatch(job), threading.Event()

    def write() -> None:
        with closing(sqlite3.connect(job, isolation_level=None, timeout=30)) as base:
            while not stop.wait(0.02):
                base.execute("INSERT INTO closed_valves (test_id, valve_id) VALUES ('T', 'V')")

    busy = threading.Thread(target=write)
    busy.start()
    try:
        assert watch.wait(timeout_s=LONG_S)
        assert busy.is_alive()
    finally:
        stop.set()
        busy.join()


def test_event_ends_the_wait(job: Path) -> None:
    stop = threading.Event()
    threading.Timer(0.1, stop.set).start()
    assert not SaveWatch(job).wait(stop)


def test_ctrl_c_ends_the_wait(job: Path) -> None:
    code = (
        "import sys; from leakgeo.job.saves import SaveWatch\n"
        "watch = SaveWatch(sys.argv[1])\n"
        "try: print('waits', flush=True); watch.wait()\n"
        "except KeyboardInterrupt: print('ended')"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code, str(job)], text=True, stdout=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "waits\n"
        process.send_signal(signal.SIGINT)
        assert process.stdout.read() == "ended\n"


@pytest.mark.parametrize("source", ["postgresql://host/base", {"routes": None}])
def test_database_and_tables_are_refused(source: object) -> None:
    with pytest.raises(JobError, match="Only files are watched"):
        SaveWatch(source)


def test_a_log_that_comes_and_goes_is_no_error(tmp_path):
    path = shutil.copy(TOWN, tmp_path / "job.gpkg")
    log, done = path.with_name("job.gpkg-journal"), threading.Event()

    def come_and_go():
        while not done.is_set():
            log.write_bytes(b"x" * 600)  # no header of a journal, so SQLite passes it over
            log.unlink()

    other = threading.Thread(target=come_and_go)
    other.start()
    try:
        for _ in range(300):
            with suppress(JobError), read_only_copy(path) as (readable, _notes):
                assert readable.is_file()
    finally:
        done.set()
        other.join()
