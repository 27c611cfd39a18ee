"""Lines that a tape alone describes: same chainages as drawn, and no place on the ground."""

import csv

import geopandas as gpd
import numpy as np
import openpyxl
import pandas as pd
import pytest
import shapely

import leakgeo
from leakgeo.errors import JobError
from leakgeo.job.crs import NOWHERE_M
from leakgeo.job.placed import is_nowhere
from leakgeo.job.workbook import write_workbook
from tests.job.crew import ROWS, filled
from tests.job.jobs import about, codes
from tests.job.taped import drawn, taped

LINES = ("S-101", "A-201", "H-101")
INCH_M = 0.0254


@pytest.fixture(scope="module")
def as_drawn():
    return leakgeo.clearance(drawn(*LINES))


@pytest.fixture(scope="module")
def as_taped():
    return leakgeo.clearance(taped(drawn(*LINES), *LINES))


def marks(result):
    return result["marks"].set_index("line_id")["chainage_m"].sort_index()


def test_marks_are_where_they_are_on_the_drawn_lines(as_drawn, as_taped):
    apart = (marks(as_taped) - marks(as_drawn)).abs()
    assert len(apart) == len(LINES)
    # A list of three lengths to half an inch, and a scale of the zone for all of the town.
    assert (apart < INCH_M).all()
    found = as_taped["lines"].set_index("line_id")["leak_probability"]
    before = as_drawn["lines"].set_index("line_id")["leak_probability"]
    assert np.allclose(found, before[found.index], atol=0.01)


def test_no_place_is_invented(as_taped):
    shapes = [layer for layer in as_taped.layers.values() if isinstance(layer, gpd.GeoDataFrame)]
    assert len(shapes) > 8
    assert all(layer.geometry.isna().all() for layer in shapes)
    assert as_taped["marks"]["azimuth_deg"].isna().all()
    assert set(as_taped["lines"]["trace"]) == {"taped"}


def test_every_dig_is_on_hold_and_says_why(as_taped, as_drawn):
    holds = as_taped["holds"]
    assert set(holds.loc[holds["code"] == "line_not_placed", "line_id"]) == set(LINES)
    assert set(as_taped["dig_zones"]["dig_status"]) == {"hold"}
    assert as_taped["lines"]["held_by"].str.contains("not placed on the ground").all()
    assert "line_not_placed" not in set(as_drawn["holds"]["code"])
    assert "other_pipes_unknown" in set(as_taped["cautions"]["code"])


def test_a_taped_line_changes_nothing_of_drawn_ones():
    every = drawn("S-101", "A-201", "H-101")
    alone = {n: t[t["line_id"] != "A-201"].reset_index(drop=True) for n, t in every.items()}
    before, after = (leakgeo.clearance(job) for job in (alone, taped(every, "A-201")))
    assert after["lines"].set_index("line_id").loc["A-201", "trace"] == "taped"
    for name in ("marks", "search_zones", "profile", "dig_zones", "evidence", "holds"):
        left, right = (r[name] for r in (before, after))
        right = right[right["line_id"] != "A-201"].reset_index(drop=True)
        left = left.reset_index(drop=True)
        if isinstance(left, gpd.GeoDataFrame):
            assert left.geometry.to_wkb().equals(right.geometry.to_wkb())
            left, right = (pd.DataFrame(t.drop(columns="geometry")) for t in (left, right))
        pd.testing.assert_frame_equal(left, right, check_exact=True)
    for law in ("noise_law", "walk_law"):
        pd.testing.assert_frame_equal(before[law], after[law], check_exact=True)


def layers(*, positions=(), route=None, **columns):
    """One line of three fittings 30 and 20 m apart; fittings get positions, the line a route."""
    points = [None] * 3
    for k, x in positions:
        points[k] = shapely.Point(500_000.0 + x, 4_800_000.0)
    contacts = gpd.GeoDataFrame(
        {"line_id": ["L"] * 3, "contact_id": ["CS", "V", "M"], "kind": "other",
         "tape_from_previous": [None, "30 m", "20 m"], **columns},
        geometry=gpd.GeoSeries(points, crs=32616),
    )  # fmt: skip
    readings = pd.DataFrame({
        "reading_id": ["a", "b"], "line_id": "L", "chainage_m": [10.0, 5.0],
        "chainage_from": [None, "M"], "chainage_toward": [None, "CS"], "sound_level": [20.0, 21.0],
        "sound_unit": "db",
    })  # fmt: skip
    routes = gpd.GeoDataFrame({"line_id": ["L"]}, geometry=gpd.GeoSeries([route], crs=32616))
    return {"routes": routes, "contacts": contacts, "readings": readings}


