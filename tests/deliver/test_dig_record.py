"""The record of a dig that the utility keeps: its page, its row, and a record that corrects it."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta, timezone
from types import SimpleNamespace

import pandas as pd
import pyogrio
import pypdf
import pytest
import shapely

import leakgeo
from leakgeo.deliver.records import close
from leakgeo.deliver.records.table import COLUMNS
from leakgeo.errors import JobError, OutputError
from leakgeo.job.read import read_job
from leakgeo.job.typed.add import add_typed
from leakgeo.reason import Reason
from leakgeo.wording import wording
from tests.job import jobs
from tests.test_cli import leakgeo_command
from tests.wording.english import POINT, english_words

TIME = datetime(2026, 5, 3, 10, 20, tzinfo=UTC)
LEAK = {"found": "leak", "at": 13.4, "exposed": (13.0, 14.0), "repaired": True, "time": TIME}


@pytest.fixture
def path(tmp_path):
    """A job with an address, a fitting and a meter test before the dig."""
    routes = jobs.routes(address=["9 Invented Lane"] * 2, work_order=["=1+1", "W-2"])
    fitting = jobs.layer([shapely.Point(jobs.EAST + 20, jobs.NORTH)], contact_id=["CS-12"],
                         kind=["curb_stop"], sound_level=[1.0], sound_unit=["db"])  # fmt: skip
    return jobs.write(tmp_path / "job.gpkg", routes=routes, contacts=fitting,
                      meter_tests=jobs.meter_tests())  # fmt: skip


def page(file):
    return " ".join(" ".join(p.extract_text().split()) for p in pypdf.PdfReader(file).pages)


def table(closed):
    return pd.read_csv(closed.files[1], dtype=str, keep_default_na=False, encoding="utf-8-sig")


def test_page_and_row_say_what_was_found_where_and_the_meter_before_and_after(path):
    closed = leakgeo.close_line(
        path, "L1", **LEAK, cause="<b>split</b>", crew="East", meter_start="100.0",
        meter_end="100.0", meter_minutes=30, volume_unit="gal",
    )  # fmt: skip
    text = page(closed.files[0])
    for part in ("L1", "9 Invented Lane", "=1+1", "D-20260503-1", "2026-05-03 10:20 UTC", "East",
                 "A leak, 6.61 m from curb stop CS-12 toward the start of the route",
                 "13.40 m along the line", "13.00 m \u2013 14.00 m", "<b>split</b>",
                 "turned, 1,500 litres in 120 minutes on 2025-03-31",
                 "stood still for 30 minutes on 2026-05-03", "no loss is shown",
                 "states nothing about other pipes", "signature"):  # fmt: skip
        assert part in text
    [row] = table(closed).to_dict("records")
    assert tuple(row) == COLUMNS
    assert (row["work_order"], row["leak_chainage_m"], row["repaired"]) == ("'=1+1", "13.4", "true")
    assert (row["meter_after_l_per_day"], row["page"]) == ("0", closed.files[0].name)


def test_the_page_has_the_day_of_those_who_dug(path):
    evening = datetime(2026, 5, 2, 21, 30, tzinfo=timezone(timedelta(hours=-5)))
    closed = leakgeo.close_line(path, "L1", **{**LEAK, "time": evening})
    text = page(closed.files[0])
    assert closed.record.dig_id == "D-20260502-1"
    assert "2026-05-02 21:30 UTC-05:00" in text
    assert "repaired on 2026-05-02" in text
    assert table(closed)["time"].tolist() == ["2026-05-03T02:30:00Z"]


def test_a_correction_keeps_the_record_and_marks_it_everywhere(path):
    first = leakgeo.close_line(path, "L1", **LEAK)
    second = leakgeo.close_line(path, "L1", **{**LEAK, "at": 13.8}, supersedes="D-20260503-1")
    assert second.record.dig_id == "D-20260503-2"
    assert table(second)["superseded_by"].tolist() == ["D-20260503-2", ""]
    assert "Record D-20260503-2 corrects this one" in page(first.files[0])
    assert [(f.code, f.effect) for f in second.faults] == [("superseded", "noted")]
    job = read_job(path)
    assert jobs.codes(job.dig_outcomes) == ["superseded", None]
    learned = leakgeo.learn(job)["learned_cases"]
    assert learned["reason_code"].tolist()[0] == "superseded"
    assert learned["hole_chainage_m"].tolist()[1] == pytest.approx(13.8)


def test_records_that_correct_each_other_both_count(tmp_path):
    digs = jobs.layer([None, None], dig_id=["A", "B"], line_id=["L1", "L1"], found=["leak"] * 2,
                      leak_chainage_m=[12.0, 12.4], supersedes=["B", "A"])  # fmt: skip
    job = jobs.read(tmp_path, dig_outcomes=digs)
    assert jobs.codes(job.dig_outcomes) == [None, None]
    assert {f.code for f in jobs.about(job.faults, "dig_outcomes")} == {"supersedes_in_circle"}


def test_the_mark_of_the_latest_result_and_its_distance(path):
    result = leakgeo.run(path, path.parent / "out", lines="L1")
    mark = float(result["marks"]["chainage_m"].iloc[0]) if len(result["marks"]) else None
    closed = leakgeo.close_line(path, "L1", **LEAK, language="es")
    if mark is None:
        assert closed.record.mark is None
    else:
        assert closed.record.off_mark_m == pytest.approx(13.4 - mark)
        assert closed.record.mark.run_id == result.run_id
    text = page(closed.files[0])
    assert "Registro de una excavación" in text
    assert "13,40 m a lo largo de la línea" in text
    assert "13,00 m \u2013 14,00 m" in text
    assert "3 may 2026 " in text
    assert POINT.findall(text) == []
    assert english_words([text]) == {}
    assert table(closed)["leak_chainage_m"].tolist() == ["13.4"]
    again = leakgeo.close_line(path, "L1", **LEAK, language="es-419")
    assert "13.40 m a lo largo de la línea" in page(again.files[0])


@pytest.mark.parametrize(("off_m", "codes"), [
    (-3.1, ["closing_far_from_mark"]), (2.9, []), (float("nan"), []),
])  # fmt: skip
def test_a_leak_far_from_the_mark_is_noted(off_m, codes):
    record = SimpleNamespace(
        dig_id="D-1", dig={"supersedes": None}, off_mark_m=off_m, chainage_m=lambda _: 13.4
    )
    notes = close._notes(SimpleNamespace(faults=()), record)
    assert [(f.code, f.effect, f.value) for f in notes] == [(c, "noted", "13.40") for c in codes]


def test_nothing_is_written_where_anything_is_wrong(path, tmp_path):
    before = path.read_bytes()
    with pytest.raises(JobError, match="is not on the line"):
        leakgeo.close_line(path, "L1", found="leak", at=99)
    folder = tmp_path / "records"
    assert not folder.exists()
    folder.mkdir()
    (folder / "records.csv").write_text("mine\n1\n")
    with pytest.raises(OutputError, match="other columns"):
        leakgeo.close_line(path, "L1", **LEAK)
    assert path.read_bytes() == before


def test_the_command_and_its_document(path):
    def called(place):
        return leakgeo_command("close", path, "L1", "--found", "leak", "--at", place, "--time",
                               "2026-05-03T10:20Z", "--json")  # fmt: skip

    refused = called("6.6 m from CS-21")
    assert refused.returncode == 2
    assert "CS-12" in json.loads(refused.stdout)["error"]["message"]
    done = called("6.6 m from CS-12 toward the start of the route")
    assert done.returncode == 0, done.stderr
    made = json.loads(done.stdout)
    assert made["record"]["leak_chainage_m"] == pytest.approx(13.4, abs=0.01)
    assert made["believed_code"] == "closed_not_repaired"
    assert "still there" in made["believed"]
    assert len(made["files"]) == 2


def test_a_workbook_is_the_crews_own_and_no_folder_is_left(tmp_path):
    with pytest.raises(JobError, match="sheet Digs"):
        leakgeo.close_line(tmp_path / "job.xlsx", "L-1", found="dry", exposed=("1", "2"))
    assert not list(tmp_path.iterdir())


def test_a_line_that_is_not_placed_gets_its_record_and_no_place(tmp_path):
    for name, text in {
        "fittings.csv": "line,fitting,tape from previous,tape in\nL-1,CS-1,,\n,M-1,31' 6\",",
        "stops.csv": "line,from,tape,level,unit\nL-1,CS-1,3',20,dB\n,,9',25,\n,,15',22,\n",
    }.items():
        (tmp_path / name).write_text(text)
    job = tmp_path / "job.gpkg"
    add_typed(job, [tmp_path / "fittings.csv", tmp_path / "stops.csv"])
    leakgeo.run(job, tmp_path / "out")
    closed = leakgeo.close_line(job, "L-1", found="leak", at="10' from M-1 toward CS-1", time=TIME)
    dig = read_job(job)["dig_outcomes"]
    assert dig["leak_chainage_m"].tolist() == pytest.approx([21.5 * 0.3048], abs=1e-3)
    assert pyogrio.read_dataframe(job, layer="dig_outcomes").geometry.isna().all()
    assert closed.record.mark is not None  # of the result beside the job, which has no places
    assert "10 ft from fitting M-1 toward fitting CS-1" in page(closed.files[0])


def test_pipe_seen_has_the_same_ends_in_message_record_and_evidence(path):
    """Ends to an inch are never rounded to what was not seen."""
    ends = tuple(inches * 0.0254 for inches in (38 * 12 + 7, 41 * 12 + 9))
    done = leakgeo.close_line(path, "L1", found="dry", exposed=ends, time=TIME, units="us")
    assert "38 ft 7 in to 41 ft 9 in" in wording("us").text(done.record.believed)
    assert "38 ft 7 in \u2013 41 ft 9 in" in page(done.files[0])
    seen = Reason("dig_saw_dry_pipe", from_m=ends[0], to_m=ends[1], day="", dated=False)
    assert wording("us").text(seen) == "Pipe seen dry at 38 ft 7 in to 41 ft 9 in."


def test_a_stretch_that_must_hold_the_leak_is_rounded_outward():
    also = Reason("also_on_line", from_m=11.80, to_m=12.72, probability=0.5)
    assert wording("us").text(also).startswith("38 ft 8 in to 41 ft 9 in")
    assert wording("si").text(also).startswith("11.80 to 12.72 m")
