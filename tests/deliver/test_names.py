"""Names that look like parts of sentences come out as they went in, on every product."""

from __future__ import annotations

import json
from collections.abc import Iterator

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
from pypdf import PdfReader

from leakgeo.cli.console import Console
from leakgeo.cli.document import result_content
from leakgeo.cli.summary import print_result
from leakgeo.deliver.folder.write import write_result
from leakgeo.deliver.formats.export import export
from leakgeo.deliver.map.write import write_map
from leakgeo.deliver.report.fonts import LACKING
from leakgeo.deliver.report.write import write_report
from leakgeo.dig.headline import FORMAL
from leakgeo.options import ALL_LINES
from leakgeo.reason import Reason, reasons_in
from leakgeo.runner.chain import run
from leakgeo.simulate.write import write_job
from leakgeo.wording import wording
from leakgeo.wording.layers import texts_of
from tests.deliver.test_map import data_in
from tests.town import TOWN, layers

RIGHT_TO_LEFT = "שעון 3 m"
LINES = {"M-1": "3 ft; 2 m {x}", "H-101": "2: DN 150 mm", "S-109": "=1+1 line 12 m",
         "H-134": RIGHT_TO_LEFT, "S-102": "4.0 m"}  # fmt: skip
# A reading of it is at fault, which is told although the line is not asked for.
FAULTY = "H-109"
UTILITIES = {"U-01": "{{9 litres}} (A: 1 m)", "U-02": "2: DN 150 mm", "U-05": "{ $mark }",
             "U-06": "3 ft; 2 m {x}", "U-07": RIGHT_TO_LEFT, "U-13": "12 kPa main",
             "U-04": "{ LENGTH(3) }", "U-10": "=1+1"}  # fmt: skip
OWNERS = {"Landing Light and Power (invented)": "5 m; Sons: 3.0 to 4.0 m",
          "Lakebed Gas Cooperative (invented)": "60 psi\n{ $owner } \\u0041"}  # fmt: skip
FITTINGS = {"M-1/main_valve": "gate 3 ft; 1 m", "H-101/curb_stop": "{ $from } 12 m",
            "H-101/meter": "1: 25 mm", "H-134/curb_stop": f"{RIGHT_TO_LEFT} {{0}}",
            "S-109/meter": "=2+2 kPa", "S-109/curb_stop": "-1 ft"}  # fmt: skip
NAMES = {*LINES.values(), *UTILITIES.values(), *OWNERS.values(), *FITTINGS.values()}
# What the tests below expect to meet somewhere in the sentences; the rest stands in columns.
IN_SENTENCES = {LINES["M-1"], UTILITIES["U-02"], UTILITIES["U-06"], *OWNERS.values()}


def of_lines(table):
    """Give the rows of some lines, and those of none: each line more is drawn on every product."""
    if "line_id" not in table:
        return table
    return table[table["line_id"].isin({*LINES, FAULTY}) | table["line_id"].isna()]


@pytest.fixture(scope="module", name="hostile")
def _hostile(tmp_path_factory):
    """Some lines of the shipped town, with such names for lines, utilities, owners and fittings."""
    folder = tmp_path_factory.mktemp("names")
    names = {"line_id": LINES, "utility_id": UTILITIES, "owner": OWNERS, "contact_id": FITTINGS}
    job = {name: of_lines(gpd.read_file(TOWN, layer=name)).replace(names)
           for name in pyogrio.list_layers(TOWN)[:, 0]}  # fmt: skip
    job["readings"]["reading_id"] = "{ 3 m; " + job["readings"]["reading_id"]
    write_job(job, folder / "job.gpkg")
    out = {"us": folder / "us", "si": folder / "si"}
    result = run(
        folder / "job.gpkg", out["us"], units="us", lines=list(LINES.values()), format="all",
        density=False,
    )  # fmt: skip
    write_result(result, out["si"], units="si")
    write_map(
        result,
        out=out["si"],
        units="si",
        language="en",
        map_lines=None,
        orthophoto=None,
        tiles=None,
        **ALL_LINES,
    )
    write_report(
        result, out=out["si"], units="si", language="en", report_lines=None, workers=1, **ALL_LINES
    )
    export(result, out=out["si"], units="si", language="en", format="all", density=False,
           density_lines=None, density_pixel_m=0.1, **ALL_LINES)  # fmt: skip
    return result, out


@pytest.fixture(scope="module", params=["si", "us"], name="made")
def _made(hostile, request):
    """Give the result, the folder and the units of it, and the layers in its GeoPackage."""
    result, out = hostile
    folder = out[request.param]
    return result, folder, request.param, layers(folder / "result.gpkg")


def names_in(reason: Reason) -> Iterator[str]:
    """Give the names of users in the values of a reason."""
    for _, value in reason.values:  # noqa: PD011
        for each in value if isinstance(value, tuple) else (value,):
            if isinstance(each, Reason):
                yield from names_in(each)
            elif each in NAMES:
                yield each
    for each in reason.then:
        yield from names_in(each)


def test_names_stay_in_every_message_of_every_layer(made):
    _, _, units, stored = made
    met = set()
    for name, table in stored.items():
        for text in texts_of(table):
            reasons = reasons_in(table.replace({float("nan"): None}), text)
            for said, reason in zip(table[text], reasons, strict=True):
                if reason is None:
                    continue
                assert said == wording(units).text(reason), name
                for each in names_in(reason):
                    assert each in said
                    met.add(each)
    assert met >= IN_SENTENCES
    assert met & set(FITTINGS.values())
    texts = " ".join(str(v) for t in stored.values() for v in t.to_numpy().ravel())
    assert not [c for c in texts if "\ue000" <= c <= "\uf8ff" or "\u2066" <= c <= "\u2069"]


