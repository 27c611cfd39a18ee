"""Traces and tapes: crossings, loops, spikes, vertices drawn twice, tapes from the other end."""

import numpy as np
import pytest
import shapely

from tests.battery.check import Case, assert_case, good_result, lines_of, located
from tests.battery.good import FIXED, LAST, LINEAR, TAPED, layers, moved, rows

OTHERS = (FIXED, LINEAR, LAST)


def trace(change, line=0):
    """Change the vertices of one route."""

    def spoil(job):
        shapes = job["routes"].geometry.to_numpy().copy()
        shapes[line] = shapely.linestrings(change(shapely.get_coordinates(shapes[line])))
        return job | {"routes": job["routes"].assign(geometry=shapes)}

    return spoil


def tape(change):
    """Change the taped distances of one line."""

    def spoil(job):
        table = job["readings"].copy()
        at = rows(table)
        column = table.columns.get_loc("chainage_m")
        table.iloc[at, column] = change(table.iloc[at, column].to_numpy())
        return job | {"readings": table}

    return spoil


def elsewhere(job):
    """Tape a line from three metres before its first vertex, over readings that are well placed."""
    table, at = job["readings"].copy(), rows(job["readings"], FIXED)
    route = job["routes"].geometry.iloc[1]
    place = shapely.line_locate_point(route, table.geometry.to_numpy()[at])
    table.iloc[at, table.columns.get_loc("chainage_m")] = 3.0 + 0.87 * place
    table.iloc[at, table.columns.get_loc("chainage_sd_m")] = 0.05
    return job | {"readings": table}


def noted_on(line):
    def spoil(job):
        table = job["readings"].copy()
        table.iloc[rows(table), table.columns.get_loc("line_id")] = line
        return job | {"readings": table}

    return spoil


def one_place(job):
    table, at = job["readings"].copy(), rows(job["readings"], FIXED)
    shapes = table.geometry.to_numpy().copy()
    shapes[at] = shapes[at[0]]
    return job | {"readings": table.assign(geometry=shapes)}


def fine_from_elsewhere(job):
    """Tape the second walk from a fitting eight metres along, over positions that are good."""
    table, at = job["readings"].copy(), rows(job["readings"])
    shapes = table.geometry.to_numpy().copy()
    taped = table["chainage_m"].to_numpy()[at]
    shapes[at] = shapely.line_interpolate_point(job["routes"].geometry.iloc[0], taped)
    table = table.assign(geometry=shapes)
    table.iloc[at, table.columns.get_loc("position_sd_m")] = 0.5
    table.loc[table["walk_id"] == f"{TAPED}/fine", "chainage_m"] += 8.0
    return job | {"readings": table}


def crossing(c):
    end = c[-1]
    return np.vstack([c, end + [5, 0], end + [5, 5], end + [-3, 5], end + [-3, -5]])


def spike(away):
    def change(c):
        middle = (c[-2] + c[-1]) / 2
        return np.vstack([c[:-1], middle, away(middle), middle, c[-1:]])

    return change


def off(metres, line):
    def spoil(job):
        at = rows(job["readings"], line)[:5]
        return job | {"readings": moved(job["readings"], lambda xy: xy + [0, metres], at)}

    return spoil