def small(**given):
    return leakgeo.read_job(layers(**given))


def test_distances_run_along_the_list():
    job = small()
    trace = job.routes.geometry.iloc[0]
    assert is_nowhere(np.array([trace]))[0]
    assert trace.length == pytest.approx(50.0)
    assert job.readings["tape_m"].tolist() == pytest.approx([10.0, 45.0])
    assert job.readings["reason"].isna().all()


def test_who_asks_the_job_gets_no_place():
    given = layers(positions=[(1, 7.0)])
    # Stops on both sides of the pipe.
    job = leakgeo.read_job({**given, "readings": given["readings"].assign(offset_m=[-3.0, 3.0])})
    assert job.readings.geometry.x.diff().abs().iloc[1] == pytest.approx(6.0)
    assert job["routes"].geometry.isna().all()
    assert job["readings"].geometry.isna().all()
    assert job.to_crs(4326)["contacts"].geometry.notna().tolist() == [False, True, False]
    assert "No line is placed on the ground" in job.explore().get_root().render()


def test_two_positions_place_a_straight_line_with_a_wider_error():
    job = small(positions=[(0, 0.0), (2, 46.0)])
    trace = job.routes.geometry.iloc[0]
    ground = trace.length / 0.9996
    assert ground == pytest.approx(50.0, abs=1e-3)  # chainages stay those of the tape
    assert shapely.centroid(trace).x == pytest.approx(500_023.0, abs=1e-6)
    # Half of the bow of 50 m of pipe between points 46 m apart, and the error of the positions.
    bow = np.sqrt(50.0**2 - (46.0 / 0.9996) ** 2) / 2
    assert job.routes["position_sd_m"].iloc[0] == pytest.approx(np.hypot(1.5, bow / 2), rel=1e-3)
    assert "line_assumed_straight" in [f.reason.code for f in about(job.faults, "routes")]
    result = leakgeo.clearance(job)
    assert result["lines"]["trace"].tolist() == ["straight"]


@pytest.mark.parametrize("positions", [[(1, 7.0)], [(0, 0.0), (2, 90.0)], [(0, 0.0), (2, 0.5)]])
def test_one_position_or_impossible_ones_do_not_place_it(positions):
    job = small(positions=positions)
    assert job.routes["trace"].tolist() == ["taped"]
    assert is_nowhere(job.contacts.geometry.to_numpy()).all()
    told = {f.reason.code for f in about(job.faults, "routes")}
    assert ("positions_contradict_tape" in told) == (positions[-1][1] == 90.0)


def test_a_position_stays_on_record(tmp_path):
    leakgeo.write_result(leakgeo.profile(layers(positions=[(1, 7.0)])), tmp_path / "out")
    kept = leakgeo.read_result(tmp_path / "out").job.contacts
    assert kept.geometry.notna().tolist() == [False, True, False]
    assert kept.geometry[1].x == pytest.approx(500_007.0, abs=1e-3)


@pytest.mark.parametrize("turned", [False, True])
def test_a_route_drawn_later_takes_the_taped_distances(turned):
    ends = [(500_000.0, 4_800_000.0), (500_000.0, 4_800_050.0 * 1.0 - 0.02)]
    line = shapely.LineString(ends[::-1] if turned else ends)
    job = small(positions=[], route=line)
    assert job.routes["trace"].tolist() == ["drawn"]
    at = shapely.get_coordinates(job.contacts.geometry.to_numpy())[:, 1] - 4_800_000.0
    along = [0.0, 30.0, 50.0] if not turned else [50.0, 20.0, 0.0]
    assert at == pytest.approx(along, abs=0.05)
    assert not is_nowhere(job.readings.geometry.to_numpy()).any()


LISTS = {
    "length missing": ([None, None, "20 m"], None, "list_tape_missing", "V"),
    "a length at the first": (["30 m", "20 m", None], None, "list_starts_with_length", "CS"),
    "without unit": ([None, "30", "20 m"], None, "tape_without_unit", "V"),
    "no length": ([None, "far", "20 m"], None, "tape_not_a_length", "V"),
    "feet or inches or a range": ([None, "21-5", "20 m"], None, "tape_not_a_length", "V"),
    "negative": ([None, "-3 m", "20 m"], None, "list_tape_negative", "V"),
    "of kilometres": ([None, "30 m", "120 km"], None, "list_too_long", "M"),
    "an order twice": ([None, "30 m", "20 m"], [1, 2, 2], "list_order_repeated", "V"),
    "an order missing": ([None, "30 m", "20 m"], [1, None, 2], "list_order_missing", "V"),
    "no length at all": ([None, "0 m", "0 m"], None, "list_without_length", "CS"),
}


