"""A watch as a process of its own: each save of another program is answered, line by line."""

from __future__ import annotations

import csv
import json
import os
import queue
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
import pytest

import leakgeo
from leakgeo.runner.journal import FOLDER as PARTS
from leakgeo.staging import PREFIX
from tests.test_cli import leakgeo_command
from tests.town import layers, write_few

if TYPE_CHECKING:
    from collections.abc import Iterator

LONG_S = 120.0
# Lines of the job, of which each story changes its own.
ROLLBACK, WAL, BY_TAPE, MOVED, HALVES, GOES = "H-101", "H-102", "H-117", "H-126", "S-109", "S-117"
Event = dict[str, Any]
# A shell has what it runs in the background ignore SIGINT.
_LISTENING = """
import signal
signal.signal(signal.SIGINT, signal.default_int_handler)
from leakgeo.cli import main
from leakgeo.runner import watch
watch._GIVEN_UP_S = {given_up_s}
main()
"""


class Watch:
    """The command ``watch`` as a process, and its events."""

    def __init__(
        self, job: Path, out: Path, longest_s: float = LONG_S, given_up_s: float = LONG_S
    ) -> None:
        self.job, self.out, self.longest_s = job, out, longest_s
        self.errors = (job.parent / "watch.log").open("a+")
        self.process = subprocess.Popen(
            [sys.executable, "-c", _LISTENING.format(given_up_s=given_up_s), "watch", str(job),
             "--out", str(out), "--json"],
            stdout=subprocess.PIPE, stderr=self.errors, text=True, start_new_session=True,
        )  # fmt: skip
        self.lines: queue.Queue[str] = queue.Queue()
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.put(line)

    def next(self) -> Event:
        """Return the next event, but for saves that changed no row, as when a log is folded in."""
        while True:
            try:
                event: Event = json.loads(self.lines.get(timeout=self.longest_s))
            except queue.Empty:
                self.errors.seek(0)
                pytest.fail(f"The watch is silent. {self.errors.read()}")
            if event.get("event") != "unchanged":
                return event

    def until(self, name: str, line_id: str = "") -> list[Event]:
        """Return the events up to one of this name, and of this line if one is named."""
        events = [self.next()]
        while events[-1].get("event") != name or line_id not in ("", events[-1].get("line_id")):
            events.append(self.next())
        return events

    def answer(self) -> list[Event]:
        """Return the lines that are told of a save, once its files are in place as one run."""
        *told, written = self.until("written")
        assert {event["event"] for event in told} <= {"line"}
        assert run_ids(self.out) == {written["run_id"]}
        assert not is_littered(self.out)
        return told

    def end(self, number: int) -> Event:
        """Send a signal, and return the last line."""
        self.process.send_signal(number)
        assert self.process.wait(LONG_S) == 0
        self.reader.join(LONG_S)
        while not self.lines.empty():
            last: Event = json.loads(self.lines.get())
        self.errors.seek(0)
        assert "Traceback" not in self.errors.read()
        return last

    def close(self) -> None:
        """End the process and its children if it has not ended."""
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        self.reader.join()
        self.process.stdout.close()  # type: ignore[union-attr]
        self.errors.close()


def is_littered(out: Path) -> bool:
    """Return whether a folder has files of a run that is not done."""
    return any(path.name.startswith((PREFIX, PARTS)) for path in out.iterdir())


def run_ids(out: Path) -> set[str]:
    """Return the run ids in the files of a result."""
    found = {json.loads((out / "run.json").read_text("utf-8"))["run_id"]}
    for table in ("summary.csv", "faults.csv"):
        with (out / table).open(encoding="utf-8-sig") as rows:
            found |= {row["run_id"] for row in csv.DictReader(rows)}
    with closing(sqlite3.connect(out / "result.gpkg")) as base:
        tables = {name for (name,) in base.execute("SELECT table_name FROM gpkg_contents")}
        for name in {"lines", "marks"} & tables:
            found |= {row[0] for row in base.execute(f"SELECT DISTINCT run_id FROM {name}")}
    shown = (out / "map.html").read_text("utf-8")
    return {each if each in shown else f"map without {each}" for each in found}


