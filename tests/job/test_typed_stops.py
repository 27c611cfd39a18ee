"""Stops and fittings typed from paper: each row comes in once, or says why not."""

import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st

from leakgeo.errors import JobError, ParameterError
from leakgeo.job.checks import tape_m
from leakgeo.job.read import read_job
from leakgeo.job.schema import load_schema
from leakgeo.job.typed.add import add_typed
from leakgeo.job.typed.cells import records
from leakgeo.job.typed.headers import FITTINGS, KINDS, STOPS, column_of, header, known_headers
from leakgeo.job.typed.read import read_typed
from leakgeo.reason import Reason
from leakgeo.wording import languages, wording
from tests.job import jobs

STOPS_CSV = "line,from,tape,level,unit\n{}\n"


TAPED_LISTS = FITTINGS.tape in load_schema("contacts").columns


def typed(folder, text, *, units=None, name="stops.csv", encoding="utf-8"):
    path = folder / name
    path.write_bytes(text.encode(encoding))
    return read_typed(path, units=units)


def rejected(file):
    return {(fault.code, fault.feature) for fault in file.faults if fault.effect != "noted"}


def columns(file, *names):
    return file.table[list(names)].to_numpy().tolist()


def test_five_columns_are_enough(tmp_path):
    file = typed(tmp_path, STOPS_CSV.format('H-1,HYD-2,38\' 6",41,dB\n,,"39\' 0""",42.5,'))
    assert (file.layer, file.rows, file.left_out) == ("readings", 2, 0)
    assert columns(file, "reading_id", "walk_id", "seq", "tape", "sound_level") == [
        ["H-1 stops stop 1", "H-1 stops", 1.0, "38' 6\"", 41.0],
        ["H-1 stops stop 2", "H-1 stops", 2.0, "39' 0\"", 42.5],
    ]
    assert set(file.table["chainage_from"]) == {"HYD-2"}
    (note,) = file.faults
    assert (note.code, note.effect, dict(note.reason.values)["cells"]) == (
        "typed_filled",
        "noted",
        3,
    )


def test_headers_in_turn_are_no_head_whatever_their_number(tmp_path):
    headers = "line,from,toward,tape,tape unit,level,unit,sensor,gain,surface,walk"
    file = typed(tmp_path, f"{headers}\nA,start,end,3,m,40,db,ground_plate,0,soil,1")
    assert (file.layer, file.rows, file.left_out) == ("readings", 1, 0)


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.layer)
def test_every_printed_header_is_read_as_its_column(kind, language):
    said = wording("us", language)
    for column in kind.columns:
        printed = header(column, said)
        assert column_of(printed, kind) == column, printed
        assert column_of(f" {printed.upper()} ", kind) == column
    printed = [header(column, said) for column in kind.columns]
    assert len(set(printed)) == len(printed)
    assert known_headers(printed) == len(printed)


@pytest.mark.parametrize(("text", "column"), [
    ("sound_level", "sound_level"), ("Chainage_From", "chainage_from"), ("Taped from", None),
    ("Noise level", "sound_level"), ("tape_ft", "tape"), ("linea", "line_id"), ("weather", None),
    ("Stop no.", "stop"), ("", None),
])  # fmt: skip
def test_friendly_spellings(text, column):
    assert column_of(text, STOPS) == (column or {"Taped from": "chainage_from"}.get(text))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_encodings_and_delimiters(tmp_path, encoding, delimiter):
    text = 'línea,desde,cinta,nivel,unidad\r\nH-ñ,inicio,"2,5 m","38,5",dB\r\n\r\n,,3 m,39,\r\n'
    semicolons = text.replace(",", delimiter).replace(f"2{delimiter}5", "2,5")
    file = typed(tmp_path, semicolons.replace(f"38{delimiter}5", "38,5"), encoding=encoding)
    assert columns(file, "line_id", "tape", "sound_level") == [["H-ñ", "2,5 m", 38.5],
                                                               ["H-ñ", "3 m", 39.0]]  # fmt: skip
    assert "chainage_from" not in file.table
    assert file.labels == ("stops.csv line 2", "stops.csv line 4")


def test_ditto_marks_also_as_typed_without_a_spreadsheet(tmp_path):
    rows = 'H-1,HYD-2,1 m,41,db,grass\n",",2 m,42,",do.\n"""",\'\',3 m,ditto,\u3003,'
    file = typed(tmp_path, f"line,from,tape,level,unit,surface\n{rows}")
    assert columns(file, "line_id", "chainage_from", "sound_level", "sound_unit", "surface") == [
        ["H-1", "HYD-2", 41.0, "db", "grass"],
        ["H-1", "HYD-2", 42.0, "db", "grass"],
        ["H-1", "HYD-2", 42.0, "db", "grass"],
    ]


