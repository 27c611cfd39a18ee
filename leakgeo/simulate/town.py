"""A small simulated town with leaks, for training: a job written as a GeoPackage."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.simulate.air import air_readings, air_test
from leakgeo.simulate.constants import METALS, PLASTICS, Conditions, World
from leakgeo.simulate.evidence_lines import evidence_layers
from leakgeo.simulate.field import simulate_field
from leakgeo.simulate.job import fields_to_layers, local_plane
from leakgeo.simulate.plan import LATITUDE, LONGITUDE, TOWN_CRS, lay_out
from leakgeo.simulate.surroundings import (
    draw_contacts,
    draw_history,
    draw_meter_tests,
    draw_utilities,
    surface_polygons,
)
from leakgeo.simulate.write import write_job

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.simulate.field import Recorded
    from leakgeo.simulate.plan import Service

DEFAULT_SEED = 20
# Pressure of the injected air above that of the line, in kilopascals.
OVER_KPA = 50.0


def simulate_town(
    seed: int = DEFAULT_SEED, lines: int = 16, *, evidence: bool = True
) -> dict[str, pd.DataFrame]:
    """Simulate the town: two mains and their services, with readings and all other layers.

    A third street has a line for each kind of evidence besides levels, such as meter tests.

    Two readings are faulty on purpose: one has no position, and one is far from its line.

    Parameters
    ----------
    seed : int
        The same seed gives the same town.
    lines : int
        Number of service lines, in addition to the two mains.
    evidence : bool
        Whether the third street is part of the town.

    Returns
    -------
    dict of str to geopandas.GeoDataFrame or pandas.DataFrame
        Input layers of the data contract in ``EPSG:2289``; and ``truth``, which is not part of the
        job.

    Examples
    --------
    >>> from leakgeo.simulate.town import simulate_town
    >>> town = simulate_town(lines=2, evidence=False)
    >>> town["routes"]["line_id"].tolist()
    ['M-1', 'M-2', 'H-101', 'H-102']
    """
    rng = np.random.default_rng(seed)
    plane = local_plane(LONGITUDE, LATITUDE)
    services = lay_out(rng, lines)
    fields = [_field(rng, s, i) for i, s in enumerate(services)]
    names = [s.line_id for s in services]
    origins = np.zeros((len(services), 2))
    drawn = fields_to_layers(fields, plane=plane, line_ids=names, origins_m=origins)
    readings = _with_air(rng, drawn["readings"], services, fields)
    layers: dict[str, pd.DataFrame] = {
        "routes": _with_records(rng, drawn["routes"], services),
        "readings": _with_faults(readings, services),
        "contacts": draw_contacts(rng, services, fields, plane),
        "meter_tests": draw_meter_tests(rng, services, fields),
        "utilities": draw_utilities(rng, services, plane),
        "surfaces": surface_polygons(fields, plane),
        "history": draw_history(rng, plane),
        "truth": drawn["truth"],
    }
    if evidence:
        more = evidence_layers(seed, plane)
        layers |= {name: _after(layers.get(name), rows) for name, rows in more.items()}
    return {
        name: layer.to_crs(TOWN_CRS) if isinstance(layer, gpd.GeoDataFrame) else layer
        for name, layer in layers.items()
    }


def _after(layer: pd.DataFrame | None, rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of a layer and further ones; nothing of the first changes."""
    if layer is None:
        return rows
    return pd.concat([layer, rows.astype({c: layer[c].dtype for c in rows if c in layer})],
                     ignore_index=True)  # fmt: skip


def _field(rng: np.random.Generator, service: Service, index: int) -> Recorded:
    """Simulate a line; every sixth has no leak, and the mains are of ductile iron and PVC."""
    conditions = Conditions(
        constants=World(fix_sd_m=(0.02, 0.5, 1.5), trace_sd_m=(0.03, 0.15)),
        leak_share=0.0 if index % 6 == 5 else 1.0,
        tape_share=0.6,
        other_source_share=0.15,
    )
    if service.main:
        material = METALS[3] if index == 0 else PLASTICS[0]
        conditions = replace(conditions, material=material)
    return simulate_field(rng, conditions, service.pipe_xy)


def _with_records(
    rng: np.random.Generator, routes: gpd.GeoDataFrame, services: Sequence[Service]
) -> gpd.GeoDataFrame:
    years = pd.array(rng.integers(1951, 2019, len(routes)), dtype="Int64")
    main = np.array([s.main for s in services])
    return routes.assign(
        diameter_mm=np.where(main, 150.0, rng.choice([20.0, 25.0, 32.0], len(routes))),
        installed_year=years,
        address=[s.address for s in services],
    )


def _with_air(
    rng: np.random.Generator,
    readings: gpd.GeoDataFrame,
    services: Sequence[Service],
    fields: Sequence[Recorded],
) -> gpd.GeoDataFrame:
    """Add air tests on two leaking services, after their walks.

    The places are the loudest stop, and a control point at the farther end of the line.
    """
    chosen = [
        i for i, f in enumerate(fields) if f.leaks and f.taped and f.unit == "db"
        and not services[i].main
    ][:2]  # fmt: skip
    extra = []
    for i in chosen:
        own = readings[readings["line_id"] == services[i].line_id]
        injected = round(fields[i].pressure_kpa + OVER_KPA)
        mark = air_readings(rng, fields[i], own)
        there = float(mark["chainage_m"].iloc[0])
        length = fields[i].length_m
        control = length - 0.5 if there < length / 2 else 0.5
        extra.append(mark.assign(air_kpa=np.where(mark["air"] == "on", injected, np.nan)))
        apart = np.random.default_rng(
            [i]
        )  # A separate generator, so that later draws do not change.
        extra.append(air_test(apart, fields[i], own, (control,), injected))
    return pd.concat([readings, *extra], ignore_index=True)


def _with_faults(readings: gpd.GeoDataFrame, services: Sequence[Service]) -> gpd.GeoDataFrame:
    """Make two readings faulty: one without a position, one at a wrong position."""
    if len(services) < 6:
        return readings
    untaped = np.flatnonzero(readings["chainage_m"].isna())
    lost, misplaced = (untaped[3], untaped[-3]) if len(untaped) > 6 else (3, 40)
    shapes = readings.geometry.to_numpy().copy()
    shapes[lost] = None
    shapes[misplaced] = shapely.transform(shapes[misplaced], lambda xy: xy + 640.0)
    return readings.set_geometry(gpd.GeoSeries(shapes, crs=readings.crs))


def write_town(
    path: str | Path, seed: int = DEFAULT_SEED, lines: int = 16, *, evidence: bool = True
) -> None:
    """Write the town as a job GeoPackage, without the truth.

    Parameters
    ----------
    path : str or pathlib.Path
        File with the extension ``.gpkg``; an existing file is replaced.
    seed, lines : int
        As in `simulate_town`.
    evidence : bool
        As in `simulate_town`.

    Raises
    ------
    OutputError
        If it can't be written.
    """
    town = simulate_town(seed, lines, evidence=evidence)
    write_job({name: layer for name, layer in town.items() if name != "truth"}, Path(path))
