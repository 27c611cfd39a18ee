"""Leaks near a tee, of known place: a line, and another that leaves it at a right angle."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.simulate.job import local_plane
from leakgeo.simulate.noise import coupling_correlation
from leakgeo.sound.decibels import energy_sum
from leakgeo.sound.spreading import Spreading, relative_level

PLANE = local_plane(-87.3, 43.2)
LONG_M, BRANCH_M, TEE_M, REACH_M = 30.0, 18.0, 14.0, 8.0


def routes(turns_m=0.0):
    """A main from the west, and a branch to the north; the whole turned by so much of a radian."""
    drawn = [
        shapely.LineString([(0, 0), (LONG_M, 0)]),
        shapely.LineString([(TEE_M, 0), (TEE_M, BRANCH_M)]),
    ]
    return gpd.GeoDataFrame(
        {"line_id": ["main", "branch"], "material": "pvc", "depth_m": 0.9},
        geometry=[shapely.affinity.rotate(d, turns_m, (0, 0)) for d in drawn],
        crs=PLANE,
    )


def draw_leak(rng):
    """Somewhere within reach of the tee, as likely on any metre: line, chainage, point."""
    at = rng.uniform(-REACH_M, 2 * REACH_M)
    if at > REACH_M:
        return "branch", at - REACH_M
    return "main", TEE_M + at


def job(rng, lines=("main", "branch"), leak=None):
    """Layers of one job, and its leak; both lines walked, and one-foot steps at the loudest."""
    leak = leak or draw_leak(rng)
    drawn = routes().set_index("line_id").geometry
    stops = {n: np.arange(0, drawn[n].length, 1.2) for n in lines}
    level = {n: _heard(rng, drawn, [leak], n, stops[n]) for n in lines}
    loud = max(lines, key=lambda n: level[n].max())
    tables = [_table(drawn, n, "coarse", stops[n], level[n]) for n in lines]
    tables.append(_fine(rng, drawn, [leak], loud, stops[loud][level[loud].argmax()]))
    return _layers(tables), leak


def job_of_two(rng, leaks):
    """Layers of a job whose two lines both leak, each walked in one-foot steps at its loudest."""
    drawn, tables = routes().set_index("line_id").geometry, []
    for n in ("main", "branch"):
        stops = np.arange(0, drawn[n].length, 1.2)
        level = _heard(rng, drawn, leaks, n, stops)
        tables += [_table(drawn, n, f"{n} coarse", stops, level),
                   _fine(rng, drawn, leaks, n, stops[level.argmax()])]  # fmt: skip
    return _layers(tables)


def _layers(tables):
    readings = gpd.GeoDataFrame(pd.concat(tables, ignore_index=True), crs=PLANE)
    readings["reading_id"] = np.arange(len(readings)).astype(str)
    return {"routes": routes(), "readings": readings}


def _fine(rng, drawn, leaks, line, middle_m):
    stops = np.arange(middle_m - 2.1, middle_m + 2.2, 0.3)
    stops = stops[(stops >= 0) & (stops <= drawn[line].length)]
    return _table(drawn, line, "fine", stops, _heard(rng, drawn, leaks, line, stops))


def _heard(rng, drawn, leaks, line, stop_m):
    paths = [np.full(len(stop_m), -18.0)]
    for leak in leaks:
        plan, by_pipe = _away(drawn, leak, line, stop_m)
        soil = relative_level(plan, Spreading(0.9, 4.0, 0.0, 1.5, 0.0))
        pipe = relative_level(by_pipe, Spreading(0.9, 4.0, 1.0, 1.5, 0.0))
        paths += [soil + 10 * np.log10(0.8), pipe + 10 * np.log10(0.2)]
    level = energy_sum(np.array(paths), axis=0)
    same = coupling_correlation(stop_m[:, None] - stop_m, 1.0) + 1e-6 * np.eye(len(stop_m))
    coupling = 1.5 * np.linalg.cholesky(same) @ rng.normal(size=len(stop_m))
    return np.rint(55 + level + coupling + rng.normal(size=len(stop_m)))


def _away(drawn, leak, line, stop_m):
    """Distances of stops on a line from the leak, over the ground and along the pipe."""
    source = drawn[leak[0]].interpolate(leak[1])
    plan = shapely.distance(shapely.line_interpolate_point(drawn[line], stop_m), source)
    if leak[0] == line:
        return plan, np.abs(stop_m - leak[1])
    from_tee = {"main": lambda x: np.abs(x - TEE_M), "branch": lambda x: x}
    return plan, from_tee[line](stop_m) + from_tee[leak[0]](leak[1])


def _table(drawn, line, walk, stop_m, level):
    return pd.DataFrame({
        "line_id": line, "walk_id": walk, "seq": np.arange(len(stop_m)), "sound_level": level,
        "sound_unit": "db", "gain_db": 20.0, "sensor": "ground_plate", "surface": "soil",
        "chainage_m": stop_m, "chainage_sd_m": 0.05,
        "geometry": shapely.line_interpolate_point(drawn[line], stop_m),
    })  # fmt: skip
