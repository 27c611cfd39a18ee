"""Walks whose levels the instrument made: clipped, stuck, changed in gain, beyond comparison."""

from collections import Counter

import numpy as np
import pytest

import leakgeo
from leakgeo.simulate import Conditions
from leakgeo.simulate.job import fields_to_layers
from leakgeo.sound.suspect import suspect_walks
from tests.battery.check import Case, assert_case, write
from tests.battery.good import FIXED, LAST, LINEAR, TAPED
from tests.benchmarks.draws import draw_fields

NOT_FIXED, NOT_LINEAR = (TAPED, LINEAR, LAST), (TAPED, FIXED, LAST)


def walk(change, line, name="coarse"):
    """Change what one walk shows."""

    def spoil(job):
        table = job["readings"].copy()
        at = np.flatnonzero(table["walk_id"] == f"{line}/{name}")
        column = table.columns.get_loc("sound_level")
        table.iloc[at, column] = change(table.iloc[at, column].to_numpy(dtype=float))
        return job | {"readings": table}

    return spoil


def full(level):
    """Twelve times the gain on a display of 0 to 100."""
    return np.minimum(np.rint(100 * level / np.quantile(level, 0.6)), 100.0)


def stuck(level):
    return np.concatenate([level[:6], np.full(len(level) - 6, level[6])])


def louder(level):
    flat = 30.0 + np.arange(len(level)) % 2
    flat[len(level) // 2 :] += 12
    return flat


def in_two(job):
    """Two walks end to end, each with a gain that nobody wrote down."""
    table = job["readings"].copy()
    coarse = np.flatnonzero(table["walk_id"] == f"{FIXED}/coarse")
    table["walk_id"] = table["walk_id"].astype(object)
    table.loc[table.index[coarse[len(coarse) // 2 :]], "walk_id"] = "second"
    fine = (table["walk_id"] == f"{FIXED}/fine").to_numpy()
    table.loc[table["line_id"] == FIXED, "gain_db"] = np.nan
    return job | {"readings": table[~fine].reset_index(drop=True)}


CASES = {
    "all levels equal": Case(walk(lambda v: 0 * v + 42, FIXED), "level_all_alike",
                             ("42", "20 stops"), untouched=NOT_FIXED),
    "a linear walk that is said to be decibels": Case(
        walk(lambda v: 10 ** (v / 20), FIXED), "walk_not_decibels", (),
        "rejected", rejected=35, untouched=NOT_FIXED, rejected_lines=1),
    "levels sorted by themselves": Case(
        walk(np.sort, FIXED), "levels_in_order", ("only rise, over 20 stops",),
        untouched=NOT_FIXED),
    "a stuck sensor": Case(walk(stuck, FIXED), "level_stuck", ("14 times",),
                           untouched=NOT_FIXED),
    "a full display": Case(walk(full, LINEAR), "display_full", ("100",),
                           untouched=NOT_LINEAR),
    "decibels cut at the top": Case(
        walk(lambda v: np.minimum(v, np.quantile(v, 0.3)), FIXED, "fine"),
        "display_full", untouched=NOT_FIXED),
    "a display at zero": Case(
        walk(lambda v: np.where(v < np.median(v), 0, v), LINEAR), "display_at_zero",
        untouched=NOT_LINEAR),
    "gain changed within a walk": Case(
        walk(louder, FIXED), "level_jumps", ("12 dB louder",),
        untouched=NOT_FIXED),
    "two walks with no overlap": Case(in_two, "walk_apart",
                                      untouched=NOT_FIXED),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_walks(case):
    assert_case(case)


@pytest.fixture(scope="module")
def good_lines(tmp_path_factory):
    """Three hundred simulated lines with nothing wrong, and what is told of them."""
    tables = fields_to_layers(draw_fields(300, 1, Conditions()))
    tables.pop("truth")
    path = write(tables, tmp_path_factory.mktemp("good") / "job.gpkg")
    return leakgeo.profile(path)


def test_hardly_a_good_line_is_suspect(good_lines):
    """A display of the simulation does fill at times: what is so is no false alarm."""
    shown = good_lines.job.readings["sound_level"].to_numpy()
    told = suspect_walks(good_lines.layers["readings_on_route"], shown)
    false = {f.feature for f in told if f.value not in ("99", "100", "0")}
    assert len(false) <= 3, Counter(f.code for f in told)


def test_nor_is_anything_else_told_of_good_lines(good_lines):
    """What is absent is told of the job as a whole, and nothing of a line."""
    told = [f for f in (*good_lines.job.faults, *good_lines.faults) if f.column != "sound_level"]
    assert not [str(f) for f in told if f.feature or f.effect != "noted" or f.layer == "readings"]
