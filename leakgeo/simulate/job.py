"""Simulated lines as layers of a job, with the truth in a separate layer."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.simulate.field import Recorded
    from leakgeo.simulate.spread import Floats

FIRST_READING = datetime(2025, 5, 6, 13, 0, tzinfo=UTC)
SECONDS_A_READING = 20
SIMULATED = "Simulated: an invented place, invented leaks, invented readings."


def local_plane(lon: float, lat: float) -> CRS:
    """Return a CRS in metres around a point (azimuthal equidistant).

    Examples
    --------
    >>> local_plane(-87.3, 43.2).axis_info[0].unit_name
    'metre'
    """
    return CRS.from_proj4(f"+proj=aeqd +lat_0={lat} +lon_0={lon} +datum=NAD83 +units=m +type=crs")


def fields_to_layers(
    fields: Sequence[Recorded],
    *,
    plane: CRS | None = None,
    crs: Any = None,
    line_ids: Sequence[str] | None = None,
    origins_m: Floats | None = None,
) -> dict[str, gpd.GeoDataFrame]:
    """Return simulated lines as layers of the data contract.

    Parameters
    ----------
    fields : sequence of Recorded
        Lines as `simulate_field` gives them.
    plane : pyproj.CRS, optional
        CRS in metres of the coordinates of the fields; by default a plane in Lake Michigan.
    crs : pyproj.CRS or anything that it accepts, optional
        CRS of the returned layers; `plane` by default.
    line_ids : sequence of str, optional
        Names of the lines; ``L-0001``, ``L-0002`` ... by default.
    origins_m : ndarray, shape (lines, 2), optional
        Offset of each line in the plane, in metres; a grid of 100 m by default.

    Returns
    -------
    dict of str to geopandas.GeoDataFrame
        ``routes`` and ``readings`` as in the contract; ``truth`` with one row per line: the leak as
        a point, or no geometry without a leak. It is not part of a job.

    Examples
    --------
    >>> import numpy as np
    >>> from leakgeo.simulate import simulate_field
    >>> from leakgeo.simulate.job import fields_to_layers
    >>> field = simulate_field(np.random.default_rng(3))
    >>> layers = fields_to_layers([field], crs="EPSG:2289")
    >>> layers["routes"]["line_id"].tolist(), len(layers["readings"]) == field.level.size
    (['L-0001'], True)
    """
    plane = local_plane(-87.3, 43.2) if plane is None else plane
    names = [f"L-{i + 1:04d}" for i in range(len(fields))] if line_ids is None else list(line_ids)
    origins = _grid(len(fields)) if origins_m is None else origins_m
    placed = list(zip(fields, names, origins, strict=True))
    made = {
        "routes": _frame([_route(f, n, o) for f, n, o in placed], plane),
        "readings": _readings(fields, names, origins, plane),
        "truth": _frame([_truth(f, n, o) for f, n, o in placed], plane),
    }
    return made if crs is None else {k: v.to_crs(CRS.from_user_input(crs)) for k, v in made.items()}


def _grid(n: int) -> Floats:
    side = int(np.ceil(np.sqrt(max(n, 1))))
    grid: Floats = 100.0 * np.column_stack(np.divmod(np.arange(n), side)).astype(np.float64)
    return grid


def _frame(rows: list[dict[str, object]], plane: CRS) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=plane)


def _route(field: Recorded, name: str, origin: Floats) -> dict[str, object]:
    return {
        "line_id": name,
        "material": field.material,
        "diameter_mm": field.diameter_mm,
        "depth_m": field.depth_m,
        "pressure_kpa": field.pressure_kpa,
        "position_sd_m": field.position_sd_m,
        "geometry": shapely.LineString(field.trace_xy + origin),
    }


def _truth(field: Recorded, name: str, origin: Floats) -> dict[str, object]:
    truth = field.truth
    return {
        "line_id": name,
        "leaks": field.leaks,
        "chainage_m": np.nan if field.leak_chainage_m is None else field.leak_chainage_m,
        "material": truth.ground.material,
        "depth_m": truth.ground.depth_m,
        "other_source_chainage_m": np.nan
        if truth.other_chainage_m is None
        else truth.other_chainage_m,
        "geometry": None if field.leak_xy is None else shapely.Point(field.leak_xy + origin),
    }


def _readings(
    fields: Sequence[Recorded], names: Sequence[str], origins: Floats, plane: CRS
) -> gpd.GeoDataFrame:
    """Concatenate the readings of all lines; each walk and band has its own ``walk_id``."""
    tables = [_of_line(f, n) for f, n in zip(fields, names, strict=True)]
    xy = np.concatenate([f.xy + o for f, o in zip(fields, origins, strict=True)])
    table = pd.concat(tables, ignore_index=True)
    seconds = SECONDS_A_READING * np.arange(len(table))
    table["time"] = pd.Timestamp(FIRST_READING) + pd.to_timedelta(seconds, unit="s")
    return gpd.GeoDataFrame(table, geometry=gpd.points_from_xy(*xy.T), crs=plane)


def _of_line(field: Recorded, name: str) -> pd.DataFrame:
    several = len(field.truth.bands) > 1
    band = pd.Series(field.band, dtype=object)
    walk = np.array(["coarse", "fine"], dtype=object)[field.walk]
    walk = f"{name}/" + walk + np.where(field.band == "wide", "", "/" + field.band.astype(object))
    stop = pd.Series(field.stop + 1).map(lambda i: f"{name}/{i:03d}" if several else None)
    return pd.DataFrame({
        "reading_id": [f"{name}/{i + 1:03d}" for i in range(field.level.size)],
        "line_id": name,
        "walk_id": walk,
        "seq": field.seq,
        "sound_level": field.level,
        "sound_unit": field.unit,
        "gain_db": field.gain_db,
        "sensor": field.sensor,
        "band": band.where(band != "wide", None),
        "stop_id": stop.astype(object),
        "surface": field.surface.astype(object),
        "chainage_m": field.chainage_m if field.taped else np.nan,
        "chainage_sd_m": np.round(field.chainage_sd_m, 3) if field.taped else np.nan,
        "position_sd_m": np.round(field.fix_sd_m, 3),
        "air": None,
        "set_aside": False,
    })  # fmt: skip
