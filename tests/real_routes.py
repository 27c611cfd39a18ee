"""A job on the geometry of a real water network, with simulated readings.

The pipes of ``ky4``, a network bundled with wntr. Its file names no CRS; the coordinates look like
Kentucky Single Zone in US survey feet (EPSG:3089), an inference: lengths drawn match those stated
by 3.281 feet a metre.
"""

from __future__ import annotations

import warnings
from functools import cache
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely
from pyproj import CRS

from leakgeo.simulate.constants import Conditions
from leakgeo.simulate.field import simulate_field
from leakgeo.simulate.job import fields_to_layers
from leakgeo.simulate.write import write_job

INFERRED_CRS = CRS("EPSG:3089")
METRE_CRS = CRS("EPSG:32616")  # UTM zone 16 north: the network's own, in metres.
SHORTEST_M, LONGEST_M = 12.0, 120.0
# Long mains are walked in longer steps than services.
COARSE_STEP_M = 2.4


def real_pipes(name: str = "ky4") -> gpd.GeoDataFrame:
    """Give the pipes of a bundled network as lines in `INFERRED_CRS`, with ``line_id``."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import wntr

        network = wntr.network.WaterNetworkModel(name)
    rows = [
        {
            "line_id": pipe_id,
            "diameter_mm": 1000 * pipe.diameter,
            "geometry": shapely.LineString(
                [pipe.start_node.coordinates, *pipe.vertices, pipe.end_node.coordinates]
            ),
        }
        for pipe_id, pipe in network.pipes()
    ]
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=INFERRED_CRS)


def real_layers(lines: int = 220, seed: int = 7) -> dict[str, gpd.GeoDataFrame]:
    """Survey as many of the shorter pipes: ``routes``, ``readings`` and ``truth`` in feet."""
    return {name: layer.copy() for name, layer in _layers(lines, seed).items()}


@cache
def _layers(lines: int, seed: int) -> dict[str, gpd.GeoDataFrame]:
    pipes = real_pipes().to_crs(METRE_CRS)
    fit = pipes[pipes.length.between(SHORTEST_M, LONGEST_M)].head(lines)
    conditions = Conditions(coarse_step_m=COARSE_STEP_M)
    fields = [
        simulate_field(np.random.default_rng([seed, i]), conditions, shapely.get_coordinates(g))
        for i, g in enumerate(fit.geometry)
    ]
    layers = fields_to_layers(
        fields,
        plane=METRE_CRS,
        crs=INFERRED_CRS,
        line_ids=fit["line_id"].tolist(),
        origins_m=np.zeros((len(fields), 2)),
    )
    return {**layers, "routes": layers["routes"].assign(diameter_mm=fit["diameter_mm"].to_numpy())}


def real_job(folder: Path, lines: int = 220, seed: int = 7) -> Path:
    """Write the job, without its truth, and give its path."""
    layers = real_layers(lines, seed)
    path = folder / "ky4.gpkg"
    write_job({name: layer for name, layer in layers.items() if name != "truth"}, path)
    return path
