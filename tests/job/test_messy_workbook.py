"""Workbooks as people type them: totals, units beside levels, other spellings, Spanish headers."""

import datetime

import openpyxl
import pytest

import leakgeo
from tests.job.jobs import about

ENGLISH = {
    "Lines": [["Line", "Material", "Depth"], ["Elm-5", "galvanized", "0,9 m"], ["TOTAL"]],
    "Fittings": [
        ["LINE", "Fitting *", "Kind", "Tape from the fitting before (ft)", "Level", "Side"],
        ["Elm-5", "CS-5", "curb stop", None, "24 dB"], [], [None, "M 5", "Meter", "31.5"],
        ["Total", None, None, "=SUM(D2:D4)"],
    ],
    "Stops": [
        ["Simulated walk of an invented street"],
        ["Line", "Stop", "Taped from", "Taped toward", "Tape", "Level", "sound_unit", "Time"],
        ["elm 5", None, "cs-5", "m-5", "3' 2\"", "35 dB", None, datetime.datetime(2026, 5, 3, 6)],
        [None, None, None, None, "9'", "36,5", "dB", None], [None],
        [None, None, None, None, "12' 13\"", 31, None, None],
        ["Grand total", None, None, None, None, 3],
    ],
}  # fmt: skip
SPANISH = {
    "Líneas": [["Línea", "Dirección", "Profundidad"], ["L 1", "Calle 1", "0,9 m"]],
    "Accesorios": [
        ["línea", "accesorio", "tipo", "cinta desde el anterior", "cinta en"],
        ["L 1", "LB-1", "llave de acera"], [None, "M-1", "medidor", "9,6", "m"],
    ],
    "Puntos": [
        ["línea", "punto", "desde", "cinta (m)", "nivel", "unidad", "superficie", "recorrido"],
        ["L-1", 1, "lb-1", "1,5", "24,5", "dB", "césped", 1], [None, 2, None, 3, 30, None, None, 1],
    ],
}  # fmt: skip


def written(path, sheets):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        page = book.create_sheet(title)
        for row in rows:
            page.append(row)
    book.save(path)
    return path


def test_what_people_type_is_read_and_every_row_accounted_for(tmp_path):
    job = leakgeo.read_job(written(tmp_path / "job.xlsx", ENGLISH))
    assert job.counts == {"routes": 1, "readings": 3, "contacts": 2}
    stops = job["readings"].set_index("reading_id")
    assert stops["sound_level"].tolist() == [35.0, 36.5, 31.0]
    assert set(stops["sound_unit"]) == {"db"}
    assert set(stops["line_id"]) == {"Elm-5"}
    assert job["routes"]["depth_m"].tolist() == [0.9]
    assert job["routes"]["material"].tolist() == ["galvanized_steel"]
    # The name of a stop has the number of its row in the sheet, which has a title and a gap.
    assert stops.index.tolist() == ["Elm-5 row 3", "Elm-5 row 4", "Elm-5 row 6"]
    assert [reason is None for reason in stops["reason"]] == [True, True, False]
    assert job.contacts.geometry.y.tolist() == pytest.approx([0.0, 31.5 * 0.3048])
    told = {f.reason.code: f for f in job.faults}
    assert {"tape_not_a_length", "sheet_words_as_codes", "sheet_days_without_hour"} <= set(told)
    rows = {f.layer: dict(f.reason.values)["rows"] for f in job.faults
            if f.reason.code == "sheet_totals_left_out"}  # fmt: skip
    assert rows == {"routes": (3,), "contacts": (5,), "readings": (7,)}


def test_spanish_headers_and_words_are_known(tmp_path):
    job = leakgeo.read_job(written(tmp_path / "job.xlsx", SPANISH))
    assert job["contacts"]["kind"].tolist() == ["curb_stop", "meter"]
    assert job["readings"]["sound_level"].tolist() == [24.5, 30.0]
    assert job["readings"]["tape_m"].tolist() == pytest.approx([1.5, 3.0])
    assert job["readings"]["surface"].tolist()[0] == "grass"
    assert job["readings"]["walk_id"].notna().all()
    assert job["readings"]["reason"].isna().all()


def test_a_level_whose_unit_is_another_is_no_number(tmp_path):
    rows = [list(row) for row in ENGLISH["Stops"]]
    rows[2][6] = "scale"
    job = leakgeo.read_job(written(tmp_path / "job.xlsx", {**ENGLISH, "Stops": rows}))
    assert job["readings"]["reason"].notna().tolist()[0]


def test_a_line_without_fittings_says_what_a_crew_without_a_map_can_do(tmp_path):
    lines = [*ENGLISH["Lines"][:2], ["Elm-6"]]
    job = leakgeo.read_job(written(tmp_path / "job.xlsx", {**ENGLISH, "Lines": lines}))
    told = [f for f in about(job.faults, "routes") if f.feature == "Elm-6"]
    assert [f.reason.code for f in told] == ["route_without_geometry"]
    assert "length taped from the fitting before" in str(told[0])


def test_numbers_of_stops_begin_anew_on_each_walk_and_air_test(tmp_path):
    head = ["Line", "Walk", "Stop", "Taped from", "Tape", "Level", "sound_unit", "Air"]
    rows = [["Elm-5", "W1", 1, "CS-5", "3'", 20, "dB"], [None, "W1", 2, None, "9'", 24],
            [None, "W2", 1, None, "4'", 21], [None, "W2", 3, None, "12'", 21, None, "off"],
            [None, "W2", 3, None, "12'", 29, None, "on"], [None, "W2", 4, None, "15'", 22],
            [None, "W2", 4, None, "15'", 22]]  # fmt: skip
    stops = written(tmp_path / "job.xlsx", {**ENGLISH, "Stops": [head, *rows]})
    found = leakgeo.read_job(stops)["readings"]
    assert found["reading_id"].tolist() == [
        "Elm-5 W1 1", "2", "Elm-5 W2 1", "Elm-5 3 row 5", "Elm-5 3 row 6", "4", "4",
    ]  # fmt: skip
    assert found["stop_id"].notna().tolist() == [False] * 3 + [True] * 2 + [False] * 2
    assert found["reason"].notna().tolist() == [False] * 6 + [True]
