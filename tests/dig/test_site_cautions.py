"""Cautions of ground, pipe and fittings: each where it applies, and nowhere else."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import pandas as pd
import pytest
from pyproj import CRS
from shapely import Point, box

from leakgeo.dig.site_cautions import site_cautions, site_of
from leakgeo.reason import Reason
from leakgeo.wording import wording

X0, Y0 = 500_000.0, 4_200_000.0
HOLE = box(X0 - 1, Y0 - 1, X0 + 1, Y0 + 1)
SITE = ("void_under_pavement", "traffic", "ground_cover_unknown", "water_logged", "bond_metal",
        "asbestos_cement", "pipe_material_unknown", "confined_space", "hearing")  # fmt: skip


def layer(geometry, **columns):
    return gpd.GeoDataFrame({**columns, "reason": None}, geometry=geometry, crs=CRS("EPSG:26910"))


@pytest.fixture(name="site")
def _site(small_result):
    """Give the codes of the cautions at one dig, by the layers of the job and its readings."""

    def codes(route=None, drawn=True, located=True, air_on=False, heard=None, **layers):
        job = replace(small_result(None, route=route).job, **layers)
        digs = pd.DataFrame({"line_id": ["L-1"], "chainage_m": [12.0]})
        digs = digs.join(site_of(job, heard, digs, [HOLE if drawn else None]))
        digs = digs.assign(drawn=drawn, located=located, air_on=air_on)
        found = list(site_cautions(digs))
        assert {at for at, _ in found} <= {0}
        return {reason.code for _, reason in found}

    return codes


def on_line(surface, chainage_m=12.0):
    return pd.DataFrame({"line_id": ["L-1"], "chainage_m": chainage_m, "surface": [surface]})


@pytest.mark.parametrize(
    ("surface", "expected"),
    [
        ("asphalt", {"void_under_pavement", "traffic"}),
        ("concrete", {"void_under_pavement", "traffic"}),
        ("paver", {"void_under_pavement"}),
        ("grass", set()),
        ("unknown", {"ground_cover_unknown"}),
    ],
)
def test_pavement_and_traffic_are_those_of_the_ground_at_the_mark(site, surface, expected):
    ground = {"void_under_pavement", "traffic", "ground_cover_unknown"}
    cover = layer([box(X0, Y0, X0 + 9, Y0 + 9)], surface=[surface])
    away = layer([box(X0 + 1.1, Y0, X0 + 9, Y0 + 9)], surface=[surface])
    assert site(surfaces=cover) & ground == expected
    assert site(surfaces=away) & ground == {"ground_cover_unknown"}
    assert site(heard=on_line(surface)) & ground == expected
    assert site(heard=on_line(surface, 14.9)) & ground == expected
    assert site(heard=on_line(surface, 15.1)) & ground == {"ground_cover_unknown"}
    assert not site(surfaces=cover, drawn=False) & {*ground, "water_logged"}


def test_the_layer_of_surfaces_has_precedence_over_readings(site):
    cover = layer([box(X0, Y0, X0 + 9, Y0 + 9)], surface=["grass"])
    assert "traffic" not in site(surfaces=cover, heard=on_line("asphalt"))


@pytest.mark.parametrize(
    ("material", "expected"),
    [
        ("copper", "bond_metal"),
        ("lead", "bond_metal"),
        ("pvc", None),
        ("concrete", None),
        ("asbestos_cement", "asbestos_cement"),
        ("unknown", "pipe_material_unknown"),
        (None, "pipe_material_unknown"),
    ],
)
def test_the_pipe_has_the_caution_of_its_material(site, material, expected):
    of_pipe = {"bond_metal", "asbestos_cement", "pipe_material_unknown"}
    found = site(route={"material": material})
    assert found & of_pipe == ({expected} if expected else set())
    assert "water_logged" in found


@pytest.mark.parametrize(
    ("kind", "shows"), [("main_valve", True), ("meter", True), ("sink", False)]
)
def test_a_vault_is_expected_where_a_fitting_of_the_line_may_stand_in_one(site, kind, shows):
    fittings = layer([Point(X0, Y0)], line_id=["L-1"], kind=[kind])
    assert ("confined_space" in site(contacts=fittings)) is shows
    assert "confined_space" not in site(contacts=fittings.assign(line_id="L-2"))
    assert "confined_space" not in site(contacts=fittings.assign(reason=Reason("no_position")))
    valves = layer([Point(X0, Y0)], line_id=["L-1"], kind=["isolation"])
    assert "confined_space" in site(valves=valves)


@pytest.mark.parametrize(
    ("gain_db", "located", "air_on", "shows"),
    [
        (40.0, False, False, True),
        (39.0, False, False, False),
        (60.0, True, False, False),  # nobody listens on
        (None, True, True, True),
    ],
)
def test_ears_are_at_risk_with_air_or_a_high_gain(site, gain_db, located, air_on, shows):
    readings = layer([Point(X0, Y0)], line_id=["L-1"], gain_db=[gain_db])
    assert ("hearing" in site(readings=readings, located=located, air_on=air_on)) is shows


@pytest.mark.parametrize("language", ["en", "es"])
def test_each_has_its_source_or_is_marked_as_common_practice(language):
    said = wording(language=language)
    for code in (*SITE, "before_air", "air_in_plastic", "air_in_unknown_pipe"):
        text = said.text(Reason(code))
        assert any(s in text for s in ("CFR", "NFPA", "ASTM", "common practice", "práctica común"))


def test_they_stand_in_the_layer_of_cautions(dig, gas_main):
    codes = dig([gas_main()])[0]["caution_codes"]
    assert {"ground_cover_unknown", "water_logged", "bond_metal"} <= set(codes)
