"""Holes as evidence: figures by hand, order, and stretches that are not on the line."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from leakgeo.find.evidence.digs import Exposed, dig_likelihoods, load_dig_weights
from leakgeo.find.evidence.likelihood import updated
from leakgeo.find.posterior.posterior import Posterior
from leakgeo.find.posterior.rivals import Rival
from leakgeo.job.read import read_job
from leakgeo.route.lines import lines_of
from leakgeo.wording import wording
from tests.job import jobs

CELLS = np.arange(0.05, 50.0, 0.1)
DAY = pd.Timestamp("2026-05-03T10:00Z")
MISSED = load_dig_weights()["missed"]


def hole(at_m, found="dry", begin=np.nan, end=np.nan, **columns):
    data = {"line_id": ["L1"], "found": [found], "exposed_from_m": [begin], "exposed_to_m": [end],
            "repaired": [None], "time": [DAY]}  # fmt: skip
    spot = shapely.Point(jobs.EAST + at_m, jobs.NORTH)
    return jobs.layer([spot], **{**data, **columns})


@cache
def without_holes():
    return read_job({"routes": jobs.routes(), "readings": jobs.heard()})


def evidence(*holes):
    job = without_holes()
    digs = pd.concat(holes, ignore_index=True).to_crs(job.crs)
    job = replace(job, dig_outcomes=digs.assign(reason=None))
    return dig_likelihoods(job, lines_of(job, 0.3)).get(0)


def test_a_measured_dry_stretch_leaves_the_leaks_that_are_missed_inside_it():
    found = evidence(hole(12.0, begin=11.0, end=13.0)).likelihood(CELLS)
    assert np.exp(found.leak[np.abs(CELLS - 12) < 0.4]) == pytest.approx(MISSED, abs=1e-3)
    assert found.leak[np.abs(CELLS - 12) > 2] == pytest.approx(0.0, abs=1e-6)
    # At an edge a leak is as likely inside as outside.
    edge = np.exp(np.interp(11.0, CELLS, found.leak))
    assert edge == pytest.approx(0.5 * (1 + MISSED), abs=0.03)
    assert (found.none, found.nearby) == (0.0, 0.0)


def test_without_measured_ends_half_a_metre_to_each_side_with_the_error_of_the_hole():
    found = evidence(hole(12.0)).likelihood(np.array([12.0, 30.0]))
    inside = stats.norm.cdf(0.5) - stats.norm.cdf(-0.5)
    assert np.exp(found.leak) == pytest.approx([1 - (1 - MISSED) * inside, 1.0], abs=1e-4)


def test_ends_that_are_exchanged_are_the_same_stretch():
    there, back = (evidence(hole(12.0, begin=a, end=b)) for a, b in ((11, 13), (13, 11)))
    assert there.exposed == back.exposed


def test_a_stretch_beyond_the_line_is_that_of_the_hole():
    assert evidence(hole(12.0, begin=60.0, end=62.0)).exposed == evidence(hole(12.0)).exposed


@pytest.mark.parametrize("found", ["pipe_not_reached", None])
def test_a_hole_that_saw_no_pipe_proves_nothing(found):
    assert evidence(hole(12.0, found, 11.0, 13.0)) is None


def test_a_hole_off_its_line_proves_nothing():
    away = hole(12.0, begin=11.0, end=13.0)
    away.geometry = [shapely.Point(jobs.EAST + 12, jobs.NORTH - 15)]
    assert evidence(away) is None


def test_a_hole_that_was_entered_twice_counts_once():
    one = hole(12.0, begin=11.0, end=13.0)
    assert evidence(one, one).exposed == evidence(one).exposed


stretches = st.lists(
    st.tuples(st.floats(0.0, 49.0), st.floats(0.1, 5.0), st.sampled_from(["dry", "leak"])),
    min_size=1, max_size=4,
)  # fmt: skip


@settings(max_examples=15, deadline=None)
@given(stretches, st.randoms())
def test_the_order_of_holes_does_not_matter_to_the_last_bit(some, random):
    holes = [hole(min(a, 29), f, a, min(a + w, 50.0)) for a, w, f in some]
    mixed = list(holes)
    random.shuffle(mixed)
    first, second = (evidence(*each).likelihood(CELLS) for each in (holes, mixed))
    assert first.leak.tolist() == second.leak.tolist()
    assert first.none == second.none
    assert np.isfinite([*first.leak, first.none]).all()


@given(st.floats(-5.0, 55.0), st.floats(0.0, 10.0), st.floats(0.05, 2.0))
def test_a_dry_stretch_lowers_its_own_cells_alone(begin, length, sd):
    found = Exposed(begin, begin + length, sd, "dry", "").log_likelihood(CELLS)
    assert np.isfinite(found).all()
    assert (found <= 0.0).all()
    assert found.min(initial=0.0) >= np.log(MISSED) - 1e-9
    apart = np.abs(CELLS - begin - length / 2) - length / 2
    assert (np.abs(found[apart > 6 * sd]) < 1e-8).all()


def test_a_leak_that_was_seen_and_not_repaired_is_there():
    found = evidence(hole(12.0, "leak", 11.0, 13.0, repaired=[False]))
    flat = np.full(len(CELLS), 1.0 / len(CELLS))
    rivals = (Rival("beyond_end", 0.05),)
    before = Posterior(CELLS, flat, 0.5, (), 0.0, 2.0, 2.0, 0.0, rivals=rivals)
    after = updated(before, found.likelihood(CELLS, rivals))
    # Of a line of 50 m, 2 m are in the hole; a mistake has 1 in 1000.
    assert after.leak_probability == pytest.approx(0.0410 / (0.0410 + 0.001), abs=0.002)
    assert after.probability[np.abs(CELLS - 12) < 1.5].sum() > 0.97
    assert after.rivals[0].probability < 0.01


def test_a_leak_that_was_repaired_in_the_same_hole_or_later_is_not():
    seen = hole(12.0, "leak", repaired=[False])
    mended = hole(12.5, "leak", repaired=[True], time=[DAY + pd.Timedelta("2D")])
    assert evidence(mended) is None
    assert evidence(seen, mended) is None
    assert evidence(mended, seen) is None
    # Another leak of the line, or one seen after the repair, is still there.
    assert evidence(hole(25.0, "leak", repaired=[False]), mended) is not None
    assert evidence(hole(12.0, "leak", time=[DAY + pd.Timedelta("9D")]), mended) is not None


def test_sentences():
    found = evidence(hole(20.0, "leak"), hole(12.0, begin=11.0, end=13.0)).likelihood(CELLS)
    assert wording().text(found.reason) == (
        "Pipe seen dry at 11.00 to 13.00 m on 2026-05-03. A leak was seen at 19.51 to 20.51 m on "
        "2026-05-03, and no repair is recorded.")  # fmt: skip
    undated = evidence(hole(12.0, begin=11.0, end=13.0, time=[pd.NaT])).likelihood(CELLS)
    assert wording("si", "es").text(undated.reason) == "Tubería vista seca a 11,00 a 13,00 m."
