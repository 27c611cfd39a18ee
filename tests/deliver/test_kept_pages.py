"""The report with kept pages has the bytes of one drawn anew, and draws pages of changed lines."""

import ast
import inspect
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas

import leakgeo
from leakgeo.deliver.report import pages_ahead, write
from leakgeo.deliver.report.fonts import BOLD, PRESET, REGULAR, fix_codes, register_fonts
from leakgeo.options import ALL_LINES
from tests.deliver.fixture import STREET, many_lines, street
from tests.deliver.test_kept import changed, kept_of, spoil

# Names with other characters of the preset on each page, and one beyond it.
NAMES = ("Calle Peñón 1", "Rue « Éclair » 2", "Ulica Źródlana 3", "Straße 4", "Οδός Ερμού 5")


@pytest.fixture
def drawn(monkeypatch):
    """Give the names of the lines whose pages are drawn."""
    names, line_page = [], write.line_page

    def counted(view, *given, **more):
        names.append(view.line_id)
        return line_page(view, *given, **more)

    monkeypatch.setattr(write, "line_page", counted)
    return names


@pytest.fixture(params=["town", "street"])
def result(request):
    return names_of_europe() if request.param == "street" else request.getfixturevalue("town")[0]


def names_of_europe():
    located, open_ = STREET["Alder 12"], STREET["Ulica Źródlana 3"]
    return street({name: (located, open_)[k % 2] for k, name in enumerate(NAMES)})


def pdf(folder, result, units="si", language="en", lines=None, workers=1) -> bytes:
    write.write_report(
        result, out=folder, units=units, language=language, report_lines=lines, workers=workers,
        **ALL_LINES,
    )  # fmt: skip
    return (folder / "report.pdf").read_bytes()


@pytest.fixture
def many(monkeypatch):
    """Take two lines as many, and give the names of those whose pages this process draws ahead."""
    names, line_page = [], pages_ahead.line_page

    def counted(view, *given, **more):
        if not names:
            time.sleep(0.3)  # meanwhile the processes are given their lines
        names.append(view.line_id)
        return line_page(view, *given, **more)

    monkeypatch.setattr(pages_ahead, "line_page", counted)
    monkeypatch.setattr(pages_ahead, "LEAST_LINES", 2)
    monkeypatch.setattr(pages_ahead, "_GROUP", 1)
    return names


def test_pages_drawn_in_processes_are_the_same(tmp_path, many, drawn):
    result = names_of_europe()
    alone, together = (replace(result, kept=kept_of(result)) for _ in range(2))
    fresh = pdf(tmp_path / "one", alone)
    drawn.clear()
    assert pdf(tmp_path / "two", together, workers=2) == fresh
    assert 0 < len(many) < len(NAMES)
    assert drawn == [NAMES[4]]  # its characters have codes of this report alone
    assert together.kept.pieces == alone.kept.pieces


def test_this_process_draws_all_where_no_other_can_be_started(tmp_path, many, monkeypatch):
    def refused(*_, **__):
        raise OSError("no more processes")

    monkeypatch.setattr(pages_ahead, "ProcessPoolExecutor", refused)
    result = names_of_europe()
    assert pdf(tmp_path / "two", result, workers=2) == pdf(tmp_path / "one", result)
    assert len(many) == len(NAMES)


def in_reverse(result):
    """Give the result with the last lines first."""
    lines = result.layers["lines"]
    return result.adding({"lines": lines.assign(priority=lines["priority"].to_numpy()[::-1])})


def test_the_report_is_the_same_with_no_all_some_and_damaged_pages(result, tmp_path, drawn):
    fresh, kept = pdf(tmp_path / "fresh", result), kept_of(result)
    with_kept = replace(result, kept=kept)
    assert pdf(tmp_path / "first", with_kept) == fresh
    count = len(set(drawn))
    drawn.clear()
    assert pdf(tmp_path / "again", with_kept) == fresh
    assert drawn == [name for name in NAMES[4:] if name in {*result.job.routes["line_id"]}]
    spoil(kept.pieces)
    assert pdf(tmp_path / "some", with_kept) == fresh
    assert len(drawn) > count / 3


