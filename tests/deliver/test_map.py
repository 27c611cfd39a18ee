"""The map file: whole, self-contained, the same twice, with every line in it."""

import base64
import json
import re
import zlib
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod
from shapely import LineString, Point, Polygon

from leakgeo.deliver.map.data import map_data as whole_map
from leakgeo.deliver.map.latlon import latlon_lists
from leakgeo.deliver.map.page import asset, json_for_script, script
from leakgeo.deliver.map.words import CODES, script_words
from leakgeo.deliver.map.write import make_map, write_map
from leakgeo.errors import OutputError, ParameterError
from leakgeo.options import ALL_LINES
from leakgeo.provenance import utc_text
from leakgeo.reason import Reason, columns_of, reasons_in
from leakgeo.result import Result
from leakgeo.wording import languages, wording
from tests.deliver.fixture import (
    METRE,
    STREET,
    holds_of,
    hostile_street,
    street,
    surveyed_street,
)
from tests.deliver.shown import map_data

PLAIN = {**ALL_LINES, "language": "en", "map_lines": None, "orthophoto": None, "tiles": None}


def written(folder, result, units="si", **more) -> str:
    write_map(result, out=folder, units=units, **{**PLAIN, **more})
    return (folder / "map.html").read_text(encoding="utf-8")


def pieces_in(html: str) -> dict:
    found = re.findall(r'<script type="(application/[a-z-]+)" id="lg-(.*?)">(.*?)</script>', html)
    return {name: json.loads(text if kind == "application/json"
                             else zlib.decompress(base64.b64decode(text)))
            for kind, name, text in found}  # fmt: skip


def data_in(html: str) -> dict:
    """Give the pieces as one, lines in the order of the list."""
    pieces = pieces_in(html)
    lines = [line for name, part in pieces.items() if name.startswith("details-") for line in part]
    index = pieces["index"]
    return {**pieces["head"], **pieces["around"], **index,
            "lines": [lines[at] for at in index["detail"]]}  # fmt: skip


def places(steps, origin) -> np.ndarray:
    """Give latitudes and longitudes out of whole steps, as the page does."""
    return np.reshape(steps, (-1, 2)).cumsum(axis=0) / 1e7 + origin


def test_everything_is_in_the_one_file(tmp_path):
    html = written(tmp_path, street())
    links = re.findall(
        r"""(?:src|href)\s*=\s*["']?([^"'> ]+)""",
        re.sub("<script>.*?</script>", "", html, flags=re.DOTALL),
    )
    assert links == []
    assert "url(images" not in html
    assert "sourceMappingURL" not in html
    assert "default-src 'none'" in html
    assert [p.name for p in tmp_path.iterdir()] == ["map.html"]


def test_same_result_same_bytes(tmp_path):
    assert written(tmp_path / "a", street()) == written(tmp_path / "b", street())


def test_every_line_is_in_it_with_its_readings(tmp_path):
    data = data_in(written(tmp_path, street()))
    assert [line["id"] for line in data["lines"]] == list(STREET)
    total = sum(len(line["readings"]["id"]) for line in data["lines"])
    assert total == len(street().layers["readings_on_route"])
    assert "164 readings: 158 used, 6 not used" in data["readings"]


def test_positions_agree_with_geodesic_distance(tmp_path):
    """Distance along the ellipsoid between two marks, against the plane at the central meridian."""
    result = street()
    data = data_in(written(tmp_path, result))
    (lat1, lon1), (lat2, lon2) = (
        places(data["lines"][k]["mark"]["at"], data["origin"])[0] for k in (0, 1)
    )
    geodesic = Geod(ellps="WGS84").inv(lon1, lat1, lon2, lat2)[2]
    marks = result.layers["marks"].geometry
    # UTM's scale on its central meridian is 0.9996 (EPSG method 9807, zone 16N)
    assert geodesic == pytest.approx(marks.iloc[0].distance(marks.iloc[1]) / 0.9996, abs=0.03)


