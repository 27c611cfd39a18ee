"""The folder: whole or as it was, never a mixture, never a layer of an older run."""

from __future__ import annotations

import errno
import shutil
from dataclasses import replace
from pathlib import Path

import pyogrio
import pytest

from leakgeo import staging
from leakgeo.deliver.folder import write
from leakgeo.deliver.folder.write import FILES, check_folder, write_result
from leakgeo.errors import OutputError, ParameterError
from leakgeo.job.schema import load_schemas
from tests.deliver.small import layers, small


def contents(folder):
    return {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()}


@pytest.fixture(scope="module")
def once(tmp_path_factory):
    """Give a folder with a result, written once."""
    folder = tmp_path_factory.mktemp("once")
    write_result(small(), folder)
    return folder


@pytest.fixture
def old(once, tmp_path):
    """Give a folder with an older result."""
    return shutil.copytree(once, tmp_path, dirs_exist_ok=True)


def test_writes_the_four_files_and_nothing_else(tmp_path):
    out = tmp_path / "deep" / "out"
    written = write_result(small(), out)
    assert sorted(written) == sorted(out / name for name in FILES)
    assert written[-1].name == "run.json"
    assert sorted(p.name for p in out.iterdir()) == sorted(FILES)


def test_refuses_a_folder_that_holds_a_result(tmp_path):
    (tmp_path / "summary.csv").write_text("mine")
    with pytest.raises(OutputError, match=r"already holds a result \(summary.csv\)"):
        write_result(small(), tmp_path)
    assert contents(tmp_path) == {"summary.csv": b"mine"}


def test_overwriting_leaves_no_layer_of_the_older_run(old):
    (old / "result.gpkg-wal").write_bytes(b"of the old file")
    (old / "notes.txt").write_text("the user's own")
    fewer = replace(small(), layers={"lines": layers()["lines"]})
    write_result(fewer, old, overwrite=True)
    there = {n for n, _ in pyogrio.list_layers(old / "result.gpkg")}
    assert there & set(load_schemas("output")) == {"lines"}
    assert sorted(p.name for p in old.iterdir()) == sorted([*FILES, "notes.txt"])


@pytest.mark.parametrize("step", ["write_geopackage", "summary_table", "write_csv", "write_record"])
@pytest.mark.parametrize("error", [OSError(errno.ENOSPC, "No space left"), ValueError("odd")])
def test_a_failure_while_writing_leaves_the_old_result_as_it_was(old, monkeypatch, step, error):
    before = contents(old)

    def fails(*_, **__):
        raise error

    monkeypatch.setattr(write, step, fails)
    with pytest.raises((OutputError, ValueError)):
        write_result(small(), old, overwrite=True, units="us")
    assert contents(old) == before
    assert not [p for p in old.iterdir() if p.is_dir()]


@pytest.mark.parametrize("links", [True, False])
@pytest.mark.parametrize("at", range(1, 5))
def test_a_failure_between_the_moves_puts_the_old_result_back(old, monkeypatch, at, links):
    (old / "result.gpkg-wal").write_bytes(b"of the old file")
    (old / "faults.csv").unlink()
    before = contents(old)
    moves = []
    real = Path.replace

    def fails_once(self, target):
        if Path(target).parent == old:
            moves.append(target)
            if len(moves) == at:
                raise OSError(errno.EBUSY, "open in another program")
        return real(self, target)

    def no_links(*_):
        raise OSError(errno.EPERM, "no hard links here")

    if not links:
        monkeypatch.setattr(Path, "hardlink_to", no_links)
    monkeypatch.setattr(Path, "replace", fails_once)
    with pytest.raises(OutputError, match="open in another program"):
        write_result(small(), old, overwrite=True, units="us")
    assert contents(old) == before
    assert not [p for p in old.iterdir() if p.is_dir()]


def test_a_map_and_report_of_an_older_run_go_and_those_of_this_run_stay(old):
    for name in ("map.html", "report.pdf"):
        (old / name).write_text("which run is this of?")
    with_map = replace(small(), parameters={"map": {}})
    write_result(with_map, old, overwrite=True)
    assert sorted(p.name for p in old.iterdir()) == sorted([*FILES, "map.html"])


def test_a_first_result_takes_nothing_away(tmp_path):
    (tmp_path / "report.pdf").write_text("the user's own")
    write_result(small(), tmp_path)
    assert (tmp_path / "report.pdf").exists()


@pytest.mark.parametrize("name", [*FILES, "map.html", "report.pdf"])
def test_a_folder_is_checked_before_a_long_run(tmp_path, name):
    assert check_folder(tmp_path / "new") == tmp_path / "new"
    assert list((tmp_path / "new").iterdir()) == []
    (tmp_path / name).write_text("")
    with pytest.raises(OutputError, match="already holds a result"):
        check_folder(tmp_path)
    assert check_folder(tmp_path, overwrite=True) == tmp_path


def test_a_file_in_place_of_the_folder_is_told(tmp_path):
    (tmp_path / "out").write_text("")
    with pytest.raises(OutputError, match="is a file, not a folder"):
        write_result(small(), tmp_path / "out")
    with pytest.raises(OutputError):
        write_result(small(), tmp_path / "out" / "in")


def test_a_read_only_folder_is_told(tmp_path, monkeypatch):
    def refused(**_):
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(staging.tempfile, "mkdtemp", refused)
    with pytest.raises(OutputError, match=r"nothing can be written there \(Permission denied\)"):
        write_result(small(), tmp_path)


def test_units_are_checked_before_anything_is_written(tmp_path):
    with pytest.raises(ParameterError, match="one of si, us"):
        write_result(small(), tmp_path / "out", units="cubits")
    assert not (tmp_path / "out").exists()
