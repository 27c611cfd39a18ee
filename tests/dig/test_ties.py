"""Tie distances: right on the ground, from fixed points that cross well, never fewer than two."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import CRS, Geod, Transformer
from shapely import LineString, Point

from leakgeo.dig.ties import ties
from leakgeo.wording import with_texts, wording
from tests.dig.conftest import METRES, X0, Y0

quick = settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])


def fittings(*offsets, kind="meter"):
    return gpd.GeoDataFrame(
        {"contact_id": [f"C-{i}" for i in range(len(offsets))], "kind": kind},
        geometry=[Point(X0 + x, Y0 + y) for x, y in offsets], crs=METRES,
    )  # fmt: skip


def test_distances_are_on_the_ground_as_the_geodesic_has_them(dig, gas_main):
    _, _, done = dig([gas_main()], contacts=fittings((6.0, 8.0), (-40.0, 9.0)))
    ties = done["ties"]
    to_degrees = Transformer.from_crs(METRES, CRS(4269), always_xy=True)
    ends = np.array([list(line.coords) for line in ties.geometry])
    lon, lat = to_degrees.transform(ends[..., 0], ends[..., 1])
    _, _, geodesic = Geod(ellps="GRS80").inv(lon[:, 0], lat[:, 0], lon[:, 1], lat[:, 1])
    assert ties["distance_m"].to_numpy() == pytest.approx(geodesic, abs=2e-4)
    # On the grid, at the central meridian of a UTM zone, lengths are 0.9996 of those on the ground.
    assert ties["distance_m"].iloc[0] == pytest.approx(10.0 / 0.9996, abs=1e-4)


def test_from_a_fitting_to_the_mark(dig, gas_main):
    _, _, done = dig([gas_main()], contacts=fittings((0.0, -5.0), (-7.0, 0.0)))
    ties = done["ties"]
    assert ties["fixed_point"].tolist() == ["meter C-0", "meter C-1"]
    assert ties["bearing_deg"].tolist() == pytest.approx([0.0, 90.0])
    assert ties["crossing_deg"].iloc[1] == pytest.approx(90.0)
    assert ties["fixed_kind"].tolist() == ["fitting"] * 2


def test_tapes_that_cross_well_go_before_nearer_ones_that_do_not(dig, gas_main):
    _, _, done = dig([gas_main()], contacts=fittings((0.0, 5.0), (0.1, 8.0), (20.0, 1.0)))
    assert done["ties"]["fixed_point"].tolist() == ["meter C-0", "meter C-2", "meter C-1"]


def test_a_fitting_beside_the_mark_is_a_tie(dig, gas_main):
    _, _, done = dig([gas_main()], contacts=fittings((0.5, 0.0), (0.0, -7.0)))
    assert done.layers["ties"]["distance_m"].iloc[0] == pytest.approx(0.5 / 0.9996, abs=1e-4)


def test_bends_are_counted_for_each_route(small_result, clear, gas_main, mark):
    def route(name, x):
        bent = LineString([(X0 + x, Y0 - 9), (X0 + x + 5, Y0), (X0 + x, Y0 + 70)])
        return {"line_id": name, "material": "copper", "geometry": bent}

    made = small_result([gas_main()], marks=[mark(), mark(line_id="L-3")])
    routes = gpd.GeoDataFrame([route("L-1", 1.0), route("L-3", 2.0)], crs=METRES)
    done = with_texts(ties(replace(made.job, routes=routes), made["marks"]), wording())
    names = done.groupby("line_id")["fixed_point"].agg(list)
    assert names["L-1"] == names["L-3"] == ["bend 1 of the route", "start of the route"]


@pytest.mark.parametrize("contacts", [None, fittings(), fittings((0.0, 9000.0))])
def test_without_fittings_the_route_gives_two(dig, gas_main, contacts):
    _, _, done = dig([gas_main()], contacts=contacts)
    ties = done["ties"]
    assert ties["fixed_point"].tolist() == ["start of the route", "end of the route"]
    assert ties["fixed_kind"].tolist() == ["route"] * 2


def test_a_bend_is_named_by_its_place(dig, gas_main):
    bent = LineString([(X0, Y0 - 12), (X0, Y0 + 3), (X0 + 4, Y0 + 3), (X0 + 4, Y0 + 60)])
    _, _, done = dig([gas_main()], route={"geometry": bent})
    assert done["ties"]["fixed_point"].tolist() == [
        "bend 1 of the route", "bend 2 of the route",
    ]  # fmt: skip


spots = st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=2, max_size=9)


@quick
@given(spots)
def test_two_ties_or_more_lead_back_to_the_mark(dig, gas_main, offsets):
    _, _, done = dig([gas_main()], contacts=fittings(*offsets))
    ties = done["ties"]
    assert 2 <= len(ties) <= 3
    assert ties["order"].tolist() == list(range(1, len(ties) + 1))
    ends = np.array([list(line.coords) for line in ties.geometry])
    assert ends[:, 1] == pytest.approx(np.tile([X0, Y0], (len(ties), 1)))
    grid = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    assert ties["distance_m"].to_numpy() == pytest.approx(grid / 0.9996, rel=1e-5, abs=1e-9)


def test_each_mark_has_its_own_ties(small_result, clear, gas_main, mark):
    marks = [mark(line_id=f"M-{i}", geometry=Point(X0 + 30 * i, Y0)) for i in range(4)]
    contacts = fittings(*[(30 * i + 1, 2) for i in range(4)], *[(30 * i, -3) for i in range(4)])
    done = clear(small_result([gas_main()], marks, contacts=contacts))
    ties = done["ties"].set_index(["line_id", "order"])["fixed_point"]
    for i in range(4):
        assert {ties[f"M-{i}", 1], ties[f"M-{i}", 2]} == {f"meter C-{i}", f"meter C-{i + 4}"}


def test_each_route_has_its_own_start_bends_and_end(small_result, gas_main, mark):
    """The marks stand near the last bend of the first line and near the end of the second."""
    result = small_result(
        [gas_main()],
        [mark(geometry=Point(X0 + 1, Y0 + 8)), mark(line_id="L-2", geometry=Point(X0 + 50, Y0))],
    )
    traces = [LineString([(X0, Y0 - 90), (X0, Y0 + 3), (X0 + 4, Y0 + 9), (X0 + 90, Y0 + 9)]),
              LineString([(X0 + 51, Y0 - 80), (X0 + 52, Y0 - 6), (X0 + 53, Y0 + 1)])]  # fmt: skip
    routes = result.job.routes
    result.job.__dict__["routes"] = routes.loc[[0, 0]].assign(
        line_id=["L-1", "L-2"], geometry=traces
    )
    found = with_texts(ties(result.job, result.layers["marks"]), wording())
    assert found.groupby("line_id")["fixed_point"].agg(list).to_dict() == {
        "L-1": ["bend 2 of the route", "bend 1 of the route"],
        "L-2": ["end of the route", "bend 1 of the route"],
    }


@pytest.mark.parametrize(("metres", "kind"), [(59.9, "fitting"), (60.1, "route")])
def test_a_fitting_within_reach_of_a_tape_of_60_m_comes_before_the_route(
    small_result, metres, kind
):
    result = small_result(None, contacts=fittings((metres, 0.0)))
    found = with_texts(ties(result.job, result.layers["marks"]), wording())
    assert found["fixed_kind"].iloc[0] == kind


@pytest.mark.parametrize(("degrees", "second"), [(24.0, "meter C-2"), (26.0, "meter C-1")])
def test_tapes_that_cross_at_less_than_25_degrees_come_last(small_result, degrees, second):
    turned = np.deg2rad(degrees)
    contacts = fittings((0.0, 5.0), (8 * np.sin(turned), 8 * np.cos(turned)), (59.9, 0.0))
    result = small_result(None, contacts=contacts)
    found = with_texts(ties(result.job, result.layers["marks"]), wording())
    assert found["fixed_point"].iloc[1] == second


def test_a_fitting_whose_tape_crosses_flat_comes_before_the_route(small_result):
    result = small_result(None, contacts=fittings((0.0, 50.0), (0.0, 58.0)))
    found = with_texts(ties(result.job, result.layers["marks"]), wording())
    assert found["fixed_kind"].tolist() == ["fitting"] * 2