def test_names_stay_in_the_columns(made):
    stored = made[3]
    for layer, column, names in (
        ("lines", "line_id", LINES), ("marks", "line_id", LINES), ("holds", "line_id", LINES),
        ("conflicts", "owner", OWNERS), ("contact_ranking", "contact_id", FITTINGS),
        ("holds", "utility_id", UTILITIES),
    ):  # fmt: skip
        assert set(stored[layer][column]) & set(names.values()), (layer, column)
        assert not set(stored[layer][column]) & set(names), (layer, column)
    assert set(stored["lines"]["line_id"]) == set(LINES.values())
    assert stored["readings_on_route"]["reading_id"].str.startswith("{ 3 m; ").all()


def test_names_stay_in_summary_and_faults(made):
    _, out, _, stored = made
    summary = pd.read_csv(out / "summary.csv", encoding="utf-8-sig", keep_default_na=False)
    summary = summary.replace(r"^'(?=[=+\-@])", "", regex=True).set_index("line_id")
    assert set(summary.index) == set(LINES.values())
    lines = stored["lines"].set_index("line_id")
    for column in ("message", "advice"):
        assert summary[column].to_dict() == lines[column].fillna("").to_dict()
    for name, rows in stored["holds"].groupby("line_id"):
        assert summary.loc[name, "holds"] == "; ".join(rows.sort_values("order")["message"])
    assert "{ 3 m; " in (out / "faults.csv").read_text("utf-8-sig")


def test_names_stay_on_the_map(made):
    _, out, units, stored = made
    data = data_in((out / "map.html").read_text("utf-8"))
    lines = {line["id"]: line for line in data["lines"]}
    assert set(lines) >= set(LINES.values())
    about = {"us": "about 402 ft", "si": "about 122."}[units]
    assert f"on {LINES['M-1']}, {about}" in lines[LINES["H-134"]]["message"]
    near = stored["conflicts"].groupby("line_id")
    for name, rows in near:
        shown = [conflict["says"][0] for conflict in lines[name]["conflicts"]]
        for utility in set(rows["utility_id"]) & NAMES:
            assert [said for said in shown if said.endswith(f" {utility}")]
    for name, rows in stored["holds"].groupby("line_id"):
        held = lines[name]["holds"]
        for reason in reasons_in(rows, "message"):
            if reason.code in FORMAL:  # summed up in one line
                continue
            short = wording(units).part(reason, "short")
            about = dict(reason.values).get("utility")
            named = wording(units).text(about) if about else wording(units).text(reason)
            # A utility is named once, and all that holds the dig of it stands after its name.
            (one,) = [text for text in held if text.startswith(named)]
            assert short in one
            assert not about or named in lines[name]["brief"]


def test_names_stay_in_the_report(made):
    _, out, _, stored = made
    pages = PdfReader(out / "report.pdf").pages
    # A line break in a name is a letter that the font lacks.
    text = " ".join(page.extract_text() for page in pages).replace(LACKING, " ")
    text = " ".join(text.split())
    of_holds = {n for r in reasons_in(stored["holds"], "message") for n in names_in(r)}
    assert len(of_holds) > 4
    names = {" ".join(name.split()) for name in of_holds | set(LINES.values())}
    # Letters from right to left are laid out the other way round on paper.
    assert {name for name in names if RIGHT_TO_LEFT not in name and name not in text} == set()


def test_names_stay_in_requests(made):
    _, out, _, stored = made
    found = json.loads((out / "locate_request.geojson").read_text("utf-8"))["features"]
    names = {f["properties"]["line_id"] for f in found}
    assert names == set(stored["locate_requests"]["line_id"])
    assert names <= set(LINES.values())
    kml = (out / "locate_request.kml").read_text("utf-8")
    assert all(name in kml for name in names)


def test_names_stay_in_every_other_format(made):
    _, out, _, stored = made
    holds, owners = set(stored["holds"]["message"]), set(stored["conflicts"]["owner"])
    for name in ("geojson", "kml", "flatgeobuf", "dxf"):
        table = pd.read_csv(out / "exported" / name / "holds.csv", encoding="utf-8-sig")
        assert set(table["message"]) == holds, name
    table = pd.read_parquet(out / "exported/geoparquet/holds.parquet")
    assert set(table["message"]) == holds
    table = pyogrio.read_dataframe(out / "exported/shapefile/holds.dbf", read_geometry=False)
    assert {said[:60] for said in table["message"]} == {said[:60] for said in holds}
    for path in (out / "exported").rglob("conflicts.*"):
        if path.suffix in (".geojson", ".fgb", ".parquet", ".kml", ".shp"):
            read = gpd.read_parquet if path.suffix == ".parquet" else gpd.read_file
            assert set(read(path)["owner"]) == owners, path.name


def test_names_stay_on_the_terminal_and_in_json(made, capsys):
    result, out, units, stored = made
    print_result(Console(), result, out, units)
    said = capsys.readouterr().out
    document = {row["line_id"]: row for row in result_content(result, out, units, [])["lines"]}
    for row in stored["lines"].itertuples():
        assert f"\n{row.line_id}  " in f"\n{said}"
        assert row.message in said
        assert document[row.line_id]["message"] == row.message
        told = document[row.line_id]
        assert Reason.parse(told["code"], json.dumps(told["values"])) == Reason.parse(
            row.code, row.values
        )
