"""Where else a hole would be less in the way, and what it costs, against a plain integral."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm
from shapely import LineString, Point, box

from leakgeo.dig.alternative_sites import _best, _posterior_cells, obstruction
from leakgeo.dig.facilities import prepare_facilities
from leakgeo.dig.rules import assumptions, pick_rule
from leakgeo.dig.zone import hole_polygons
from tests.dig.conftest import METRES, X0, Y0, frame

SPREAD = 0.8  # sd of the leak along the line; its 50 % zone is 0.54 m to either side


def bell(line_id="L-1", x=X0, at=12.0, spread=SPREAD):
    """Profile along a line to the north whose chainage 12 is at the mark."""
    chainage = np.arange(0.0, 32.01, 0.05)
    return gpd.GeoDataFrame(
        {"line_id": line_id, "chainage_m": chainage,
         "leak_density_per_m": norm.pdf(chainage, at, spread)},
        geometry=[Point(x, Y0 - 12 + c) for c in chainage], crs=METRES,
    )  # fmt: skip


def crossing(y, **changed):
    """Give a gas service across the line, `y` metres north of the mark."""
    line = LineString([(X0 - 9, Y0 + y), (X0 + 9, Y0 + y)])
    return {"geometry": line, "width_m": 0.1, "quality_level": "A", "position_sd_m": 0.01,
            **changed}  # fmt: skip


def test_the_hole_moves_away_along_the_line_and_says_what_it_costs(dig, gas_main):
    # tolerance zone: 0.05 + 0.4572 + 0.1 error; the hole reaches 1.0 m north
    row = gas_main(0, **crossing(1.4))
    _, _, done = dig([row], profile=bell())
    other = done.layers["dig_alternatives"].iloc[0]
    assert other["moved_m"] == pytest.approx(-0.5, abs=0.06)  # the south end of the 50 % zone
    assert (other["inside_tolerance_at_mark"], other["inside_tolerance"]) == (1, 0)
    assert other["margin_at_mark_m"] == pytest.approx(0.4 - 0.6072, abs=0.005)
    assert other["margin_m"] == pytest.approx(0.4 - 0.6072 - other["moved_m"], abs=0.005)
    half = 1.0  # 0.4 m of error and 0.6 m of room
    leak = done.layers["lines"].set_index("line_id").loc[other["line_id"], "leak_probability"]
    assert leak < 1.0
    at_mark = leak * (norm.cdf(half, 0, SPREAD) - norm.cdf(-half, 0, SPREAD))
    at = -other["moved_m"]
    there = leak * (norm.cdf(half, at, SPREAD) - norm.cdf(-half, at, SPREAD))
    assert other["probability_at_mark"] == pytest.approx(at_mark, abs=0.002)
    assert other["probability"] == pytest.approx(there, abs=0.002)
    assert other["probability_lost"] == pytest.approx(at_mark - there, abs=0.003)


def test_the_best_site_is_in_fewest_zones_then_farthest_from_them_then_likeliest():
    # Zones, margin and probability of each site; at the mark, one zone and no margin.
    sites = [(1, 0.3, 0.5), (0, 0.1, 0.5), (0, 0.2, 0.3), (0, 0.2, 0.4), (0, 0.2, 0.2)]
    table = pd.DataFrame(sites, columns=["inside_tolerance", "margin_m", "probability"])
    table = table.assign(dig=0, inside_tolerance_at_mark=1, margin_at_mark_m=0.0)
    # Each dig has one, and they come in the order of the digs.
    assert _best(pd.concat([table.assign(dig=1), table], ignore_index=True)).tolist() == [8, 3]
    for best in (3, 2, 4, 1, 0):
        assert _best(table).tolist() == [best]
        table = table.drop(index=best)


def test_it_stays_inside_the_half_zone(dig, gas_main):
    _, _, done = dig([gas_main(0, **crossing(0.3))], profile=bell())
    moved = done.layers["dig_alternatives"]["moved_m"].abs()
    assert (moved <= norm.ppf(0.75) * SPREAD + 0.06).all()


@pytest.mark.parametrize("row", [{}, {"geometry": LineString([(X0, Y0 - 40), (X0, Y0 + 40)])}])
def test_nothing_is_proposed_where_nothing_is_in_the_way_or_nothing_helps(dig, gas_main, row):
    # 3 m aside: no conflict; along the very line: every place is as bad
    _, _, done = dig([gas_main(3.0, **row)], profile=bell())
    assert done.layers["dig_alternatives"].empty


def test_without_a_posterior_nothing_is_proposed(dig, gas_main):
    for profile in (None, bell().iloc[:0], bell("L-9"), bell().assign(leak_density_per_m=np.nan)):
        layers = {} if profile is None else {"profile": profile}
        assert dig([gas_main(0, **crossing(1.4))], **layers)[2].layers["dig_alternatives"].empty


def test_each_line_has_its_own(small_result, clear, gas_main, mark):
    marks = [mark(line_id=f"M-{i}", geometry=Point(X0 + 40 * i, Y0)) for i in range(3)]
    rows = [gas_main(0, utility_id=f"G-{i}", **crossing(1.4)) for i in range(3)]
    for i, row in enumerate(rows):
        row["geometry"] = LineString([(X0 + 40 * i - 9, Y0 + 1.4 - 2.8 * (i % 2)),
                                      (X0 + 40 * i + 9, Y0 + 1.4 - 2.8 * (i % 2))])  # fmt: skip
    profile = pd.concat([bell(f"M-{i}", X0 + 40 * i) for i in range(3)], ignore_index=True)
    done = clear(small_result(rows, marks, profile=profile))
    moved = done.layers["dig_alternatives"].set_index("line_id")["moved_m"]
    assert np.sign(moved[["M-0", "M-1", "M-2"]]).tolist() == [-1, 1, -1]


def test_another_place_lifts_no_hold(dig, gas_main):
    zone, _, _ = dig([gas_main(0, **crossing(1.4))], profile=bell())
    assert zone["dig_status"] == "hold"
    assert "inside its tolerance zone" in zone["holds"]


def cells_of(chainage, density, points):
    profile = gpd.GeoDataFrame(
        {"line_id": "L-1", "chainage_m": chainage, "leak_density_per_m": density},
        geometry=[Point(*p) for p in points], crs=METRES,
    )  # fmt: skip
    return _posterior_cells(
        profile, pd.DataFrame({"line_id": ["L-1"], "chainage_m": [0.0]}), np.array([True])
    )


def test_at_a_bend_a_hole_is_turned_to_the_pipe_on_both_sides_of_it():
    north = [(X0, Y0 + y) for y in (-1.0, -0.5, 0.0)]
    cells = cells_of(np.arange(5) / 2, 1.0, [*north, (X0 + 0.5, Y0), (X0 + 1.0, Y0)])
    assert cells["grid_azimuth_deg"].tolist() == pytest.approx([0.0, 0.0, 45.0, 90.0, 90.0])


def test_the_half_zone_counts_the_length_that_each_place_stands_for():
    # Density times half of the gaps to both neighbours: 0.05, 0.20, 0.165, 0.10, 0.495, 0.20, 0.05.
    # The densest places come first: 0.10 + 0.495 of 1.26 is less than a half, the third is needed.
    chainage = [0.0, 1.0, 2.0, 2.1, 2.2, 3.2, 4.2]
    cells = cells_of(
        chainage, [0.1, 0.2, 0.3, 1.0, 0.9, 0.2, 0.1], [(X0, Y0 + c) for c in chainage]
    )
    assert cells["inside"].tolist() == [False, False, True, True, True, False, False]


@pytest.mark.parametrize(("gap_m", "margin_m"), [(0.95, 0.95), (1.05, np.inf)])
def test_a_margin_is_measured_up_to_one_metre(gas_main, gap_m, margin_m):
    hole = box(X0 - 1, Y0 - 1, X0 + 1, Y0 + 1)
    main = box(X0 + 1 + 0.4572 + 0.1 + gap_m, Y0, X0 + 9, Y0 + 1)
    rows = frame([gas_main(0, geometry=main, quality_level="A", position_sd_m=0.01)], gas_main())
    facilities = prepare_facilities(rows, pick_rule("generic"), assumptions())
    count, margin = obstruction(np.array([hole]), facilities)
    assert (count[0], margin[0]) == (0, pytest.approx(margin_m))


def test_a_hole_exactly_at_the_edge_of_a_tolerance_zone_is_inside_it(varied):
    """The limit itself holds the dig, and another place is looked for."""
    hole = hole_polygons(np.array([Point(X0, Y0)]), [0.4], [0.3], [0.0], 0.6)[0]
    wall = box(X0 - 9, Y0 + 2.5, X0 + 9, Y0 + 3)
    limit = hole.distance(wall) - 0.5  # of level B: exact in binary
    cases = [{"utility": {"geometry": wall, "tolerance_m": t}} for t in (limit, limit - 1e-3)]
    profile = pd.concat([bell("M-0"), bell("M-1", X0 + 2.0**10)], ignore_index=True)
    zones, done = varied(cases, 2.0**10, layers={"profile": profile})
    assert zones["hold_codes"].tolist() == [["inside_tolerance_zone"], []]
    assert done.layers["conflicts"]["severity"].tolist() == ["inside_tolerance", "near"]
    assert done.layers["dig_alternatives"]["line_id"].tolist() == ["M-0"]
    assert "at_the_hole" in done.layers["lines"]["held_by_values"].iloc[0]