def test_a_sheet_is_typed_as_it_stands(tmp_path):
    """Its head above its rows, and the next sheet below."""
    text = (
        "line,H-1,address,1 Elm Row,date,2026-05-01\ncrew,Ana,walk,1,sensor,ground plate\n"
        "unit,dB,from,HYD-2,toward,MTR-1\nstop,tape,level,surface,air,remark\n"
        "1,2 ft,40,concrete,off,\n2,4 ft,41,,off,dog\n\n"
        "line,H-2,date,2026-05-02\nfrom,start,tape unit,ft\nstop,tape,level,surface,air,remark\n"
        "1,0,30,,,\n"
    )
    file = typed(tmp_path, text)
    assert not rejected(file)
    assert columns(file, "reading_id", "surface", "sensor", "chainage_toward", "air") == [
        ["H-1 2026-05-01 1 stop 1", "concrete", "ground_plate", "MTR-1", "off"],
        ["H-1 2026-05-01 1 stop 2", "concrete", "ground_plate", "MTR-1", "off"],
        ["H-2 2026-05-02 stop 1", None, None, None, None],
    ]
    assert file.table["sound_unit"].tolist() == ["db"] * 3  # the only unit of the file
    assert file.table["tape_unit"].tolist() == ["ft"] * 3
    unused = next(f for f in file.faults if f.code == "typed_not_used")
    assert "remark" in unused.problem


def test_a_new_line_takes_over_nothing_that_may_differ(tmp_path):
    rows = "H-1,HYD-2,1 m,41,db,6\nH-2,,2 m,42,scale,\nH-1,HYD-2,3 m,40,,"
    file = typed(tmp_path, f"line,from,tape,level,unit,gain dB\n{rows}")
    assert rejected(file) == {("typed_start_needed", "stops.csv line 3"),
                              ("value_missing", "stops.csv line 4")}  # fmt: skip
    assert columns(file, "gain_db") == [[6.0]]


def test_air_off_and_on_at_one_stop_are_one_place(tmp_path):
    rows = "A,start,201,2 m,off,30,db,10\n,,201,2 m,on,34,,\n,,202,4 m,off,29,,\n,,202,4 m,con,29,,"
    file = typed(tmp_path, f"line,from,stop,tape,air,level,unit,air psi\n{rows}")
    assert file.table["stop_id"].nunique() == 2
    assert file.table["reading_id"].nunique() == 4
    assert file.table["air"].tolist() == ["off", "on", "off", "on"]
    assert file.table["air_kpa"].to_numpy() == pytest.approx(68.948, abs=1e-3)


@pytest.mark.parametrize(("units", "unit"), [("us", "ft"), ("si", "m")])
def test_a_plain_tape_has_the_unit_that_is_said_and_no_other(tmp_path, units, unit):
    text = STOPS_CSV.format("A,start,2,41,db\n,,4 m,42,\n,,x,42,\n,,5,loud,")
    without = typed(tmp_path, text)
    assert without.table["tape"].tolist() == ["4 m"]
    assert rejected(without) == {
        ("typed_tapes_without_unit", "stops.csv"), ("tape_not_a_length", "stops.csv line 4"),
        ("not_number", "stops.csv line 5"),
    }  # fmt: skip
    file = typed(tmp_path, text, units=units)
    assert columns(file, "tape", "tape_unit") == [["2", unit], ["4 m", None]]
    with pytest.raises(ParameterError, match="units"):
        typed(tmp_path, text, units="feet")


@pytest.mark.parametrize(("word", "unit"), [("Feet", "ft"), ("ft.", "ft"), ("Metros", "m")])
def test_units_of_a_tape_as_people_write_them(tmp_path, word, unit):
    file = typed(tmp_path, f"line,from,tape,tape_unit,level,unit\nA,start,2,{word},41,db")
    assert columns(file, "tape", "tape_unit") == [["2", unit]]


@pytest.mark.parametrize(("content", "code"), [
    (b"", "typed_file_empty"), (b"PK\x03\x04", "typed_file_not_text"),
    (b"line,from,level,unit\nA,start,3,db", "typed_columns_missing"),
    (b"line,kind,level,unit\nA,meter,30,db", "typed_columns_missing"),
    (b"line,from,tape,dist,level,unit\nA,start,3 m,3 m,3,db", "typed_headers_alike"),
    (b"A,start,3 m,40,db", "typed_columns_missing"),
])  # fmt: skip
def test_a_file_that_is_no_sheet_says_so_once(tmp_path, content, code):
    path = tmp_path / "x.csv"
    path.write_bytes(content)
    file = read_typed(path)
    assert [(f.code, f.feature) for f in file.faults] == [(code, "x.csv")]
    with pytest.raises(JobError, match=r"x\.csv"):
        add_typed(tmp_path / "job.gpkg", [path])
    assert not (tmp_path / "job.gpkg").exists()


