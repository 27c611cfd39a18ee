"""The workbook of a result: cards, pictures, stops; text that is never run; the same bytes."""

import io
import json
import re
import zipfile

import openpyxl
import pyogrio
import pytest
from PIL import Image

import leakgeo
from leakgeo.deliver.formats.registry import parse_formats
from leakgeo.deliver.workbook.cells import saved
from leakgeo.deliver.workbook.write import FILE, write_workbook
from leakgeo.provenance import utc_text
from tests.deliver.small import small
from tests.job.crew import ROWS, filled

NAMES = ["=HYPERLINK(1)", "S-9/a"]


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    folder = tmp_path_factory.mktemp("crew")
    lines = [{**row, "line_id": n} for row, n in zip(ROWS["Lines"], NAMES, strict=True)]
    lines[1]["address"] = "@SUM(1+1)"
    other = {
        title: [{**row, "line_id": new[row["line_id"].upper()]} if "line_id" in row else row
                for row in ROWS[title]]
        for title in ("Fittings", "Stops", "Meter tests")
        for new in [dict(zip(("SIM-7", "SIM-9"), NAMES, strict=True))]
    }  # fmt: skip
    other["Stops"][0]["time"] = "2026-05-03T06:10-04:00"  # the others have none
    path = filled(folder / "job.xlsx", rows={"Lines": lines, **other})
    book = openpyxl.load_workbook(path)
    for page in book:  # openpyxl stores a text that begins with = as a formula
        for row in page.iter_rows():
            for cell in row:
                if isinstance(cell.value, str) and cell.value.startswith("="):
                    cell.data_type = "s"
    book.save(path)
    return leakgeo.run(path, folder / "out"), folder / "out"


def texts(path):
    book = openpyxl.load_workbook(path)
    return {page.title: [str(cell.value) for row in page.iter_rows() for cell in row
                         if cell.value is not None] for page in book}  # fmt: skip


def test_it_has_the_card_of_each_line_and_a_sheet_for_each(run):
    result, out = run
    found = texts(out / FILE)
    assert list(found) == ["Lines", "=HYPERLINK(1)", "S-9 a"]
    cards = "\n".join(found["Lines"])
    for line in result.worded().layers["lines"].to_dict("records"):
        assert line["message"] in cards
        assert "HOLD: line not placed on the ground" in cards
    assert "Nothing recorded here clears the dig." in cards
    assert f"Run {result.run_id}, written {utc_text(result.written)}." in cards
    times = [
        text
        for page in found.values()
        for text in page
        if ("UTC" in text and "Run" not in text) or text == "NaT"
    ]
    assert times == ["2026-05-03 10:10 UTC"]
    stops = found["S-9 a"]
    assert sum(text == "yes" for text in stops) == 16
    assert "38' 6\u201d from CS-1" in stops


def test_no_text_is_a_formula(run):
    book = openpyxl.load_workbook(run[1] / FILE)
    cells = [cell for page in book for row in page.iter_rows() for cell in row]
    assert {cell.data_type for cell in cells} <= {"s", "n", "inlineStr"}
    risky = [c for c in cells if isinstance(c.value, str) and c.value[:1] in "=+-@"]
    assert {"=HYPERLINK(1)", "@SUM(1+1)"} <= {c.value for c in risky}
    assert all(c.quotePrefix for c in risky)


def test_each_line_has_its_pictures(run):
    with zipfile.ZipFile(run[1] / FILE) as packed:
        pictures = [n for n in packed.namelist() if n.endswith(".png")]
        assert len(pictures) == 4
        for name in pictures:
            image = Image.open(io.BytesIO(packed.read(name))).convert("RGB")
            colours = image.getcolors(1 << 24)
            assert image.width > 600
            assert len(colours) > 20  # lines, zones, dots and texts, not a blank page
            most = max(colours)[0]
            assert most < 0.99 * image.width * image.height


def test_the_same_result_gives_the_same_bytes(run, tmp_path):
    result, out = run
    write_workbook(result, tmp_path / FILE, "us")
    assert (tmp_path / FILE).read_bytes() == (out / FILE).read_bytes()
    assert saved(openpyxl.Workbook()) == saved(openpyxl.Workbook())


def test_no_file_has_a_coordinate_of_a_taped_line(run):
    out = run[1]
    for name, kind in pyogrio.list_layers(out / "result.gpkg"):
        table = pyogrio.read_dataframe(out / "result.gpkg", layer=name)
        if kind is not None:
            assert table.geometry.isna().all(), name
    # Eastings where the traces are, in metres and in feet.
    invented = re.compile(rb"2000[0-9]{5}\.|6561[0-9]{5}\.")
    for path in (p for p in out.rglob("*") if p.suffix in (".csv", ".html", ".json", ".toml")):
        assert not invented.search(path.read_bytes()), path
    assert not (out / "locate_request.kml").exists()
    assert not (out / "leak_density.tif").exists()
    assert "Latitude" not in "".join("".join(t) for t in texts(out / FILE).values())


def test_the_record_of_the_run_counts_every_reading(run):
    record = json.loads((run[1] / "run.json").read_text("utf-8"))
    assert FILE in record["files"]
    counts = record["counts"]["readings"]
    assert counts["in"] == counts["used"] + counts["rejected"] == 32


def test_map_and_report_say_that_nothing_is_placed(run):
    html = (run[1] / "map.html").read_text("utf-8")
    assert "No line is placed on the ground" in html
    assert '"blank":true' in html
    assert (run[1] / "report.pdf").stat().st_size > 20_000


def test_it_is_a_format_of_any_result(tmp_path):
    assert parse_formats("xlsx")["xlsx"].write({}, small(), tmp_path) == []
    found = texts(tmp_path / FILE)
    assert list(found) == ["Lines", "L-1", "=L-2"]
    assert "Mark at 10 ft from the start" in found["Lines"]
