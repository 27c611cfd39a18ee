"""Data in another unit or place than declared: a question, and never a verdict."""

import numpy as np
import pytest
import shapely

from tests.battery.check import Case, assert_case
from tests.battery.good import FIXED, LAST, LINEAR, TAPED, moved, rows

FOOT = 0.3048  # exact, by the international yard and pound agreement of 1959
NOT_TAPED, NOT_FIXED, NOT_LINEAR = (
    (FIXED, LINEAR, LAST),
    (TAPED, LINEAR, LAST),
    (TAPED, FIXED, LAST),
)


def column(table, name, at, value):
    table = table.copy()
    table.iloc[at, table.columns.get_loc(name)] = value
    return table


def display_as_decibels(job):
    at = rows(job["readings"], LINEAR)
    return job | {"readings": column(job["readings"], "sound_unit", at, "db")}


def feet_without_positions(job):
    at = rows(job["readings"])
    taped = job["readings"]["chainage_m"].to_numpy()[at]
    table = column(job["readings"], "chainage_m", at, taped / FOOT)
    shapes = table.geometry.to_numpy().copy()
    shapes[at] = None
    return job | {"readings": table.assign(geometry=shapes)}


def written_beyond_the_line(job):
    """Tapes that are as much too long, but have their unit beside them."""
    wrong = feet_without_positions(job)
    at, table = rows(job["readings"]), wrong["readings"].assign(tape=None)
    written = [f"{metres:.2f} m" for metres in table["chainage_m"].to_numpy()[at]]
    table = column(table, "tape", at, np.array(written, dtype=object))
    return wrong | {"readings": column(table, "chainage_m", at, np.nan)}


def mostly_off(job):
    """All but five readings of a line lie 40 m from it."""
    at = rows(job["readings"], FIXED)[5:]
    return job | {"readings": moved(job["readings"], lambda xy: xy + [0, 40.0], at)}


def walk_off(job):
    """Most of the smaller of two walks lies off the line: the other one is used."""
    at = np.flatnonzero(job["readings"]["walk_id"] == f"{FIXED}/fine")[1:]
    return job | {"readings": moved(job["readings"], lambda xy: xy + [0, 40.0], at)}


def snapped(job):
    at = rows(job["readings"], FIXED)
    table = column(job["readings"], "position_sd_m", at, np.nan)
    shapes, route = table.geometry.to_numpy().copy(), job["routes"].geometry.iloc[1]
    along = shapely.line_locate_point(route, shapes[at])
    shapes[at] = shapely.line_interpolate_point(route, along)
    return job | {"readings": table.assign(geometry=shapes)}


def from_fitting(job):
    """Tape a line from a curb stop eight metres along it, and name no fitting."""
    at, route = rows(job["readings"]), job["routes"].geometry.iloc[0]
    taped = job["readings"]["chainage_m"].to_numpy()[at]
    on = at[taped > 8.0]
    shapes = job["readings"].geometry.to_numpy().copy()
    shapes[at] = shapely.line_interpolate_point(route, taped)
    table = column(job["readings"].assign(geometry=shapes), "position_sd_m", at, 0.5)
    table = column(table, "chainage_m", on, taped[taped > 8.0] - 8.0)
    table = table.drop(index=table.index[at[taped <= 8.0]]).reset_index(drop=True)
    fittings = job["contacts"].copy()
    fittings.loc[1, ["contact_id", "kind", "line_id"]] = ["CS-9", "curb_stop", TAPED]
    places = fittings.geometry.to_numpy().copy()
    places[1] = shapely.line_interpolate_point(route, 8.2)
    return job | {"readings": table, "contacts": fittings.assign(geometry=places)}


def asks(*codes):
    """The message of a rejected line is the question itself."""

    def also(result):
        lines = result["lines"]
        assert set(lines.loc[lines["status"] == "rejected", "code"]) == set(codes)

    return also


CASES = {
    "a display declared as decibels": Case(
        display_as_decibels, "ask_display", (LINEAR, "Is it a linear display, such as 0 to 100?"),
        "rejected", rejected=35, untouched=NOT_LINEAR, rejected_lines=1, also=asks("ask_display")),
    "a tape in feet, without positions": Case(
        feet_without_positions, "ask_tape_unit", (TAPED, "Is chainage_m in feet?"), "rejected",
        rejected=30, untouched=NOT_TAPED, rejected_lines=1, also=asks("ask_tape_unit")),
    "written tapes that are too long": Case(
        written_beyond_the_line, "ask_tape_start", (TAPED, "Where did the tape begin"), "rejected",
        rejected=30, untouched=NOT_TAPED, rejected_lines=1, also=asks("ask_tape_start")),
    "most readings off their line": Case(
        mostly_off, "ask_positions", (FIXED, "another CRS"), "rejected", rejected=35,
        untouched=NOT_FIXED, rejected_lines=1, also=asks("ask_positions")),
    "most of a walk off its line": Case(
        walk_off, "ask_positions", (FIXED, "14 of its 15 readings"), "rejected", rejected=15,
        untouched=NOT_FIXED),
    "points on the route without their error": Case(
        snapped, "position_error_missing", ("readings", f"{FIXED}/coarse", "position_sd_m"),
        untouched=NOT_FIXED),
    "a tape that began at a fitting": Case(
        from_fitting, "tape_from_fitting", (TAPED, "curb stop CS-9", "chainage_from to CS-9"),
        untouched=NOT_TAPED),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_declarations(case):
    assert_case(case)
