"""White lines: four corners that hold the hole, also once they are rounded to six decimals."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from pyproj import CRS

from leakgeo.dig.zone import hole_polygons, white_lines

size = st.floats(0.1, 3.0)


@given(size, size, st.floats(0, 360), st.sampled_from([(26910, 4.2e6), (32661, 2e6), (32631, 100)]))
def test_the_rectangle_holds_the_hole_after_rounding(along, across, azimuth, where):
    epsg, north = where
    centre = np.array([shapely.Point(500_000.0, north)])
    hole = hole_polygons(centre, [along], [across], [azimuth], 0.6)
    crs = CRS(epsg)
    asked = white_lines(
        pd.DataFrame({"line_id": ["L-1"], "mark_rank": [1], "depth_m": [1.0]}), hole, crs
    )
    there = asked.to_crs(4326).geometry.item()
    corners = np.round(shapely.get_coordinates(there)[:-1], 6)
    assert len(corners) == 4
    back = gpd.GeoSeries([shapely.Polygon(corners)], crs=4326).to_crs(crs).item()
    assert back.contains(hole[0])
    assert asked.geometry.item().exterior.is_ccw
    assert asked["length_m"].item() >= asked["width_m"].item() > 2 * 0.6
    # No more ground than a person would paint: the hole's box and a hand's width.
    sides = sorted([2 * along + 1.2, 2 * across + 1.2])
    assert asked["width_m"].item() < sides[0] + 0.35
    assert asked["length_m"].item() < sides[1] + 0.35


def test_no_hole_no_request(dig, gas_main, mark):
    _, _, done = dig([gas_main()], marks=[mark(along_95_m=None)])
    assert done.layers["locate_requests"].empty
    _, _, done = dig([gas_main()])
    asked = done.layers["locate_requests"].iloc[0]
    assert asked["geometry"].contains(done.layers["dig_zones"].geometry.item())
    assert asked["depth_m"] == pytest.approx(0.9 + 0.025 + 0.15)