@contextmanager
def written(job: Path) -> Iterator[sqlite3.Connection]:
    """Write to a job in one transaction, as a program does that knows nothing of its geometries."""
    with closing(sqlite3.connect(job, timeout=30)) as base:
        # Triggers of the spatial index name them; no shape changes here.
        for name in ("ST_IsEmpty", "ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"):
            base.create_function(name, 1, lambda _: 0)
        with base:
            yield base


def louder(job: Path, line_id: str, by: float = 3.0, *, mode: str = "DELETE") -> None:
    """Change one level of a line."""
    with written(job) as base:
        base.execute(f"PRAGMA journal_mode = {mode}").fetchall()
        base.execute(
            "UPDATE readings SET sound_level = sound_level + ? WHERE reading_id = "
            "(SELECT min(reading_id) FROM readings WHERE line_id = ?)", (by, line_id),
        )  # fmt: skip


@contextmanager
def saved_without_end(job: Path, line_id: str) -> Iterator[None]:
    """Save a job many times a second in another thread."""
    ended = threading.Event()

    def save() -> None:
        while not ended.wait(0.2):
            louder(job, line_id, 0.1, mode="WAL")

    saves = threading.Thread(target=save)
    saves.start()
    try:
        yield
    finally:
        ended.set()
        saves.join()


def changed_copy(job: Path, line_id: str) -> Path:
    """Return a copy of a job with one level changed."""
    other = job.with_name("other.bin")
    with closing(sqlite3.connect(job)) as base, closing(sqlite3.connect(other)) as copy:
        base.backup(copy)
    louder(other, line_id)
    return other


@pytest.fixture(scope="module")
def watch(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Watch]:
    """A watch of a job that was empty at first, and has a few lines whose first run is done."""
    folder = tmp_path_factory.mktemp("watch")
    job = folder / "job.gpkg"
    assert leakgeo_command("template", job, "--crs", "EPSG:32633").returncode == 0
    watch = Watch(job, folder / "out")
    try:
        (problem,) = watch.until("problem")
        assert "no routes" in problem["message"]
        write_few(folder / "few.gpkg").replace(job)
        assert watch.answer() == []  # the first run tells of no line
        yield watch
    finally:
        watch.close()


@pytest.fixture(autouse=True)
def quiet(watch: Watch) -> None:
    """Hold that a test left no event behind but for saves that changed no row."""
    while not watch.lines.empty():
        assert json.loads(watch.lines.get())["event"] == "unchanged"


def test_a_level_is_answered_with_its_line_alone(watch: Watch) -> None:
    louder(watch.job, ROLLBACK)
    (told,) = watch.answer()
    assert told["line_id"] == ROLLBACK
    assert told["text"]
    assert told["seconds"] < LONG_S


def test_a_save_that_changes_no_row_writes_nothing(watch: Watch) -> None:
    before = (watch.out / "run.json").read_bytes()
    with written(watch.job) as base:
        base.execute("CREATE INDEX beside ON readings (walk_id)")
    event = json.loads(watch.lines.get(timeout=LONG_S))
    assert event["event"] == "unchanged"
    assert json.loads(before)["run_id"] == event["run_id"]
    assert (watch.out / "run.json").read_bytes() == before


def test_a_stop_of_add_is_answered_with_where_to_listen_next(watch: Watch) -> None:
    added = leakgeo_command("add", watch.job, BY_TAPE, "38", "--at", "7.6 m")
    assert added.returncode == 0, added.stderr
    (told,) = watch.answer()
    assert told["line_id"] == BY_TAPE
    assert told["advice"]
    assert told["card"]["where"]


