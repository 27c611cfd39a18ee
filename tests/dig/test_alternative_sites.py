"""Where else a hole would be less in the way, and what it costs, against a plain integral."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm
from shapely import LineString, Point

from tests.dig.conftest import METRES, X0, Y0

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
