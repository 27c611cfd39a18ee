"""Numbers that can't hurt: extremes, sums, precision, order of rows, and CRS."""

import math
from itertools import pairwise

import numpy as np
import pyproj
import pytest
import shapely

from leakgeo.find.locate.step import Search
from leakgeo.job.crs import ground_scale
from leakgeo.route.chainage import RouteSet
from leakgeo.wording import wording
from leakgeo.wording.layers import with_texts
from tests.battery.check import good_result, lines_of, located
from tests.battery.good import CRS, LAST, LINEAR, LINES, TAPED, layers, rows

SAME_M = 0.005


def with_levels(change, line=LAST, unit=None):
    job = layers()
    table, at = job["readings"].copy(), rows(job["readings"], line)
    column = table.columns.get_loc("sound_level")
    table.iloc[at, column] = change(table.iloc[at, column].to_numpy(dtype=float))
    if unit:
        table.iloc[at, table.columns.get_loc("sound_unit")] = unit
    return job | {"readings": table}


def with_route(column, value):
    job = layers()
    return job | {"routes": job["routes"].assign(**{column: value})}


def stretched(factor):
    """Draw every line, and its readings and tapes, so many times as long."""
    job = layers()
    first = shapely.get_point(job["routes"].geometry.to_numpy(), 0)
    origin = dict(zip(LINES, first, strict=True))
    origin = {line: shapely.get_coordinates(at)[0] for line, at in origin.items()}
    out = {}
    for name in ("routes", "readings"):
        pairs = zip(job[name].geometry, job[name]["line_id"], strict=True)
        shapes = [_scaled(shape, origin[line], factor) for shape, line in pairs]
        out[name] = job[name].assign(geometry=shapes)
    out["readings"]["chainage_m"] *= factor
    return out


def only(line, job):
    return {n: t[t["line_id"] == line].reset_index(drop=True) for n, t in job.items()}


def _scaled(shape, origin, factor):
    return shapely.transform(shape, lambda xy: origin + factor * (xy - origin))


EXTREMES = {
    "as they are": layers,
    "240 dB up": lambda: with_levels(lambda v: v + 180),
    "240 dB down": lambda: with_levels(lambda v: v - 240),
    "one of them 200 dB up": lambda: with_levels(lambda v: np.where(v == v.max(), 240.0, v)),
    "one of them 200 dB down": lambda: with_levels(lambda v: np.where(v == v.max(), -240.0, v)),
    "all alike": lambda: with_levels(lambda v: 0 * v),
    "linear, next to nothing": lambda: with_levels(lambda v: v * 1e-300, LINEAR),
    "linear, beyond measure": lambda: with_levels(lambda v: v * 1e300, LINEAR),
    "linear, from nothing to beyond": lambda: with_levels(
        lambda v: np.logspace(-300, 300, len(v)), LINEAR),
    "linear, nothing": lambda: with_levels(lambda v: 0 * v, LINEAR),
    "gain beyond measure": lambda: {
        n: t.assign(gain_db=1e6) if n == "readings" else t for n, t in layers().items()},
    "on the ground": lambda: with_route("depth_m", 0.0),
    "a micrometre deep": lambda: with_route("depth_m", 1e-6),
    "thirty metres deep": lambda: with_route("depth_m", 30.0),
    "a trace without error": lambda: with_route("position_sd_m", 1e-9),
    "a trace with a kilometre's": lambda: with_route("position_sd_m", 1000.0),
    "lines of a centimetre": lambda: stretched(0.01 / 22),
    "lines of fifty kilometres": lambda: only(LAST, stretched(50_000 / 22)),
}  # fmt: skip


