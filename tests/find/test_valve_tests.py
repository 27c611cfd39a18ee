"""Isolation tests that may be made next: what is cut off, where it is read, what it shows."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

from leakgeo.find.advise.explanations import Explanations
from leakgeo.find.advise.valve_tests import valve_cautions, valve_closures
from leakgeo.find.evidence.isolation_lines import IsolationFindings, isolation_findings
from leakgeo.find.posterior.rivals import Rival
from leakgeo.find.survey.fittings import fitting_chainages
from leakgeo.job.read import read_job
from leakgeo.route.junctions import junctions_of
from leakgeo.route.lines import lines_of
from leakgeo.runner.chunks import ChunkPlan, DefaultErrors
from leakgeo.wording import wording
from tests.find.test_isolation import BOTH, SHOWS, TIGHT, findings, layers

TEE = ("M", "S", "T")
CURB = ("S", 0.5, {"kind": "curb_stop"})
MAINS = (("M", 30.0, {"kind": "isolation"}), ("M", 70.0, {"kind": "isolation"}))
BIB = ("S", 38.0, {"kind": "hose_bib"})
HYDRANT = ("M", 50.0, {"kind": "hydrant"})


def closures(names, valves, contacts=(BIB,), tests=(), closed=()):
    """Give what may be made, by line."""
    made = layers(names, valves, tests or [{}], contacts, closed=list(closed))
    if not tests:
        made = {k: t for k, t in made.items() if k not in ("isolation_tests", "closed_valves")}
    return closures_of(read_job(made))


def closures_of(job):
    lines = lines_of(job, 0.3)
    met = junctions_of(lines, floor_m=0.3)
    fittings = fitting_chainages(job.contacts, lines, met)
    done = (
        IsolationFindings()
        if job.isolation_tests is None
        else isolation_findings(job, lines, met, fittings)
    )
    return valve_closures(job, lines, met, fittings, done).by_line


def proposed(found, line="S"):
    return [(c.valves, c.measure, c.measured_at) for c in found.get(line, ())]


def explained(**more):
    given = {"place_m": np.array([10.0, 30.0]), "place_probability": np.array([0.4, 0.2]),
             "rivals": (), "nearby": (), "silent": 0.4}  # fmt: skip
    return Explanations(**{**given, **more})


def test_a_curb_stop_is_shut_and_the_pressure_read_at_the_house():
    found = closures(("S",), [CURB])
    assert proposed(found) == [(("V0",), "pressure", "C0")]
    [one] = found["S"]
    assert (one.lines, one.customers) == (("S",), 1)
    sealed, rest = TIGHT["not_known"], (1 - TIGHT["not_known"]) * SHOWS["not_isolated"]
    leak, none = (sealed * SHOWS[k] + rest for k in ("leak", "outlets"))
    assert one.shows("S", explained()) == pytest.approx([leak, leak, none], rel=1e-4)


def test_what_it_shows_is_how_the_result_will_be_weighed():
    rivals = (Rival("beyond_start", 0.1, 0.0), Rival("beyond_end", 0.1, 40.0),
              Rival("fitting", 0.1, 38.0, "C0"), Rival("unknown", 0.1))  # fmt: skip
    what = explained(rivals=rivals, silent=0.0)
    [one] = closures(("S",), [CURB])["S"]
    test = {"measured_at": one.measured_at, "measure": one.measure}
    weighed = []
    for after in (100.0, 400.0):
        made = layers(("S",), [CURB], [{**test, "after": after}], [BIB], closed=one.valves)
        [own] = findings(read_job(made))[1].by_line["S"]
        log_bf = [*own.of_leak(own.holds(what.place_m)), *map(own.of_rival, rivals), 0.0]
        weighed.append(np.exp(own.log_likelihood(0.0) + np.array(log_bf)))
    assert one.shows("S", what) == pytest.approx(weighed[0])
    assert 1.0 - one.shows("S", what) == pytest.approx(weighed[1])


def test_a_part_of_a_main_takes_two_valves_and_holds_its_services():
    found = closures(TEE, [*MAINS, CURB], [BIB, HYDRANT, ("T", 28.0, {"kind": "hose_bib"})])
    assert proposed(found)[0] == (("V2",), "pressure", "C0")
    assert (("V0", "V1"), "pressure", "C1") in proposed(found)
    both = next(c for c in found["M"] if c.valves == ("V0", "V1"))
    assert both.lines == ("M", "S")
    assert both.customers == 1
    nearby = (("M", 0.2, 50.0), ("M", 0.1, 90.0), ("T", 0.1, 5.0))
    shows = both.shows("S", explained(nearby=nearby, silent=0.0))
    assert shows[2] == pytest.approx(shows[0], rel=1e-3)
    assert shows[3:5] == pytest.approx(shows[5], rel=1e-3)
    assert shows[2] > 1.5 * shows[3]
    # No valve is on T: it is cut off with the end of the main that it is on, or not at all.
    assert all("T" in c.lines for c in found["T"] if c.tests["T"].isolated.stretches)


@pytest.mark.parametrize("more", [{"kind": "house"}, {"kind": "pressure_reducing"},
                                  {"leaks_by": True}, {"normally_closed": True}])  # fmt: skip
def test_valves_that_are_not_shut(more):
    assert not closures(("S",), [("S", 0.5, more)])


def test_a_valve_that_leaks_by_is_passed_over_for_the_next():
    leaky = ("S", 0.5, {"kind": "curb_stop", "leaks_by": True})
    found = closures(TEE, [*MAINS, leaky], [BIB, HYDRANT])
    # One valve does if the far end of the main is not supplied, which is not known.
    sealed = {c.valves: c.tests["S"].sealed for c in found["S"] if "S" in c.lines}
    tight = TIGHT["not_known"]
    assert sealed == pytest.approx({("V0", "V1"): tight**2, ("V0",): tight / 2, ("V1",): tight / 2})


def test_one_gauge_does_not_show_what_leaks_on_both_sides_of_a_pressure_reducer():
    reducer = ("S", 10.0, {"kind": "pressure_reducing"})
    assert not closures(("S",), [CURB, reducer])
    # Beyond the next valve there is none.
    found = closures(("S",), [CURB, reducer, ("S", 20.0, {"kind": "isolation"})])
    assert proposed(found) == [(("V2",), "pressure", "C0")]


def test_a_normally_closed_valve_needs_no_shutting():
    closed = ("M", 70.0, {"kind": "isolation", "normally_closed": True})
    found = closures(TEE, [MAINS[0], closed], [BIB, HYDRANT])
    assert ("V0",) in {c.valves for c in found["S"]}
    both = next(c for c in found["S"] if c.valves == ("V0",))
    assert both.tests["S"].valves == ("V0", "V1")


def test_a_valve_beyond_the_meter_is_shut_and_the_register_read():
    meter = ("S", 2.0, {"kind": "meter"})
    found = closures(("S",), [("S", 30.0, {"kind": "isolation"})], [BIB, meter])
    assert proposed(found) == [(("V0",), "meter", "C1"), (("V0",), "pressure", "C0")]
    register, gauge = found["S"]
    what = explained(place_m=np.array([1.0, 10.0, 35.0]), place_probability=np.full(3, 0.2))
    before, between, beyond, _ = register.shows("S", what)
    assert between > 4 * max(before, beyond)
    gauged = gauge.shows("S", what)
    assert gauged[2] > 2 * gauged[1]


def test_a_test_that_was_made_is_not_proposed_again():
    test = {"measured_at": "C0", "measure": "pressure"}
    assert not closures(("S",), [CURB], tests=[test], closed=["V0"])
    # Nor is it made if it shows nothing.
    assert closures(("S",), [CURB], tests=[{**test, "settled": False}], closed=["V0"])


def test_two_valves_at_one_place_are_one():
    one, both = (closures(("S",), [CURB] * k) for k in (1, 2))
    assert proposed(one) == proposed(both)


def test_the_order_of_rows_changes_nothing():
    made = layers(TEE, [*MAINS, CURB], [{}], [BIB, HYDRANT], closed=[])
    made = {k: t for k, t in made.items() if k not in ("isolation_tests", "closed_valves")}
    turned = made | {k: made[k].iloc[::-1] for k in ("valves", "contacts")}
    given, other = (closures_of(read_job(one)) for one in (made, turned))
    assert {k: proposed(given, k) for k in TEE} == {k: proposed(other, k) for k in TEE}
    what = explained()
    for one, same in zip(given["S"], other["S"], strict=True):
        assert one.shows("S", what).tolist() == same.shows("S", what).tolist()


def test_chunks_have_the_closures_of_the_whole_job():
    made = layers(TEE, [*MAINS, CURB], [{}], [BIB, HYDRANT], closed=["V0"])
    job = read_job(made)
    whole = closures_of(job)
    plan = ChunkPlan.of(job, 1, DefaultErrors(0.3, 0.3, 0.3, 0.3))
    for number, line in enumerate(TEE):
        [(name, own)] = plan.chunk(number).job.valve_closures.by_line.items()
        assert name == line
        assert proposed({name: own}, name) == proposed(whole, name)
        what = explained(nearby=(("M", 0.1, 50.0),), silent=0.3)
        for one, same in zip(own, whole[name], strict=True):
            assert one.shows(name, what).tolist() == same.shows(name, what).tolist()
            assert pickle.loads(pickle.dumps(one)).lines == one.lines


def test_without_valves_there_is_nothing_to_shut():
    made = layers(("S",), BOTH, [{}], [BIB])
    kept = {k: t for k, t in made.items() if k in ("routes", "readings", "contacts")}
    assert not closures_of(read_job(kept))


@pytest.mark.parametrize(("language", "words"), [("en", "hospitals"), ("es", "hospitales")])
def test_cautions_of_a_valve(language, words):
    assert words in wording("si", language).text(valve_cautions())