def test_changed_lines_alone_are_drawn_and_the_order_is_that_of_this_run(tmp_path, drawn):
    before, kept = names_of_europe(), kept_of(names_of_europe())
    pdf(tmp_path / "before", replace(before, kept=kept))
    after = in_reverse(changed(before, "1"))
    drawn.clear()
    now = replace(kept_of(after, _1="b"), pieces=kept.pieces)
    updated = pdf(tmp_path / "now", replace(after, kept=now))
    assert sorted(drawn) == [NAMES[0], NAMES[4]]
    assert updated == pdf(tmp_path / "fresh", after)


def test_the_most_urgent_of_other_lines(tmp_path, drawn):
    result, kept = many_lines(12), kept_of(many_lines(12))
    pdf(tmp_path / "before", replace(result, kept=kept), lines=7)
    after = in_reverse(result)
    drawn.clear()
    updated = pdf(tmp_path / "now", replace(after, kept=kept), lines=7)
    assert len(drawn) == 5
    assert updated == pdf(tmp_path / "fresh", after, lines=7)


def with_utilities(result, utilities):
    return replace(result, job=replace(result.job, utilities=utilities))


def moved_pipe(result, by_m=0.4):
    """Give the result with the gas pipe, the first of the utilities, moved along the lines."""
    pipes = result.job.utilities
    shapes = pipes.geometry.where(np.arange(len(pipes)) > 0, pipes.translate(0, by_m))
    return with_utilities(result, pipes.set_geometry(shapes))


def other_kind(result):
    pipes = result.job.utilities
    return with_utilities(result, pipes.assign(kind=pipes["kind"].replace("electric", "unknown")))


def without_step(result):
    return replace(result, layers={n: f for n, f in result.items() if n != "dig_zones"})


def other_crs(result):
    return replace(result, job=replace(result.job, output_crs=result.job.crs))


@pytest.mark.parametrize("change", [
    {"units": "us"}, {"language": "es"}, without_step, other_crs, other_kind, moved_pipe,
])  # fmt: skip
def test_what_a_page_shows_beside_its_line_makes_it_another(change, tmp_path, drawn):
    result, kept = names_of_europe(), kept_of(names_of_europe())
    pdf(tmp_path / "before", replace(result, kept=kept))
    result, how = (result, change) if isinstance(change, dict) else (change(result), {})
    fresh = pdf(tmp_path / "fresh", result, **how)
    drawn.clear()
    assert pdf(tmp_path / "kept", replace(result, kept=kept), **how) == fresh
    assert len(drawn) == len(NAMES)


def test_a_utility_out_of_sight_changes_no_page(tmp_path, drawn):
    result, kept = moved_pipe(many_lines(6), 500.0), kept_of(many_lines(6))
    pdf(tmp_path / "before", replace(result, kept=kept))
    drawn.clear()
    other = moved_pipe(result, 500.0)
    assert pdf(tmp_path / "kept", replace(other, kept=kept)) == pdf(tmp_path / "fresh", other)
    assert len(drawn) == 6  # those of the fresh report


def test_the_preset_has_the_same_codes_in_both_fonts():
    assert {ord(c) for c in PRESET} <= register_fonts()
    page = Canvas(None)
    fix_codes(page._doc)
    one, other = (pdfmetrics.getFont(n).splitString(PRESET, page._doc) for n in (REGULAR, BOLD))
    assert one == other
    assert len(one) == 1  # in one file for each font


def texts_in(path: Path) -> str:
    """Return the texts in a module, without its docstrings."""
    tree = ast.parse(path.read_text("utf-8"))
    told = {inspect.cleandoc(node.value.value) for node in ast.walk(tree)
            if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
            and isinstance(node.value.value, str)}  # fmt: skip
    found = [node.value for node in ast.walk(tree)
             if isinstance(node, ast.Constant) and isinstance(node.value, str)]  # fmt: skip
    return "".join(text for text in found if inspect.cleandoc(text) not in told)


def test_the_preset_has_all_that_our_own_texts_have():
    package = Path(leakgeo.__file__).parent
    own = [path.read_text("utf-8") for path in (package / "wording").rglob("*.ftl")]
    own += [texts_in(path) for folder in ("report", "views")
            for path in (package / "deliver" / folder).glob("*.py")
            if path.name != "fonts.py"]  # fmt: skip
    used = {c for text in own for c in text if not c.isascii()}
    assert len(used) > 10
    assert used <= {*PRESET, "\u2026", "\u25a1"}
