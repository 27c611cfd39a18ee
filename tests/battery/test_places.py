"""Where things lie: axes, degrees, feet, zones, heights."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

from leakgeo.errors import JobError
from leakgeo.reason import Reason
from tests.battery.check import Case, assert_case, located
from tests.battery.good import CRS, FIXED, LAST, LINEAR, LINES, TAPED, layers, moved, rows

FOOT = 0.3048  # exact, by the international yard and pound agreement of 1959
OTHERS = (FIXED, LINEAR, LAST)
TAPES = (TAPED, LINEAR, LAST)


def swapped(xy):
    return xy[:, ::-1]


def declared(table, crs):
    return table.set_crs(crs, allow_override=True)


def one(change, layer="readings", lines=(TAPED,)):
    """Change the coordinates of some lines' rows of one layer."""

    def spoil(job):
        at = np.concatenate([rows(job[layer], line) for line in lines])
        return job | {layer: moved(job[layer], change, at)}

    return spoil


def whole(change, *names):
    def spoil(job):
        return job | {n: change(job[n]) for n in names or job}

    return spoil


def tape_in_feet(job):
    table = job["readings"].copy()
    table["chainage_m"] /= FOOT
    return job | {"readings": table}


def depths(*values):
    return lambda job: job | {"routes": job["routes"].assign(depth_m=values)}


def noted(result, code):
    assert [f.effect for f in result.job.faults if f.code == code] == ["noted"]


def some_z(job):
    shapes = job["routes"].geometry.to_numpy().copy()
    xy = shapely.get_coordinates(shapes[0])
    shapes[0] = shapely.linestrings(np.column_stack([xy, np.arange(len(xy)) % 2 * 100.0]))
    return job | {"routes": job["routes"].assign(geometry=shapes)}