@given(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=40)
    | st.text("{}%#</script>!-&'\"\\", max_size=40)
)
def test_json_holds_any_text_and_opens_no_tag_or_template(text):
    shown = json_for_script({"id": [text]})
    assert json.loads(shown) == {"id": [text]}
    assert not set(shown) & set("<>&")
    assert not re.search(r"\{[{%#]", shown)


def test_hostile_text_reaches_the_page_as_data_alone(tmp_path):
    html = written(tmp_path, hostile_street())
    assert html.count("<script") == html.count("</script>")
    assert "window.hit=1<" not in html
    assert data_in(html)["lines"][0]["id"].startswith("</script><script>")
    assert "{{7*7}}{% raw %}{#" in data_in(html)["lines"][0]["id"]


@pytest.mark.parametrize("name", [*street().layers, None])
@pytest.mark.parametrize("how", ["absent", "empty"])
def test_any_layer_may_be_absent_or_empty(tmp_path, name, how):
    result = street()
    names = [name] if name else list(result.layers)
    rest = {k: v for k, v in result.layers.items() if k not in names}
    empty = {k: v.iloc[:0] for k, v in result.layers.items() if k in names}
    layers = rest if how == "absent" else {**rest, **empty}
    data = data_in(written(tmp_path, replace(result, layers=layers)))
    assert {line["id"] for line in data["lines"]} == set(STREET)
    if name == "dig_zones":
        assert all(line["holds"] for line in data["lines"] if line["mark"])


def test_job_without_any_feature_still_gives_a_map(tmp_path):
    result = street()
    job = replace(
        result.job, routes=result.job.routes.iloc[:0], readings=result.job.readings.iloc[:0],
        utilities=None, contacts=None,
    )  # fmt: skip
    assert data_in(written(tmp_path, Result(job)))["lines"] == []


def test_null_and_empty_shapes_missing_columns_and_dates_break_nothing(tmp_path):
    result = street()
    layers = dict(result.layers)
    readings = layers["readings_on_route"].copy()
    readings.loc[0, "geometry"] = None
    readings.loc[1, "geometry"] = Point()
    readings.loc[[0, 1], "chainage_m"] = np.nan
    readings["used"] = readings["used"].astype("boolean")
    readings.loc[2, "used"] = pd.NA
    readings.loc[3, "level_comparable_db"] = np.inf
    layers["readings_on_route"] = readings
    layers["marks"] = layers["marks"].drop(columns=["azimuth_deg", "limited_by", "across_95_m"])
    layers["search_zones"] = layers["search_zones"].assign(probability=np.nan, rank=None)
    layers["conflicts"] = layers["conflicts"].assign(seen=pd.Timestamp("2031-01-01", tz="UTC"))
    data = data_in(written(tmp_path, replace(result, layers=layers)))
    assert data["lines"][0]["mark"]["ring"] is None
    assert data["lines"][0]["readings"]["at"][:4] == [None] * 4
    assert data["lines"][0]["readings"]["db"][3] is None
    assert data["lines"][0]["readings"]["used"][2] == 0


def test_readings_are_drawn_on_their_pipe_and_keep_their_fix():
    result = street()
    readings = result.layers["readings_on_route"]
    fixes = readings.geometry.translate(1.7, 0.9).set_crs(METRE)
    off = pd.Series(None, readings.index, dtype=object)
    off[readings.index[-1]] = "off_its_route"
    taped = np.arange(len(readings)) == 1
    moved = readings.set_geometry(fixes).assign(
        reason_code=off, tape_weight=np.where(taped, 1.0, 0.5), offset_m=np.where(taped, 0.4, 2.0)
    )
    data = map_data(result.adding({"readings_on_route": moved}), "si")

    def drawn(line, name):
        pairs = [Point(*at[::-1]) for at in data["lines"][line]["readings"][name]]
        return gpd.GeoSeries(pairs, crs=4326).to_crs(METRE)

    route = result.job.routes.geometry[0]
    own = moved[moved["line_id"] == "Alder 12"]
    away = drawn(0, "at").distance(route)
    assert away[1] == pytest.approx(0.4, abs=0.03)  # a taped offset
    assert away.drop(1).max() < 0.02
    along = drawn(0, "at").map(route.project)
    assert np.allclose(along, own["chainage_m"] * 0.9996, atol=0.05)  # UTM's scale
    fix = drawn(0, "fix")
    assert fix.distance(gpd.GeoSeries(own.geometry.to_numpy(), crs=METRE)).max() < 0.02
    assert drawn(-1, "at").iloc[-1].distance(fixes.iloc[-1]) < 0.02
    assert data["lines"][-1]["readings"]["fix"][-1] is None


