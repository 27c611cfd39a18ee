"""A result that is replaced can be kept: marked, readable, and never taken for the current one."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace

import pytest
from pypdf import PdfReader

import leakgeo
from leakgeo.deliver.folder.write import earlier_files
from leakgeo.deliver.round.plan import plan_round
from leakgeo.errors import ParameterError
from leakgeo.job.results.which_run import NOTICE, superseded_faults
from leakgeo.runner.write_run import Writing, put_in_place
from leakgeo.staging import staged
from tests.prepared import given
from tests.test_cli import leakgeo_command

OLD, NEW = "2026-03-01T08:00:00+00:00", "2026-03-02T09:30:00+00:00"


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """A folder with a result that replaced another, and the folder of that."""
    result, out = given("few", tmp_path_factory.mktemp("few"))
    record = json.loads((out / "run.json").read_text("utf-8"))
    (out / "run.json").write_text(json.dumps({**record, "written": OLD}))
    before = {name: hashlib.sha256((out / name).read_bytes()).hexdigest()
              for name in earlier_files(out) if (out / name).is_file()}  # fmt: skip
    leakgeo.write_result(replace(result, written=NEW), out, overwrite=True, keep_earlier=True,
                         language="es")  # fmt: skip
    (folder,) = (out / "superseded").iterdir()
    return result, out, folder, before


def test_a_replaced_result_is_kept_whole_and_says_by_which_run_and_when(kept):
    result, out, folder, before = kept
    assert folder.name == f"20260301T080000Z-{result.run_id}"
    notice = json.loads((folder / NOTICE).read_text("utf-8"))
    files = notice.pop("files")
    assert notice == {"run_id": result.run_id, "written": OLD, "superseded_by": result.run_id,
                      "superseded_at": NEW}  # fmt: skip
    # The map and the report are of the steps of this result, and stay where they are.
    stay = {n for n in before if n in ("map.html", "report.pdf") or n.startswith("styles/")}
    stay |= {n for n in before if n.endswith(".tif")}
    assert files == {n: digest for n, digest in before.items() if n not in stay}
    assert "result.gpkg" in files
    for name, digest in files.items():
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest
    text = (folder / "superseded.txt").read_text("utf-8")
    assert "no se puede excavar" in text
    assert "nothing may be dug by it" in text
    assert text.count("2026-03-02 09:30:00 UTC") == 2
    assert json.loads((out / "run.json").read_text("utf-8"))["written"] == NEW


def test_products_of_a_superseded_result_say_so(kept, tmp_path):
    _, out, folder, _ = kept
    assert "result_superseded" not in {f.code for f in leakgeo.read_result(out).faults}
    read = leakgeo.read_result(folder)
    assert [f.code for f in read.faults] == ["result_superseded"]
    line = str(read["lines"]["line_id"].iloc[0])
    leakgeo.map(read, out=tmp_path, lines=[line])
    leakgeo.report(read, out=tmp_path, lines=[line])
    said = "nothing may be dug by it"
    assert said in (tmp_path / "map.html").read_text("utf-8")
    pages = [" ".join(p.extract_text().split()) for p in PdfReader(tmp_path / "report.pdf").pages]
    assert all(said in page for page in pages)
    (tmp_path / NOTICE).write_text("no JSON")
    assert superseded_faults(tmp_path)[0].code == "result_superseded"


def test_lists_and_rounds_know_a_superseded_result(kept):
    result, out, folder, _ = kept
    listed = leakgeo_command("list", folder).stdout
    assert "nothing may be dug by it" in " ".join(listed.split())
    current = leakgeo_command("list", out, "--json").stdout
    told = json.loads(current)
    assert (told["run_id"], told["written"], told["superseded"]) == (result.run_id, NEW, False)
    with pytest.raises(ParameterError, match="nothing may be dug by it"):
        plan_round(folder)


def test_a_result_is_replaced_without_a_copy_by_default(tmp_path):
    for word in ("old", "new"):
        with staged(tmp_path) as staging:
            (staging.path / "run.json").write_text(json.dumps({"files": ["superseded/x.txt"]}))
            (staging.path / "map.html").write_text(word)
            put_in_place(None, staging, Writing(tmp_path, "si", "en", overwrite=True))
        (tmp_path / "superseded").mkdir(exist_ok=True)
        (tmp_path / "superseded" / "x.txt").write_text("kept by an earlier run")
    names = {p.relative_to(tmp_path).as_posix() for p in tmp_path.rglob("*") if p.is_file()}
    assert names == {"run.json", "map.html", "superseded/x.txt"}
