"""The law of noise that an update holds, and why it learns another."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from leakgeo.cli.summary import all_faults
from leakgeo.find.ground.file import ground_toml
from leakgeo.job.read import read_job
from leakgeo.kept_pieces import Kept
from leakgeo.runner.chain import planned_steps
from leakgeo.runner.held_law import FILE, HeldLaw, note, with_held_law
from leakgeo.runner.kept_lines import KeptLines
from leakgeo.sound.constants import load_constants
from tests.test_update import changed, few_lines, without

SETTINGS = {"ground": None, "reading_sd_m": 0.5, "constants": None, "workers": None}


@pytest.fixture(scope="module")
def layers():
    return few_lines()


@pytest.fixture
def noted(layers, tmp_path):
    (tmp_path / FILE).write_text("law = 1\n")
    return note(read_job(layers), tmp_path, SETTINGS)


def held(layers, out, noted, *, relearn=False, lines=None):
    found = HeldLaw.of(read_job(layers, lines=lines), out, noted, SETTINGS, relearn=relearn)
    (fault,) = found.faults
    assert found.path == (out / FILE if fault.code == "law_held" else None)
    return fault.code, dict(fault.reason.values).get("why")


def test_it_is_held_while_nothing_asks_for_another(layers, noted, tmp_path):
    held_ = ("law_held", None)
    assert held(layers, tmp_path, noted) == held_
    assert held(layers, tmp_path, noted, lines=["H-133"]) == held_
    assert held(without(layers, "H-133"), tmp_path, noted) == held_
    louder = changed(layers, "readings", 0, sound_level=70.0)
    assert held(louder, tmp_path, noted) == held_
    # What was learned while some lines were selected was learned from all of them.
    assert note(read_job(layers, lines=["H-133"]), tmp_path, SETTINGS) == noted


def test_it_is_learned_again_for_a_reason(layers, noted, tmp_path):
    def why(*args, **how):
        code, found = held(*args, **how)
        assert code == "law_learned_again"
        return found

    assert why(layers, tmp_path, noted, relearn=True) == "asked"
    dug = changed(layers, "dig_outcomes", 0, found="leak")
    assert why(dug, tmp_path, noted) == "digs"
    first = note(read_job(without(layers, "H-133")), tmp_path, SETTINGS)
    # One of four is more than a fifth, one of five is not.
    assert why(layers, tmp_path, first) == "lines"
    assert held(few_lines((*layers["routes"]["line_id"], "H-125")), tmp_path, noted)[1] is None
    (tmp_path / FILE).write_text("law = 2\n")
    assert why(layers, tmp_path, noted) == "file"
    assert why(layers, tmp_path, {**noted, "lines": None}) == "file"


def test_its_note_says_which_parameters_it_was_not_learned_with(layers, noted, tmp_path):
    def told(settings):
        (fault,) = HeldLaw.of(read_job(layers), tmp_path, noted, settings, relearn=False).faults
        return str(fault)

    assert "other values" not in told({**SETTINGS, "workers": 3, "ground": tmp_path})
    assert "learned with other values of reading_sd_m." in told({**SETTINGS, "reading_sd_m": 2.0})


def test_a_law_of_the_user_is_not_held(layers, noted, tmp_path):
    kept, job = KeptLines(tmp_path), read_job(layers)
    kept.law = noted
    assumed = load_constants(None)
    (tmp_path / FILE).write_text(ground_toml(assumed.noise_law, assumed.walk_law))
    steps = planned_steps({"ground": tmp_path / FILE})
    assert with_held_law(steps, job, kept, relearn=False) == steps
    assert held(layers, tmp_path, kept.law) == ("law_learned_again", "given")


def test_what_an_update_notes_is_told_with_the_faults(layers, noted, tmp_path):
    (told,) = HeldLaw.of(read_job(layers), tmp_path, noted, SETTINGS, relearn=True).faults
    job = SimpleNamespace(faults=())
    result = SimpleNamespace(job=job, faults=(), kept=Kept({}, notes=(told,)))
    assert all_faults(result) == (told,)
    assert all_faults(SimpleNamespace(job=job, faults=(), kept=None)) == ()
    assert "as asked for" in str(told)