def test_a_file_that_is_not_there(tmp_path):
    assert [f.code for f in read_typed(tmp_path / "no.csv").faults] == ["typed_file_not_found"]


def test_each_row_is_added_once_and_the_rest_is_explained(tmp_path):
    job, stops = tmp_path / "job.gpkg", tmp_path / "stops.csv"
    good = "A,start,1 m,40,db\n,,2 m,41,\n"
    stops.write_text(STOPS_CSV.format(good + ",,3 m,4I,"))
    (first,) = add_typed(job, [stops])
    stops.write_text(STOPS_CSV.format(good + ",,3 m,41,"))
    (again,) = add_typed(job, [stops])
    stops.write_text(STOPS_CSV.format(good.replace("40", "45") + ",,3 m,41,"))
    (other,) = add_typed(job, [stops])
    counts = [(f.rows, f.added, f.there, f.left_out) for f in (first, again, other)]
    assert counts == [(3, 2, 0, 1), (3, 1, 2, 0), (3, 0, 2, 1)]
    assert [f.feature for f in other.faults if f.code == "typed_name_taken"] == ["stops.csv line 2"]
    stored = pyogrio.read_dataframe(job, layer="readings")
    assert stored["sound_level"].tolist() == [40.0, 41.0, 41.0]
    assert stored["chainage_m"].isna().all()  # what was taped is in tape


def test_two_files_of_one_walk_do_not_share_names(tmp_path):
    for name, level in (("a.csv", 40), ("b.csv", 50)):
        (tmp_path / name).write_text(
            f"line,date,from,tape,level,unit\nA,2026-05-01,start,1 m,{level},db"
        )
    one, two = add_typed(tmp_path / "job.gpkg", [tmp_path / "a.csv", tmp_path / "b.csv"])
    assert (one.added, two.added, two.left_out) == (1, 0, 1)
    assert "typed_name_taken" in {f.code for f in two.faults}


def test_typed_stops_are_used_where_the_job_has_their_line_and_fitting(tmp_path):
    fittings = jobs.layer(
        [shapely.Point(jobs.EAST + 28.0, jobs.NORTH)], contact_id=["HYD"], line_id=["L1"],
        kind=["hydrant"], sound_level=[30.0], sound_unit=["db"],
    )  # fmt: skip
    path = jobs.write(tmp_path / "job.gpkg", contacts=fittings)
    before = len(read_job(path).readings)
    stops = tmp_path / "stops.csv"
    stops.write_text('line;from;tape;level;unit\nL1;HYD;10\' 6";41;db\n;;"12\' 0""";42;\n')
    add_typed(path, [stops])
    new = read_job(path).readings.iloc[before:]
    assert new["reason"].isna().all()
    assert new["tape_m"].to_numpy() == pytest.approx(
        28.0 + 0.3048 * np.array([10.5, 12.0]), abs=0.02
    )


def test_fittings_are_known_by_their_headers(tmp_path):
    rows = "A,HYD,hydrant,0 m,40,db\n,MTR,medidor,9 m,41,"
    text = f"line,fitting,kind,tape from previous,level,unit\n{rows}"
    file = typed(tmp_path, text, name="fittings.csv")
    assert (file.layer, file.rows) == ("contacts", 2)
    # Without a place on the map a fitting needs the taped list of its line.
    assert file.left_out == (0 if TAPED_LISTS else 2)
    if TAPED_LISTS:
        assert columns(file, "contact_id", "kind", "seq") == [
            ["HYD", "hydrant", 1],
            ["MTR", "meter", 2],
        ]


def test_a_taped_list_without_one_of_its_fittings_is_left_out(tmp_path):
    """The tapes after the fitting that is left out would place the others wrongly."""
    one = "A,V1,main valve,0 m,40,db\n,V2,valve,5 m,loud,\n,V3,meter,5 m,41,"
    rows = f"{one}\nB,W1,pump,0 m,,\n,W2,,3 m,,"
    text = f"line,fitting,kind,tape from previous,level,unit\n{rows}"
    file = typed(tmp_path, text, name="fittings.csv")
    used = file.table.get("contact_id", pd.Series(dtype=object)).tolist()
    assert used == (["W1", "W2"] if TAPED_LISTS else [])
    assert "fittings.csv line 3" in {feature for _, feature in rejected(file)}
    if TAPED_LISTS:
        assert ("typed_list_incomplete", "fittings.csv line 4") in rejected(file)


