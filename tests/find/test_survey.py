"""The survey: fittings ranked over the network, and the stretches to walk."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import leakgeo
from leakgeo.errors import ParameterError
from leakgeo.find.survey.fittings import rank_fittings
from leakgeo.job.schema import load_schema
from leakgeo.reason import Reason
from leakgeo.route.junctions import junctions_of
from leakgeo.route.lines import lines_of
from leakgeo.route.network import network_of
from tests.find.network_jobs import contacts, history, job_on, routes
from tests.real_routes import METRE_CRS, real_pipes
from tests.route.distances import distances

TEE = {"main": [(0, 0), (90, 0)], "service": [(40, 0), (40, 25)]}
LOOP = {"a": [(0, 0), (60, 0)], "b": [(60, 0), (60, 40)], "c": [(60, 40), (0, 40)],
        "d": [(0, 40), (0, 0)]}  # fmt: skip


def surveyed(lines: dict, places: dict, levels, **given_columns):
    job = job_on(routes(lines), contacts=contacts(places, levels, **given_columns))
    return leakgeo.survey(job, priors="none")


def rows(result) -> pd.DataFrame:
    return result["survey_bracket"].set_index("rank", drop=False)


def way(bracket: pd.DataFrame) -> set[tuple[str, float, float]]:
    on = bracket[bracket["on_path"]]
    columns = (on[c].round(1) for c in ("line_id", "from_chainage_m", "to_chainage_m"))
    return set(zip(*columns, strict=True)) if len(on) else set()


def test_the_bracket_turns_off_at_a_tee_and_looks_every_way_from_the_loudest():
    result = surveyed(TEE, {"V": (70, 0), "M": (40, 20), "H": (0, 0)}, [40, 34, 30])
    bracket = rows(result)
    assert way(bracket) == {("main", 40.0, 70.0), ("service", 0.0, 20.0)}
    beside = bracket[(bracket["from_contact"] == "V") | (bracket["to_contact"] == "V")]
    reach = (beside[c].round(3) for c in ("from_chainage_m", "to_chainage_m"))
    assert set(zip(*reach, strict=True)) == {(40.0, 70.0), (70.0, 90.0)}
    assert bracket["probability"].sum() <= 1 + 1e-9
    first = bracket[bracket["order"] == 1].iloc[0]
    assert "Walk it first, from V" in first["message"]
    assert (bracket["code"] == "stretch").all()
    assert "V and M, the loudest two" in bracket.loc[bracket["on_path"], "message"].iloc[0]


def test_in_a_loop_the_bracket_is_the_short_way_and_the_long_way_has_odds():
    result = surveyed(LOOP, {"P": (10, 0), "Q": (60, 10)}, [38, 35])
    bracket = rows(result)
    assert way(bracket) == {("a", 10.0, 60.0), ("b", 0.0, 10.0)}
    # From P the other way, to its corner, is beside the loudest.
    assert ("a", 0.0) in set(zip(bracket["line_id"], bracket["from_chainage_m"], strict=True))
    # Two fittings are no evidence of a leak on the long way: it keeps its odds, and is not walked.
    assert "d" not in set(bracket["line_id"])
    assert "Pipes not listed hold" in bracket.sort_values("order")["message"].iloc[0]


def test_nobody_is_sent_to_a_main_that_no_fitting_heard():
    street = {"main": [(0, 0), (140, 0)], "service": [(70, 0), (70, 22)]}
    near = {"V": (70, 2), "M": (70, 12)}
    bracket = rows(surveyed(street, near, [34, 31]))
    assert set(bracket["line_id"]) == {"service"}
    first = bracket.sort_values("order").iloc[0]
    assert first["on_path"]
    share = bracket["probability"].sum()
    assert share < 0.5
    unlisted = f"Pipes not listed hold {100 * (1 - share):.0f} %"
    assert unlisted in first["message"].replace("\xa0", " ")
    # Fittings on the main that hear it put it on the list.
    heard = rows(surveyed(street, near | {"H-1": (40, 0), "H-2": (100, 0)}, [34, 31, 44, 20]))
    assert "main" in set(heard["line_id"])


def test_ranks_go_over_the_network_and_over_the_line():
    result = surveyed(
        {**TEE, "other": [(0, 300), (50, 300)]},
        {"V": (70, 0), "M": (40, 20), "H": (0, 0), "X": (5, 300), "Y": (45, 300)},
        [34, 40, 30, 12, 28],
    )
    ranking = result.layers["contact_ranking"].set_index("contact_id")
    assert ranking["network_part"].tolist() == [1, 1, 1, 2, 2]
    assert ranking["rank"].tolist() == [2, 1, 3, 2, 1]
    assert ranking["rank_on_line"].tolist() == [1, 1, 2, 2, 1]
    assert set(rows(result)["network_part"]) == {1, 2}


def test_only_levels_of_gains_known_alike_compete():
    places = {"V": (70, 0), "M": (40, 20), "H": (0, 0), "Z": (85, 0)}
    result = surveyed(TEE, places, [40, 52, 30, 90], gain_db=[0.0, 18.0, 0.0, np.nan])
    ranking = result.layers["contact_ranking"].set_index("contact_id")
    assert ranking.loc["M", "level_db"] == 34.0
    assert ranking.loc[["V", "M", "H"], "rank"].tolist() == [1, 2, 3]
    assert np.isnan(ranking.loc["Z", "rank"])
    assert ranking["reason_code"].dropna().to_dict() == {"Z": "another_gain"}
    assert [f.feature for f in result.faults if f.layer == "contacts"] == ["Z"]


def test_a_fitting_at_a_junction_is_on_the_network_whichever_line_is_meant():
    lines = lines_of(job_on(routes(LOOP)), 0.3)
    places = contacts({"corner": (60.2, 0.2), "off": (30, 20)}, [30, 30])
    ranking = rank_fittings(places, lines, junctions_of(lines))
    assert ranking["used"].tolist() == [True, False]
    assert ranking.loc[0, "line_id"] in ("a", "b")
    # Midway between two lines that are joined far off it is not guessed.
    narrow = {"a": [(0, 0), (60, 0)], "b": [(60, 0), (60, 2)], "c": [(60, 2), (0, 2)]}
    lines = lines_of(job_on(routes(narrow)), 0.3)
    between = rank_fittings(contacts({"x": (20, 1)}, [30]), lines, junctions_of(lines))
    assert between["reason"][0] == Reason("between_routes")


def test_one_fitting_or_none_makes_no_bracket_and_the_layers_are_there():
    for job in (
        job_on(routes(TEE)),
        job_on(routes(TEE), contacts=contacts({}, [])),
        job_on(routes(TEE), contacts=contacts({"V": (70, 0)}, [40])),
    ):
        result = leakgeo.survey(job)
        assert result.layers["survey_bracket"].empty
        assert result.layers["survey_bracket"].crs == job.crs
        for name in ("survey_bracket", "contact_ranking"):
            assert set(load_schema(name).columns) <= set(result[name].columns)


@settings(max_examples=15)
@given(
    st.lists(st.tuples(st.sampled_from("abcd"), st.floats(0, 1), st.floats(0, 50)), min_size=2,
             max_size=8)
)  # fmt: skip
def test_stretches_are_on_the_pipes_and_part_them(heard):
    drawn = {name: shapely.LineString(xy) for name, xy in LOOP.items()}
    points = [drawn[n].interpolate(x, normalized=True).coords[0] for n, x, _ in heard]
    places = {f"F{i}": p for i, p in enumerate(points)}
    lines = np.array([n for n, _, _ in heard], dtype=object)
    result = surveyed(LOOP, places, [level for _, _, level in heard], line_id=lines)
    bracket = result.layers["survey_bracket"]
    pipes = shapely.union_all(list(drawn.values())).buffer(1e-6)
    assert all(pipes.covers(g) for g in bracket.geometry)
    assert bracket.geometry.length.to_numpy() == pytest.approx(bracket["length_m"], abs=1e-5)
    groups = bracket.groupby(["network_part", "area"])
    assert (groups["probability"].sum() <= 1 + 1e-9).all()
    for _, own in groups:
        assert sorted(own["rank"]) == sorted(own["order"]) == list(range(1, len(own) + 1))
        for _, line in own.sort_values("from_chainage_m").groupby("line_id"):
            after = line["from_chainage_m"].to_numpy()[1:]
            assert (after >= line["to_chainage_m"].to_numpy()[:-1] - 1e-9).all()


def test_on_a_real_network_the_leak_is_in_what_is_listed():
    pipes = real_pipes().to_crs(METRE_CRS)
    xy = dict(zip(pipes["line_id"], (g.coords for g in pipes.geometry), strict=True))
    job = job_on(routes(xy, METRE_CRS, material="ductile_iron"))
    measured = lines_of(job, 0.01)
    net = network_of(measured, junctions_of(measured))
    # A place for a hydrant at every node: the beginning or end of a line there.
    place = {int(n): (line, at) for n, line, at in zip(net.head, net.line, net.end_m, strict=True)}
    place |= {
        int(n): (line, at) for n, line, at in zip(net.tail, net.line, net.begin_m, strict=True)
    }
    rng = np.random.default_rng(5)
    audible = np.flatnonzero((net.length_m > 20) & (net.length_m < 120))
    held, walked, drawn = [], [], pipes.union_all().buffer(0.01)
    for s in rng.choice(audible, 12, replace=False):
        half = float(net.length_m[s] / 2)
        metres = half + distances(net, np.array([net.tail[s], net.head[s]])).min(axis=0)
        chosen = np.argsort(metres)[:40]  # the nearest nodes, among them quiet ones
        which, at = (np.array(c) for c in zip(*(place[int(n)] for n in chosen), strict=True))
        levels = 8 + 10 * np.log10(1 + 10 ** ((30 - 0.4 * metres[chosen]) / 10))
        spots = shapely.get_coordinates(measured.routes.points(which, at))
        heard = contacts(
            {f"F{i}": tuple(p) for i, p in enumerate(spots)},
            levels + rng.normal(0, 2, len(levels)),
            METRE_CRS,
            line_id=measured.table.index.to_numpy(dtype=object)[which],
        )
        result = leakgeo.survey(dataclasses.replace(job, contacts=heard), route_sd_m=0.01)
        bracket = result.layers["survey_bracket"]
        leak = measured.routes.points(net.line[[s]], np.array([net.begin_m[s] + half]))[0]
        held.append(bracket.distance(leak).min() < 0.01)
        walked.append(bracket["length_m"].sum())
        assert bracket.geometry.within(drawn).all()
    assert np.mean(held) >= 0.8
    assert np.median(walked) < 0.05 * net.length_m.sum()


def metered(litres: float) -> pd.DataFrame:
    begin = pd.to_datetime(["2026-05-01T00:00Z"])
    return pd.DataFrame({
        "line_id": ["service"], "start_reading": [100.0], "end_reading": [100.0 + litres],
        "volume_unit": ["l"], "start_time": begin, "end_time": begin + pd.Timedelta(hours=2),
        "water_used": [False], "resolution": [1.0], "reason": [None],
    })  # fmt: skip


QUIET = {"V": (70, 0), "M": (40, 20), "H": (0, 0)}


@pytest.mark.parametrize(
    ("layers", "bare"),
    [
        ({}, "main, service"),
        ({"contacts": contacts(QUIET, [10, 10, 10])}, "main, service"),
        ({"contacts": contacts(QUIET, [45, 12, 10])}, "service"),
        ({"contacts": contacts(QUIET, [36, 40, 20])}, None),
        ({"meter_tests": metered(0.0)}, "main, service"),
        ({"meter_tests": metered(40.0)}, "main"),
        ({"history": history([shapely.Point(40, 20)], ["past_leak"])}, "main"),
        ({"history": history([shapely.Point(40, 20)], ["excavation"])}, "main, service"),
    ],
)
def test_where_nothing_speaks_for_a_leak_it_is_said_once_before_anyone_walks(layers, bare):
    result = leakgeo.survey(job_on(routes(TEE), **layers))
    reported = [f for f in result.faults if f.layer == "job"]
    assert [f.feature for f in reported] == ([bare] if bare else [])
    for fault in reported:
        assert fault.effect == "noted"
        assert "before anyone walks" in fault.what_to_do


def test_levels_that_show_nothing_are_said_to_show_nothing():
    quiet = rows(surveyed(TEE, QUIET, [10, 11, 10]))
    loud = rows(surveyed(TEE, QUIET, [45, 20, 10]))
    assert "hardly evidence for a leak" in " ".join(quiet["message"])
    assert "hardly evidence for a leak" not in " ".join(loud["message"])


def test_two_leaks_with_quiet_between_are_looked_at_apart():
    lines = {"main": [(0, 0), (90, 0)], "s1": [(20, 0), (20, 25)], "s2": [(70, 0), (70, 25)]}
    places = {"A": (20, 20), "a": (20, 1), "B": (70, 20), "b": (70, 1), "H": (0, 0)}
    job = job_on(routes(lines, material="pvc"), contacts=contacts(places, [42, 15, 40, 14, 10]))
    bracket = leakgeo.survey(job, priors="none")["survey_bracket"]
    first = bracket[bracket["rank"] == 1].set_index("area")
    assert first["line_id"].tolist() == ["s1", "s2"]
    assert (
        "treat it as a separate source"
        in bracket.query("area == 2 and order == 1")["message"].item()
    )


def test_a_past_leak_moves_the_odds_by_a_little_and_only_if_asked():
    old = history([shapely.Point(40, 12)], ["past_leak"])
    job = job_on(routes(TEE), contacts=contacts(QUIET, [30, 30, 20]), history=old)
    share = {
        priors: rows(leakgeo.survey(job, priors=priors))
        .query("line_id == 'service'")["probability"].sum()
        for priors in ("none", "past_leaks", "age")
    }  # fmt: skip
    assert share["none"] == share["age"]
    assert 1.0 < share["past_leaks"] / share["none"] < 3.0


def test_an_unknown_prior_is_refused():
    with pytest.raises(ParameterError, match="'luck' is not known"):
        leakgeo.survey(job_on(routes(TEE)), priors="luck")
