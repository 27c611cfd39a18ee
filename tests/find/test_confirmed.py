"""Leaks seen in holes: a mark for each, whatever the order of the holes, until it is repaired."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import leakgeo
from leakgeo.find.evidence.digs import DigEvidence, Exposed, load_dig_weights
from leakgeo.find.evidence.likelihood import updated
from leakgeo.find.locate.confirmed import confirmed_leaks, even_posterior
from leakgeo.find.locate.status import LOCATED
from leakgeo.job.read import read_job
from leakgeo.wording import with_texts, wording
from tests.job import jobs
from tests.two_leaks import DAY, FIRST_M, SECOND_M, hole, holes, leaks_heard

MISTAKEN = load_dig_weights()["mistaken"]
LATER = DAY + pd.Timedelta("3D")


def located(digs, **layers):
    layers = {"routes": jobs.routes(), "readings": leaks_heard(), **layers}
    return leakgeo.locate(read_job({**layers, "dig_outcomes": digs}))


def line_of(result, name="L1"):
    return with_texts(result["lines"], wording()).set_index("line_id").loc[name]


@pytest.fixture(scope="module", name="two")
def _two():
    return located(holes())


def test_each_of_two_leaks_has_a_mark_and_a_zone(two):
    marks = two["marks"]
    assert marks["rank"].tolist() == [1, 2]
    assert sorted(marks["chainage_m"]) == pytest.approx([FIRST_M, SECOND_M], abs=0.3)
    assert (marks["probability_within_1ft"] >= LOCATED).all()
    assert set(marks["status"]) == {line_of(two)["status"]} == {"located"}
    zones = two["search_zones"]
    for at in marks["chainage_m"]:
        own = zones[(zones["from_chainage_m"] <= at) & (zones["to_chainage_m"] >= at)]
        # Each leak is in its own zone with the probability asked for, not with half of it.
        assert own["probability_leak_here"].tolist() == pytest.approx([0.9], abs=0.05)
    assert zones["cumulative_probability"].max() <= 1.0


def test_the_message_counts_the_leaks_and_names_their_places(two):
    first, second = sorted(two["marks"]["chainage_m"])
    message = line_of(two)["message"]
    assert message.startswith("2 leaks were seen in holes, and no repair of them is recorded")
    assert f"{first:.2f} m from" in message
    assert f"{second:.2f} m from" in message
    assert line_of(two)["chainage_m"] == two["marks"]["chainage_m"][0]


def test_the_order_of_the_rows_and_a_hole_entered_twice_change_nothing(two):
    again = located(holes(hole(SECOND_M), hole(FIRST_M), hole(SECOND_M)))
    for name in ("marks", "lines", "search_zones", "profile"):
        assert again[name].equals(two[name])


def test_a_repair_of_one_leaves_the_other(two):
    mended = hole(FIRST_M + 0.2, repaired=[True], time=[LATER])
    heard = leaks_heard(time=LATER + pd.Timedelta("1D"))
    result = located(holes(hole(FIRST_M), hole(SECOND_M), mended), readings=heard)
    [mark] = result["marks"].to_dict("records")
    assert (mark["rank"], mark["status"]) == (1, "located")
    assert mark["chainage_m"] == pytest.approx(SECOND_M, abs=0.3)
    assert two["marks"].shape[0] == 2


def test_a_line_not_listened_to_since_the_repair_has_the_mark_of_the_other_leak():
    mended = hole(FIRST_M, repaired=[True], time=[LATER])
    narrow = hole(SECOND_M, wide_m=0.5)
    result = located(holes(mended, narrow), readings=leaks_heard(time=DAY))
    [mark] = result["marks"].to_dict("records")
    assert (mark["rank"], mark["status"]) == (1, "located")
    # Nothing but the hole: the middle of its stretch.
    assert mark["chainage_m"] == pytest.approx(SECOND_M, abs=0.05)
    assert "Not listened to since the repair of 2025-04-05" in line_of(result)["message"]
    both = located(holes(mended, hole(SECOND_M, repaired=[True])),
                   readings=leaks_heard(time=DAY))  # fmt: skip
    assert both["marks"].empty


def test_one_leak_that_was_seen_is_the_mark():
    for at in (FIRST_M, SECOND_M):
        result = located(hole(at))
        assert result["marks"]["rank"].tolist() == [1]
        assert result["marks"]["chainage_m"][0] == pytest.approx(at, abs=0.3)
        assert line_of(result)["code"] == "mark"


def test_two_holes_at_one_leak_saw_one_leak():
    result = located(holes(hole(FIRST_M - 0.3), hole(FIRST_M + 0.3)))
    assert len(result["marks"]) == 1


def test_a_leak_seen_on_a_line_that_nobody_walked_is_in_the_middle_of_its_stretch():
    far = hole(20.0, wide_m=0.5, line_id=["L2"])
    far.geometry = jobs.routes().geometry[1:].interpolate(20.0).to_numpy()
    result = located(holes(hole(FIRST_M), far))
    mark = result["marks"].set_index("line_id").loc["L2"]
    assert mark["chainage_m"] == pytest.approx(20.0, abs=0.05)
    assert line_of(result, "L2")["status"] == "located"
    assert "L2" not in set(result["profile"]["line_id"])


# By hand


def seen(*middles_m, half_m=0.5, sd_m=0.15):
    stretches = [Exposed(m - half_m, m + half_m, sd_m, "leak", "") for m in middles_m]
    return DigEvidence(tuple(sorted(stretches)))


def with_holes(before, digs):
    after = updated(before, digs.likelihood(before.chainage_m, before.rivals))
    return confirmed_leaks(after, before, digs.leaks())


def peaked(at_m, sd_m=0.1, leak=0.9):
    even = even_posterior(40.0, leak)
    probability = stats.norm.pdf(even.chainage_m, at_m, sd_m) + 1e-12
    return dataclasses.replace(even, probability=probability / probability.sum())


def test_one_record_is_right_as_the_evidence_has_it():
    [leak] = with_holes(even_posterior(40.0, 0.9), seen(12.0))
    # 1 m of 40 m holds 0.9 / 40 of the probability; a mistake has 1 in 1000.
    assert leak.probability == pytest.approx(0.0225 / (0.0225 + 0.9775 * MISTAKEN), abs=0.002)
    assert leak.mark.chainage_m == pytest.approx(12.0, abs=0.03)


def test_a_leak_that_the_sound_does_not_show_is_in_the_middle_of_its_stretch():
    # All of the sound is at the first leak, and rises toward it from the second.
    loud, silent = with_holes(peaked(10.2, sd_m=3.0), seen(10.0, 30.0))
    assert (loud.share, silent.mark.chainage_m) == (
        pytest.approx(1.0, abs=0.01), pytest.approx(30.0, abs=0.03))  # fmt: skip
    assert silent.share < 1e-3
    assert silent.probability == pytest.approx((1.0 - MISTAKEN) * loud.probability, abs=1e-4)


def test_the_sound_places_a_leak_within_its_stretch():
    first, second = with_holes(peaked(10.3), seen(10.0, 30.0))
    assert first.mark.chainage_m == pytest.approx(10.3, abs=0.03)
    assert first.mark.within_foot_given_leak == pytest.approx(0.998, abs=0.005)
    assert first.given_seen.sum() == pytest.approx(1.0)
    assert second.within_foot < first.within_foot


def test_records_that_all_else_contradicts_confirm_nothing():
    elsewhere = dataclasses.replace(peaked(20.0, sd_m=0.05, leak=0.999999))
    tail = elsewhere.probability < 1e-9
    elsewhere.probability[tail] = 1e-15
    assert with_holes(elsewhere, seen(5.0)) == ()


@pytest.mark.parametrize(("apart_m", "leaks"), [(1.9, 1), (2.1, 2)])
def test_holes_close_to_each_other_saw_one_leak(apart_m, leaks):
    found = seen(10.0, 10.0 + apart_m).leaks()
    assert len(found) == leaks
    assert sum(len(leak.exposed) for leak in found) == 2


def test_a_dry_stretch_is_no_leak():
    dry = Exposed(4.0, 5.0, 0.15, "dry", "")
    assert DigEvidence((dry,)).leaks() == ()
    assert len(DigEvidence((dry, *seen(10.0).exposed)).leaks()) == 1


def test_an_even_posterior_is_even():
    even = even_posterior(40.0, 0.7)
    assert np.ptp(even.probability) == 0.0
    assert even.probability.sum() == pytest.approx(1.0)