def test_readings_of_no_line_are_shown_with_their_reason():
    result = street()
    loose = (
        result.layers["readings_on_route"]
        .iloc[:2]
        .assign(line_id=None, used=False, reason_code="set_aside", reason_values="{}")
    )
    readings = pd.concat([result.layers["readings_on_route"], loose], ignore_index=True)
    data = map_data(result.adding({"readings_on_route": readings}), "si")
    assert data["loose"]["why"] == ["It was set aside.", "It was set aside."]
    assert all(data["loose"]["at"])


def test_shapes_with_holes_and_parts_keep_them():
    ring = Polygon([(0, 0), (4, 0), (4, 4), (0, 4)], [[(1, 1), (2, 1), (2, 2)]])
    both = ring.union(Polygon([(6, 0), (7, 0), (7, 1)]))
    shapes = gpd.GeoSeries([ring, both, LineString([(1, 2), (3, 4)])], crs=4326)
    one, two, line = latlon_lists(shapes)
    assert [len(part) for part in one] == [2]
    assert sorted(len(part) for part in two) == [1, 2]
    assert line == [[[2.0, 1.0], [4.0, 3.0]]]


def test_the_map_names_its_run_and_the_time_of_its_holds():
    result = street()
    assert map_data(result, "si")["recorded"] == (
        f"Holds as recorded; no answer is dated. "
        f"Run {result.run_id}, written {utc_text(result.written)}."
    )
    known = result.job.utilities
    dated = known.assign(notified_time="2031-05-01T08:00Z", response_time=None)
    dated.loc[1, "response_time"] = "2031-05-03T09:30Z"
    data = map_data(replace(result, job=replace(result.job, utilities=dated)), "si")
    assert data["recorded"].startswith("Holds as recorded at 2031-05-03 09:30 UTC. Run ")


def test_what_holds_every_dig_is_in_the_head_alone():
    result = street()
    every = Reason("ticket_not_checked", lacks=["dig_date"])
    more = holds_of("Alder 12", (every,)).assign(order=9)
    data = map_data(
        result.adding({"holds": pd.concat([result.layers["holds"], more], ignore_index=True)}), "si"
    )
    assert [said.startswith("Every dig: not checked") for said in data["every"]] == [True]
    assert not any("not checked" in hold for hold in data["lines"][0]["holds"])
    assert data["lines"][0]["holds"]


def test_a_map_can_be_added_to():
    import folium

    page = make_map(street())
    folium.CircleMarker([40.1, -87.0], tooltip="ours").add_to(page)
    html = page.get_root().render()
    assert "Content-Security-Policy" not in html
    assert "circleMarker" in html


def test_errors_name_the_remedy(tmp_path):
    with pytest.raises(ParameterError, match="name the folder"):
        write_map(street(), out=None, units="si", **PLAIN)
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputError, match="can't be made"):
        write_map(street(), out=tmp_path / "file" / "under", units="si", **PLAIN)


def test_a_failed_write_leaves_the_old_map(tmp_path, monkeypatch):
    written(tmp_path, street())
    before = (tmp_path / "map.html").read_bytes()

    def full(*_args, **_more):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("leakgeo.deliver.map.write._write_text", full)
    with pytest.raises(OutputError, match="No space"):
        write_map(hostile_street(), out=tmp_path, units="si", **PLAIN)
    assert (tmp_path / "map.html").read_bytes() == before
    assert len(list(tmp_path.iterdir())) == 1


