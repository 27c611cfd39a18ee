"""The step on jobs: stops on the line and apart, reasons to stop, first walks, fittings."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

import leakgeo
from leakgeo.find.advise.next_stops import StopRules, next_stops, worthwhile
from leakgeo.find.advise.verdicts import may_be_here
from leakgeo.simulate import Conditions
from leakgeo.simulate.job import fields_to_layers, local_plane
from leakgeo.simulate.write import write_job
from tests.benchmarks.advice import draw_sites, usual

TAPE = Conditions(tape_share=1.0)
PLANE = local_plane(-87.3, 43.2)
FOOT_M = 0.3048


def coarse(site, step_m):
    stops = np.arange(1.0, site.truth.ground.length_m, step_m)
    return site.field(stops, np.zeros(len(stops)))


def layers_of(fields):
    return {k: v for k, v in fields_to_layers(fields).items() if k != "truth"}


def contacts(rows):
    """Fittings as (contact_id, line_id, kind, level, point)."""
    names = ("contact_id", "line_id", "kind", "sound_level")
    columns = {name: [row[k] for row in rows] for k, name in enumerate(names)}
    points = [row[4] for row in rows]
    columns |= {"sound_unit": "db", "gain_db": 20.0}
    return gpd.GeoDataFrame(columns, geometry=points, crs=PLANE)


@pytest.fixture(scope="module")
def located(tmp_path_factory):
    """Lines heard in all ways, the last two not at all; fittings on the first and the last."""
    sites = draw_sites(10, 4, TAPE)
    fields = [usual(s) for s in sites[:3]] + [coarse(s, 3.0) for s in sites[3:8]]
    fields += [s.field(np.empty(0), np.empty(0)) for s in sites[8:]]
    layers = layers_of(fields)
    first, last = (layers["routes"].geometry.iloc[i] for i in (0, -1))
    layers["contacts"] = contacts([
        ("C-1", "L-0001", "curb_stop", 20.0, first.interpolate(5.0)),
        ("C-2", "L-0010", "meter", 34.0, last.interpolate(2.0)),
        ("C-3", "L-0010", "hose_bib", 30.0, last.interpolate(last.length - 1.0)),
    ])  # fmt: skip
    path = tmp_path_factory.mktemp("job") / "job.gpkg"
    write_job(layers, path)
    return leakgeo.locate(leakgeo.survey(path))


@pytest.fixture(scope="module")
def advised(located):
    return leakgeo.advise(located)


def test_every_stop_is_on_its_line(advised):
    stops = advised["next_readings"]
    routes = advised.job.routes.set_index("line_id").geometry
    own = np.array(routes[stops["line_id"]])
    assert shapely.distance(own, stops.geometry.to_numpy()).max() < 1e-6
    assert (stops["chainage_m"] >= 0).all()
    assert (stops["chainage_m"].to_numpy() <= shapely.length(own) + 0.01).all()
    on = shapely.line_locate_point(own, stops.geometry.to_numpy())
    assert on == pytest.approx(stops["chainage_m"], abs=0.02)


def test_stops_are_in_order_and_a_foot_apart_or_more(advised):
    for _, own in advised["next_readings"].groupby("line_id"):
        assert own["order"].tolist() == list(range(1, len(own) + 1))
        assert np.diff(np.sort(own["chainage_m"])).min(initial=1.0) >= FOOT_M - 0.011


def test_every_line_is_advised_to_go_on_or_why_not(advised):
    lines = advised["lines"].set_index("line_id")["advice"]
    assert lines.notna().all()
    stops = set(advised["next_readings"]["line_id"])
    actions = advised["next_actions"]
    listening = actions[actions["action"].isin(["listen", "walk_on"])].set_index("line_id")
    assert set(listening.index) == stops
    for name, said in lines.items():
        starts = "Not listened to yet: walk" if name == "L-0010" else "Listen at"
        first = name in stops and listening.loc[name, "order"] == 1
        assert said.startswith((starts, "Walk on")) == first, said


def test_expected_zones_shrink_from_the_zones_there_are(advised):
    zones = advised["search_zones"].groupby("line_id")["length_m"].sum()
    stops = advised["next_readings"].dropna(subset="expected_zone_m")
    assert len(stops) > 10
    for name, own in stops.groupby("line_id"):
        length = np.append(zones[name], own["expected_zone_m"])
        # A bit halves it.
        assert np.log2(length[:-1] / length[1:]) == pytest.approx(own["expected_gain_bits"])


def test_short_zones_need_no_more_readings(located):
    enough = leakgeo.advise(located, short_zone_m=1e3)
    heard = enough["search_zones"]["line_id"].unique()
    assert len(heard) >= 4
    assert not set(heard) & set(enough["next_readings"]["line_id"])
    said = enough["lines"].set_index("line_id")["advice"]
    assert said[heard].str.startswith(("Enough readings", "More stops are not needed")).all()


def test_readings_that_tell_too_little_are_not_proposed(located):
    none = leakgeo.advise(located, least_bits=1.0)
    left = none["next_readings"]
    assert (left.groupby("line_id")["expected_gain_bits"].mean().dropna() >= 1.0).all()
    said = none["lines"]["advice"]
    assert said.str.contains("More stops like these would").sum() >= 4
    most = leakgeo.advise(located, least_bits=0.001, how_many=12)
    assert most["next_readings"].groupby("line_id").size().drop("L-0010").max() == 12


def test_no_stop_is_proposed_that_gains_nothing(located):
    """Whatever is set: the zone as printed shrinks, by 5 % at the least."""
    some = leakgeo.advise(located, least_bits=0.001, short_zone_m=0.1)
    zones = some["search_zones"].groupby("line_id")["length_m"].sum()
    after = some["next_readings"].groupby("line_id")["expected_zone_m"].min().dropna()
    assert len(after) >= 3
    before = zones[after.index]
    assert (after <= 0.95 * before + 1e-9).all()
    assert (before - after >= 0.0254).all()
    said = some["lines"].set_index("line_id")["advice"]
    for line in said[after.index]:
        assert int(re.search(r"shrink by (\d+) %, to about", line)[1]) >= 5


def test_one_next_action_a_line(located):
    """Where more stops gain nothing, no stop is listed, and what does help is said; or it ends."""
    none = leakgeo.advise(located, least_bits=1.0)
    lines = none["lines"].set_index("line_id")
    unproposed = lines.index.difference(none["next_readings"]["line_id"])
    heard = lines.loc[unproposed].query("status != 'rejected'")
    assert len(heard) >= 4
    others = set(none["next_actions"]["line_id"])
    for row in heard.itertuples():
        wants_more = row.status in ("keep_listening", "ambiguous")
        helped = row.Index in others or "nothing_else" in row.advice_values
        assert not wants_more or helped or "asked for" in row.advice
        assert "repeat" not in row.message


def test_a_leak_that_only_the_meter_shows_is_not_listened_for_once_more(located):
    lines = located["lines"].set_index("line_id")
    zoned = set(located["search_zones"]["line_id"])
    unheard = [n for n in lines.index[lines["leak_probability"].notna()] if n not in zoned]
    readings = located["readings_on_route"].groupby("line_id").size()
    assert len(unheard) >= 1
    name = unheard[0]
    assert readings[name] > 3
    rows = located["evidence"]["line_id"] == name
    shown = located["evidence"][rows].head(1).assign(kind="meter", log10_bayes_factor=1.0)
    told = dict(located.layers) | {"evidence": pd.concat([located["evidence"], shown])}
    after = leakgeo.advise(replace(located, layers=told))
    assert name not in set(after["next_readings"]["line_id"])
    best = after["next_actions"].query("line_id == @name and order == 1")["action"]
    # It is not given up either.
    assert len(best) == 1
    assert not best.isin(["listen", "walk_on"]).any()
    # Where a stretch was not walked, listening goes on.
    whole = leakgeo.advise(replace(located, layers=told), coarse_step_m=0.5)
    assert "leak_not_heard" not in set(whole["lines"]["advice_code"])
    assert "leak_not_heard" in set(after["lines"]["advice_code"])


def test_a_meter_without_a_valid_test_is_to_be_read_again(located, monkeypatch):
    tests = {name: SimpleNamespace(verdict="not_valid") for name in located["lines"]["line_id"]}
    tests["L-0002"] = SimpleNamespace(verdict="loss_shown")
    monkeypatch.setattr("leakgeo.find.advise.verdicts.losses", lambda _: tests)
    lines = leakgeo.advise(located)["lines"].set_index("line_id")
    again = set(lines.index[lines["advice_values"].str.contains("read_meter_again", na=False)])
    done = set(lines.index[lines["status"].isin(["located", "rejected"])])
    assert again == set(lines.index) - done - {"L-0002"}
    assert len(again) > 2


def test_less_will_do_where_the_goal_is_near():
    rules = StopRules(how_many=5, short_zone_m=0.6, least_bits=0.02, walk_m_per_bit=200.0)
    assert [rules.least(zone) for zone in (0.8, 0.9)] == pytest.approx([0.012, 0.02])


def test_less_will_do_where_a_likely_leak_is_not_decided_on():
    rules = StopRules(how_many=5, short_zone_m=0.6, least_bits=0.02, walk_m_per_bit=200.0)
    least = [rules.least(np.nan, leak) for leak in (0.7, 0.3)]
    assert [*least, rules.least(3.0, 0.7)] == pytest.approx([0.008, 0.02, 0.02])


@given(st.lists(st.floats(0.0, 1.0), max_size=8), st.floats(0.001, 0.5))
def test_stops_gain_enough_on_the_average_and_more_would_not(bits, least):
    count = worthwhile(bits, least)
    assert count == 0 or np.mean(bits[:count]) >= least - 1e-9
    assert all(np.mean(bits[:more]) < least for more in range(count + 1, len(bits) + 1))


def test_where_a_leak_may_be_on_either_side_of_an_end_listening_goes_on(located, monkeypatch):
    some = leakgeo.advise(located, least_bits=0.01)["next_readings"]
    name = some.dropna(subset="expected_zone_m")["line_id"].iloc[0]
    for action, goes_on in (("listen_beyond", True), ("shut_fitting", False)):
        monkeypatch.setattr(
            "leakgeo.find.advise.heard_lines.explained_otherwise", lambda _, a=action: {name: a}
        )
        after = leakgeo.advise(located, least_bits=0.01)["next_readings"]
        assert (name in set(after["line_id"])) == goes_on
    assert [may_be_here("listen_beyond", leak) for leak in (0.3, 0.2)] == [True, False]


def test_an_unheard_line_is_walked_where_the_fittings_point(advised):
    stops = advised["next_readings"].set_index("line_id").loc["L-0010"]
    bracket = advised["survey_bracket"].query("line_id == 'L-0010'").sort_values("order")
    begin, end = bracket[["from_chainage_m", "to_chainage_m"]].iloc[0]
    assert begin <= stops["chainage_m"].iloc[0] <= end
    assert stops["expected_gain_bits"].isna().all()
    assert "L-0009" not in set(advised["next_readings"]["line_id"])
    said = advised["lines"].set_index("line_id")["advice"]
    assert said["L-0009"].startswith("Not listened to yet, and nothing indicates a leak here")


def test_all_unheard_lines_are_walked_where_that_is_asked_for(located):
    every = leakgeo.advise(located, first_walks="all", coarse_step_m=2.0)
    stops = every["next_readings"].set_index("line_id").loc["L-0009", "chainage_m"].to_numpy()
    length = float(every.job.routes.set_index("line_id").geometry["L-0009"].length)
    gap = np.diff(stops)
    assert gap.max() <= 2.0 + 0.02
    assert stops[0] == pytest.approx(gap[0] / 2, abs=0.02)
    assert length - stops[-1] == pytest.approx(gap[0] / 2, abs=0.02)


def test_stops_are_taped_from_the_nearest_fitting(advised):
    stops = advised["next_readings"].set_index("line_id")
    fitting = advised["contact_ranking"].set_index("contact_id")["chainage_m"]
    own = stops.loc["L-0010"]
    at = own["from_fitting"].str.split().str[-1].map(fitting)
    back = np.where(own["toward_fitting"] == "start of the route", -1.0, 1.0)
    back = np.where(at > own["chainage_m"], -1.0, back)
    taped = at + back * own["from_fitting_m"]
    assert own["chainage_m"].to_numpy() == pytest.approx(taped, abs=0.011)
    assert (own["from_fitting"] != own["toward_fitting"]).all()
    other = np.abs(own["chainage_m"].to_numpy()[:, None] - fitting[["C-2", "C-3"]].to_numpy())
    assert other.min(axis=1) == pytest.approx(own["from_fitting_m"].abs(), abs=0.011)
    bare = stops.loc[~stops.index.isin(["L-0001", "L-0010"])]
    assert (bare["from_fitting"] == "start of the route").all()
    assert bare["from_fitting_m"].to_numpy() == pytest.approx(bare["chainage_m"], abs=0.011)


def test_stops_are_no_closer_than_positions_are_known(tmp_path):
    sites = draw_sites(4, 9, replace(TAPE, tape_share=0.0, fix_sd_m=1.5, leak_share=1.0))
    write_job(layers_of([usual(s) for s in sites]), tmp_path / "job.gpkg")
    advised = leakgeo.advise(tmp_path / "job.gpkg", least_bits=0.001)
    gaps = [
        np.diff(np.sort(own["chainage_m"]))
        for _, own in advised["next_readings"].groupby("line_id")
        if len(own) > 1
    ]
    assert gaps
    assert np.concatenate(gaps).min() > 0.8


def test_rows_in_another_order_get_the_same_advice(tmp_path):
    layers = layers_of([coarse(s, 3.0) for s in draw_sites(3, 6, TAPE)])
    found = []
    for seed in (0, 1):
        shuffled = layers["readings"].sample(frac=1.0, random_state=seed)
        write_job({**layers, "readings": shuffled}, tmp_path / f"{seed}.gpkg")
        found.append(leakgeo.advise(tmp_path / f"{seed}.gpkg")["next_readings"])
    pd.testing.assert_frame_equal(
        pd.DataFrame(found[0].drop(columns="geometry")),
        pd.DataFrame(found[1].drop(columns="geometry")),
    )


def test_a_long_quiet_main_is_advised_on(tmp_path):
    line = gpd.GeoDataFrame(
        {"line_id": ["M-1"], "material": ["ductile_iron"], "depth_m": [1.5]},
        geometry=[shapely.LineString([(0, 0), (1500, 40)])],
        crs=PLANE,
    )
    along = np.arange(5.0, 1500.0, 15.0)
    rng = np.random.default_rng(2)
    readings = gpd.GeoDataFrame(
        {
            "reading_id": [f"r{i}" for i in range(len(along))], "line_id": "M-1", "walk_id": "w",
            "sound_level": 30.0 + rng.standard_normal(len(along)).round(1), "sound_unit": "db",
            "gain_db": 20.0, "chainage_m": along,
        },
        geometry=shapely.line_interpolate_point(line.geometry.iloc[0], along), crs=PLANE,
    )  # fmt: skip
    write_job({"routes": line, "readings": readings}, tmp_path / "job.gpkg")
    advised = leakgeo.advise(tmp_path / "job.gpkg")
    assert advised["lines"]["advice"].notna().all()
    assert advised["next_readings"]["chainage_m"].between(0, 1500.6).all()
    assert not [f for f in advised.faults if f.layer == "next_readings"]


def test_a_line_that_defeats_the_computing_stops_no_other(located, monkeypatch):
    def fails(line, *rest):
        if line.lines.table.index[line.line] == "L-0002":
            raise np.linalg.LinAlgError("singular")
        return next_stops(line, *rest)

    monkeypatch.setattr("leakgeo.find.advise.heard_lines.next_stops", fails)
    found = leakgeo.advise(located, short_zone_m=0.1)
    reported = [f for f in found.faults if f.layer == "next_readings"]
    assert [f.feature for f in reported] == ["L-0002"]
    assert found["next_readings"]["line_id"].nunique() >= 4
    assert "L-0002" not in set(found["next_readings"]["line_id"])