CASES = {
    "readings with axes swapped": Case(
        whole(lambda t: moved(t, swapped), "readings"),
        "far_from_routes", ("readings", "if its x and y were swapped"),
        rejected=35, untouched=TAPES, rejected_lines=1),
    "readings in degrees, latitude first": Case(
        whole(lambda t: moved(t.to_crs(4326), swapped), "readings"),
        "far_from_routes", ("readings", "if its x and y were swapped"),
        rejected=35, untouched=TAPES, rejected_lines=1),
    "readings at no place of their CRS": Case(
        whole(lambda t: moved(t.to_crs(4326), lambda xy: xy - [0, 180]), "readings"),
        "placed_by_chainage", ("99 of its 134 rows",),
        rejected=35, untouched=TAPES, rejected_lines=1),
    "one line's readings with axes swapped": Case(
        one(swapped, lines=(FIXED,)), "off_its_route", ("35 features",), "rejected",
        rejected=35, untouched=TAPES, rejected_lines=1),
    "all with axes swapped": Case(
        whole(lambda t: moved(t, swapped)), "outside_crs_area", ("routes",), rejected=8,
        untouched=()),
    "readings in degrees, declared as metres": Case(
        whole(lambda t: declared(t.to_crs(4326), CRS), "readings"),
        "far_from_routes", ("readings", "if its coordinates were degrees"), rejected=35,
        untouched=TAPES, rejected_lines=1),
    "utilities in feet, declared as metres": Case(
        whole(lambda t: moved(t, lambda xy: xy / FOOT), "utilities"),
        "far_from_routes", ("utilities", "if its coordinates were feet, not metres")),
    "all in feet, declared as metres": Case(
        whole(lambda t: moved(t, lambda xy: xy / FOOT)),
        "tape_in_other_unit", ("map in feet",), "rejected", rejected=99, untouched=(),
        rejected_lines=3),
    "tape in feet": Case(
        tape_in_feet, "tape_in_other_unit", ("were in feet",), "rejected", rejected=99,
        untouched=(FIXED,), rejected_lines=3),
    "depths in feet": Case(
        depths(3.0, 4.0, 3.5, 3.9), "ask_depth_unit", ("of the routes in feet?",), "rejected",
        rejected=134, untouched=(), rejected_lines=4,
        also=lambda result: noted(result, "depths_implausible")),
    "pressures in psi": Case(
        lambda job: job | {"routes": job["routes"].assign(pressure_kpa=[60.0, 72.0, 55.0, 60.0])},
        "pressures_implausible", ("60 kPa", "psi"), untouched=()),
    "diameters in inches": Case(
        lambda job: job | {"routes": job["routes"].assign(diameter_mm=[1.0, 6.0, 8.0, 2.0])},
        "diameters_implausible", ("4 mm", "inches"), untouched=()),
    "a depth in inches": Case(
        depths(36.0, 0.9, 0.9, 0.9), "ask_depth_unit", (TAPED, "of the routes in inches?", "36"),
        "rejected", rejected=30, untouched=(), rejected_lines=1),
    "a depth in feet": Case(
        depths(6.0, None, None, None), "ask_depth_unit", (TAPED, "of the routes in feet?", "6"),
        "rejected", rejected=30, untouched=(), rejected_lines=1),
    "a negative depth": Case(depths(-1.0, None, None, None), "number_out_of_range",
                             ("depth_m", "-1"), untouched=()),
    "readings in the next zone": Case(
        whole(lambda t: declared(t, CRS + 1), "readings"),
        "far_from_routes", ("readings", "if its CRS were that of the routes"),
        rejected=35, untouched=TAPES, rejected_lines=1),
    "utilities in the next zone": Case(
        whole(lambda t: declared(t, CRS + 1), "utilities"),
        "far_from_routes",
        ("utilities", "488 km", "if its CRS were that of the routes")),
    "Z in some vertices": Case(some_z, "z_in_part"),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_places(case):
    assert_case(case)


def test_readings_in_the_other_foot():
    """At 2.7 million feet from the origin the kinds of foot are 1.6 m apart."""
    tables = layers()
    plain = (
        "+proj=lcc +lat_0=42 +lon_0=-90 +lat_1=44.0666666666667 +lat_2=42.7333333333333 "
        f"+x_0=600000 +y_0=0 +datum=NAD83 +to_meter={FOOT} +type=crs"
    )
    tables["readings"] = declared(tables["readings"].to_crs("EPSG:2289"), plain)
    found = [f for f in located(tables).job.faults if f.code == "other_foot"]
    assert [dict(f.reason.values)["meant"] for f in found] == ["us_survey"]


def test_readings_in_their_own_foot_are_not_blamed():
    tables = {n: t.to_crs("EPSG:2289") for n, t in layers().items()}
    codes = {f.code for f in located(tables).job.faults}
    assert not codes & {"other_foot", "tape_in_other_unit", "far_from_routes"}


def test_all_in_degrees_latitude_first():
    """Longitude as latitude is beyond the last street; elsewhere it would be in another country."""
    tables = whole(lambda t: moved(t.to_crs(4326), swapped))(layers())
    with pytest.raises(JobError) as stopped:
        located(tables)
    assert "near_pole" in [f.code for f in stopped.value.faults if f.effect == "stops"]


def test_routes_in_degrees_declared_as_metres():
    tables = whole(lambda t: declared(t.to_crs(4326), CRS))(layers())
    with pytest.raises(JobError) as stopped:
        located(tables)
    assert "degrees_in_metre_crs" in [f.code for f in stopped.value.faults if f.effect == "stops"]


def test_the_zone_is_named_where_it_is_that_of_no_layer():
    tables = layers()
    tables["routes"] = tables["routes"].to_crs(4326)
    tables["utilities"] = declared(tables["utilities"], CRS - 1)
    (fault,) = [f for f in located(tables).job.faults if f.code == "far_from_routes"]
    assert (fault.layer, fault.reason.then) == (
        "utilities", (Reason("would_fit_zone", zone="UTM zone 16N"),)
    )  # fmt: skip


def test_a_job_that_lies_in_the_next_zone_is_not_blamed():
    """Cities near a zone's edge keep to one zone: four degrees beyond it nothing is said."""
    tables = {n: declared(t.to_crs(CRS + 1), CRS + 1) for n, t in layers().items()}
    assert isinstance(tables["routes"], gpd.GeoDataFrame)
    codes = {f.code for f in located(tables).job.faults}
    assert not codes & {"far_from_routes", "outside_crs_area", "near_pole"}
    assert len(LINES) == 4