@pytest.mark.parametrize("case", LISTS)
def test_a_list_with_a_fault_places_nothing_and_is_reported_by_name(case):
    tapes, seq, code, name = LISTS[case]
    columns = {"tape_from_previous": tapes, **({"seq": seq} if seq else {})}
    with pytest.raises(JobError) as caught:
        small(**columns)
    told = [f for f in caught.value.faults if f.layer == "contacts" and f.reason.code == code]
    assert name in {f.feature for f in told}
    assert "taped_list_unusable" in {f.reason.code for f in caught.value.faults}


def test_the_order_of_rows_does_not_matter_with_numbers():
    job = small(seq=[3, 2, 1], tape_from_previous=["20 m", "30 m", None])
    at = dict(zip(job.contacts["contact_id"], job.contacts.geometry.y, strict=True))
    assert at == pytest.approx({"M": 0.0, "V": 30.0, "CS": 50.0})


def test_a_fitting_that_nobody_listened_to_gives_places_alone():
    job = small(sound_level=[20.0, None, 24.0], sound_unit=["db", None, "db"])
    ranked = leakgeo.survey(job)["contact_ranking"].set_index("contact_id")
    assert ranked["used"].to_dict() == {"CS": True, "V": False, "M": True}
    assert ranked.loc["V", "reason_code"] == "fitting_not_listened"
    assert not about(leakgeo.survey(job).faults, "contacts")


def test_a_level_without_its_unit_is_rejected_and_its_tape_kept():
    job = small(sound_level=[20.0, 22.0, None], sound_unit=["db", None, None])
    assert codes(job.contacts) == [None, "value_missing", None]
    assert job.routes["reason"].isna().all()


def test_a_hole_on_the_list_is_placed_by_what_was_seen():
    digs = pd.DataFrame({
        "line_id": ["L", "L"], "found": ["dry", "dry"], "exposed_from_m": [12.0, None],
        "exposed_to_m": [14.0, None],
    })  # fmt: skip
    job = leakgeo.read_job({**layers(), "dig_outcomes": digs})
    assert job.dig_outcomes.geometry.iloc[0].y == pytest.approx(13.0)
    assert job.dig_outcomes.geometry.iloc[1] is None
    assert "dig_without_place" in {fault.code for fault in job.faults}


def test_a_crew_begins_with_a_workbook(tmp_path):
    result = leakgeo.clearance(filled(tmp_path / "job.xlsx"))
    job = result.job
    assert job.counts == {"routes": 2, "readings": 32, "contacts": 5, "meter_tests": 1}
    assert job["readings"]["reason"].isna().all()
    assert marks(result).to_numpy() == pytest.approx([40 * 0.3048] * 2, abs=0.35)
    assert result.units() == "us"
    told = {f.reason.code for f in job.faults}
    assert {"sheets_are_layers", "sheet_filled_down", "sheet_respelled", "sheet_stops_named",
            "line_by_tape_alone"} <= told  # fmt: skip
    assert job["routes"]["pressure_kpa"].iloc[0] == pytest.approx(413.685, abs=0.01)
    assert len(set(job["readings"]["reading_id"])) == 32
    assert job["meter_tests"]["contact_id"].tolist() == ["M-3"]


