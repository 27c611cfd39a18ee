"""A dig built by hand: one mark, one gas main beside it, everything known and answered."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from pyproj import CRS
from shapely import LineString, Point
from shapely.affinity import translate

from leakgeo.dig.clearance import HOLD, clearance
from leakgeo.job.model import Job
from leakgeo.result import Result
from leakgeo.steps import CLEARANCE

DEFAULTS = {p.name: p.default for p in CLEARANCE.parameters}
# Everything that a ready dig rests on: the day of the dig, what the law asks, a line shut off.
READY = {
    **DEFAULTS, "dig_date": "2026-03-09", "notice_days": 3, "validity_days": 14,
    "holidays": "US-CA", "time_zone": "America/Los_Angeles", "isolated": ("L-1",),
}  # fmt: skip
METRES = CRS("EPSG:26910")
X0, Y0 = 500_000.0, 4_200_000.0
APART_M = 1000.0  # beyond what counts as near


def gas_main(distance_m: float = 3.0, **changed: object) -> dict[str, object]:
    """Give a gas main along the pipe, at a distance from the mark, its owner's answer in."""
    x = X0 + distance_m
    return {
        "utility_id": "G-1", "kind": "gas_oil_steam", "owner": "Fernhill Gas", "width_m": 0.2,
        "depth_m": 0.9, "quality_level": "B", "position_sd_m": 0.1, "tolerance_m": np.nan,
        "notified": True, "response": "marked",
        "response_time": pd.Timestamp("2026-03-03T09:00:00-08:00"),
        "ticket": "T-2026-0417", "ticket_kind": "routine",
        "notified_time": pd.Timestamp("2026-03-02T09:00:00-08:00"),
        "private": "no", "mark_seen": True, "reason": None,
        "geometry": LineString([(x, Y0 - 50), (x, Y0 + 50)]), **changed,
    }  # fmt: skip


def mark(**changed: object) -> dict[str, object]:
    return {
        "line_id": "L-1", "rank": 1, "chainage_m": 12.0, "along_sd_m": 0.2, "along_95_m": 0.4,
        "across_95_m": 0.3, "probability_within_1ft": 0.8, "limited_by": "sound",
        "status": "located", "azimuth_deg": 0.0, "from_fitting_code": None,
        "from_fitting_values": None, "from_fitting_m": np.nan, "toward_fitting_code": None,
        "toward_fitting_values": None, "run_id": None, "geometry": Point(X0, Y0),
        **changed,
    }  # fmt: skip


def frame(rows: list[dict[str, object]], columns: dict[str, object]) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(rows, columns=list(columns), geometry="geometry", crs=METRES)


def small_result(
    utilities: list[dict[str, object]] | None,
    marks: list[dict[str, object]] | None = None,
    route: dict[str, object] | None = None,
    more_routes: int = 0,
    status: str = "located",
    air: str | None = None,
    **layers: object,
) -> Result:
    route = {
        "line_id": "L-1", "material": "copper", "diameter_mm": 25.0, "depth_m": 0.9,
        "pressure_kpa": 414.0, "position_sd_m": 0.3, "installed_year": 1988,
        "wall_mm": None, "address": None, "work_order": None, "reason": None,
        "geometry": LineString([(X0, Y0 - 12), (X0, Y0 + 20)]), **(route or {}),
    }  # fmt: skip
    marked = frame([mark()] if marks is None else marks, mark())
    names = dict.fromkeys([*marked["line_id"], "L-1"])
    lines = pd.DataFrame({
        "line_id": [*names, "L-2"], "status": [*[status] * len(names), "no_leak_heard"],
        "leak_probability": 0.98, "chainage_m": 12.0, "loss_l_per_day": 800.0, "priority": 1,
        "conflicts": 0, "dig_status": "hold", "message": "",
    })  # fmt: skip
    readings = gpd.GeoDataFrame(
        {"line_id": ["L-1"], "air": [air]}, geometry=[Point(X0, Y0)], crs=METRES
    )
    each_route = [route, *(
        {**route, "line_id": f"L-1/{k}", "geometry": translate(route["geometry"], APART_M * k)}
        for k in range(1, more_routes + 1)
    )]  # fmt: skip
    job = Job(
        routes=frame(each_route, route), readings=readings, crs=METRES, output_crs=METRES,
        utilities=None if utilities is None else frame(utilities, gas_main()),
    )  # fmt: skip
    for_job = {k: layers.pop(k) for k in list(layers) if k in ("contacts", "ground")}
    return Result(replace(job, **for_job), {"marks": marked, "lines": lines, **layers})


