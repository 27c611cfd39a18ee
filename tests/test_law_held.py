"""The law of noise that updates hold: when it is learned again, and when that is proposed."""

from __future__ import annotations

import hashlib
import json
import re

import pyogrio

from leakgeo import run
from leakgeo.runner.kept_lines import FOLDER
from tests.town import write_few

QUICK = {"density": False, "map_lines": 1, "report_lines": 1}


def codes(result):
    return [fault.code for fault in result.kept.notes]


def test_a_law_that_no_longer_fits_is_reported_and_learned_on_request(tmp_path):
    job, out = write_few(tmp_path / "job.gpkg"), tmp_path / "out"
    first = run(job, out, update=True, **QUICK)
    assert codes(first) == []
    # A law of a much noisier ground, as if it had been learned from other readings.
    file, note = out / "ground.toml", out / FOLDER / "law.json"
    node = re.compile(r"^  \[([\d.e+-]+), ([\d.e+-]+), ([\d.e+-]+), ", re.MULTILINE)
    noise, walks = file.read_text("utf-8").split("\n[walk_law]")
    noise = node.sub(r"  [12.0, \2, 9.0, ", noise)
    file.write_text(f"{noise}\n[walk_law]{walks}", encoding="utf-8")
    held = json.loads(note.read_text("utf-8"))
    held["file"] = hashlib.sha256(file.read_bytes()).hexdigest()
    note.write_text(json.dumps(held), encoding="utf-8")
    readings = pyogrio.read_dataframe(job, layer="readings")
    readings.loc[readings.groupby("line_id").head(1).index, "sound_level"] += 0.5
    pyogrio.write_dataframe(readings, job, layer="readings")

    noisy = run(job, out, update=True, **QUICK)
    assert codes(noisy) == ["law_held", "law_would_move"]
    moved = dict(noisy.kept.notes[1].reason.values)
    assert 1 <= moved["moved"] <= moved["looked_at"]

    # Nothing changed since, so there is nothing new to look at.
    again = run(job, out, update=True, **QUICK)
    assert (codes(again), again.kept.worked_out) == (["law_held"], ())
    fresh = run(job, out, update=True, relearn=True, **QUICK)
    assert codes(fresh) == ["law_learned_again"]
    status = {r.layers["lines"].set_index("line_id")["status"].to_json() for r in (noisy, fresh)}
    assert len(status) == 2
