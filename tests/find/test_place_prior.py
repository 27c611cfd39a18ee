"""Priors for the place: modest, normal along each line, and of nothing but what is near."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from leakgeo.errors import ParameterError
from leakgeo.find.posterior.place_prior import load_place_weights, parse_priors, place_prior
from leakgeo.reason import Reason
from leakgeo.route.lines import lines_of
from leakgeo.wording import wording
from tests.find.network_jobs import contacts, history, job_on, routes

PIPES = {"main": [(0, 0), (90, 0)], "service": [(40, 0), (40, 25)], "far": [(0, 500), (60, 500)]}
MAIN, SERVICE, FAR = 0, 1, 2


def prior_of(priors="all", columns=None, **layers):
    job = job_on(routes(PIPES, **(columns or {})), **layers)
    return place_prior(job, lines_of(job, 0.3), priors)


def grid(length: float) -> np.ndarray:
    return (np.arange(20_000) + 0.5) / 20_000 * length


POINT = st.tuples(st.floats(-10, 100), st.floats(-10, 40)).map(shapely.Point)
DUG = st.one_of(POINT, POINT.map(lambda p: p.buffer(4)))
KIND = st.sampled_from(["past_leak", "repair", "excavation"])


@settings(max_examples=30)
@given(st.lists(st.tuples(DUG, KIND), max_size=6), st.booleans())
def test_priors_are_modest_and_their_mean_is_one(records, with_fittings):
    layers = {"history": history([r[0] for r in records], [r[1] for r in records])}
    if with_fittings:
        layers["contacts"] = contacts({"V": (70, 0), "M": (40, 20)}, [1, 1])
    prior = prior_of(**layers)
    for line, length in enumerate([90.0, 25.0, 60.0]):
        found = prior.log_weight(line, grid(length))
        if found is None:
            assert prior.description(line) is None
            continue
        weight = np.exp(found)
        assert weight.mean() == pytest.approx(1.0, abs=2e-3)
        assert weight.max() / weight.min() <= load_place_weights()["limit"]["times"] + 1e-9


def said(prior, line, language="en"):
    """Give the text of what made places of a line likelier."""
    return wording(language=language).text(prior.description(line))


def test_a_line_with_nothing_near_costs_nothing():
    prior = prior_of(history=history([shapely.Point(20, 3)], ["past_leak"]))
    assert prior.log_weight(FAR, grid(60.0)) is None
    assert prior.description(FAR) is None
    assert prior_of("none").log_weight(MAIN, grid(90.0)) is None
    assert prior_of("past_leaks").log_weight(MAIN, grid(90.0)) is None


def test_the_likeliest_place_is_beside_the_past_leak():
    prior = prior_of("past_leaks", history=history([shapely.Point(23, 1)], ["past_leak"]))
    weight = np.exp(prior.log_weight(MAIN, grid(90.0)))
    assert grid(90.0)[weight.argmax()] == pytest.approx(23.0, abs=0.01)
    # 2.5 times, less what a record without a date counts for, and a metre aside of a reach of 4 m.
    more = 1.5 * 0.5 * np.exp(-0.5 * (1 / 4) ** 2)
    assert weight.max() / weight.min() == pytest.approx(1 + more, rel=1e-3)


def test_all_of_a_pipe_inside_a_dig_is_alike():
    trench = shapely.box(30, -2, 50, 2)
    prior = prior_of("excavations", history=history([trench], ["excavation"]))
    inside = prior.log_weight(MAIN, np.linspace(30, 50, 9))
    assert np.ptp(inside) == pytest.approx(0.0, abs=1e-12)
    assert inside[0] > prior.log_weight(MAIN, np.array([60.0]))[0] + 0.3


def test_a_record_that_names_its_line_is_of_that_line_alone():
    place = [shapely.Point(41, 2)]
    named = np.array(["service"], dtype=object)
    prior = prior_of("repairs", history=history(place, ["repair"], line_id=named))
    assert prior.log_weight(MAIN, grid(90.0)) is None
    assert said(prior, SERVICE) == "1 repair"
    both = prior_of("repairs", history=history(place, ["repair"]))
    assert both.log_weight(MAIN, grid(90.0)) is not None


def test_what_is_long_past_fades():
    places = [shapely.Point(10, 0), shapely.Point(80, 0)]
    dates = pd.to_datetime(["2000-05-01", "2025-05-01"])
    prior = prior_of("excavations", history=history(places, ["excavation"] * 2, date=dates))
    old, new = prior.log_weight(MAIN, np.array([10.0, 80.0]))
    even = prior.log_weight(MAIN, np.array([45.0]))[0]
    assert new - even == pytest.approx(np.log(2.0), abs=1e-6)
    assert 0 < old - even < 0.02


def test_fittings_indoors_and_rejected_records_do_not_count():
    indoors = contacts({"S": (70, 0)}, [1], kind="sink")
    assert said(prior_of("fittings", contacts=indoors), MAIN) == "1 joint or fitting"  # the tee
    outdoors = contacts({"S": (70, 0)}, [1], kind="hydrant")
    assert said(prior_of("fittings", contacts=outdoors), MAIN) == "2 joints or fittings"
    bad = history([shapely.Point(20, 0)], ["repair"], reason=Reason("no_geometry"))
    assert prior_of("repairs", history=bad).description(MAIN) is None


def test_older_pieces_among_those_connected_are_likelier():
    years = {"installed_year": [1960, 2005, 1930]}
    prior = prior_of("age", years)
    weight = np.exp(prior.log_line)
    assert weight[MAIN] / weight[SERVICE] == pytest.approx(2.0)
    assert (weight[MAIN] * 90 + weight[SERVICE] * 25) / 115 == pytest.approx(1.0)
    assert weight[FAR] == pytest.approx(1.0)  # old, and joined to nothing
    assert said(prior, MAIN) == "older than the pipes it joins"
    assert said(prior, SERVICE) == "newer than the pipes it joins"
    assert said(prior, SERVICE, "es") == "ser más nueva que las tuberías con las que se une"
    assert prior.log_weight(MAIN, grid(90.0)) is None
    unknown = prior_of("age", {"installed_year": [1960, np.nan, np.nan]})
    assert unknown.log_line.tolist() == [0.0, 0.0, 0.0]


def test_priors_are_chosen_by_name():
    assert parse_priors("age,repairs") == {"age", "repairs"}
    with pytest.raises(ParameterError, match="use all, none, or some of fittings"):
        parse_priors("fittings, moon")


def test_each_weight_is_modest():
    weights = load_place_weights()
    assert all(1.0 < table["times"] <= 3.0 for table in weights.values())