def sheets(result: Result) -> gpd.GeoDataFrame:
    """Give the dig zones with what people read of each: its holds and its cautions.

    The columns ``holds`` and ``cautions`` have the messages of those layers, ``hold_codes`` and
    ``caution_codes`` their codes.
    """
    layers = result.worded().layers
    zones = layers["dig_zones"].copy()
    assert (zones["holds"] > 0).eq(zones["dig_status"] == HOLD).all()
    assert zones["holds"].sum() == len(layers["holds"])
    for name, codes in (("holds", "hold_codes"), ("cautions", "caution_codes")):
        table = layers[name]
        rows = [table[table["line_id"].eq(line) | (pd.isna(line) & table["line_id"].isna())]
                for line in zones["line_id"]]  # fmt: skip
        zones[name] = ["; ".join(of_zone["message"]) for of_zone in rows]
        zones[codes] = [of_zone["code"].tolist() for of_zone in rows]
    return zones


@pytest.fixture(name="sheets")
def _sheets():
    return sheets


@pytest.fixture(name="dig")
def _dig():
    """Run clearance on a small result, and give its dig zone as a row of `sheets`."""

    def run(utilities, **rest):
        settings = {k: rest.pop(k) for k in list(rest) if k in DEFAULTS}
        done = clearance(small_result(utilities, **rest), **{**READY, **settings})
        return sheets(done).iloc[0], done.worded().layers["conflicts"], done

    return run


@pytest.fixture(name="digs")
def _digs():
    """Run clearance once on many digs far apart, each with its own utilities as for `dig`.

    Give for each its row of `sheets` and its conflicts, and the result of all.
    """

    def run(utilities_of_each, marked=None, **rest):
        settings = {k: rest.pop(k) for k in list(rest) if k in DEFAULTS}
        names = ["L-1", *(f"L-1/{k}" for k in range(1, len(utilities_of_each)))]
        marks = [mark(**(marked or {}), line_id=name, geometry=Point(X0 + APART_M * k, Y0))
                 for k, name in enumerate(names)]  # fmt: skip
        rows = [{**row, "geometry": row["geometry"] and translate(row["geometry"], APART_M * k)}
                for k, of_dig in enumerate(utilities_of_each) for row in of_dig]  # fmt: skip
        result = small_result(rows, marks, more_routes=len(names) - 1, **rest)
        done = clearance(result, **{**READY, "isolated": tuple(names), **settings})
        zones = sheets(done).set_index("line_id")
        conflicts = done.worded().layers["conflicts"]
        return [(zones.loc[name], conflicts[conflicts["line_id"] == name]) for name in names], done

    return run


@pytest.fixture(name="varied")
def _varied():
    """Run clearance once on many digs, each `step_m` east of the one before.

    A case is a dict of changes: ``utility``, ``mark`` and ``route``.
    """

    def run(cases, step_m=1000.0, *, layers=None, **settings):
        names = [f"M-{i}" for i in range(len(cases))]
        rows = [gas_main(**{"distance_m": 3.0, "utility_id": f"U-{i}", **case.get("utility", {})})
                for i, case in enumerate(cases)]  # fmt: skip
        marks = [
            mark(line_id=n, **case.get("mark", {})) for n, case in zip(names, cases, strict=True)
        ]
        for row in (rows, marks):
            for i, each in enumerate(row):
                each["geometry"] = translate(each["geometry"], i * step_m)
        result = small_result(rows, marks, **(layers or {}))
        route = result.job.routes.iloc[0].to_dict()
        routes = [
            {**route, "line_id": n, **case.get("route", {})}
            for n, case in zip(names, cases, strict=True)
        ]
        result = replace(result, job=replace(result.job, routes=frame(routes, route)))
        done = clearance(result, **{**READY, "isolated": tuple(names), **settings})
        return sheets(done), done

    return run


@pytest.fixture(name="clear")
def _clear():
    """Run clearance on a result with everything given that a ready dig rests on."""
    return lambda result, **changed: clearance(result, **{**READY, **changed})


@pytest.fixture(name="gas_main")
def _gas_main():
    return gas_main


@pytest.fixture(name="mark")
def _mark():
    return mark


@pytest.fixture(name="small_result")
def _small_result():
    return small_result
