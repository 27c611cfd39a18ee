"""Sources that only a part of the survey heard."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from leakgeo.find.levels.readings import _visits_in_time
from leakgeo.find.locate.zones import best_mark
from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.grid import fit
from leakgeo.find.posterior.passing import prior_of_each, sets_of_walks
from leakgeo.find.posterior.posterior import posterior
from leakgeo.find.posterior.problem import build_problem, with_other_source
from leakgeo.sound.constants import load_constants
from tests.benchmarks.efficiency import one_walk
from tests.find.shapes import LEAK_M, LENGTH_M, PRIOR, hump

CONSTANTS = load_constants()
# Two walks over the same stops, the second a few centimetres beside the first.
FIRST_M, SECOND_M = np.arange(0.5, 30.0, 1.0), np.arange(0.6, 30.0, 1.0)
ENGINE_M = 24.0


def problem_of(first_db, second_db, *, ordered=True):
    x = np.concatenate([FIRST_M, SECOND_M])
    order = np.argsort(x, kind="stable")
    level = np.round(np.concatenate([first_db, second_db]))[order]
    visit = np.repeat([0, 1], [FIRST_M.size, SECOND_M.size])[order]
    readings = replace(
        one_walk(x[order], level),
        rounding_sd_db=np.full(x.size, 0.29),
        visit=visit if ordered else np.full(x.size, -1),
    )
    return build_problem(readings, CONSTANTS.materials["copper"], 0.9, CONSTANTS)


def heard(x, seed, *sources):
    """Level over sources (height, place), above a floor of 40 dB, with noise of a decibel."""
    power = sum((10 ** (hump(h, 1.5, x - at + LEAK_M) / 10) - 1 for h, at in sources), 0.0 * x)
    noise = np.random.default_rng(seed).normal(0.0, 1.0, x.size)
    return 40.0 + 10 * np.log10(1.0 + power) + noise


def found(problem):
    return posterior(problem, LENGTH_M, CONSTANTS, PRIOR)


@pytest.mark.parametrize("in_first", [True, False])
def test_an_engine_that_one_walk_hears_leaves_the_leak_that_both_hear(in_first):
    for seed in range(3):
        engine = ((22.0, ENGINE_M), (12.0, LEAK_M)), ((12.0, LEAK_M),)
        one, other = engine if in_first else engine[::-1]
        result = found(problem_of(heard(FIRST_M, seed, *one), heard(SECOND_M, 9 + seed, *other)))
        mark = best_mark(result.chainage_m, result.probability)
        assert abs(mark.chainage_m - LEAK_M) < 0.61
        assert result.leak_probability > 0.8
        assert result.other_source_probability > 0.9


def test_an_engine_that_one_walk_hears_is_no_leak():
    problem = problem_of(heard(FIRST_M, 1, (22.0, ENGINE_M)), heard(SECOND_M, 2))
    result = found(problem)
    other = {rival.kind: rival.probability for rival in result.rivals}
    assert other["unknown"] > result.leak_probability
    near = np.abs(result.chainage_m - ENGINE_M) < 1.0
    assert result.probability[near].sum() * result.leak_probability < 0.05
    # Without the order of the walks nothing of this is known.
    blind = found(replace(problem, visit=np.full(len(problem.visit), -1)))
    assert blind.leak_probability > result.leak_probability


def test_only_walks_that_disagree_on_a_stretch_are_tried():
    loud, quiet = heard(FIRST_M, 1, (20.0, LEAK_M)), heard(SECOND_M, 2, (20.0, LEAK_M))
    assert sets_of_walks(problem_of(loud, quiet)) == []
    # A louder walk, as with another gain, is no disagreement.
    assert sets_of_walks(problem_of(loud + 12.0, quiet)) == []
    engine = heard(FIRST_M, 1, (20.0, LEAK_M), (20.0, ENGINE_M))
    masks = sets_of_walks(problem_of(engine, quiet))
    assert any((mask == (problem_of(engine, quiet).visit == 0)).all() for mask in masks)
    assert sets_of_walks(problem_of(engine, quiet, ordered=False)) == []
    # Nor is a single reading with a burst.
    burst = loud + 40.0 * (FIRST_M == 24.5)
    assert sets_of_walks(problem_of(burst, quiet)) == []


def test_walks_in_several_bands_are_not_taken_apart():
    engine = heard(FIRST_M, 1, (20.0, LEAK_M), (20.0, ENGINE_M))
    problem = problem_of(engine, heard(SECOND_M, 2, (20.0, LEAK_M)))
    assert sets_of_walks(problem)
    codes = problem.codes.copy()
    codes[:, kernel.BAND] = problem.visit
    assert sets_of_walks(replace(problem, codes=codes)) == []
    codes = problem.codes.copy()
    codes[:2, kernel.STOP] = 2, -1
    assert sets_of_walks(replace(problem, codes=codes)) == []
    assert sets_of_walks(replace(problem, reference=5)) == []


def test_a_reading_while_the_source_is_silent_is_as_without_it():
    problem = problem_of(heard(FIRST_M, 1, (20.0, LEAK_M)), heard(SECOND_M, 2, (20.0, LEAK_M)))
    both = with_other_source(problem, ENGINE_M, LENGTH_M, CONSTANTS)
    silent = both.readings.copy()
    silent[:, kernel.OTHER_SILENT] = 1.0
    alone, theta, _ = fit(kernel.ONE, LEAK_M, problem, problem.mean)
    never, fitted, _ = fit(kernel.TWO, LEAK_M, replace(both, readings=silent), both.mean)
    # The constants of a source that is never heard keep their prior, and add no evidence.
    assert never == pytest.approx(alone, abs=1e-6)
    assert fitted[: theta.size] == pytest.approx(theta, abs=1e-6)
    assert fitted[theta.size :] == pytest.approx(both.mean[theta.size :])


def test_the_prior_is_shared_between_the_sets():
    assert prior_of_each(2) == pytest.approx(prior_of_each(1) / 2)


def test_walks_are_in_order_of_their_first_times_or_have_none():
    line, walk = np.array([0, 0, 0, 1, 1, 2, 2]), np.array([5, 6, 5, 7, 8, 9, 9])
    time = ["2031-06-03 09:00", "2031-06-03 08:00", "2031-06-03 08:30", "2031-06-03 08:00", None,
            "2031-06-03 08:00", "2031-06-03 08:01"]  # fmt: skip
    own = pd.DataFrame({"time": pd.to_datetime(time, utc=True)})
    assert _visits_in_time(own, line, walk).tolist() == [1, 0, 1, -1, -1, 0, 0]
    # Two walks that begin at the same time have no order.
    same = pd.DataFrame({"time": pd.to_datetime(["2031-06-03 08:00"] * 2, utc=True)})
    assert _visits_in_time(same, np.zeros(2), np.array([1, 2])).tolist() == [-1, -1]
    assert _visits_in_time(pd.DataFrame(index=range(2)), np.zeros(2), np.zeros(2)).tolist() == [
        -1,
        -1,
    ]