def test_a_folder_of_csv_files_is_the_same_job(tmp_path):
    book = openpyxl.load_workbook(filled(tmp_path / "job.xlsx"))
    (tmp_path / "folder").mkdir()
    for title in ("Lines", "Fittings", "Stops", "Meter tests"):
        rows = [row for row in book[title].iter_rows(values_only=True) if any(row)]
        with (tmp_path / "folder" / f"{title}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(rows)
    one, other = (leakgeo.read_job(tmp_path / n) for n in ("job.xlsx", "folder"))
    assert one["readings"]["tape_m"].tolist() == other["readings"]["tape_m"].tolist()
    assert one.contacts.geometry.geom_equals(other.contacts.geometry).all()


def test_sheets_have_the_headers_of_paper_in_any_language(tmp_path):
    for name, text in (
        ("Lines", "Línea\nL"), ("Fittings", "Línea,Accesorio,Tape from previous (ft)\nL,A,\n,B,60"),
        ("Stops", "línea,desde,hacia,cinta (m),nivel,unidad\nL,Inicio,,2,30,db\n,B,A,4,31,\n"),
    ):  # fmt: skip
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    job = leakgeo.read_job(tmp_path)
    assert job.routes.length.tolist() == pytest.approx([60 * 0.3048])
    assert job.readings["tape_m"].tolist() == pytest.approx([2.0, 60 * 0.3048 - 4.0])


def test_positions_of_a_telephone_place_the_line(tmp_path):
    fittings = [dict(row) for row in ROWS["Fittings"]]
    fittings[0] |= {"Longitude": -87.31, "Latitude": 43.2}
    fittings[2] |= {"Longitude": -87.31, "Latitude": 43.2002}
    job = leakgeo.read_job(filled(tmp_path / "job.xlsx", rows={"Fittings": fittings}))
    assert job["routes"]["trace"].tolist() == ["straight", "taped"]
    # The crew goes on in feet, though its layers are now in degrees.
    assert (job.units(), job.units("si"), small().units()) == ("us", "si", "si")
    assert job.to_crs(4326)["routes"].geometry.iloc[0].bounds[1] == pytest.approx(43.2, abs=1e-4)


def test_the_empty_workbook_and_its_example_are_no_data(tmp_path):
    path = write_workbook(tmp_path / "job.xlsx")
    with pytest.raises(JobError, match="no routes"):
        leakgeo.read_job(path)
    book = openpyxl.load_workbook(path)
    assert "never read" in book["Example"]["A1"].value
    assert book["Fittings"]["A1"].value == "Line *"
    assert book["Codes"].sheet_state == "hidden"
    rules = book["Fittings"].data_validations.dataValidation
    assert any(rule.type == "list" for rule in rules)


def test_where_the_lines_are_is_beyond_any_projection():
    """Grids whose eastings begin with the number of their zone go up to 1.2e8."""
    assert NOWHERE_M > 1.2e8


def typed_and_drawn(**drawn_values):
    """A job whose line has the row of the sheets, and a drawn row with other values."""
    given = layers()
    line = shapely.LineString([(500_000.0, 4_800_000.0), (500_050.0, 4_800_000.0)])
    values = {
        "line_id": "L", "material": "unknown", "depth_m": None, "address": None, **drawn_values,
    }  # fmt: skip
    typed = {"line_id": "L", "material": "copper", "depth_m": 1.2, "address": "8 Elm St"}
    other = {"line_id": "O", "material": "pvc", "depth_m": 1.0, "address": None}
    routes = gpd.GeoDataFrame(
        [typed, values, other],
        geometry=gpd.GeoSeries([None, line, shapely.transform(line, lambda xy: xy + 80.0)]),
        crs=32616,
    )
    return {**given, "routes": routes}


def test_the_row_of_the_sheets_and_a_drawn_row_are_one_line():
    job = leakgeo.read_job(typed_and_drawn(diameter_mm=20.0))
    assert codes(job.routes) == ["merged_with_drawn", None, None]
    row = job.routes.iloc[1]
    assert (row["material"], row["depth_m"], row["address"]) == ("copper", 1.2, "8 Elm St")
    assert row["diameter_mm"] == 20.0
    assert row.geometry.length == pytest.approx(50.0, abs=0.1)
    told = {f.code: f for f in job.faults if f.layer == "routes"}
    assert told["drawn_and_typed"].effect == "noted"
    assert not [f for f in told.values() if f.effect == "rejected"]
    lines = leakgeo.locate(typed_and_drawn())["lines"].set_index("line_id")
    assert sorted(lines.index) == ["L", "O"]
    assert lines["status"].ne("rejected").all()


def test_two_rows_of_a_line_that_differ_reject_that_line_alone():
    given = typed_and_drawn(depth_m=2.0)
    drawn_twice = given["routes"].copy()
    drawn_twice.loc[0, "geometry"] = drawn_twice.geometry[2]
    for routes in (given["routes"], drawn_twice):
        job = leakgeo.read_job({**given, "routes": routes})
        shared = "identifier_shared"
        assert codes(job.routes) == [shared, shared, None]
        lines = leakgeo.locate({**given, "routes": routes})["lines"].set_index("line_id")
        assert lines["status"].to_dict()["L"] == "rejected"
        assert lines["status"].to_dict()["O"] != "rejected"


def test_a_typed_line_says_how_to_draw_it():
    told = {f.code: str(f) for f in small().faults}["line_by_tape_alone"]
    assert "Edit > Add Part" in told
    assert "as a new row with the same line_id" in told
