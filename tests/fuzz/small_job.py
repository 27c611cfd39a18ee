"""A small simulated job to spoil: two lines, with every optional layer that is simulated."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import geopandas as gpd
import shapely

from leakgeo.simulate import Conditions
from leakgeo.simulate.job import fields_to_layers
from leakgeo.simulate.write import write_job
from tests.benchmarks.draws import draw_fields

if TYPE_CHECKING:
    from pathlib import Path

CRS = 32616


@cache
def _layers() -> dict[str, gpd.GeoDataFrame]:
    fields = draw_fields(2, 41, Conditions(length_m=(12.0, 16.0)))
    made = fields_to_layers(fields, crs=CRS)
    made.pop("truth")
    ends = shapely.get_point(made["routes"].geometry.to_numpy(), 0)
    lines = made["routes"]["line_id"].tolist()
    made["contacts"] = gpd.GeoDataFrame(
        {"contact_id": ["C1", "C2"], "line_id": lines, "kind": ["meter", "hydrant"],
         "sound_level": [30.0, 24.0], "sound_unit": "db"}, geometry=ends, crs=CRS,
    )  # fmt: skip
    made["utilities"] = gpd.GeoDataFrame(
        {"utility_id": ["U1"], "kind": ["electric"], "depth_m": [0.6], "notified": [False]},
        geometry=[shapely.transform(made["routes"].geometry.iloc[0], lambda xy: xy + 1.0)],
        crs=CRS,
    )
    return made


def layers() -> dict[str, gpd.GeoDataFrame]:
    """Give the layers, in copy."""
    return {name: table.copy() for name, table in _layers().items()}


def write(path: Path) -> Path:
    """Write the job."""
    write_job(layers(), path)
    return path
