"""Other layers of the simulated town: utilities, surfaces, fittings, history, meter tests."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely.ops import substring

from leakgeo.simulate.plan import HERON, STURGEON

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pyproj import CRS

    from leakgeo.simulate.field import Recorded
    from leakgeo.simulate.plan import Service, Street

_RESPONSES = ("marked", "clear", "none")
_OWNERS = {
    "gas_oil_steam": "Lakebed Gas Cooperative (invented)",
    "electric": "Landing Light and Power (invented)",
    "communications": "Gull Wire Company (invented)",
    "sewer_drain": "Lakebed Landing Sewer Department (invented)",
}
_FIRST_RESPONSE = datetime(2025, 5, 2, 15, 0, tzinfo=UTC)


def draw_utilities(
    rng: np.random.Generator, services: Sequence[Service], plane: CRS
) -> gpd.GeoDataFrame:
    """Draw mains of gas, power, cable and sewer along both streets, and laterals to some houses.

    Some owners were notified and have responded, some have not yet, and some were not notified.
    """
    rows = [_trunk(s, k, n) for n, (s, k) in enumerate(_trunks(), start=1)]
    for service in services:
        if not service.main and rng.random() < 0.55:
            kind = str(rng.choice(list(_OWNERS)))
            rows.append(_lateral(rng, service, kind, len(rows) + 1))
    rows.append(_cabinet(len(rows) + 1))
    for i, row in enumerate(rows):
        row.update(_answer(rng, i))
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=plane)


def _trunks() -> list[tuple[Street, str]]:
    kinds = ("gas_oil_steam", "electric", "communications", "sewer_drain")
    return [(street, kind) for street in (HERON, STURGEON) for kind in kinds]


def _trunk(street: Street, kind: str, number: int) -> dict[str, object]:
    across = {"gas_oil_steam": -3.4, "electric": 6.2, "communications": 6.8, "sewer_drain": -0.4}
    wide = {"gas_oil_steam": 0.1, "electric": 0.3, "communications": 0.05, "sewer_drain": 0.25}
    deep = {"gas_oil_steam": 0.9, "electric": 0.8, "communications": 0.6, "sewer_drain": 2.2}
    return {
        "utility_id": f"U-{number:02d}",
        "kind": kind,
        "owner": _OWNERS[kind],
        "width_m": wide[kind],
        "depth_m": deep[kind],
        "geometry": shapely.LineString(
            street.path((0.0, across[kind]), (street.length_m, across[kind]))
        ),
    }


def _lateral(
    rng: np.random.Generator, service: Service, kind: str, number: int
) -> dict[str, object]:
    """Draw a lateral to a house, near the water service or crossing it."""
    near, far = rng.uniform(-2.5, 2.5, 2)
    path = service.street.path(
        (service.along_m + near, 0.0), (service.along_m + far, service.side * 22.0)
    )
    wide = {"gas_oil_steam": 0.025, "electric": 0.06, "communications": 0.02, "sewer_drain": 0.1}
    return {
        "utility_id": f"U-{number:02d}",
        "kind": kind,
        "owner": _OWNERS[kind],
        "width_m": wide[kind],
        "depth_m": np.nan,
        "geometry": shapely.LineString(path),
    }


def _cabinet(number: int) -> dict[str, object]:
    corner = HERON.path((70.0, 7.5), (71.4, 7.5), (71.4, 8.4), (70.0, 8.4))
    return {
        "utility_id": f"U-{number:02d}",
        "kind": "communications",
        "owner": _OWNERS["communications"],
        "width_m": np.nan,
        "depth_m": np.nan,
        "geometry": shapely.Polygon(corner),
    }


def _answer(rng: np.random.Generator, index: int) -> dict[str, object]:
    """Draw the quality level, the position error, and the response of the owner."""
    level = str(rng.choice(["A", "B", "C", "D"], p=(0.05, 0.45, 0.15, 0.35)))
    sd = {"A": 0.05, "B": 0.25, "C": 0.8, "D": np.nan}[level]
    notified = bool(rng.random() < 0.8)
    response = str(rng.choice(_RESPONSES, p=(0.5, 0.25, 0.25))) if notified else "none"
    when = _FIRST_RESPONSE + timedelta(hours=3 * index)
    return {
        "quality_level": level,
        "position_sd_m": sd,
        "tolerance_m": np.nan,
        "notified": notified,
        "private": "no",
        "response": response,
        "response_time": pd.Timestamp(when) if response != "none" else pd.NaT,
    }


def surface_polygons(fields: Sequence[Recorded], plane: CRS) -> gpd.GeoDataFrame:
    """Return the surface over each line as strips around its trace, split where it changes."""
    rows = [row for field in fields for row in _strips(field)]
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=plane)


def _strips(field: Recorded) -> list[dict[str, object]]:
    ground = field.truth.ground
    line = shapely.LineString(field.trace_xy)
    edges = [0.0, *ground.surface_ends_m.tolist(), max(line.length, ground.length_m)]
    return [
        {"surface": s, "geometry": substring(line, a, b).buffer(1.5, cap_style="flat")}
        for s, a, b in zip(ground.surfaces, edges[:-1], edges[1:], strict=True)
    ]


def draw_history(rng: np.random.Generator, plane: CRS) -> gpd.GeoDataFrame:
    """Draw a few past leaks and an old trench."""
    places = HERON.at(rng.uniform(20, 120, 3), rng.uniform(-12, 12, 3))
    trench = HERON.path((96.0, 1.4), (103.0, 1.4), (103.0, 3.2), (96.0, 3.2))
    kinds = ["past_leak", "past_leak", "repair", "excavation"]
    dates = pd.to_datetime(["2009-11-03", "2017-02-18", "2017-02-19", "2021-08-30"])
    shapes = [*map(shapely.Point, places), shapely.Polygon(trench)]
    return gpd.GeoDataFrame({"kind": kinds, "date": dates}, geometry=shapes, crs=plane)


def draw_contacts(
    rng: np.random.Generator, services: Sequence[Service], fields: Sequence[Recorded], plane: CRS
) -> gpd.GeoDataFrame:
    """Draw the levels at fittings in the first survey, which decrease with distance to a leak."""
    rows = [
        row
        for service, field in zip(services, fields, strict=True)
        for row in _fittings(rng, service, field)
    ]
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=plane)


def _fittings(
    rng: np.random.Generator, service: Service, field: Recorded
) -> list[dict[str, object]]:
    ends = ((0.0, "main_valve"), (1.0, "hydrant")) if service.main else (
        (0.02, "curb_stop"), (0.35, "meter"), (0.97, "hose_bib"))  # fmt: skip
    decay = float(field.truth.ground.pipe_db_per_m[3])
    loud = float(rng.uniform(46, 58))
    rows: list[dict[str, object]] = []
    for share, kind in ends:
        where = share * field.length_m
        leak = field.truth.leak_chainage_m
        heard = 24.0 if leak is None else max(24.0, loud - decay * abs(where - leak))
        rows.append({
            "contact_id": f"{service.line_id}/{kind}",
            "line_id": service.line_id,
            "kind": kind,
            "sound_level": float(np.rint(heard + rng.normal(0, 1.5))),
            "sound_unit": "db",
            "gain_db": 20.0,
            "time": pd.Timestamp(datetime(2025, 5, 5, 14, 0, tzinfo=UTC)),
            "geometry": shapely.line_interpolate_point(shapely.LineString(field.trace_xy), where),
        })  # fmt: skip
    return rows


def draw_meter_tests(
    rng: np.random.Generator, services: Sequence[Service], fields: Sequence[Recorded]
) -> pd.DataFrame:
    """Draw meter readings before and after two hours with all outlets closed."""
    rows = []
    for service, field in zip(services, fields, strict=True):
        if service.main or rng.random() < 0.3:
            continue
        unit, litres = str(rng.choice(["gal", "ft3"])), {"gal": 3.785411784, "ft3": 28.316846592}
        start = float(np.round(rng.uniform(1e4, 9e4), 1))
        lost = float(rng.uniform(60.0, 700.0)) / litres[unit] if field.leaks else 0.0
        begin = pd.Timestamp(datetime(2025, 5, 5, 16, 0, tzinfo=UTC))
        rows.append({
            "line_id": service.line_id,
            "start_reading": start,
            "end_reading": round(start + lost, 1),
            "volume_unit": unit,
            "start_time": begin,
            "end_time": begin + pd.Timedelta(hours=2),
            "water_used": False,
        })  # fmt: skip
    return pd.DataFrame(rows)
