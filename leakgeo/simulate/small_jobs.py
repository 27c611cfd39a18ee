"""Two small simulated jobs of one line each: walked twice; and in feet, beside a utility."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import shapely

from leakgeo.simulate.constants import Conditions, World
from leakgeo.simulate.field import simulate_field
from leakgeo.simulate.job import fields_to_layers, local_plane
from leakgeo.simulate.plan import LATITUDE, LONGITUDE, TOWN_CRS

if TYPE_CHECKING:
    import pandas as pd
    from pyproj import CRS

    from leakgeo.simulate.field import Recorded

_FOOT_M = 0.3048
_ASIDE_M = 0.9


def simulate_two_walks(seed: int = 5) -> dict[str, pd.DataFrame]:
    """Simulate one line, walked coarsely and then finely with another gain that nobody wrote down.

    Parameters
    ----------
    seed : int
        The same seed gives the same line.

    Returns
    -------
    dict of str to geopandas.GeoDataFrame
        ``routes`` and ``readings`` in ``EPSG:32616``; and ``truth``, which is not part of a job.

    Examples
    --------
    >>> sorted(simulate_two_walks()["readings"]["walk_id"].unique())
    ['W-1/coarse', 'W-1/fine']
    """
    return {**_layers(_field(seed, unknown_gain_share=1.0), "W-1", "EPSG:32616")}


def simulate_in_feet(seed: int = 9) -> dict[str, pd.DataFrame]:
    """Simulate one line taped in feet, and a gas pipe beside it that nobody has marked.

    Parameters
    ----------
    seed : int
        The same seed gives the same line.

    Returns
    -------
    dict of str to geopandas.GeoDataFrame
        ``routes``, ``readings`` and ``utilities`` in ``EPSG:2289``, US survey feet; tapes are in
        international feet. And ``truth``, which is not part of a job.

    Examples
    --------
    >>> simulate_in_feet()["readings"]["tape"].iloc[1].endswith(" ft")
    True
    """
    field = _field(seed, known_gain_share=1.0)
    layers: dict[str, pd.DataFrame] = {**_layers(field, "F-1", TOWN_CRS)}
    feet = layers["readings"]["chainage_m"] / _FOOT_M
    readings = layers["readings"].drop(columns="chainage_m")
    gas = gpd.GeoDataFrame(
        {"utility_id": ["G-1"], "kind": ["gas_oil_steam"], "owner": ["Lakebed Gas (invented)"],
         "width_m": [0.05], "quality_level": ["D"], "private": ["no"], "notified": [True],
         "response": ["none"]},
        geometry=[shapely.offset_curve(shapely.LineString(field.trace_xy), _ASIDE_M)], crs=_plane(),
    )  # fmt: skip
    return layers | {
        "readings": readings.assign(tape=feet.map("{:.1f} ft".format)),
        "utilities": gas.to_crs(TOWN_CRS),
    }


def _plane() -> CRS:
    return local_plane(LONGITUDE, LATITUDE)


def _field(
    seed: int, *, unknown_gain_share: float = 0.0, known_gain_share: float = 0.0
) -> Recorded:
    """Simulate a line with a leak on a taped service of some thirty metres."""
    conditions = Conditions(
        constants=World(least_excess_db=(12.0, 12.0)), length_m=(26.0, 32.0), leak_share=1.0,
        other_source_share=0.0, tape_share=1.0, scale_share=0.0, depth_unknown_share=0.0,
        material_unknown_share=0.0,
        unknown_gain_share=unknown_gain_share, known_gain_share=known_gain_share,
    )  # fmt: skip
    return simulate_field(np.random.default_rng(seed), conditions)


def _layers(field: Recorded, line: str, crs: str) -> dict[str, gpd.GeoDataFrame]:
    return fields_to_layers([field], plane=_plane(), crs=crs, line_ids=[line],
                            origins_m=np.zeros((1, 2)))  # fmt: skip
