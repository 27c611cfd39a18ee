"""Sheets to print: the headers that typed files may have, one page each, and the caution."""

import os
import re
import shutil
import subprocess

import numpy as np
import pypdf
import pytest

from leakgeo.deliver.sheets.line import sheet_lines
from leakgeo.deliver.sheets.write import SHEETS, write_sheets
from leakgeo.deliver.views import sentences
from leakgeo.errors import OutputError, ParameterError
from leakgeo.job.read import read_job
from leakgeo.job.typed.headers import FITTINGS, STOPS, column_of, header
from leakgeo.job.typed.read import read_typed
from leakgeo.wording import languages, wording
from tests.town import TOWN
from tests.wording.test_catalogues import CLEARING

WALKS = {0: FITTINGS, 1: STOPS, 2: STOPS, 3: STOPS}
FORMS = [(units, language) for units in ("us", "si") for language in languages()]


def printed(folder, **settings):
    path = folder / "sheets.pdf"
    pages = write_sheets(path, **settings)
    reader = pypdf.PdfReader(path)
    assert len(reader.pages) == pages
    return reader


def said(reader):
    return [re.sub(r"\s+", " ", page.extract_text()) for page in reader.pages]


@pytest.mark.parametrize(("units", "language"), FORMS)
def test_each_sheet_is_one_page_with_the_headers_that_typed_files_have(tmp_path, units, language):
    reader = printed(tmp_path, units=units, language=language)
    assert len(reader.pages) == len(SHEETS)
    words = wording(units, language)
    for number, kind in WALKS.items():
        cells = [cell.strip() for cell in reader.pages[number].extract_text().splitlines()]
        found = {column_of(cell, kind) for cell in cells if column_of(cell, kind)}
        own = {"air_kpa", "air_psi"}
        assert set(kind.columns) - own <= found, set(kind.columns) - found
        for column in set(kind.columns) - own:
            assert any(header(column, words) in cell for cell in cells)
    assert column_of("air psi" if units == "us" else "air kPa", STOPS) in {*own}
    pages = said(reader)
    for number, page in enumerate(pages, 1):
        assert words.term("sheet_caution") in page
        assert re.search(rf"\b{number} \w+ {len(pages)}\b", page)
        assert not CLEARING.search(page)


def test_the_caution_is_that_of_the_other_products():
    assert wording().term("sheet_caution") == sentences.CAUTION


@pytest.mark.parametrize(("units", "language"), FORMS)
def test_a_sheet_filled_in_and_typed_is_read(tmp_path, units, language):
    """Typed from the text of the page: its head, its headers and its rows."""
    reader, words = printed(tmp_path, units=units, language=language), wording(units, language)
    page = reader.pages[1].extract_text()
    head = {"line_id": "A-1", "date": "2026-05-01", "sound_unit": "dB", "chainage_from": "HYD",
            "tape_unit": words.term("ft" if units == "us" else "m", "tape_unit")}  # fmt: skip
    rows = ("stop", "tape", "sound_level", "surface", "air", "remark")
    names = [header(column, words) for column in (*head, *rows)]
    assert all(name in page for name in names)
    surface, air = words.term("grass", "surface"), words.term("on", "air_is")
    assert f"{surface} " in f"{page} "
    lines = [f"{header(column, words)};{value}" for column, value in head.items()]
    lines += [";".join(header(column, words) for column in rows), f"1;2;40;{surface};{air};",
              "2;3;41;;;"]  # fmt: skip
    path = tmp_path / "typed.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    file = read_typed(path)
    assert file.left_out == 0, file.faults
    assert file.table["surface"].tolist() == ["grass", "grass"]
    assert file.table["air"].tolist() == ["on", None]
    assert set(file.table["tape_unit"]) == {"ft" if units == "us" else "m"}


def test_heads_are_filled_in_from_a_job(tmp_path):
    job = read_job(TOWN, lines=["H-126", "H-101"])
    assert [line.line_id for line in sheet_lines(job)] == ["H-101", "H-126"]
    reader = printed(tmp_path, job=job, units="us")
    pages = said(reader)
    assert len(pages) == 2 * len(SHEETS)
    own = pages[len(SHEETS) :]
    assert all("H-126" in page and "126 Heron Street" in page for page in own)
    assert own[0].index("/curb_stop") < own[0].index("/meter") < own[0].index("/hose_bib")
    assert all("Simulated" in page for page in pages)


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("language", languages())
def test_all_text_is_on_the_paper(tmp_path, paper, language):
    for page in printed(tmp_path, paper=paper, units="us", language=language).pages:
        width, height = (float(v) for v in page.mediabox[2:])
        assert (width, height) == pytest.approx(
            {"letter": (612, 792), "a4": (595, 842)}[paper], abs=1
        )

        def place(text, cm, tm, _font, size, width=width, height=height):
            x, y = np.array([tm[4], tm[5], 1]) @ np.reshape(cm, (3, 2))
            if text.strip():
                assert size >= 8, text
                assert 0 < x + 0.45 * size * len(text.strip()) < width - 20, (text, x)
                assert 10 < y < height - 10, (text, y)

        page.extract_text(visitor_text=place)


def test_a_file_is_never_replaced(tmp_path):
    (tmp_path / "sheets.pdf").write_text("precious")
    with pytest.raises(OutputError, match="exists"):
        write_sheets(tmp_path / "sheets.pdf")
    with pytest.raises(ParameterError, match="paper"):
        write_sheets(tmp_path / "other.pdf", paper="a5")


@pytest.mark.pdf
def test_a_copier_sees_black_and_white_alone(tmp_path):
    if not shutil.which("pdftoppm"):
        (pytest.fail if os.environ.get("CI") else pytest.skip)("poppler-utils is not installed")
    image = pytest.importorskip("PIL.Image")
    printed(tmp_path, units="us")
    subprocess.run(["pdftoppm", "-r", "60", "-aa", "no", "-aaVector", "no", "-png", "sheets.pdf",
                    "page"], cwd=tmp_path, check=True)  # fmt: skip
    for path in sorted(tmp_path.glob("page*.png")):
        page = np.asarray(image.open(path).convert("L")).astype(int)
        assert set(np.unique(page)) <= {0, 255}
        assert 0.01 < (page == 0).mean() < 0.15
