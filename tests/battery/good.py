"""A good job to spoil: four simulated lines, and what is found on them."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import shapely

from leakgeo.simulate import Conditions
from leakgeo.simulate.job import fields_to_layers
from tests.benchmarks.draws import draw_fields

if TYPE_CHECKING:
    import pandas as pd

    Layers = dict[str, pd.DataFrame]

CRS = 32616
TAPED, FIXED, LINEAR, LAST = "L-0001", "L-0002", "L-0003", "L-0004"
LINES = (TAPED, FIXED, LINEAR, LAST)
_KINDS = (
    Conditions(tape_share=1.0, scale_share=0.0, length_m=(20.0, 25.0)),
    Conditions(tape_share=0.0, scale_share=0.0, fix_sd_m=0.02, length_m=(20.0, 25.0)),
    Conditions(tape_share=1.0, scale_share=1.0, length_m=(20.0, 25.0)),
    Conditions(tape_share=1.0, scale_share=0.0, length_m=(20.0, 25.0)),
)


@cache
def _layers() -> Layers:
    fields = [draw_fields(1, 60 + k, kind)[0] for k, kind in enumerate(_KINDS)]
    made = fields_to_layers(fields, crs=CRS)
    made.pop("truth")
    ends = shapely.get_point(made["routes"].geometry.to_numpy(), 0)
    made["contacts"] = gpd.GeoDataFrame(
        {"contact_id": [f"C{k}" for k in range(4)], "line_id": LINES, "kind": "meter",
         "sound_level": [30.0, 24.0, 28.0, 31.0], "sound_unit": "db"}, geometry=ends, crs=CRS,
    )  # fmt: skip
    beside = shapely.transform(made["routes"].geometry.to_numpy()[:1], lambda xy: xy + 1.0)
    made["utilities"] = gpd.GeoDataFrame(
        {"utility_id": ["U1"], "kind": ["electric"], "depth_m": [0.6], "notified": [False]},
        geometry=beside, crs=CRS,
    )  # fmt: skip
    return made


def layers() -> Layers:
    """Give the layers, in copy."""
    return {name: table.copy() for name, table in _layers().items()}


def rows(table: pd.DataFrame, line: str = TAPED) -> np.ndarray:
    """Give the places of a line's rows."""
    return np.flatnonzero(table["line_id"] == line)


def moved(table: pd.DataFrame, change, at=slice(None)) -> pd.DataFrame:  # type: ignore[no-untyped-def]
    """Give a layer with the coordinates of some rows changed."""
    shapes = table.geometry.to_numpy().copy()
    shapes[at] = shapely.transform(shapes[at], change)
    return table.assign(geometry=shapes)