def test_nothing_handed_in_is_changed(tmp_path):
    result = street()
    columns = {name: list(frame.columns) for name, frame in result.layers.items()}
    written(tmp_path, result)
    assert {name: list(frame.columns) for name, frame in result.layers.items()} == columns
    assert "at" not in result.job.routes
    assert result.layers["marks"].crs == METRE


def test_lines_left_out_are_told_on_the_map_and_as_a_fault(tmp_path):
    done = write_map(street(), out=tmp_path, units="si", **{**PLAIN, "map_lines": 2})
    data = data_in((tmp_path / "map.html").read_text("utf-8"))
    assert data["id"] == ["Alder 12", "Alder 14"]
    assert data["left_out"] == len(STREET) - 2
    (fault,) = done.faults
    assert fault.problem == f"The map shows 2 of {len(STREET)} lines, the first by priority."
    assert fault.effect == "noted"
    assert "6 lines:" in data["tally"]
    assert write_map(street(), out=tmp_path, units="si", **{**PLAIN, "map_lines": 6}).faults == ()


def test_a_leak_that_is_likelier_on_another_line_is_told():
    result = street()
    lines = result.layers["lines"].copy()
    said = reasons_in(lines, "message")
    there, here = (
        Reason("also_possible", places=[
            Reason("also_on_other_line", line=line, chainage_m=at, probability=share)])
        for line, at, share in (("Alder 12", 14.2, 0.98), ("Alder 14", 3.0, 0.02))
    )  # fmt: skip
    said[4] = Reason("likelier_on_other_line", Reason("leak_on_line", probability=0.02), there)
    said[0] = Reason("mark", here, chainage_m=14.2, within_foot=0.8)
    lines = lines.assign(**columns_of("message", said))
    data = map_data(result.adding({"lines": lines}), "us")
    assert data["lines"][4]["message"].startswith("The leak is likelier on another line nearby")
    assert "on Alder 12, about 46 ft 7 in" in data["lines"][4]["message"]
    assert data["lines"][0]["message"] == "Also possible: on Alder 14, about 9 ft 10 in (2 %)."


def test_survey_meter_air_and_improvements_are_told(tmp_path):
    data = map_data(surveyed_street(), "us")
    line = data["lines"][0]
    assert [row["p"] for row in line["bracket"]] == [0.7, 0.2]
    assert line["bracket"][0]["says"][0] == "1"
    assert "13 ft 1 in" in line["bracket"][0]["says"][1]
    assert line["fittings"][0]["says"] == ("1", "meter C0", "44.0 dB")
    assert line["meter"] == "Meter: loses 1,100 gallons a day"
    assert line["meterSays"] == ["Loses 1,100 gallons a day."]
    (improvement,) = line["improvements"]
    assert improvement.startswith("Listen late at night, with about 10 dB less ambient noise")
    assert improvement.endswith("the smallest possible error to fall from 1 ft 8 in to 8 in.")
    assert line["air"][0]["says"][1] == "the leak sounds here"
    assert data["lines"][1]["improvements"] == []


def test_the_script_has_each_of_its_words_in_every_language():
    used = set(re.findall(r"\bw\.([a-z_]+)", script()))
    used |= set(re.findall(r"this\.words\.([a-z_]+)", asset("map_page.html")))
    assert used == set(CODES)
    for language in languages():
        catalogue = wording("si", language)
        own = {code: catalogue.term(code, "map") for code in CODES}
        assert script_words(catalogue) == own
        assert all(catalogue.knows(f"map_{code}") for code in CODES)
    english, spanish = (script_words(wording("si", name)) for name in ("en", "es"))
    assert [code for code in CODES if english[code] == spanish[code]] == []


def test_a_map_in_spanish_says_answers_and_holds_in_spanish():
    head = whole_map(street(), "si", language="es").head
    assert head["recorded"].startswith("Lo que detiene, según lo registrado")
    answers = {utility["says"][3] for utility in head["utilities"]}
    assert answers <= {"sin respuesta", "respuesta: marcado", "respuesta: libre"}
    kinds = {utility["kindName"].removesuffix("?") for utility in head["utilities"]}
    assert "ELECTRICIDAD" in kinds
    assert not any("_" in kind for kind in kinds)
