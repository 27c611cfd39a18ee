"""Results of actions: their likelihood by hand, what counts of several, and what follows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

import leakgeo
from leakgeo.find.advise.explanations import Explanations
from leakgeo.find.advise.information import expected_gain_bits
from leakgeo.find.advise.outcomes import looked_for
from leakgeo.find.evidence.action_results import (
    ActionEvidence,
    ActionResult,
    action_evidence,
    load_action_rates,
    results_of_actions,
)
from leakgeo.find.evidence.likelihood import updated
from leakgeo.find.posterior.posterior import Posterior
from leakgeo.find.posterior.rivals import Rival
from leakgeo.find.survey.fittings import fitting_chainages
from leakgeo.find.survey.line_fittings import NO_FITTINGS, LineFittings
from leakgeo.job.read import read_job
from leakgeo.route.junctions import junctions_of
from leakgeo.route.lines import lines_of
from leakgeo.wording import wording
from tests.job import jobs

RATES = load_action_rates()
MOST = RATES["most_odds"]["each"]
RIVALS = (
    Rival("fitting", 0.10, 4.0, "C"), Rival("fitting", 0.05, 9.0, "D"),
    Rival("beyond_start", 0.05, 0.0), Rival("beyond_end", 0.10, 20.0), Rival("unknown", 0.20),
)  # fmt: skip
# The rival that each result is about, by action and place.
ABOUT = {
    ("shut_fitting", "C"): 0, ("shut_fitting", "D"): 1, ("listen_beyond", "beyond_start"): 2,
    ("listen_beyond", "beyond_end"): 3, ("look_inside", ""): 3, ("find_source", ""): 4,
}  # fmt: skip
EARLY, LATE = "2025-03-31T08:00Z", "2025-04-02T08:00Z"


def before(rivals=RIVALS, leak=0.4):
    places = np.array([0.7, 0.3])
    return Posterior(np.array([5.0, 15.0]), places, leak, (), 0.0, 2.0, 2.0, 0.0, rivals=rivals)


def of(*results, customer="beyond_end"):
    return ActionEvidence(tuple(ActionResult(*one) for one in results), customer, NO_FITTINGS)


def after(evidence, found):
    return updated(found, evidence.likelihood(found.chainage_m, found.rivals))


@pytest.mark.parametrize("found", [True, False])
@pytest.mark.parametrize(("key", "rival"), ABOUT.items())
def test_a_result_is_weighed_by_bayes_rule(key, rival, found):
    held = before()
    later = after(of((*key, found)), held)
    right, wrong = (RATES[key[0]][name] for name in ("right", "wrong"))
    likely = np.full(7, wrong)  # the leak, silence, each rival
    likely[2 + rival] = right
    likely = likely if found else 1.0 - likely
    prior = np.array([held.leak_probability, 0.1, *(r.probability for r in RIVALS)])
    shares = prior * likely / (prior @ likely)
    rest = 1.0 - later.leak_probability - sum(r.probability for r in later.rivals)
    assert [later.leak_probability, rest] == pytest.approx(shares[:2])
    assert [r.probability for r in later.rivals] == pytest.approx(shares[2:])
    assert later.probability == pytest.approx(held.probability)


def test_a_leak_that_is_fed_through_a_fitting_may_fall_silent_with_it():
    kinds, names = (np.array([text], dtype=object) for text in ("stop_valve", "C"))
    own = LineFittings(np.array([10.0]), kinds, names)
    shut = ActionEvidence((ActionResult("shut_fitting", "C", found=True),), "beyond_end", own)
    log_bf = shut.likelihood(np.array([5.0, 15.0]), RIVALS)
    rates = RATES["shut_fitting"]
    assert np.exp(log_bf.leak) == pytest.approx([1.0, rates["fed"] / rates["wrong"]])
    assert np.exp(log_bf.rivals) == pytest.approx(
        [rates["right"] / rates["wrong"], 1.0, 1.0, rates["fed"] / rates["wrong"], 1.0]
    )
    outlet = replace(shut, fittings=replace(own, kind=np.array(["hose_bib"], dtype=object)))
    assert not outlet.likelihood(np.array([5.0, 15.0])).leak.any()


def test_running_water_is_beyond_either_end_if_it_is_not_known_which_is_the_customers():
    right, wrong = (RATES["look_inside"][name] for name in ("right", "wrong"))
    log_bf = of(("look_inside", "", True), customer=None).likelihood(np.zeros(1), RIVALS).rivals
    assert np.exp(log_bf[2:4]) == pytest.approx((0.5 * right + 0.5 * wrong) / wrong)
    assert not log_bf[[0, 1, 4]].any()


@given(st.dictionaries(st.sampled_from(list(ABOUT)), st.booleans(), min_size=1))
def test_results_together_are_bounded_and_multiply_below_that(drawn):
    results = [(*key, found) for key, found in drawn.items()]
    together = of(*results).likelihood(np.zeros(3), RIVALS)
    alone = sum(of(one).likelihood(np.zeros(3), RIVALS).rivals for one in results)
    assert together.rivals == pytest.approx(np.clip(alone, -np.log(MOST), np.log(MOST)))
    assert not together.leak.any()
    assert together.none == 0.0


def test_the_bound_is_reached():
    both = of(("listen_beyond", "beyond_end", True), ("look_inside", "", True))
    assert np.exp(both.likelihood(np.zeros(1), RIVALS).rivals[3]) == pytest.approx(MOST)


@pytest.mark.parametrize(("key", "rival"), ABOUT.items())
def test_drawn_results_gain_what_was_expected(key, rival):
    held, rng, truths = before(), np.random.default_rng(7), 4000
    explained = Explanations(held.chainage_m, held.probability * 0.4, RIVALS, (), 0.1)
    weight = explained.weights()
    right, wrong = (RATES[key[0]][name] for name in ("right", "wrong"))
    expected = expected_gain_bits(weight, looked_for(explained, *key, NO_FITTINGS, "beyond_end"))

    def gains(found):
        later = after(of((*key, found)), held)
        leaks = later.leak_probability * later.probability
        rivals = [r.probability for r in later.rivals]
        silent = 1.0 - leaks.sum() - sum(rivals)
        return np.log2(np.array([*leaks, *rivals, silent]) / weight)

    truth = rng.choice(len(weight), truths, p=weight)
    found = rng.random(truths) < np.where(truth == 2 + rival, right, wrong)
    realised = np.where(found, gains(True)[truth], gains(False)[truth])
    assert abs(realised.mean() - expected) < 4 * realised.std() / truths**0.5
    assert expected > 0.01


def fitting(at_m, name, kind="hose_bib", **columns):
    data = {"contact_id": [name], "line_id": ["L1"], "kind": [kind], "sound_level": [1.0],
            "sound_unit": ["db"]}  # fmt: skip
    x, y = (at_m, 0.0) if at_m <= 30 else (30.0, at_m - 30)
    return jobs.layer([shapely.Point(jobs.EAST + x, jobs.NORTH + y)], **{**data, **columns})


# A route of 50 m, whose customer's end is the last vertex.
FITTINGS = pd.concat([
    fitting(1.0, "C", "curb_stop"), fitting(25.0, "P", "pressure_reducing_valve"),
    fitting(49.0, "H"), fitting(30.0, "X", line_id=["L2"]),
], ignore_index=True)  # fmt: skip


def rows(*each):
    """Give a table of results: action, result, and further columns."""
    return pd.concat([
        jobs.action_results(action=[action], result=[result], contact_id=[None], time=[None])
        .assign(**more)
        for action, result, more in each
    ], ignore_index=True)  # fmt: skip


def job_of(*each, table=None, **layers):
    given = {"routes": jobs.routes(), "readings": jobs.heard(), "contacts": FITTINGS}
    results = rows(*each) if table is None else table
    return read_job({**given, **layers, "action_results": results})


def evidence_of(job):
    lines = lines_of(job, 0.3)
    met = junctions_of(lines, floor_m=0.3)
    return action_evidence(job, lines, fitting_chainages(job.contacts, lines, met))


SEVERAL = (
    ("look_inside", "found", {"time": EARLY}), ("look_inside", "not_found", {"time": LATE}),
    ("look_inside", "found", {}), ("shut_fitting", "found", {"contact_id": "P"}),
    ("listen_beyond", "not_found", {"beyond": "start"}),
    ("listen_beyond", "found", {"contact_id": "H"}), ("night", "not_found", {}),
    ("find_source", "found", {"time": LATE}), ("find_source", "not_found", {"time": LATE}),
)  # fmt: skip


def test_the_last_result_of_an_action_at_a_place_counts_in_any_order_of_rows():
    table = rows(*SEVERAL)
    turned = [job_of(table=table.iloc[order]) for order in (slice(None), slice(None, None, -1))]
    for job in turned:
        assert results_of_actions(job)["L1"] == (
            ("find_source", "", None), ("listen_beyond", "beyond_end", True),
            ("listen_beyond", "beyond_start", False), ("look_inside", "", False),
            ("night", "", False), ("shut_fitting", "P", True),
        )  # fmt: skip
    likely = [evidence_of(job)[0].likelihood(np.zeros(2), RIVALS) for job in turned]
    assert likely[0].rivals.tolist() == likely[1].rivals.tolist()
    assert likely[0].reason == likely[1].reason


def test_results_that_show_nothing_are_no_evidence():
    shows_nothing = (
        ("night", "found", {}), ("probe", "not_found", {}), ("shut_fitting", "found", {}),
        ("find_source", "found", {}), ("find_source", "not_found", {}),
        ("listen_beyond", "found", {"contact_id": "P"}),
    )  # fmt: skip
    assert evidence_of(job_of(*shows_nothing)) == {}


def test_the_customers_end_is_found_by_the_fittings():
    [evidence] = evidence_of(job_of(("look_inside", "found", {}))).values()
    assert evidence.customer == "beyond_end"


@pytest.mark.parametrize(
    ("row", "code"),
    [
        (("shut_fitting", "found", {}), "shut_fitting_not_named"),
        (("shut_fitting", "found", {"contact_id": "X"}), "shut_fitting_off_line"),
        (("listen_beyond", "found", {}), "end_not_named"),
        (("listen_beyond", "found", {"contact_id": "P"}), "end_not_named"),
        (("shut_fitting", "found", {"contact_id": "P"}), None),
        (("listen_beyond", "found", {"contact_id": "C"}), None),
        (("listen_beyond", "found", {"beyond": "end"}), None),
        (("look_inside", "found", {}), None),
    ],
)
def test_results_without_a_place_are_noted_with_what_to_do(row, code):
    job = job_of(row)
    told = jobs.about(job.faults, "action_results")
    assert [fault.code for fault in told] == ([code] if code else [])
    assert all(fault.effect == "noted" and fault.what_to_do for fault in told)
    assert job.action_results["reason"].isna().all()


@pytest.mark.parametrize("result", ["unknown", "maybe", None])
def test_a_result_that_is_not_known_is_not_no(result):
    job = job_of(("look_inside", result, {}))
    assert job.action_results["reason"].notna().all()
    assert [f.effect for f in jobs.about(job.faults, "action_results", "result")] == ["rejected"]
    assert results_of_actions(job) == {}


def test_a_result_from_before_a_repair_is_set_aside():
    hole = jobs.layer([shapely.Point(jobs.EAST + 15, jobs.NORTH)], line_id=["L1"], found=["leak"],
                      repaired=[True], time=["2025-04-01T08:00Z"])  # fmt: skip
    both = [("look_inside", "found", {"time": when}) for when in (EARLY, LATE)]
    for row, counts in zip(both, (False, True), strict=True):
        job = job_of(row, dig_outcomes=hole)
        assert bool(results_of_actions(job)) == counts
        assert jobs.codes(job.action_results) == [None if counts else "before_repair"]


@pytest.mark.parametrize("language", ["en", "es"])
def test_sentences(language):
    words = {
        "en": ("stopped when fitting C was shut: it is 18 times likelier", "less likely"),
        "es": ("cesó al cerrar", "menos probable"),
    }[language]
    say = wording("si", language)
    stopped, went_on = (
        of(("shut_fitting", "C", found)).likelihood(np.zeros(1), RIVALS).reason
        for found in (True, False)
    )
    assert words[0] in say.text(stopped)
    assert words[1] in say.text(went_on)
    other = of(("shut_fitting", "Z", True)).likelihood(np.zeros(1), RIVALS)
    assert other.reason.code == "action_results_concern_nothing"
    assert not other.rivals.any()


def test_a_fitting_that_silenced_a_line_is_as_much_likelier_as_the_rates_say():
    near = pd.concat([FITTINGS, fitting(14.0, "R", "hydrant")], ignore_index=True)

    def located(*results):
        found = leakgeo.locate(job_of(*results, contacts=near))
        table = found["explanations"].set_index(["kind", "contact_id"])["probability"]
        return found, table.xs("R", level=1).sum() / table.loc["leak"].sum()

    (_, plain), (found, stopped) = (
        located(("shut_fitting", result, {"contact_id": at}))
        for at, result in (("X", "found"), ("R", "found"))
    )
    rates = RATES["shut_fitting"]
    assert stopped == pytest.approx(plain * rates["right"] / rates["wrong"], rel=1e-6)
    [row] = found["evidence"].query("kind == 'action'").to_dict("records")
    assert row["log10_bayes_factor"] < 0.0
    assert row["code"] == "fitting_was_shut"


def test_what_was_done_is_not_proposed_again(town):
    result = town[0]
    recorded = ("listen_beyond", "look_inside", "find_source", "shut_fitting", "night", "probe")
    proposed = result["next_actions"][["line_id", "action", "contact_id", "chainage_m"]]
    proposed = proposed[proposed["action"].isin(recorded)]
    assert {"listen_beyond", "find_source", "shut_fitting"} <= set(proposed["action"])
    done = proposed.iloc[::2]
    end = np.where(done["chainage_m"] < 1.0, "start", "end")
    table = done[["line_id", "action", "contact_id"]].assign(
        beyond=np.where(done["action"] == "listen_beyond", end, None), result="not_found",
        time=pd.NaT, reason=None,
    )  # fmt: skip
    job = replace(result.job, action_results=table.reset_index(drop=True))
    later = leakgeo.advise(replace(result, job=job))["next_actions"]
    keys = ["line_id", "action", "contact_id", "chainage_m"]
    left, gone, before = (
        {tuple(map(str, row)) for row in one[keys].round(6).itertuples(index=False)}
        for one in (later, done, proposed)
    )
    assert not left & gone
    assert before - gone <= left
