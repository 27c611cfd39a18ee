"""Meter tests as evidence: figures by hand, direction of flow, rivals, and what must never be."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from leakgeo.find.evidence.likelihood import updated
from leakgeo.find.evidence.meter import load_meter_weights, meter_effect, meter_likelihoods
from leakgeo.find.loss.meter_tests import Loss
from leakgeo.find.posterior.posterior import Posterior
from leakgeo.find.posterior.rivals import Rival
from leakgeo.find.survey.fittings import fitting_chainages
from leakgeo.job.read import read_job
from leakgeo.route.junctions import junctions_of
from leakgeo.route.lines import lines_of
from leakgeo.wording import wording
from tests.job import jobs

CELLS = np.arange(0.25, 50.0, 0.5)
RIVALS = tuple(Rival(kind, 0.05) for kind in ("beyond_start", "beyond_end", "fitting", "unknown"))
BEGIN = pd.Timestamp("2025-03-31T08:00Z")
WEIGHT = load_meter_weights()


def still(hours, step_l=1.0):
    least = step_l * 24.0 / hours
    return Loss("none_within_resolution", 0.0, least, 0.0, least, least, hours, 1, 1, ())


def turned(loss, hours=3.0, step_l=1.0):
    least = step_l * 24.0 / hours
    return Loss("loss_shown", loss, least / 6**0.5, loss, loss, least, hours, 1, 1, ())


def fitting(at_m, kind="meter", name=None, **columns):
    """Give a fitting on the first route, which has 50 m and bends at 30 m."""
    x, y = (at_m, 0.0) if at_m <= 30 else (30.0, at_m - 30)
    data = {"contact_id": [name or f"{kind}-{at_m}"], "line_id": ["L1"], "kind": [kind],
            "sound_level": [1.0], "sound_unit": ["db"], "side": [None]}  # fmt: skip
    return jobs.layer([shapely.Point(jobs.EAST + x, jobs.NORTH + y)], **{**data, **columns})


@cache
def without_tests():
    return read_job({"routes": jobs.routes(), "readings": jobs.heard()})


def read(*fittings, loss_l=0.0, hours=3.0, valve=None, meter=None, more=(), digs=None):
    tests = [(loss_l, hours, valve), *more]
    start = BEGIN + pd.to_timedelta(np.arange(len(tests)), unit="D")
    table = pd.DataFrame({
        "line_id": "L1", "start_reading": 100.0, "volume_unit": "l", "start_time": start,
        "end_reading": [100.0 + loss * h / 24.0 for loss, h, _ in tests], "water_used": False,
        "end_time": start + pd.to_timedelta([h for _, h, _ in tests], unit="h"),
        "house_valve": [v for *_, v in tests], "contact_id": meter, "resolution": 1.0,
    })  # fmt: skip
    job = without_tests() if digs is None else read_job({
        "routes": jobs.routes(), "readings": jobs.heard(), "meter_tests": table,
        "dig_outcomes": digs})  # fmt: skip
    if digs is None:
        contacts = pd.concat(fittings, ignore_index=True) if fittings else None
        contacts = None if contacts is None else contacts.to_crs(job.crs).assign(reason=None)
        job = replace(job, meter_tests=table.assign(reason=None), contacts=contacts)
    lines = lines_of(job, 0.3)
    places = fitting_chainages(job.contacts, lines, junctions_of(lines, floor_m=0.3))
    return meter_likelihoods(job, lines, places).get(0)


def test_a_still_meter_by_hand():
    # 8000 litres a day would show surely; below that, with the share of the step that passes.
    leak, use = WEIGHT["leak"], WEIGHT["use"]["house_valve_open"]
    law = stats.lognorm(np.log(leak["factor"]), scale=leak["median_l_per_day"])
    hidden, _ = integrate.quad(lambda q: law.pdf(q) * (1 - q / 8000), 0, 8000)
    stuck = WEIGHT["meter"]["stuck"]
    none = stuck + (1 - stuck) * (1 - use)
    expected = (stuck + (1 - stuck) * (1 - use) * hidden) / none
    found = meter_effect({"open": still(3.0, 1000.0)})
    assert np.exp(found.pipe) == pytest.approx(expected, rel=2e-3)
    assert found.beyond == pytest.approx(found.pipe)
    # A litre in three hours hides no leak of a pipe: what is left is a meter that is stuck.
    assert np.exp(meter_effect({"open": still(3.0)}).pipe) == pytest.approx(stuck / none, rel=0.01)


def test_with_the_house_valve_shut_a_still_meter_is_evidence_about_the_service_alone():
    found = meter_effect({"shut": still(3.0)})
    assert found.pipe == pytest.approx(-np.log(50.0), abs=0.05)
    assert abs(found.beyond) < 0.06


def test_a_meter_that_turns_with_the_valve_open_and_not_with_it_shut_points_into_the_building():
    found = meter_effect({"open": turned(1500.0), "shut": still(3.0)})
    assert found.pipe < -np.log(10.0)
    assert found.beyond == pytest.approx(np.log(10.0))


@pytest.mark.parametrize(("valve", "most"), [("open", 3.0), ("shut", 10.0), ("unknown", 3.0)])
def test_a_loss_is_modest_evidence_and_more_with_the_house_valve_shut(valve, most):
    found = meter_effect({valve: turned(1500.0)})
    assert np.exp(found.pipe) == pytest.approx(most)
    assert (found.beyond < found.pipe) == (valve != "open")
    assert (found.beyond < np.log(0.6)) == (valve == "shut")
    assert found.fitting > 0.0
    # A few drops are a tap rather than a split pipe.
    assert meter_effect({"open": turned(15.0)}).pipe < found.pipe


def test_a_valve_that_hisses_is_not_disproved_by_a_meter_that_turns():
    found = meter_effect({"open": turned(150.0)})
    assert found.fitting == pytest.approx(np.log(3.0))


@given(st.floats(0.1, 500.0), st.floats(1.0, 50.0), st.sampled_from([1.0, 3.785, 28.3, 1000.0]),
       st.sampled_from(["open", "shut", "unknown"]))  # fmt: skip
def test_a_longer_still_test_never_makes_a_leak_likelier(hours, times, step_l, valve):
    short, long = (meter_effect({valve: still(h, step_l)}).pipe for h in (hours, hours * times))
    assert long <= short + 1e-12 <= 1e-9


@settings(max_examples=60)
@given(st.dictionaries(st.sampled_from(["open", "shut", "unknown"]),
                       st.tuples(st.sampled_from([0.0, 1e-6, 3.0, 1e3, 1e9]),
                                 st.floats(1e-3, 1e4)), min_size=1))  # fmt: skip
def test_factors_are_finite_and_bounded(results):
    made = {v: turned(loss, h) if loss else still(h) for v, (loss, h) in results.items()}
    found = meter_effect(made)
    for factor in (found.pipe, found.beyond, found.fitting):
        assert np.isfinite(factor)
        assert -np.log(50.0) - 1e-9 <= factor <= np.log(10.0) + 1e-9


def test_a_meter_at_the_beginning_measures_the_whole_line_by_the_facts():
    found = read(fitting(0.5), fitting(49.0, "hose_bib"), valve="open").likelihood(CELLS, RIVALS)
    assert np.ptp(found.leak) == 0.0
    assert found.leak[0] < -3.0
    start, end, sounds, unknown = found.rivals
    assert (start, unknown, found.none, found.nearby) == (0.0, 0.0, 0.0, None)
    assert end == pytest.approx(found.leak[0])
    assert abs(sounds) < 0.3
    assert "meter_place_assumed" not in [r.code for r in found.reason.then]


def test_the_cells_upstream_of_a_meter_in_the_middle_are_unchanged():
    for kind, up in (("curb_stop", CELLS < 20), ("hose_bib", CELLS > 30)):
        found = read(fitting(25.0), fitting(2.0, kind)).likelihood(CELLS, RIVALS)
        assert found.leak[up] == pytest.approx(0.0, abs=1e-5)
        down = CELLS > 30 if kind == "curb_stop" else CELLS < 20
        assert found.leak[down] == pytest.approx(found.leak.min(), abs=1e-3)
        assert (found.rivals[0] == 0.0) == (kind == "curb_stop")
        assert dict(found.reason.values)["below"] is True


def test_the_recorded_side_goes_before_the_kind():
    found = read(fitting(25.0), fitting(2.0, "curb_stop", side=["customer"]))
    assert found.likelihood(CELLS).leak[0] < -3.0


def test_a_meter_at_the_far_end_measures_nothing_of_the_line():
    evidence = read(fitting(49.8), fitting(2.0, "main_valve"), valve="open")
    found = evidence.likelihood(CELLS, RIVALS)
    assert not found.leak.any()
    assert found.rivals[1] < -3.0
    assert found.reason.code == "meter_below_line"


@pytest.mark.parametrize(
    ("fittings", "flow"),
    [((), 0), ((fitting(48.0),), -1), ((fitting(2.0),), 1), ((fitting(2.0), fitting(40.0)), 0)],
)
def test_without_facts_the_whole_line_is_taken_as_downstream_and_that_is_stated(fittings, flow):
    evidence = read(*fittings)
    found = evidence.likelihood(CELLS, RIVALS)
    assert (found.leak < -3.0).all()
    assert "meter_place_assumed" in [r.code for r in found.reason.then]
    assert evidence.meters[0][0].flow == flow
    start, end, *_ = found.rivals
    assert np.sign(start - end) == flow


def test_a_meter_in_the_middle_without_facts_may_measure_either_side():
    found = read(fitting(25.0)).likelihood(CELLS)
    assert np.exp(found.leak) == pytest.approx(0.5, abs=0.02)


def test_a_named_meter_is_the_one_that_was_read():
    meters = fitting(2.0, name="A"), fitting(25.0, name="B"), fitting(49.0, "sink")
    assert np.ptp(read(*meters, meter="A").likelihood(CELLS).leak) < 4.0
    assert read(*meters, meter="B").likelihood(CELLS).leak[0] == pytest.approx(0.0, abs=1e-5)
    assert read(*meters, meter="A").likelihood(CELLS).leak[20] < -3.0


def test_tests_that_do_not_count_are_no_evidence():
    assert read(loss_l=0.0, hours=-3.0) is None
    assert read(loss_l=-800.0) is None


def test_a_posterior_moves_as_it_should():
    flat = np.full(len(CELLS), 1.0 / len(CELLS))
    before = Posterior(CELLS, flat, 0.8, (), 0.0, 2.0, 2.0, 0.0, rivals=RIVALS[:1])
    evidence = read(fitting(25.0), fitting(2.0, "curb_stop"), valve="open")
    after = updated(before, evidence.likelihood(CELLS, before.rivals))
    # Half of the line is left with a factor of 1, the other half with 1/45.
    odds = 0.8 * (0.5 + 0.5 / 45.1) / 0.2
    assert after.leak_probability == pytest.approx(odds / (1 + odds), abs=0.005)
    assert after.probability[CELLS < 25].sum() > 0.94


def texts_of(evidence, language="en"):
    return wording("si", language).text(evidence.likelihood(CELLS).reason)


def test_sentences():
    assert texts_of(read(fitting(0.5), fitting(49.0, "sink"), valve="open")) == (
        "The meter stood still for 3 hours: 45 times less likely that this pipe leaks. A loss "
        "under 8 litres a day would not show.")  # fmt: skip
    assert texts_of(read(fitting(0.5), fitting(49.0, "sink"), loss_l=1600.0, valve="shut")) == (
        "The meter turned with the valve at the house shut, by 1,600 litres a day: 10 times "
        "likelier that this pipe leaks.")  # fmt: skip
    both = read(loss_l=1600.0, valve="open", more=[(0.0, 3.0, "shut")])
    assert texts_of(both).startswith(
        "The meter turned, by 1,600 litres a day, and stood still with the valve at the house "
        "shut: the water is used or lost beyond that valve")  # fmt: skip
    assert "no se movió durante 3 horas" in texts_of(read(), "es")


@pytest.mark.parametrize(("loss_l", "code"), [(0.0, "repair_verified"),
                                             (1600.0, "still_turns_after_repair")])  # fmt: skip
def test_a_test_after_a_repair_verifies_it_or_shows_another_leak(loss_l, code):
    digs = jobs.layer([shapely.Point(jobs.EAST + 9, jobs.NORTH)], line_id=["L1"], found=["leak"],
                      repaired=[True], time=[BEGIN - pd.Timedelta("1h")])  # fmt: skip
    reason = read(loss_l=loss_l, digs=digs).likelihood(CELLS).reason
    assert code in [r.code for r in reason.then]
    # Taken before the repair, it is no evidence about the line as it is now.
    assert read(loss_l=loss_l, digs=digs.assign(time=BEGIN + pd.Timedelta("1h"))) is None
