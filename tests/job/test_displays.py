"""Levels of a linear display that are declared as decibels, and decibels that are not doubted."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest

import leakgeo
from leakgeo.job.checks import displays
from leakgeo.job.read import read_job
from leakgeo.simulate import Conditions
from leakgeo.simulate.job import fields_to_layers
from tests.battery.good import LINEAR, layers, rows
from tests.benchmarks.draws import draw_fields

LINES = 40


@cache
def simulated(scale_share):
    conditions = replace(Conditions(), scale_share=scale_share)
    return fields_to_layers(draw_fields(LINES, 5, conditions))


def doubted(scale_share, change=lambda level: level):
    """Share of the lines whose levels, all declared as decibels, are in doubt."""
    made = simulated(scale_share)
    level = change(made["readings"]["sound_level"].to_numpy())
    table = made["readings"].assign(sound_unit="db", sound_level=level)
    job = read_job({"routes": made["routes"], "readings": table})
    own = job.readings.groupby("line_id")["unit_in_doubt"]
    assert (own.nunique() == 1).all()  # a line as a whole
    noted = [f for f in job.faults if f.code == "decibels_like_display"]
    assert bool(noted) == bool(own.first().any())
    return own.first().mean()


def test_displays_that_are_declared_wrong_as_a_whole_are_doubted():
    # Of two sensors all lines, and of the third, which was on four lines, most.
    assert doubted(1.0) > 0.95


def test_few_wrong_lines_of_a_sensor_bring_no_others_into_doubt():
    factor = np.array([9.0] * 3 + [-2.0] * 7)
    assert displays._suspects(factor, np.zeros(10, dtype=int)).tolist() == [True] * 3 + [False] * 7
    # Four lines are too few to speak for a sensor; fractions are never those of a display.
    four = displays._suspects(np.array([9.0] * 3 + [-5.0]), np.zeros(4, dtype=int))
    assert four.tolist() == [True] * 3 + [False]
    six = displays._suspects(np.array([9.0] * 4 + [-5.0, -np.inf]), np.zeros(6, dtype=int))
    assert six.tolist() == [True] * 5 + [False]


def test_three_in_four_lines_of_a_sensor_bring_the_others_into_doubt():
    sure = [60.0, -60.0]
    for wrong, doubted_lines in ((6, 8), (5, 5)):
        factor = np.repeat(sure, [wrong, 8 - wrong])
        assert displays._suspects(factor, np.zeros(8, dtype=int)).sum() == doubted_lines
    # One that could not be judged goes with its group.
    factor = np.array([60.0] * 6 + [np.nan])
    assert displays._suspects(factor, np.zeros(7, dtype=int)).all()


def test_decibels_are_not_doubted():
    assert doubted(0.0) == 0.0


def test_noisier_decibels_are_not_doubted():
    rng = np.random.default_rng(1)
    assert doubted(0.0, lambda level: np.abs(np.rint(level + rng.normal(0, 3, len(level))))) == 0.0


def test_decibels_are_not_doubted_in_whatever_order_the_stops_were_listened_to():
    conditions = Conditions(scale_share=0.0, tape_share=1.0)
    made = fields_to_layers(draw_fields(LINES, 5, conditions))
    rng = np.random.default_rng(3)
    table = made["readings"].assign(sound_unit="db")
    table["seq"] = table.groupby("walk_id")["seq"].transform(rng.permutation)
    job = read_job({"routes": made["routes"], "readings": table})
    assert not job.readings["unit_in_doubt"].any()


def test_stops_far_apart_about_a_leak_are_no_evidence_of_a_display():
    level = np.array([20.0, 21, 22, 24, 28, 45, 70, 44, 29, 24, 21, 20])
    walk = np.zeros(12, dtype=np.int64)

    def factor(step_m):
        place = step_m * np.arange(12.0)
        return displays._log_bayes_factors((walk, np.arange(12)), level, walk, place)[0]

    assert np.isfinite(factor(1.5))
    assert np.isnan(factor(3.0))


def to_and_fro(own, rng):
    """Air off and on in turn at the loudest stop of a line and at its first, four times over."""
    loud = own.loc[[own["sound_level"].idxmax()]]
    turns = pd.concat([own.iloc[[0]], own.iloc[[0]], loud, loud] * 4, ignore_index=True)
    air = np.tile(["off", "on"], 8)
    louder = np.repeat([0.0, 8.0] * 4, 2) * (air == "on")
    level = np.rint(turns["sound_level"] + louder + rng.normal(0, 0.7, 16))
    line = turns["line_id"] + "/air"
    return turns.assign(walk_id=line, reading_id=[f"{n}{i}" for i, n in enumerate(line)],
                        seq=np.arange(16), air=air, sound_level=level)  # fmt: skip


def test_decibels_of_an_air_test_to_and_fro_between_two_places_are_not_doubted():
    made, rng = simulated(0.0), np.random.default_rng(3)
    tests = [to_and_fro(own, rng) for _, own in made["readings"].groupby("line_id")]
    table = pd.concat([made["readings"], *tests], ignore_index=True)
    job = read_job({"routes": made["routes"], "readings": table.set_crs(made["readings"].crs)})
    assert not job.readings["unit_in_doubt"].any()


def test_no_display_shows_fractions():
    assert doubted(1.0, lambda level: level + 0.5) == 0.0


def test_a_column_that_is_wrong_as_a_whole_shows_on_lines_that_alone_show_little():
    alone = displays._wrong_share_posterior(np.full(5, 3.0), np.arange(5))
    together = displays._wrong_share_posterior(np.full(5, 3.0), np.zeros(5, dtype=int))
    sure = displays._wrong_share_posterior(np.array([3.0, *[12.0] * 6]), np.zeros(7, dtype=int))
    assert alone == pytest.approx(np.full(5, 0.29), abs=0.01)
    assert alone[0] < together[0] < sure[0]
    assert sure[0] > displays.SUSPECT


def test_who_trusts_the_declaration_gets_a_verdict_and_who_does_not_a_question():
    job = layers()
    table = job["readings"]
    table.iloc[rows(table, LINEAR), table.columns.get_loc("sound_unit")] = "db"
    read = read_job(job | {"readings": table})
    asked = leakgeo.advise(read)
    lines = asked["lines"].set_index("line_id")
    assert lines.loc[LINEAR, "status"] == "rejected"
    assert lines.loc[LINEAR, "code"] == "ask_display"
    assert lines.loc[LINEAR, "advice_code"] == "answer_question"
    trusted = leakgeo.profile(read, trust_declarations=True)
    assert trusted["readings_on_route"]["used"].all()
    assert not [f for f in trusted.faults if f.code == "ask_display"]
