"""Names that look like parts of sentences come out as they went in, on every product."""

from __future__ import annotations

import json
from xml.etree import ElementTree as ET

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
from leakgeo.deliver.names import Names
from pypdf import PdfReader

from leakgeo.cli.document import lines_of
from leakgeo.cli.told import tell_result
from leakgeo.cli.voice import Voice
from leakgeo.runner.chain import run
from leakgeo.simulate.write import write_job
from leakgeo.wording.quantities import has_lengths, lengths_in
from tests.deliver.test_map import data_in
from tests.town import TOWN, layers

LINES = {"M-1": "3 ft; 2 m {x}", "H-101": "2: DN 150 mm", "S-109": "line 12 m",
         "H-134": "שעון 3 m", "S-102": "4.0 m"}  # fmt: skip
UTILITIES = {"U-02": "2: DN 150 mm", "U-06": "3 ft; 2 m {x}", "U-07": "שעון 3 m",
             "U-13": "12 kPa main", "U-01": "{{9 litres}} (A: 1 m)"}  # fmt: skip
OWNER = {"Landing Light and Power (invented)": "5 m; Sons: 3.0 to 4.0 m"}
NAMES = sorted({*LINES.values(), *UTILITIES.values(), *OWNER.values()})


@pytest.fixture(scope="module", name="hostile")
def _hostile(tmp_path_factory):
    """Some lines of the shipped town, with such names for lines, utilities and an owner."""
    folder = tmp_path_factory.mktemp("names")
    job = {
        name: table.replace({"line_id": LINES, "utility_id": UTILITIES, "owner": OWNER})
        for name in pyogrio.list_layers(TOWN)[:, 0]
        for table in [gpd.read_file(TOWN, layer=name)]
    }
    write_job(job, folder / "job.gpkg")
    out = folder / "out"
    return run(folder / "job.gpkg", out, units="us", lines=list(LINES.values())), out


def unspoilt(text: str) -> None:
    """No name is said in other units, or in part."""
    for name in filter(has_lengths, NAMES):
        assert lengths_in(name, "us") not in text, name
        assert name.replace(";", ",") == name or name.replace(";", ",") not in text


def test_names_stay_on_the_map(hostile):
    data = data_in((hostile[1] / "map.html").read_text("utf-8"))
    unspoilt(json.dumps(data, ensure_ascii=False))
    lines = {line["id"]: line for line in data["lines"]}
    assert set(lines) > set(LINES.values())
    assert f"on {LINES['M-1']}, about 40" in lines[LINES["H-134"]]["message"]
    assert any(UTILITIES["U-02"] in line["brief"][k] for line in lines.values()
               for k in range(len(line["brief"])))  # fmt: skip
    for line in lines.values():
        near = {conflict["says"][0].split(" ", 1)[1] for conflict in line["conflicts"]}
        briefs = " | ".join(line["brief"])
        for name in near & set(UTILITIES.values()):
            held = [hold for hold in line["holds"] if f"{name} (" in hold]
            assert not held or name in briefs
        assert not [hold for hold in line["holds"] if hold.startswith(("2 m", "Sons"))]


def test_names_stay_in_the_report(hostile):
    pages = PdfReader(hostile[1] / "report.pdf").pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    unspoilt(text)
    for name in ("2: DN 150 mm", "line 12 m", "3 ft; 2 m {x}", "4.0 m", *OWNER.values()):
        assert name in text


def test_names_stay_in_tables_and_layers(hostile):
    result, out = hostile
    summary = pd.read_csv(out / "summary.csv", encoding="utf-8-sig")
    assert set(summary["line_id"]) == set(LINES.values())
    unspoilt(" ".join(map(str, summary.to_numpy().ravel())))
    stored = layers(out / "result.gpkg")
    assert set(stored["lines"]["line_id"]) == set(LINES.values())
    assert set(stored["conflicts"]["owner"].dropna()) & set(OWNER.values())
    for table in stored.values():
        text = " ".join(
            map(str, table.drop(columns="geometry", errors="ignore").to_numpy().ravel())
        )
        assert not [c for c in text if "\ue000" <= c <= "\uf8ff" or "\u2066" <= c <= "\u2069"]
    holds = " ".join(stored["dig_zones"]["holds"])
    assert f"{UTILITIES['U-06']} (" in holds
    names = Names.of(result)
    for row in stored["dig_zones"].itertuples():
        assert all(not said.startswith("2 m") for said in names.split(row.holds))


def test_names_stay_in_requests(hostile):
    out = hostile[1]
    text = (out / "locate_request.geojson").read_text("utf-8")
    found = {f["properties"]["line_id"] for f in json.loads(text)["features"]}
    assert found
    assert found <= set(LINES.values())
    unspoilt(text)
    unspoilt("".join(ET.parse(out / "locate_request.kml").getroot().itertext()))


def test_names_stay_on_the_terminal_and_in_json(hostile, capsys):
    result, out = hostile
    tell_result(Voice(), result, out, "us")
    said = capsys.readouterr().out
    unspoilt(said)
    for name in LINES.values():
        assert f"{name}  " in said
    assert f"on {LINES['M-1']}, about 40" in said
    unspoilt(json.dumps(lines_of(result, "us"), ensure_ascii=False))


def test_a_name_that_is_a_length_is_told_from_one():
    names = Names.given(["4.0 m", "12 m"])
    said = "Mark at 12 m from the start; 4.0 m off. Also possible: on 4.0 m, about 4.0 m (20 %)."
    assert names.lengths_in(said, "us") == (
        "Mark at 39 ft 4 in from the start; 13 ft 1 in off. "
        "Also possible: on 4.0 m, about 13 ft 1 in (20 %)."
    )
    between = "Between 4.0 m and 12 m, the loudest two. From 4.0 to 12.0 m of the line."
    assert names.lengths_in(between, "us") == (
        "Between 4.0 m and 12 m, the loudest two. From 13 ft 1 in to 39 ft 4 in of the line."
    )
