"""The field project in QGIS: it opens, its forms help, and its defaults are right."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pyogrio
import pytest
from pyproj import CRS, Geod, Transformer

from leakgeo.deliver.field_project import write_field_project, write_job_form
from leakgeo.job.schema import drawn_layers
from tests.test_watch import Watch

GEOD = Geod(ellps="WGS84")
START, AZIMUTH = (-73.95, 40.75), 70.0


def at(along_m, beside_m=0.0):
    """Return the place along a straight line from its start, in degrees."""
    lon, lat, _ = GEOD.fwd(*START, AZIMUTH, along_m)
    return GEOD.fwd(lon, lat, AZIMUTH + 90, beside_m)[:2]


def wkt(crs, kind, *places):
    to_crs = Transformer.from_crs(CRS(crs).geodetic_crs, crs, always_xy=True)
    text = ", ".join("{:.9f} {:.9f}".format(*to_crs.transform(*place)) for place in places)
    return f"MultiLineString(({text}))" if kind == "line" else f"Point({text})"


def shapes(crs):
    """Return a line in two parts, one beside it, a fitting, and stops on, between and off them."""
    first, second = (wkt(crs, "line", at(a), at(b)) for a, b in ((0, 60), (60, 90)))
    joined = f"{first[:-1]}, {second.removeprefix('MultiLineString(')}"
    stops = [at(40, 1.0), at(30, 5.0), at(30, 40.0)]
    return {
        "routes": [joined, wkt(crs, "line", at(0, 10), at(90, 10))],
        "fitting": wkt(crs, "point", at(5)),
        "stops": [wkt(crs, "point", place) for place in stops],
    }


def test_it_opens_with_every_form_and_a_dark_theme(host, tmp_path):
    _, project = write_field_project(tmp_path, crs=2263)
    answer = host.scene("field_project", project)
    assert answer["invalid"] == answer["faults"] == []
    assert answer["crs"] == "EPSG:2263"
    assert answer["themes"] == ["Day", "Night"]
    assert answer["pages"]["leakgeo_readings"] == ["Stop", "Walk and more", "Help"]
    assert all(answer["pages"][f"leakgeo_{name}"][-1] == "Help" for name in drawn_layers())
    assert int(answer["dark"][1:3], 16) < 0x30 < int(answer["light"][1:3], 16)


def test_defaults_of_a_stop_are_right_in_any_crs(host, tmp_path):
    before, systems = datetime.now(UTC), (2263, 4326, 3857)
    written = [write_field_project(tmp_path / str(crs), crs=crs, units="us") for crs in systems]
    given = [[project, shapes(crs)] for (_, project), crs in zip(written, systems, strict=True)]
    answers = host.scene("field_stops", given, TZ="America/Chicago")
    for answer, (job, _) in zip(answers, written, strict=True):
        is_right(answer)
        (stored,) = pyogrio.read_dataframe(job, layer="readings")["time"]
        # Read as UTC, whatever the clock of the tablet shows.
        utc = stored.tz_localize(UTC) if stored.tzinfo is None else stored
        assert abs((utc - before).total_seconds()) < 3600


def is_right(answer):
    """Check what was in the forms of the stops."""
    on, between, off = answer["rows"]
    assert [on["line_id"], between["line_id"], off["line_id"]] == ["L0", None, None]
    assert on["walk_id"] == between["walk_id"] != ""
    assert (on["gain_db"], on["sound_unit"], on["tape_unit"]) == (20, "db", "ft")
    assert (on["chainage_from"], off["chainage_from"]) == ("CS-12", None)
    assert on["chainage_m"] is None
    assert len({row["reading_id"] for row in answer["rows"]}) == 3
    # What a person typed is left, whatever is typed after it.
    assert float(answer["gain"]) == 33
    (tape,) = (label for label in answer["labels"] if label.startswith("Tape ("))
    feet, inches = map(int, re.search(r"position (\d+)' (\d+)\" from CS-12", tape).groups())
    assert 0.3048 * (feet + inches / 12) == pytest.approx(35.0, abs=0.05)


def test_layers_without_the_project_have_their_forms_too(host, tmp_path):
    path = write_job_form(tmp_path / "job.gpkg", crs=2263)
    answer = host.scene("field_job", path, list(drawn_layers()))
    assert {name: faults for name, (_, faults) in answer.items() if faults} == {}
    kinds = {name: kind for name, (kind, _) in answer.items()}
    assert all((kinds[name] == "RuleRenderer") == bool(schema.geometry_types)
               for name, schema in drawn_layers().items())  # fmt: skip


def test_a_stop_saved_while_the_project_stays_open_is_answered(host, tmp_path):
    _, project = write_field_project(tmp_path / "day", crs=2263)
    given = shapes(2263)
    host.scene("field_stops", [[project, given]])
    watch = Watch(tmp_path / "day", tmp_path / "out")
    try:
        assert watch.answer() == []
        record = tmp_path / "out" / "run.json"
        answer = host.scene("watched_stop", project, wkt(2263, "point", at(44, 1.0)), 42, record)
        *_, told = watch.until("line")
        *_, written = watch.until("written")
    finally:
        watch.close()
    assert "job.gpkg-wal" in answer["beside"]
    assert (told["line_id"], answer["run_id"]) == ("L0", written["run_id"])
