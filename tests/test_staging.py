"""The switch from an old result to a new one: cut short anywhere, refused, and under open files."""

from __future__ import annotations

import errno
import json
import os
import signal
import sqlite3
import zipfile
from pathlib import Path
from types import SimpleNamespace

import click
import pytest
from pypdf import PdfReader

import leakgeo
from leakgeo.errors import OutputError
from leakgeo.provenance import utc_text
from leakgeo.staging import (
    PREFIX,
    InterruptedAfterCommit,
    Staging,
    exclusive,
    finish_commit,
    staged,
)
from tests import stops

# Put in place one after the other, the record last.
FILES = ("a.txt", "in/b.txt", "map.html", "run.json")
STALE = "stale/old.txt"


def folder_of(path: Path, word: str) -> Path:
    for name in FILES if word == "new" else (*FILES[:-2], STALE, "run.json"):
        (path / name).parent.mkdir(parents=True, exist_ok=True)
        (path / name).write_text(word)
    return path


NOTICE = "superseded.json"


def state(out: Path) -> dict[str, str]:
    return {
        p.relative_to(out).as_posix(): p.read_text()
        for p in out.rglob("*")
        if p.is_file() and not p.relative_to(out).parts[0].startswith(".")
    }


def killed_at(at: int, out: Path, *, keep: bool = False) -> int:
    """Switch to new files in a process that kills itself at a change; give how it ended."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    changes, code = [], 1

    def counted(change):
        def done(*given, **more):
            changes.append(change)
            if len(changes) == at:
                os.kill(os.getpid(), signal.SIGKILL)
            return change(*given, **more)

        return done

    try:
        Path.replace, Path.unlink = counted(Path.replace), counted(Path.unlink)
        with Staging(out) as staging:
            folder_of(staging.path, "new")
            if keep:
                kept = staging.superseding([*FILES, STALE])
                (kept / NOTICE).write_text("not to be dug by")
            staging.commit([STALE], "then" if keep else "")
        code = 0
    finally:
        os._exit(code)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="its processes are forked")
@pytest.mark.parametrize("at", range(1, 8))
def test_a_switch_that_is_killed_anywhere_is_completed_or_undone(tmp_path, at):
    out = folder_of(tmp_path / "out", "old")
    before = state(out)
    ended = killed_at(at, out)
    committed = any(out.glob(f"{PREFIX}*/commit.json")) or ended == 0
    assert ended == (0 if at == 7 else -signal.SIGKILL)
    finish_commit(out)
    whole = state(folder_of(tmp_path / "whole", "new"))
    assert state(out) == (whole if committed else before)
    with exclusive(out):
        assert not list(out.glob(f"{PREFIX}*"))
    assert state(out) == (whole if committed else before)


def without_superseded(found: dict[str, str]) -> dict[str, str]:
    return {n: text for n, text in found.items() if not n.startswith("superseded/")}


@pytest.mark.skipif(not hasattr(os, "fork"), reason="its processes are forked")
@pytest.mark.parametrize("at", range(1, 9))
def test_an_earlier_result_is_kept_once_it_is_superseded_and_not_before(tmp_path, at):
    out = folder_of(tmp_path / "out", "old")
    before = state(out)
    ended = killed_at(at, out, keep=True)
    committed = any(out.glob(f"{PREFIX}*/commit.json")) or ended == 0
    assert ended == (0 if at == 8 else -signal.SIGKILL)
    # What people see says superseded only when the new result is in place.
    if (out / "superseded").exists():
        assert without_superseded(state(out))["run.json"] == "new"
    finish_commit(out)
    found = state(out)
    if not committed:
        assert found == before
        return
    assert without_superseded(found) == state(folder_of(tmp_path / "whole", "new"))
    kept = {f"superseded/then/{name}": text for name, text in before.items()}
    kept[f"superseded/then/{NOTICE}"] = "not to be dug by"
    assert {n: t for n, t in found.items() if n.startswith("superseded/")} == kept


def test_an_earlier_result_is_kept_under_a_name_of_its_own(tmp_path, monkeypatch):
    # Without hard links, files are copied.
    monkeypatch.setattr(Path, "hardlink_to", lambda *_: (_ for _ in ()).throw(OSError("no links")))
    for word in ("first", "second", "third"):
        with Staging(tmp_path) as staging:
            (staging.path / "run.json").write_text(word)
            staging.superseding(["run.json", "../run.json"])
            staging.commit((), "" if word == "first" else "then")
    assert state(tmp_path) == {"run.json": "third", "superseded/then/run.json": "first",
                               "superseded/then-2/run.json": "second"}  # fmt: skip


def test_nothing_is_superseded_where_files_can_not_be_put_in_place(tmp_path):
    out = folder_of(tmp_path / "out", "old")
    (out / "superseded").write_text("a file of somebody")
    before = state(out)
    with Staging(out) as staging:
        folder_of(staging.path, "new")
        staging.superseding(FILES)
        with pytest.raises(OutputError, match="as they were"):
            staging.commit([STALE], "then")
    assert state(out) == before


def test_staging_of_a_dead_run_is_cleared_and_that_of_a_live_one_is_not(tmp_path):
    with exclusive(tmp_path):
        live = Staging(tmp_path)
        finish_commit(tmp_path)
        assert live.path.is_dir()
    with exclusive(tmp_path):
        assert not live.path.exists()


FULL = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize("wrapped", [True, False])
def test_that_a_disk_is_full_is_said_first(tmp_path, wrapped):
    error = OutputError("map.html: can't be written") if wrapped else FULL
    error.__cause__ = FULL if wrapped else None
    with pytest.raises(OutputError, match=r"the disk is full\. Free some space"), staged(tmp_path):
        raise error
    with pytest.raises(OutputError) as told, staged(tmp_path), staged(tmp_path):
        raise error
    assert str(told.value).count("the disk is full") == 1
    with pytest.raises(PermissionError), staged(tmp_path):
        raise PermissionError(errno.EACCES, "another trouble")
    assert list(tmp_path.iterdir()) == []


def test_a_write_that_fails_on_a_disk_without_room_is_said_to(tmp_path, monkeypatch):
    # Libraries tell no cause.
    monkeypatch.setattr("shutil.disk_usage", lambda _: SimpleNamespace(free=4096))
    with pytest.raises(OutputError, match=r"the disk is full.*Write failed"), staged(tmp_path):
        raise OSError("Write failed")


def test_a_name_that_leads_out_of_the_folder_is_not_removed(tmp_path):
    out, mine = tmp_path / "out", tmp_path / "mine.txt"
    out.mkdir()
    mine.write_text("mine")
    with Staging(out) as staging:
        (staging.path / "run.json").write_text("{}")
        staging.commit(["../mine.txt", str(mine), "..\\mine.txt", "C:mine.txt"])
    assert mine.read_text() == "mine"


def test_an_interrupt_while_files_are_put_in_place_says_that_they_are(tmp_path, monkeypatch):
    from leakgeo.cli import entry
    from leakgeo.cli.console import Console

    real = Path.replace

    def replace(self, target):
        signal.raise_signal(signal.SIGINT)
        return real(self, target)

    def main(**_):
        # As click does with an interrupt.
        try:
            with Staging(tmp_path) as staging:
                folder_of(staging.path, "new")
                staging.commit()
        except KeyboardInterrupt as stop:
            raise click.exceptions.Abort from stop

    monkeypatch.setattr(Path, "replace", replace)
    monkeypatch.setattr(entry.cli, "main", main)
    said = []
    monkeypatch.setattr(
        Console, "print_error", lambda _, kind, message, *__: said.append((kind, message))
    )
    assert entry._run(Console()) == 2
    assert said == [("Stopped", "Stopped; all new results are in place.")]
    assert set(state(tmp_path).values()) == {"new"}
    staging = Staging(tmp_path)
    folder_of(staging.path, "newer")
    with pytest.raises(InterruptedAfterCommit):
        staging.commit()


def database(path: Path, word: str) -> Path:
    base = sqlite3.connect(path)
    base.execute("PRAGMA journal_mode = WAL")
    base.execute("CREATE TABLE marks (word)")
    base.execute("INSERT INTO marks VALUES (?)", (word,))
    base.commit()
    base.close()
    return path


def words(base: sqlite3.Connection) -> list[str]:
    return [word for (word,) in base.execute("SELECT word FROM marks")]


@pytest.fixture
def held(tmp_path, monkeypatch):
    """A folder whose result.gpkg is open in a program, on a system that replaces no open file."""
    reader = sqlite3.connect(database(tmp_path / "result.gpkg", "old"))
    assert words(reader) == ["old"]
    (tmp_path / "run.json").write_text("old")
    real = Path.replace

    def replace(self, target):
        if Path(target) == tmp_path / "result.gpkg":
            raise PermissionError(errno.EACCES, "in use by another process", str(target))
        return real(self, target)

    monkeypatch.setattr(Path, "replace", replace)
    yield tmp_path, reader
    reader.close()


def test_a_database_that_is_open_is_filled_anew_where_it_can_not_be_replaced(held):
    out, reader = held
    with Staging(out) as staging:
        database(staging.path / "result.gpkg", "new")
        (staging.path / "run.json").write_text("new")
        staging.commit()
    assert words(reader) == ["new"]
    assert (out / "run.json").read_text() == "new"
    assert not list(out.glob(f"{PREFIX}*"))


def test_a_database_that_is_open_is_kept_as_it_was_when_it_is_superseded(held):
    out, reader = held
    with Staging(out) as staging:
        database(staging.path / "result.gpkg", "new")
        (staging.path / "run.json").write_text("new")
        staging.superseding(["result.gpkg", "run.json"])
        staging.commit((), "then")
    assert words(reader) == ["new"]
    kept = sqlite3.connect(out / "superseded" / "then" / "result.gpkg")
    assert words(kept) == ["old"]
    kept.close()


def test_a_database_that_is_open_is_as_it_was_where_another_file_can_not_be_replaced(held):
    out, reader = held
    (out / "summary.csv").mkdir()  # nothing can be moved over a folder
    with Staging(out) as staging:
        database(staging.path / "result.gpkg", "new")
        (staging.path / "summary.csv").write_text("new")
        (staging.path / "run.json").write_text("new")
        with pytest.raises(OutputError, match="as they were"):
            staging.commit()
    assert words(reader) == ["old"]
    assert (out / "run.json").read_text() == "old"
    assert not list(out.glob(f"{PREFIX}*"))


@pytest.fixture(scope="module")
def job_old_new(tmp_path_factory):
    return stops.prepared(tmp_path_factory.mktemp("stops"))


# A sample of `python -m tests.stops`.
@pytest.mark.skipif(not hasattr(os, "fork"), reason="runs are forked")
@pytest.mark.parametrize(
    "stop",
    [
        stops.Stop("SIGKILL", 10, fresh=False),
        stops.Stop("SIGKILL", 11, fresh=True),
        stops.Stop("SIGINT", 10, fresh=False),
        stops.Stop("full", -1, fresh=False, size=20_000),
    ],
    ids=str,
)
def test_a_run_that_is_stopped_leaves_the_old_result_whole(job_old_new, stop):
    assert stops.found(*job_old_new, stop, again=stop.how == "SIGKILL" and not stop.fresh) == "old"


def test_the_run_id_is_on_every_product(job_old_new):
    _, old, new = job_old_new
    record = json.loads((old / "run.json").read_text("utf-8"))
    assert set(record["files"]) == set(new)
    shown = ("map.html", "summary.csv", "faults.csv", "locate_request.geojson",
             "locate_request.kml", "exported/geojson/marks.geojson")  # fmt: skip
    for name in shown:
        assert record["run_id"] in (old / name).read_text("utf-8"), name
    assert set(leakgeo.read_result(old)["marks"]["run_id"]) == {record["run_id"]}
    when = utc_text(record["written"])
    for name in ("map.html", "locate_request.kml", "exported/geojson/what_is_lost.txt"):
        assert when in (old / name).read_text("utf-8"), name
    request = json.loads((old / "locate_request.geojson").read_text("utf-8"))
    assert request["written"] == leakgeo.read_result(old).written == record["written"]
    with zipfile.ZipFile(old / "result.qgz") as project:
        assert when in project.read("result.qgs").decode()
    pages = PdfReader(old / "report.pdf").pages
    assert all(f"{record['run_id']}, written {when}" in page.extract_text() for page in pages)