CELLS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=8)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.lists(CELLS, max_size=7), max_size=6))
@example([["A", "start", "1 m", "40", "db", "1"]])
def test_every_row_is_used_or_has_a_fault(tmp_path_factory, rows):
    folder = tmp_path_factory.mktemp("rows")
    text = STOPS_CSV.format("\n".join(",".join(row) for row in rows))
    file = typed(folder, text)
    given_rows = records(text, known_headers)[1:]
    assert file.rows <= len(given_rows)
    named = {fault.feature for fault in file.faults if fault.effect == "rejected"}
    whole = any(fault.code in ("typed_tapes_without_unit", "typed_columns_missing")
                for fault in file.faults)  # fmt: skip
    used = set(file.labels)
    for row in range(file.rows if not whole and file.rows == len(given_rows) else 0):
        label = f"stops.csv line {given_rows[row].line}"
        assert (label in used) != (label in named)
    assert not file.table.duplicated("reading_id").any() if len(file.table) else True


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 300), st.integers(0, 11)), min_size=1, max_size=8),
    st.sampled_from(["{}' {}\"", "{} ft {} in", "{}'{}", "{}-{}"]),
)
def test_tapes_in_feet_and_inches_come_back_as_written(tmp_path_factory, tapes, form):
    folder = tmp_path_factory.mktemp("tapes")
    cells = [form.format(*tape) if form != "{}-{}" else f"{tape[0] + tape[1] / 12:.6f}"
             for tape in tapes]  # fmt: skip
    quoted = ['"{}"'.format(cell.replace('"', '""')) for cell in cells]
    rows = "\n".join(f"A,start,{cell},40,db" for cell in quoted)
    file = typed(folder, STOPS_CSV.format(rows), units="us")
    assert file.table["tape"].tolist() == cells
    read = [
        tape_m(tape, unit)
        for tape, unit in zip(file.table["tape"], file.table.get("tape_unit", cells), strict=True)
    ]
    expected = [0.3048 * (feet + inches / 12) for feet, inches in tapes]
    assert read == pytest.approx(expected, abs=1e-5)


def test_totals_and_units_beside_levels(tmp_path):
    fittings = "line,fitting,tape from previous,tape in,level\nA,CS,,ft,24 dB\n,M,31,,\nTotal,,31,,"
    file = typed(tmp_path, fittings, name="fittings.csv")
    # A total is no fitting, and its length not one of the list.
    assert rejected(file) == {("typed_total", "fittings.csv line 4")}
    assert columns(file, "contact_id", "sound_level", "sound_unit")[0] == ["CS", 24.0, "db"]
    file = typed(tmp_path, STOPS_CSV.format("A,CS,3',36,scale\n,,5',37 dB,"))
    assert columns(file, "sound_level", "sound_unit") == [[36.0, "scale"]]
    assert {code for code, _ in rejected(file)} == {"not_number"}


def test_the_address_of_a_sheet_goes_into_the_row_of_its_line(tmp_path):
    fittings, stops, job = tmp_path / "fittings.csv", tmp_path / "stops.csv", tmp_path / "job.gpkg"
    fittings.write_text(
        "line,A,address,1 Elm Row,crew,Ana\nfitting,kind,tape from previous\n"
        "HYD,hydrant,\nMTR,meter,30 ft\n\n"
        "line,B\nfitting,kind,tape from previous\nCS,curb stop,\nEND,meter,20 ft\n",
        encoding="utf-8",
    )
    stops.write_text(
        "line,A,address,1 Elm Row\nfrom,HYD,unit,dB\nstop,tape,level\n1,2 ft,40\n\n"
        "line,C,address,9 Oak Row\nfrom,start,unit,dB\nstop,tape,level\n1,2 ft,40\n",
        encoding="utf-8",
    )
    lists, walks = add_typed(job, [fittings, stops])
    routes = pyogrio.read_dataframe(job, layer="routes", read_geometry=False).set_index("line_id")
    assert routes["address"].dropna().to_dict() == {"A": "1 Elm Row"}
    assert routes.index.tolist() == ["A", "B"]
    unused = next(str(f) for f in lists.faults if f.code == "typed_not_used")
    assert "crew" in unused
    assert "address" not in unused
    (left,) = [f for f in walks.faults if f.code == "typed_address_left"]
    assert left.reason == Reason("typed_address_left", lines=["C"])
    # The job has the address already, so nothing is told of it.
    again = add_typed(job, [fittings])[0]
    assert "typed_address_left" not in [f.code for f in again.faults]
