"""Isolation tests as evidence: figures by hand, valves, open ends, junctions, and a stuck meter."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import logit

import leakgeo
from leakgeo.find.evidence.isolated import Isolated
from leakgeo.find.evidence.isolation import IsolationEvidence, IsolationTest, isolation_evidence
from leakgeo.find.evidence.isolation_lines import isolation_findings
from leakgeo.find.evidence.isolation_results import IsolationResult, load_isolation_weights
from leakgeo.find.locate.repaired import repaired_lines
from leakgeo.find.posterior.rivals import Rival
from leakgeo.find.survey.fittings import fitting_chainages
from leakgeo.job.model import Job
from leakgeo.job.read import read_job
from leakgeo.reason import Reason
from leakgeo.route.junctions import junctions_of
from leakgeo.route.lines import lines_of
from leakgeo.runner.chunks import ChunkPlan, DefaultErrors
from leakgeo.wording import wording
from tests.job import jobs
from tests.situations import meters
from tests.situations.situation import SITUATIONS

CELLS = np.arange(0.25, 40.0, 0.5)
RIVALS = (
    Rival("beyond_start", 0.05, 0.0), Rival("beyond_end", 0.05, 40.0),
    Rival("fitting", 0.05, 20.0, "C0"), Rival("unknown", 0.05),
)  # fmt: skip
TIGHT, SHOWS = load_isolation_weights()["tight"], load_isolation_weights()["shows"]
MOST = load_isolation_weights()["most_odds"]["leak"]
# A main, a service S of 40 m from its middle, and a second service T.
ROUTES = {"M": [(0, 0), (100, 0)], "S": [(50, 0), (50, 40)], "T": [(80, 0), (80, 30)]}


def at(line, chainage):
    shape = shapely.LineString(ROUTES[line])
    x, y = shape.interpolate(chainage).coords[0]
    return shapely.Point(jobs.EAST + x, jobs.NORTH + y)


@cache
def without_tests(names):
    return read_job(lines_of_names(names))


def lines_of_names(names):
    shapes = [shapely.LineString([at(name, 0.0), at(name, 999.0)]) for name in names]
    return {
        "routes": jobs.layer(shapes, line_id=list(names), material="copper", position_sd_m=0.1),
        "readings": jobs.readings(line_id=names[0]),
    }


def layers(names, valves, tests, contacts=(), closed=None):
    """Give layers: valves (line, chainage, further columns), tests (place, before, after, ...)."""

    def points(rows, **columns):
        table = pd.DataFrame([row[2] if len(row) > 2 else {} for row in rows])
        return jobs.layer([at(*row[:2]) for row in rows], line_id=[row[0] for row in rows],
                          **columns, **{c: table[c].to_list() for c in table})  # fmt: skip

    ids = [f"V{k}" for k in range(len(valves))]
    table = pd.concat([
        jobs.isolation_tests(test_id=[f"T{k}"], measured_at=["C0"], measure=["pressure"],
                             before=[400.0], after=[100.0], unit=["kpa"]).assign(**more)
        for k, more in enumerate(tests)
    ])  # fmt: skip
    shut = ids if closed is None else closed
    pairs = [(f"T{k}", name) for k in range(len(tests)) for name in shut]
    return {
        **lines_of_names(names),
        "valves": points(valves, valve_id=ids), "isolation_tests": table,
        "contacts": points(contacts, contact_id=[f"C{k}" for k in range(len(contacts))],
                           sound_level=3.0, sound_unit="db"),
        "closed_valves": pd.DataFrame(pairs, columns=["test_id", "valve_id"]),
    }  # fmt: skip


def findings(given):
    """Give the lines and the isolation tests by line of layers as read."""
    job = given if isinstance(given, Job) else read_job(given)
    lines = lines_of(job, 0.3)
    met = junctions_of(lines, floor_m=0.3)
    return lines, isolation_findings(job, lines, met, fitting_chainages(job.contacts, lines, met))


def why_not(result):
    return [dict(f.reason.values)["why"] for f in result.faults]


def found(names, *given, still=False, **more):
    """Give the evidence by line, and why tests show nothing; checks of the layers are left out."""
    job, made = without_tests(tuple(names)), layers(names, *given, **more)
    added = {name: table.assign(reason=None) for name, table in made.items()
             if name not in ("routes", "readings")}  # fmt: skip
    for name in ("valves", "contacts"):
        added[name] = added[name].to_crs(job.crs)
    times = {c: pd.to_datetime(added["isolation_tests"][c]) for c in ("start_time", "end_time")}
    added["isolation_tests"] = added["isolation_tests"].assign(**times)
    lines, result = findings(replace(job, **added))
    evidence = isolation_evidence(result, lines, {0: still})
    return {lines.table.index[k]: one for k, one in evidence.items()}, why_not(result)


BOTH = (("S", 0.5, {"leaks_by": False}), ("S", 40.0, {"leaks_by": False}))
HOSE = (("S", 38.0, {"kind": "hose_bib"}),)


def of_s(valves=BOTH, tests=({},), contacts=HOSE, names=("S",), **more):
    evidence, why = found(names, valves, tests, contacts, **more)
    return evidence.get("S", why)


def factor(sealed, shows=True, none=SHOWS["none"]):
    """Give the Bayes factor of a leak in the stretch, by hand."""
    leak, none = (sealed * p + (1 - sealed) * SHOWS["not_isolated"] for p in (SHOWS["leak"], none))
    return leak / none if shows else (1 - leak) / (1 - none)


def test_a_pressure_that_falls_or_holds_by_hand():
    # Two tight valves: 0.98 x 0.98 of the tests are sealed; 0.97 and 0.03 of these fall.
    sealed = 0.9604
    fell = (sealed * 0.97 + 0.0396 * 0.3) / (sealed * 0.03 + 0.0396 * 0.3)
    likely = of_s().likelihood(CELLS, RIVALS)
    assert np.exp(likely.leak) == pytest.approx(fell)
    assert fell == pytest.approx(23.2, abs=0.1)
    held = of_s(tests=[{"after": 398.0}]).likelihood(CELLS, RIVALS)
    assert np.exp(held.leak) == pytest.approx(factor(sealed, shows=False))
    for one in (likely, held):
        assert one.kind == "isolation"
        assert (one.none, one.nearby) == (0.0, 0.0)
        start, end, fitting, unknown = one.rivals
        assert start == end == unknown == 0.0
        assert 0.0 < abs(fitting) < abs(one.leak[0])
        assert np.sign(fitting) == np.sign(one.leak[0])


@pytest.mark.parametrize(("leaks_by", "tight"), [(False, "known_tight"), (None, "not_known"),
                                                 (True, "leaks_by")])  # fmt: skip
@pytest.mark.parametrize("after", [100.0, 399.0])
def test_valves_that_may_leak_by_weaken_the_test(leaks_by, tight, after):
    valves = (*BOTH[:1], ("S", 40.0, {"leaks_by": leaks_by}))
    leak = of_s(valves, [{"after": after}]).likelihood(CELLS).leak
    expected = factor(TIGHT["known_tight"] * TIGHT[tight], shows=after < 200)
    assert np.exp(leak) == pytest.approx(expected)
    assert (expected > 1) == (after < 200)


def test_a_pressure_that_fell_a_little_lies_between():
    factors = [of_s(tests=[{"after": after}]).likelihood(CELLS).leak[0]
               for after in (399.0, 360.0, 340.0, 320.0, 290.0)]  # fmt: skip
    assert np.all(np.diff(factors) > 0.0)


def test_outside_of_the_stretch_nothing_changes():
    valves = (("S", 0.5, {"leaks_by": False}), ("S", 20.0, {"leaks_by": False}))
    evidence = of_s(valves, contacts=[("S", 8.0, {"kind": "hose_bib"})])
    likely = evidence.likelihood(CELLS, RIVALS)
    assert likely.leak[CELLS > 25] == pytest.approx(0.0, abs=1e-4)
    assert np.exp(likely.leak[CELLS < 15]) == pytest.approx(factor(0.9604), rel=1e-4)
    assert likely.rivals[1] == 0.0
    # Measured on the other side, with the house open, where water may be in use.
    other = of_s(valves, contacts=[("S", 35.0, {"kind": "hose_bib"})]).likelihood(CELLS, RIVALS)
    assert other.leak[CELLS < 15] == pytest.approx(0.0, abs=1e-4)
    beyond = factor(0.9604 / 0.98, none=SHOWS["outlets"])
    assert np.exp(other.leak[CELLS > 25]) == pytest.approx(beyond, rel=1e-4)
    assert np.exp(other.rivals[1]) == pytest.approx(beyond)


def test_an_open_end_is_supplied_unless_it_is_the_customers():
    house = (("S", 40.0, {"leaks_by": False}),)
    curb = (("S", 0.5, {"leaks_by": False}),)
    # A hose bib shows that water flows along the route; its start is then the utility's.
    assert of_s(house) == ["supplied"]
    open_house = of_s(curb).likelihood(CELLS, RIVALS)
    assert np.exp(open_house.leak[-1]) == pytest.approx(factor(0.98, none=SHOWS["outlets"]))
    assert open_house.rivals[1] == open_house.leak[-1]
    # Not known: supplied with a probability of one half.
    unknown = of_s(curb, contacts=[("S", 38.0, {"kind": "other"})]).likelihood(CELLS, RIVALS)
    assert np.exp(unknown.leak[-1]) == pytest.approx(factor(0.49, none=SHOWS["outlets"]))
    kinds = (("S", 0.5, {"kind": "curb_stop", "leaks_by": False}),)
    known = of_s(kinds, contacts=[("S", 38.0, {"kind": "other"})]).likelihood(CELLS, RIVALS)
    assert known.leak == pytest.approx(open_house.leak)


def test_lines_that_join_without_a_valve_are_one_part():
    valves = (("M", 30.0), ("M", 70.0), ("S", 39.9))
    evidence, why = found(("M", "S", "T"), valves, [{}], HOSE)
    assert set(evidence) == {"M", "S"}
    assert not why
    [test] = evidence["S"].tests
    assert test.valves == ("V0", "V1", "V2")
    assert test.isolated.whole
    assert test.isolated.others == pytest.approx(0.5, abs=0.01)
    likely = evidence["M"].likelihood(np.array([10.0, 50.0, 90.0]), RIVALS)
    assert likely.leak[[0, 2]] == pytest.approx(0.0, abs=1e-6)
    assert likely.leak[1] > 0.4
    # The service is in the part, and T is not: half of what joins the main there.
    assert 0.0 < likely.nearby < likely.leak[1]
    assert evidence["S"].likelihood(CELLS).nearby > 0.4
    # A fall has other explanations than this line; that it holds is evidence against each of them.
    assert likely.leak[1] < np.log(factor(TIGHT["not_known"] ** 3))
    held, _ = found(("M", "S", "T"), valves, [{"after": 400.0}], HOSE)
    assert held["S"].likelihood(CELLS).leak[0] < -0.9


def test_a_valve_at_the_tee_closes_the_service_and_not_the_main():
    valves = (("S", 0.0, {"leaks_by": False}), ("S", 40.0, {"leaks_by": False}))
    evidence, _ = found(("M", "S", "T"), valves, [{}], HOSE)
    assert set(evidence) == {"S"}
    assert np.exp(evidence["S"].likelihood(CELLS).leak) == pytest.approx(factor(0.9604))
    assert evidence["S"].likelihood(CELLS).nearby == 0.0
    # On the main it may be on either side of the tee.
    assert found(("M", "S"), (("M", 50.0), *BOTH), [{}], HOSE) == ({}, ["valve_place"])


def test_a_valve_that_is_closed_anyway_need_not_be_listed():
    valves = (BOTH[0], ("S", 40.0, {"leaks_by": False, "normally_closed": True}))
    assert np.exp(of_s(valves, closed=["V0"]).likelihood(CELLS).leak) == pytest.approx(
        factor(0.9604)
    )


@pytest.mark.parametrize(
    ("test", "kind", "low", "high"),
    [
        ({"measure": "flow", "unit": "l_per_min", "before": 9.0, "after": 8.0}, "hose_bib", 5, 30),
        ({"measure": "flow", "unit": "l_per_min", "before": 9.0, "after": 0.0}, "hose_bib", 0, 0.1),
        ({"measure": "meter", "unit": "l", "before": 900.0, "after": 940.0}, "hose_bib", 5, 30),
        ({"measure": "meter", "unit": "l", "before": 900.0, "after": 900.0}, "hose_bib", 0, 0.2),
    ],
)
def test_a_flow_is_of_what_lies_downstream(test, kind, low, high):
    valves = (("S", 30.0, {"leaks_by": False}),)
    contacts = [("S", 10.0, {"kind": "meter"}), ("S", 39.0, {"kind": kind})]
    leak = of_s(valves, [test], contacts).likelihood(CELLS, RIVALS).leak
    assert low < np.exp(leak[CELLS == 20.25]) < high
    assert leak[(CELLS < 5) | (CELLS > 35)] == pytest.approx(0.0, abs=1e-4)


def test_a_still_register_shows_as_much_as_its_resolution_allows():
    test = {"measure": "meter", "before": 900.0, "after": 900.0}
    contacts = [("S", 0.5, {"kind": "meter"}), ("S", 39.0, {"kind": "hose_bib"})]
    fine, coarse = (of_s(BOTH[1:], [{**test, "unit": unit}], contacts).likelihood(CELLS).leak[-1]
                    for unit in ("l", "m3"))  # fmt: skip
    assert fine < -2.0 < -0.3 < coarse < 0.0


@pytest.mark.parametrize(
    ("valves", "contacts", "test", "why"),
    [
        ((), HOSE, {}, "no_valve"),
        (BOTH, [("T", 30.0, {"kind": "other"})], {}, "place"),
        ((BOTH[0], ("S", 20.0), BOTH[1]), [("S", 20.5, {"kind": "other"})], {}, "side"),
        (BOTH[1:], [("S", 20.0, {"kind": "other"})], {"measure": "flow"}, "side"),
        (BOTH[1:], HOSE, {}, "supplied"),
    ],
)
def test_why_a_test_shows_nothing(valves, contacts, test, why):
    closed = None if valves else []
    assert found(("S",), valves or BOTH, [test], contacts, closed=closed) == ({}, [why])


@pytest.mark.parametrize(
    ("test", "code"),
    [({"settled": None}, "isolation_not_settled"), ({"settled": False}, "isolation_not_settled"),
     ({"before": 0.0, "after": 0.0}, "isolation_without_pressure"),
     ({"after": 430.0}, "isolated_pressure_rises")],
)  # fmt: skip
def test_values_that_show_nothing_are_noted(test, code):
    job = read_job(layers(("S",), BOTH, [test], HOSE))
    faults = [f for f in job.faults if f.layer == "isolation_tests"]
    assert [(f.reason.code, f.effect) for f in faults] == [(code, "noted")]
    _, result = findings(job)
    assert not result.by_line


def test_rows_of_valves_that_are_not_there_void_the_test():
    _, result = findings(layers(("S",), BOTH, [{}], HOSE, closed=["V0", "V1", "V9"]))
    assert why_not(result) == ["valve_place"]
    assert "This isolation test shows nothing" in result.faults[0].problem


def one_test(shows, sealed, others=0.0, outlets=False):
    result = IsolationResult("T", "C", "pressure", 400.0, 100.0, 20.0, shows)
    part = Isolated(((-np.inf, np.inf),), False, False, 0.3, others)
    return IsolationTest(result, part, ("V",), sealed, outlets)


@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1), st.booleans()),
                min_size=1, max_size=9))  # fmt: skip
def test_factors_are_bounded_and_ordered(drawn):
    evidence = IsolationEvidence(tuple(one_test(*each) for each in drawn))
    likely = evidence.likelihood(CELLS, RIVALS)
    for values in (likely.leak, likely.rivals, [likely.nearby]):
        assert np.isfinite(values).all()
        assert np.abs(values).max() <= np.log(MOST) + 1e-9
    _, sealed, others, outlets = drawn[0]
    # A test that shows more, by tighter valves, is stronger; other lines explain a part of a fall.
    one = one_test(1.0, sealed, others, outlets).log_bf
    assert one >= 0.0 >= one_test(0.0, sealed, others, outlets).log_bf
    assert one <= one_test(1.0, 1.0, others, outlets).log_bf + 1e-12
    assert one <= one_test(1.0, sealed, 0.0, outlets).log_bf + 1e-12
    assert one <= one_test(1.0, sealed, others).log_bf + 1e-12


def test_the_order_of_rows_changes_nothing():
    tests = [{}, {"after": 399.0}, {"after": 340.0}]
    given = layers(("M", "S"), BOTH, tests, HOSE)
    turned = {name: table.iloc[::-1] if name in ("isolation_tests", "closed_valves", "valves")
              else table for name, table in given.items()}  # fmt: skip
    likely = []
    for one in (given, turned):
        lines, result = findings(one)
        likely.append(isolation_evidence(result, lines, {})[1].likelihood(CELLS))
    assert likely[0].leak.tolist() == likely[1].leak.tolist()
    assert likely[0].reason == likely[1].reason


def test_chunks_have_the_tests_of_the_whole_job():
    # The part reaches over lines that a chunk of one line does not have.
    valves = ("M", 30.0), ("M", 90.0), ("S", 39.9), ("T", 29.9)
    job = read_job(layers(("M", "S", "T"), valves, [{}], HOSE))
    plan = ChunkPlan.of(job, 1, DefaultErrors(0.3, 0.3, 0.3, 0.3))
    _, whole = findings(job)
    assert set(whole.by_line) == {"M", "S", "T"}
    assert all(plan.chunk(k).job.isolation == whole for k in plan.numbers)


def text_of(evidence, language="en"):
    return wording("si", language).text(evidence.likelihood(CELLS).reason)


def test_sentences():
    assert text_of(of_s()) == (
        "With V0, V1 shut, the pressure at C0 fell, from 400 kPa to 100 kPa in 20 minutes: "
        "23 times likelier that this pipe leaks.")  # fmt: skip
    assert text_of(of_s(tests=[{"after": 398.0}]), "es").endswith(
        "17 veces menos probable que esta tubería tenga una fuga.")  # fmt: skip
    assert text_of(of_s(still=True)).endswith("it may be stuck. Test the meter.")
    assert "stuck" not in text_of(of_s(tests=[{"after": 398.0}], still=True))
    part = of_s((BOTH[0], ("S", 20.0)), contacts=[("S", 8.0, {"kind": "hose_bib"})])
    assert text_of(part).endswith("that this pipe leaks before 20.01 m.")
    [test] = part.tests
    many = replace(part, tests=(replace(test, valves=tuple("ABCDEF")),))
    assert text_of(many).startswith("With A, B, C, D and 2 more shut, the pressure")


def test_a_repair_since_voids_a_test_and_a_later_one_verifies_the_repair():
    def with_repair(hours):
        time = pd.Timestamp("2025-03-31T08:00Z") + pd.Timedelta(hours=hours)
        digs = jobs.layer([at("S", 20.0)], line_id=["S"], found=["leak"], repaired=[True],
                          time=[time])  # fmt: skip
        return findings({**layers(("S",), BOTH, [{"after": 399.0}], HOSE), "dig_outcomes": digs})

    _, later = with_repair(1)
    assert why_not(later) == ["repaired"]
    lines, found = with_repair(-1)
    old = pd.DataFrame({"line_id": ["S"], "reason_code": ["before_repair"], "used": [False],
                        "time": [pd.Timestamp("2025-03-31T06:00Z")]})  # fmt: skip
    evidence = {k: [one] for k, one in isolation_evidence(found, lines, {}).items()}
    line = repaired_lines(old, lines, evidence, 0.5)["S"]
    assert line.leak_probability == pytest.approx(1 / (1 + 1 / factor(0.9604, shows=False)))
    assert line.status == "no_leak_heard"


def test_a_pressure_that_falls_shows_that_a_still_meter_is_stuck():
    case = SITUATIONS[meters.stuck_meter.__name__].draw(0).layers
    untested = {name: table for name, table in case.items() if name != "isolation_tests"}
    result, before = (leakgeo.locate(read_job(layers)) for layers in (case, untested))
    assert result["lines"]["status"].tolist() == ["located"]
    odds = [r["lines"]["leak_probability"].map(logit).iloc[0] for r in (before, result)]
    assert odds[0] < 0.0
    # The tests are independent given a leak or none: their factors multiply.
    evidence = result.worded("si", "en").layers["evidence"].set_index("kind")
    assert evidence.loc["isolation", "log10_bayes_factor"] == pytest.approx(
        (odds[1] - odds[0]) / np.log(10.0), abs=0.01
    )
    assert "it may be stuck" in evidence.loc["isolation", "message"]
    assert "isolation" not in set(before["evidence"]["kind"])


LOOP = {"A": [(0, 0), (60, 0)], "B": [(20, 0), (20, 20), (40, 20), (40, 0)]}


def test_a_valve_beside_which_pipe_leads_around_cuts_nothing_off(monkeypatch):
    monkeypatch.setitem(ROUTES, "A", LOOP["A"])
    monkeypatch.setitem(ROUTES, "B", LOOP["B"])
    gauge = [("A", 24.0, {"kind": "other"}), ("A", 4.0, {"kind": "meter"}),
             ("A", 55.0, {"kind": "hose_bib"})]  # fmt: skip
    one, both = (("A", 30.0),), (("A", 30.0), ("B", 30.0), ("A", 10.0))
    shapes = [shapely.LineString([(jobs.EAST + x, jobs.NORTH + y) for x, y in LOOP[k]])
              for k in "AB"]  # fmt: skip
    routes = jobs.layer(shapes, line_id=["A", "B"], material="copper", position_sd_m=0.1)
    readings = jobs.readings(line_id="A")

    def given(valves, **more):
        made = layers(("A", "B"), valves, [more], gauge)
        return findings({**made, "routes": routes, "readings": readings})[1]

    assert why_not(given(one)) == ["loop"]
    assert set(given(both).by_line) == {"A", "B"}
    flow = {"measured_at": "C1", "measure": "flow", "unit": "l_per_min", "after": 1.0}
    assert why_not(given(one, before=9.0, **flow)) == ["loop"]


def test_tests_at_the_same_time_are_neither_what_it_says():
    valves = (*BOTH, ("S", 20.0))
    later = {"start_time": "2025-03-31T08:10Z", "end_time": "2025-03-31T08:40Z"}
    after = {"start_time": "2025-03-31T09:10Z", "end_time": "2025-03-31T09:40Z"}

    def why(second, closed):
        made = layers(("S",), valves, [{}, second], [("S", 10.0, {"kind": "hose_bib"})])
        shut = pd.DataFrame(closed, columns=["test_id", "valve_id"])
        return why_not(findings({**made, "closed_valves": shut})[1])

    wide = [("T0", "V0"), ("T0", "V1")]
    narrow = [("T1", "V0"), ("T1", "V2")]
    assert why(later, wide + narrow) == ["overlap"]
    assert why(after, wide + narrow) == []
    assert why(later, wide + [("T1", "V0"), ("T1", "V1")]) == []


def test_a_flow_that_rises_shows_nothing():
    test = {"measure": "flow", "unit": "l_per_min", "before": 1.0, "after": 9.0}
    job = read_job(layers(("S",), BOTH, [test], HOSE))
    [fault] = [f for f in job.faults if f.layer == "isolation_tests"]
    assert (fault.reason.code, fault.effect) == ("isolated_flow_rises", "noted")
    assert not findings(job)[1].by_line


@pytest.mark.parametrize(
    ("line", "off", "code"),
    [("S", 30.0, "valve_off_line"), (None, 300.0, "valve_off_network"), ("S", 0.5, None)],
)
def test_valves_off_the_lines_are_noted_and_cut_nothing_off(line, off, code):
    made = layers(("S",), BOTH, [{}], HOSE)
    moved = made["valves"].assign(line_id=line)
    beside = shapely.transform(moved.geometry[1], lambda xy: xy + [off, 0.0])
    moved["geometry"] = [moved.geometry[0], beside]
    job = read_job({**made, "valves": moved})
    assert [f.reason.code for f in job.faults if f.layer == "valves"] == [code] * bool(code)
    found = findings(job)[1]
    assert why_not(found) == ["valve_place"] * bool(code)
    assert bool(found.by_line) is not bool(code)


@pytest.mark.parametrize("language", ["en", "es"])
def test_each_reason_why_a_test_shows_nothing_has_a_remedy(language):
    say = wording("si", language)
    whys = ("place", "valve_place", "side", "no_valve", "loop", "overlap", "supplied", "wide",
            "repaired")  # fmt: skip
    reasons = [Reason("isolation_shows_nothing", why=why) for why in whys]
    assert len({say.text(reason) for reason in reasons}) == len(whys)
    assert len({say.part(reason, "remedy") for reason in reasons}) >= len(whys) - 1