def test_a_file_written_in_two_halves_is_answered_once(watch: Watch) -> None:
    new = changed_copy(watch.job, HALVES).read_bytes()
    with watch.job.open("wb") as file:
        file.write(new[: len(new) // 2])
        file.flush()
        time.sleep(0.3)
        file.write(new[len(new) // 2 :])
    assert [event["line_id"] for event in watch.answer()] == [HALVES]


def test_a_save_during_another_run_is_answered_after_it(watch: Watch) -> None:
    run = threading.Thread(target=leakgeo.run, args=(watch.job, watch.out), kwargs={
        "lines": ROLLBACK, "overwrite": True, "density": False})  # fmt: skip
    run.start()
    while not list(watch.out.glob(f"{PREFIX}*")):
        assert run.is_alive()
        time.sleep(0.01)
    louder(watch.job, ROLLBACK)
    run.join(LONG_S)
    *before, written = watch.until("written")
    assert all(e["event"] == "line" or e["waits"] for e in before)
    assert ROLLBACK in [event.get("line_id") for event in before]
    assert written["lines"] == 6  # the other run had one


def test_a_save_while_files_are_written_is_answered_before_them(watch: Watch) -> None:
    before, kept = run_ids(watch.out), watch.job.read_bytes()
    louder(watch.job, WAL, mode="WAL")
    watch.until("line", WAL)
    louder(watch.job, MOVED, mode="WAL")
    (told,) = watch.until("line")
    assert (told["line_id"], run_ids(watch.out)) == (MOVED, before)
    watch.job.write_bytes(kept)  # the files of neither save were written
    back, again, written = watch.until("written")
    assert {back["line_id"], again["line_id"]} == {WAL, MOVED}
    assert {*written["worked_out"]} >= {WAL, MOVED}  # for the saves before it
    assert {written["run_id"]} == run_ids(watch.out)
    assert not is_littered(watch.out)


def test_a_job_that_cannot_be_run_leaves_the_results_before(watch: Watch) -> None:
    before, kept = run_ids(watch.out), changed_copy(watch.job, WAL)
    with written(watch.job) as base:
        base.execute("DELETE FROM routes")
    (problem,) = watch.until("problem")
    assert "no routes" in problem["message"]
    assert [fault["layer"] for fault in problem["faults"] if fault["effect"] == "stops"]
    assert run_ids(watch.out) == before
    kept.replace(watch.job)
    assert [event["line_id"] for event in watch.answer()] == [WAL]


def test_a_line_that_goes_and_one_that_comes_are_told(watch: Watch) -> None:
    with written(watch.job) as base:
        base.execute("UPDATE routes SET line_id = 'NEW' WHERE line_id = ?", (GOES,))
    gone, come = watch.answer()
    assert (gone["line_id"], gone["status"], gone["card"]) == (GOES, "", None)
    assert (come["line_id"], come["before"]) == ("NEW", "")


def test_an_interrupt_ends_it_with_the_result_before(watch: Watch) -> None:
    before = run_ids(watch.out)
    louder(watch.job, HALVES)
    watch.until("line", HALVES)  # its files are not yet in place
    last = watch.end(signal.SIGINT)
    assert (last["exit_code"], last["out"]) == (0, str(watch.out))
    assert {last["run_id"]} == before == run_ids(watch.out)
    assert not is_littered(watch.out)


@pytest.fixture(scope="module")
def again(watch: Watch) -> Iterator[Watch]:
    """A watch of the same job after the first has ended, which waits for less long."""
    assert watch.process.poll() is not None
    again = Watch(watch.job, watch.out, given_up_s=0.5)
    try:
        assert again.answer() == []
        yield again
    finally:
        again.close()


def test_a_job_saved_without_end_is_written_as_well(again: Watch) -> None:
    with saved_without_end(again.job, ROLLBACK):
        *told, written = again.until("written")
    assert {event["line_id"] for event in told} == {ROLLBACK}
    assert written["worked_out"] == [ROLLBACK]


def test_a_request_to_end_leaves_the_result_of_a_run(again: Watch, tmp_path: Path) -> None:
    louder(again.job, HALVES)  # after the last of the saves without end
    again.until("line", HALVES)
    again.until("written")
    last = again.end(signal.SIGTERM)
    assert (last["exit_code"], {last["run_id"]}) == (0, run_ids(again.out))
    law, out = again.out / "ground.toml", tmp_path / "out"
    leakgeo.run(again.job, out, ground=law, density=False, report_lines=1)
    assert_alike(again.out, out)


def assert_alike(one: Path, other: Path) -> None:
    """Hold the layers and the summary of two results to be the same, but for their run ids."""
    first, second = layers(one / "result.gpkg"), layers(other / "result.gpkg")
    assert list(first) == list(second)
    for name, frame in first.items():
        pd.testing.assert_frame_equal(
            frame.drop(columns="run_id", errors="ignore"),
            second[name].drop(columns="run_id", errors="ignore"), check_exact=True, obj=name,
        )  # fmt: skip