@pytest.mark.parametrize("job", EXTREMES.values(), ids=EXTREMES)
def test_no_number_leaves_without_a_status(job, monkeypatch):
    """Odds sum to one; what is not finite has a status that says so."""
    sums, find = [], Search.find

    def finding(self, line):
        found = find(self, line)
        sums.append(found.posterior.probability.sum())
        return found

    monkeypatch.setattr(Search, "find", finding)
    result = located(job())
    np.testing.assert_allclose(sums, 1.0, rtol=0, atol=1e-9)
    lines = lines_of(result)
    told = lines[lines["leak_probability"].notna()]
    assert len(told) == len(sums)
    assert told["leak_probability"].between(0.0, 1.0).all()
    assert np.isfinite(told.loc[told["status"] == "located", "chainage_m"]).all()
    assert not (told["status"].eq("no_leak_heard") & (told["leak_probability"] >= 0.5)).any()
    assert set(lines.index[lines["status"] == "rejected"]) <= {
        f.feature for f in (*result.job.faults, *result.faults)
    } | set(result["readings_on_route"].query("~used")["line_id"])
    for name in ("readings_on_route", "profile", "search_zones", "marks"):
        for column in result[name].select_dtypes("number"):
            assert not np.isinf(result[name][column]).any(), (name, column)
        assert np.isfinite(result[name].geometry.bounds).all(axis=None)
    assert (result["search_zones"]["probability"] <= 1 + 1e-9).all()


@pytest.mark.parametrize("length_m", [0.01, 1.0, 50.0, 5_000.0, 50_000.0])
@pytest.mark.parametrize("east", [500_000.0, 300_000.0])
def test_chainage_keeps_its_precision(length_m, east):
    """Against sums that lose nothing, over lines of two vertices and of ten thousand."""
    crs, rng = pyproj.CRS(32616), np.random.default_rng(5)
    for vertices in (2, 10_000):
        share = np.sort(np.r_[0, rng.random(vertices - 2), 1])
        xy = np.column_stack([east + share * length_m * 0.8, 4.8e6 + share * length_m * 0.6])
        steps = [math.dist(a, b) for a, b in pairwise(xy)]
        middle = (xy[1:] + xy[:-1]) / 2
        ground = np.array(steps) / ground_scale(crs, *middle.T)
        exact = np.array([math.fsum(ground[:k]) for k in range(0, vertices, max(vertices // 7, 1))])
        lines = RouteSet.of(np.array([shapely.LineString(xy)]), crs)
        points = shapely.points(xy[:: max(vertices // 7, 1)])
        place, off = lines.locate(points, np.zeros(len(points), dtype=np.int64))
        np.testing.assert_allclose(place, exact, rtol=0, atol=1e-6)
        np.testing.assert_allclose(off, 0.0, atol=1e-6)
        assert lines.length_m[0] == pytest.approx(math.fsum(ground), abs=1e-6)


def test_the_order_of_rows_makes_no_difference():
    job = {n: t.sample(frac=1.0, random_state=3).reset_index(drop=True)
           for n, t in layers().items()}  # fmt: skip
    results = located(job), good_result()
    now, before = (with_texts(lines_of(result), wording()) for result in results)
    columns = ["status", "chainage_m", "leak_probability", "message"]
    assert now.loc[list(LINES), columns].equals(before.loc[list(LINES), columns])


CRSES = {
    "degrees": 4326, "degrees of NAD83": 4269, "Web Mercator": 3857, "UTM of NAD83": 26916,
    "UTM of the next zone": 32617, "state plane in US survey feet": 2289,
    "a state in metres": 3071,
}  # fmt: skip


@pytest.mark.parametrize("crs", CRSES.values(), ids=CRSES)
def test_the_crs_makes_no_difference(crs):
    """EPSG:3071 is the whole of Wisconsin in metres, EPSG:2289 its south in US survey feet."""
    job = {n: t.to_crs(crs) for n, t in layers().items()}
    result, before = located(job), good_result()
    now, was = lines_of(result), lines_of(before)
    np.testing.assert_allclose(now["chainage_m"], was["chainage_m"], rtol=0, atol=SAME_M)
    assert now["status"].equals(was["status"])
    places = [r["marks"].set_index("line_id").to_crs(CRS).geometry for r in (result, before)]
    away = places[0].distance(places[1])
    assert (away < SAME_M).all(), away
    assert TAPED in away.index