CASES = {
    "a route that crosses itself": Case(
        trace(crossing), "route_crosses_itself", (TAPED,),
        untouched=OTHERS),
    "a route drawn there and back": Case(
        trace(lambda c: np.vstack([c, c[::-1]])), "route_turns_back", (TAPED, "once"),
        untouched=OTHERS),
    "a spike": Case(trace(spike(lambda m: m + [0, 30])), "route_turns_back", (TAPED,),
                    untouched=OTHERS),
    "a spike to the origin": Case(
        trace(spike(lambda m: 0 * m)), "route_too_long", (TAPED, "9,615 km"), "rejected",
        rejected=30, untouched=OTHERS, rejected_lines=1),
    "a trace against the tape": Case(
        trace(lambda c: c[::-1]), "tape_turned", (TAPED, "30 taped distances"),
        "rejected", rejected=30, untouched=OTHERS, rejected_lines=1),
    "a tape longer than the route": Case(
        tape(lambda m: m + 15),
        "taped_beyond_route", ("21 features", "21.26 m to 34.13 m", "19.92 m"),
        "rejected", rejected=30, untouched=OTHERS, rejected_lines=1),
    "a tape that differs from the map": Case(
        elsewhere, "tape_off_map", (FIXED, "by about 2"),
        untouched=(TAPED, LINEAR, LAST)),
    "readings off the route": Case(
        off(40.0, FIXED), "off_its_route", (), "rejected",
        rejected=5, untouched=(TAPED, LINEAR, LAST)),
    "taped readings whose positions are off the route": Case(
        off(40.0, TAPED), "taped_readings_off_route", (TAPED, "5 of")),
    "taped readings whose positions are on the earth's other side": Case(
        off(6e6, TAPED), "taped_readings_off_route", (TAPED, "5 of")),
    "a taped walk noted on another line": Case(
        noted_on(LAST), "on_another_line", (TAPED, LAST),
        "rejected", rejected=30, untouched=OTHERS),
    "a walk without a tape, all at one place": Case(
        one_place, "walk_at_one_place", (FIXED,), untouched=(TAPED, LINEAR, LAST)),
    "the tape of one walk from elsewhere": Case(
        fine_from_elsewhere, "walk_off_map", (TAPED, "L-0001/fine"),
        "rejected", rejected=13, untouched=OTHERS),
    "a tape in inches": Case(
        tape(lambda m: m / 0.0254), "tape_in_other_unit", (TAPED, "were in inches"), "rejected",
        rejected=30, untouched=OTHERS, rejected_lines=1),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_traces(case):
    assert_case(case)


SAME = {
    "vertices drawn three times": trace(lambda c: np.repeat(c, 3, axis=0)),
}


@pytest.mark.parametrize("spoil", SAME.values(), ids=SAME)
def test_what_makes_no_difference_is_not_told(spoil):
    result = located(spoil(layers()))
    assert not [f for f in (*result.job.faults, *result.faults) if f.feature]
    for column in ("chainage_m", "leak_probability"):
        np.testing.assert_allclose(lines_of(result)[column], lines_of(good_result())[column],
                                   atol=2e-3)  # fmt: skip


def test_single_poor_fixes_on_a_neighbour_reject_nothing():
    """A fix in a street canyon may lie on the next line; the tape says where the reading is."""
    tables = layers()
    there = shapely.get_coordinates(tables["routes"].geometry.iloc[0])[0]
    at = rows(tables["readings"], LAST)[::4]
    tables["readings"] = moved(tables["readings"], lambda xy: 0 * xy + there, at)
    result = located(tables)
    (fault,) = [f for f in result.job.faults if f.feature == LAST]
    assert (fault.effect, fault.code) == ("noted", "taped_readings_off_route")
    assert dict(fault.reason.values)["readings"] == len(at)
    assert lines_of(result).loc[LAST, "chainage_m"] == pytest.approx(
        lines_of(good_result()).loc[LAST, "chainage_m"], abs=2e-3)  # fmt: skip


def test_a_loop_has_no_fault():
    """A main that comes back to where it began is drawn so."""
    loop = trace(lambda c: np.vstack([c, c[-1] + [8, 8], c[0]]))
    result = located(loop(layers()))
    assert not [f for f in (*result.job.faults, *result.faults) if f.layer == "routes"]


def test_turned_at_the_gis_it_is_found_where_it_was():
    """What the sentence tells to do helps: the turned trace, with a tape from its first vertex."""
    table = layers()
    length = table["routes"].geometry.length.iloc[0]
    turned = tape(lambda m: length - m)(trace(lambda c: c[::-1])(table))
    now, before = (lines_of(r).loc[TAPED] for r in (located(turned), good_result()))
    assert now["chainage_m"] == pytest.approx(length - before["chainage_m"], abs=0.06)
