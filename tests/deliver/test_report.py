"""The PDF report: what a foreman reads in it, and that it holds together."""

import io
import itertools
import os
import re
import shutil
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pypdf
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from reportlab import rl_config
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import SimpleDocTemplate, Spacer
from shapely import LineString, Point, Polygon

from leakgeo.deliver.report.document import BASE
from leakgeo.deliver.report.fonts import (
    LACKING,
    LEAST_SIZE,
    REGULAR,
    drawn,
    fitted,
    lacks_shapes,
    para,
    register_fonts,
)
from leakgeo.deliver.report.parameters import parameters_in_force
from leakgeo.deliver.report.parts import grid, heading
from leakgeo.deliver.report.pen import Pen
from leakgeo.deliver.report.sheet import Box, Ink, Lines, Sheet
from leakgeo.deliver.report.sketch import Size
from leakgeo.deliver.report.tie_sketch import tie_sketch
from leakgeo.deliver.report.write import write_report
from leakgeo.deliver.views.line_view import line_views
from leakgeo.deliver.views.locate_request import Tie
from leakgeo.errors import ParameterError
from leakgeo.options import ALL_LINES
from leakgeo.reason import Reason, columns_of
from leakgeo.result import Result
from leakgeo.steps import CLEARANCE
from leakgeo.wording import languages, wording
from tests.deliver.fixture import (
    STREET,
    as_given,
    holds_of,
    hostile_street,
    many_lines,
    street,
    utility,
)


def pdf(folder, result, units="us", report_lines=None) -> pypdf.PdfReader:
    assert (
        write_report(
            result,
            out=folder,
            units=units,
            language="en",
            report_lines=report_lines,
            workers=1,
            **ALL_LINES,
        )
        is result
    )
    return pypdf.PdfReader(io.BytesIO((folder / "report.pdf").read_bytes()))


def said(reader) -> list[str]:
    return [re.sub(r"\s+", " ", page.extract_text()) for page in reader.pages]


def test_overview_lists_every_line_and_what_it_rests_on(tmp_path):
    first = said(pdf(tmp_path, street()))[0]
    for name in ("Alder 12", "Alder 14", "Ulica Źródlana 3", "Οδός Ερμού 7", "улица Садовая 9"):
        assert name in first
    for part in (
        "6 lines: mark set 2 (1 held); keep listening 1", "164 readings: 158 used, 6 not used",
        "Only two usable readings", "simulated_street.gpkg", "Indiana West",
        "Nothing recorded here clears the dig.",
    ):  # fmt: skip
        assert part in first


def test_page_of_a_mark_tells_where_and_how_sure_and_the_sheet_what_holds(tmp_path):
    page, sheet = said(pdf(tmp_path, street()))[1:3]
    for part in (
        "Alder 12", "HOLD", "Mark at 46 ft 7 in from the start", "87 % that there is a leak within",
        "2 ft 5 in", "81 % that there is a leak within one foot of the mark", "1,100 gallons a day",
        "US survey foot", "distance from the start, ft", "Nothing recorded here clears the dig.",
    ):  # fmt: skip
        assert part in page
    for part in (
        "Dig sheet: Alder 12", "HOLD", "Mark 46 ft 7 in from", "Dig depth 5 ft 3 in",
        "electric U-E1 (Northlight Power): its owner has not answered",
        "GAS U-G1 (Northlight Gas): the hole is inside its tolerance zone",
        "5 ft 3 in deep", "keep spoil 2 ft or more from the edge",
        "Competent person", "Dig ticket number",
        "Utility in conflict Clearance How close Answer To do",
        "Nothing recorded here clears the dig.",
    ):  # fmt: skip
        assert part in sheet


def test_sheets_begin_with_the_card_and_say_where_when_and_which_run(tmp_path):
    result = street()
    lines = result["lines"].assign(
        **columns_of("held_by", [Reason("held_by_paperwork")] * len(result["lines"])),
        **columns_of("next_action", [Reason("do_probe_depth")] * len(result["lines"])),
    )
    utilities = result.job.utilities.assign(response_time="2026-03-01T08:00:00Z")
    routes = result.job.routes.assign(address="12 Alder Street", work_order="WO-7")
    job = replace(result.job, routes=routes, utilities=utilities)
    result = replace(result, job=job).adding({"lines": lines})
    for page in said(pdf(tmp_path, result))[1:3]:
        card = page[page.index("Mark set") :][:300]
        assert re.search(r"HOLD: tickets are not complete .*Next: probe how deep .*"
                         "Nothing here clears the dig", card)  # fmt: skip
        assert page.count("Mark 46 ft 7 in from") == 1
        assert "12 Alder Street" in page
        assert "Work order WO-7" in page
        assert "Holds as recorded at 2026-03-01 08:00 UTC" in page
        assert f"Run {result.run_id}" in page
    assert "no answer is dated" in said(pdf(tmp_path / "other", street()))[2]


def test_a_mark_that_the_table_of_lines_has_no_hold_for_names_its_holds_on_the_card(tmp_path):
    pages = said(pdf(tmp_path, street()))
    on_card = "HOLD: electric U-E1 (Northlight Power); GAS U-G1 (Northlight Gas)"
    assert [on_card in page for page in pages[1:3]] == [True, True]
    assert not any(re.search(r"HOLD(?!:)", page) for page in pages[1:])


def test_no_type_of_a_crowded_sheet_is_smaller_than_can_be_read(tmp_path):
    holds = [Reason("no_answer", utility=utility("gas", f"U-{k}", "Gas " * 9)) for k in range(40)]
    reader = pdf(tmp_path, street().adding({"holds": holds_of("Alder 12", holds)}))
    sizes = set()
    for page in reader.pages:
        page.extract_text(visitor_text=lambda text, *look: sizes.add(text.strip() and look[-1]))
    assert min(size for size in sizes if size) >= LEAST_SIZE


def test_parameters_stand_after_the_lines_in_words_and_in_the_units_of_the_reader(tmp_path):
    result = replace(street(), parameters={
        "locate": {"leak_prior": 0.9, "most_over_kpa": 68.95, "workers": 2, "constants": None},
        "survey": {"route_sd_m": 0.3, "of_another_package": True},
        "profile": {"route_sd_m": 0.3},
    })  # fmt: skip
    assert parameters_in_force(result, wording("us")) == [
        ("Probability, before listening, that a walked line has a leak", "0.9", "locate"),
        ("Reject readings with air at more than this above the line's own pressure", "10 psi",
         "locate"),
        ("Trace error of routes without one (1-sigma)", "1 ft", "survey, profile"),
        ("of another package", "yes", "survey"),
    ]  # fmt: skip
    assert parameters_in_force(result, wording())[2][1] == "0.3 m"
    *others, last = said(pdf(tmp_path, result))
    assert len(others) == 7
    assert "Trace error of routes without one (1-sigma) 1 ft survey, profile" in last
    assert "a walked line has a leak 0.9" in last
    assert "route_sd_m" not in last
    assert not any("1-sigma" in page for page in others)


def test_dig_sheet_has_a_sketch_with_the_ties_in_type_that_can_be_read(tmp_path):
    result = CLEARANCE(street())
    ties = line_views(result, "us")[0].request.ties
    reader = pdf(tmp_path, result)
    pages = said(reader)
    number = next(k for k, page in enumerate(pages) if "Dig sheet:" in page)
    sheet = "".join(page for page in pages if "Dig sheet: Alder 12" in page)
    for name, distance, _ in (tie.texts(wording("us")) for tie in ties):
        assert sheet.count(distance) >= 2, sheet  # in the table and on the sketch
        assert sheet.count(name) >= 2
    assert sheet.count("true N") == 1
    caption, key = (wording().term(f"report_{one}_key")[:20] for one in ("ties", "plan"))
    sizes = {}
    for page in reader.pages[number - 1 : number + 2]:
        page.extract_text(visitor_text=lambda text, *look: sizes.setdefault(text.strip(), look[-1]))
    small = {text for text, size in sizes.items() if size < 7}
    assert not any(part in text for text in small for part in (caption, key, "true N"))
    assert any(key in text for text in sizes)
    drawn = tie_sketch(line_views(result, "us")[0], "us", Size(200, 120))
    places = np.concatenate([p for s in drawn.contents if isinstance(s, Lines) for p in s.pieces])
    assert np.all((places > 0) & (places < 200))


@pytest.mark.parametrize("language", languages())
def test_the_caution_and_the_number_of_the_page_do_not_meet(tmp_path, language):
    write_report(street(), out=tmp_path, units="si", language=language, report_lines=1, workers=1,
                 **ALL_LINES)  # fmt: skip
    found = []

    def keep(text, cm, tm, _font, _size):
        x, y = cm[4] + tm[4], cm[5] + tm[5]
        if text.strip() and y < BASE:
            found.append((round(y, 1), x, text.strip()))

    pypdf.PdfReader(tmp_path / "report.pdf").pages[1].extract_text(visitor_text=keep)
    rows = {y: sorted(f[1:] for f in found if f[0] == y) for y, *_ in found}
    assert any(len(row) == 2 for row in rows.values())
    for row in rows.values():
        for (x, text), (right, _) in pairwise(row):
            assert x + stringWidth(text, REGULAR, 7.5) < right, text


def test_metres_where_metres_are_asked_for(tmp_path):
    page = said(pdf(tmp_path, street(), "si"))[1]
    assert "Mark at 14.20 m from the start" in page
    assert "within 0.30 m (one foot) of the mark" in page
    assert not re.search(r"\d ft \d", page)


def test_ready_never_stands_alone_and_nothing_is_called_free_of_danger(tmp_path):
    pages = said(pdf(tmp_path, street()))
    ready = next(p for p in pages if p.startswith("Alder 14") or "Alder 14 Mark set" in p)
    assert "No hold recorded" in ready
    assert "Nothing recorded here clears the dig." in ready
    assert all("safe" not in page.lower() for page in pages)


def test_a_page_for_each_line_with_a_place(tmp_path):
    """The cover, two marks with a dig sheet each, two lines with zones alone, parameters."""
    assert len(pdf(tmp_path, street()).pages) == 8


def more_known():
    """Give the street with a meter test, an air test, improvements, a prior and a calibration."""
    result = street()
    lines = result["lines"].assign(prior="4 joints or fittings", calibration_exponent=0.84)
    meters = pd.DataFrame({
        "line_id": ["Alder 12", "Alder 14"], "verdict": ["loss_shown", "none_within_resolution"],
        "loss_l_per_day": [3785.4, 0.0], "cost_per_year": [3456.0, 0.0], "currency": "USD",
        **columns_of("message", [
            Reason("loss_and_hole", loss_l=3785.4, low_l=3785.4, high_l=3785.4, hole_mm=2.0,
                   pressure_kpa=390.0), as_given("No loss.")]),
    })  # fmt: skip
    air = (
        result["marks"]
        .iloc[:1]
        .assign(role="mark", **columns_of("message", [Reason("air_confirmed")]))
    )
    improvements = pd.DataFrame({
        "line_id": "Alder 12", "order": [3, 1, 2], "improvement": "night",
        **columns_of("message", [as_given("Third of all."),
                                 Reason("effect_less", before_m=0.61, after_m=0.3048),
                                 as_given("Second.")]),
        "expected_sd_before_m": 0.61, "expected_sd_after_m": [0.5, 0.3, 0.4],
    })  # fmt: skip
    return result.adding(
        {"lines": lines, "meter_results": meters, "air_tests": air, "improvements": improvements}
    )


def test_page_tells_loss_cost_air_improvements_prior_and_calibration(tmp_path):
    cover, page = said(pdf(tmp_path, more_known()))[:2]
    for part in (
        "Loses 1,000 gallons a day, like a hole of 0.079 in at 57 psi.",
        "At this rate it costs 3,456 USD a year.",
        "Air test near the mark, 46 ft 7 in The sound here follows",
        "likelier from the start, by 4 joints or fittings", "widened by what earlier digs found",
        "from 2 ft to 1 ft", "Second.",
    ):  # fmt: skip
        assert part in page
    assert "Third of all" not in page
    assert "Meters of 2 lines were tested: 1 show a loss, together 1,000 gallons" in cover
    assert "A calibration by earlier digs is in the odds of 6 lines (power 0.84)." in cover


def test_only_the_most_urgent_lines_have_pages_where_that_is_asked_for(tmp_path):
    pages = said(pdf(tmp_path, street(), report_lines=1))
    assert len(pages) == 4
    some = "Only the 1 most urgent of 4 lines with a mark or a zone are in this report; 3 more, and"
    assert some in pages[0]
    assert "6 lines: mark set 2" in pages[0]
    assert "Alder 14" not in "".join(pages)
    assert "Alder 12" in pages[1]
    whole = said(pdf(tmp_path, street(), report_lines=4))
    assert "Only the" not in whole[0]
    assert "Alder 14" in whole[0]


@pytest.mark.parametrize("count", [1, 8, 20, 24, 28])
@pytest.mark.parametrize("units", ["us", "si"])
def test_a_line_to_listen_at_more_is_one_page_while_its_type_fits(tmp_path, count, units):
    result = more_known()
    line = result["lines"].query("status == 'ambiguous'")["line_id"].iloc[0]
    stops = (
        result["next_readings"]
        .iloc[[0] * count]
        .assign(
            line_id=line,
            order=range(1, count + 1),
            chainage_m=[1.5 * k for k in range(count)],
            **columns_of("reason", [as_given("simulated stop")] * count),
        )
    )
    pages = said(pdf(tmp_path, result.adding({"next_readings": stops}), units))
    # A table too long for its page in type that can be read goes on overleaf.
    assert len(pages) == (9 if count == 28 else 8)
    (first,) = [k for k, page in enumerate(pages) if "Where to listen next" in page]
    assert "".join(pages[first : first + 2]).count("simulated stop") == count


@pytest.mark.parametrize("count", [1, 5, 10, 16])
def test_a_dig_sheet_is_one_page(tmp_path, count):
    result = street()
    named = [utility("electric", f"U-{k}", "Northlight Power") for k in range(count)]
    holds = [Reason("position_not_known", utility=name) for name in named]
    pages = said(pdf(tmp_path, result.adding({"holds": holds_of("Alder 12", holds)})))
    assert len(pages) == 8
    sheet = next(page for page in pages if "Dig sheet: Alder 12" in page)
    assert f"U-{count - 1} (" in sheet
    assert "Competent person" in sheet


def test_a_simulated_job_says_so_on_every_page(tmp_path):
    result = street()
    job = replace(result.job, simulated="Simulated: invented.")
    pages = said(pdf(tmp_path, replace(result, job=job)))
    assert all("Simulated: invented." in page for page in pages)
    assert not any("Simulated" in page for page in said(pdf(tmp_path, street())))


def test_hostile_text_is_printed_as_it_stands(tmp_path):
    text = "".join(said(pdf(tmp_path, hostile_street(), "si")))
    assert "{{7*7}}" in text
    assert "<b>" in text
    assert "onerror=window.hit=1>" in text.replace(" ", "")


def test_same_result_same_bytes(tmp_path):
    for name in "ab":
        write_report(
            street(),
            out=tmp_path / name,
            units="si",
            language="en",
            report_lines=None,
            workers=1,
            **ALL_LINES,
        )
    first, second = ((tmp_path / n / "report.pdf").read_bytes() for n in "ab")
    assert first == second


@pytest.mark.parametrize("make", [street, hostile_street])
@pytest.mark.parametrize("units", ["si", "us"])
def test_all_text_is_on_the_paper(tmp_path, make, units):
    for page in pdf(tmp_path, make(), units).pages:
        width, height = (float(v) for v in page.mediabox[2:])

        def place(text, cm, tm, _font, size, width=width, height=height):
            x, y = np.array([tm[4], tm[5], 1]) @ np.reshape(np.r_[cm, 0], (-1,))[:6].reshape(3, 2)
            if text.strip():
                assert 0 < x < width - 10, (text, x)
                assert 10 < y < height - 10, (text, y)

        page.extract_text(visitor_text=place)


@pytest.mark.parametrize(
    ("name", "how"),
    [*((name, "absent") for name in street().layers), (None, "absent"), (None, "empty")],
)
def test_any_layer_may_be_absent_or_empty(tmp_path, name, how):
    result = street()
    names = [name] if name else list(result.layers)
    rest = {k: v for k, v in result.layers.items() if k not in names}
    empty = {k: v.iloc[:0] for k, v in result.layers.items() if k in names}
    pages = said(
        pdf(tmp_path, replace(result, layers=rest if how == "absent" else {**rest, **empty}))
    )
    assert "Alder 12" in pages[0]
    if name == "dig_zones":
        assert "Clearance was not checked" in pages[0]


def test_job_without_any_feature_still_gives_a_report(tmp_path):
    job = street().job
    bare = replace(job, routes=job.routes.iloc[:0], readings=job.readings.iloc[:0], utilities=None)
    assert "0 lines" in said(pdf(tmp_path, Result(bare)))[0]


def test_long_lists_of_holds_run_on_to_another_page(tmp_path):
    result = street()
    many = [as_given(f"no answer from utility number {k}") for k in range(90)]
    pages = "".join(said(pdf(tmp_path, result.adding({"holds": holds_of("Alder 12", many)}))))
    assert all(f"number {k}" in pages for k in range(90))
    assert "86 more on its page" in pages


def test_text_of_any_length_gets_its_page(tmp_path):
    result = street()
    layers = dict(result.layers)
    long = as_given("word " * 1500)
    for name, text in (("lines", "message"), ("cautions", "message"), ("holds", "message"),
                       ("conflicts", "action"), ("next_readings", "reason")):  # fmt: skip
        layers[name] = layers[name].assign(**columns_of(text, [long] * len(layers[name])))
    reader = pdf(tmp_path, replace(result, layers=layers))
    assert "".join(said(reader)).count("word") >= 1500


def test_names_of_any_length_get_their_page(tmp_path):
    names = {f"{k}{'n' * 900}": line for k, line in enumerate(STREET.values())}
    assert "nnn" in said(pdf(tmp_path, street(names)))[1]


@pytest.mark.parametrize("above", range(560, 712, 19))
def test_a_row_and_the_heading_of_its_table_are_on_one_page(tmp_path, above):
    rows = [(f"first{k} " + "words " * 60 + f"last{k}",) for k in range(3)]
    table = grid(("Heads",), rows, [200.0])
    path = tmp_path / "table.pdf"
    SimpleDocTemplate(str(path), topMargin=40, bottomMargin=40).build(
        [Spacer(1, above), *heading("Title", table), *table]
    )
    pages = said(pypdf.PdfReader(path))
    for page in pages:
        assert page.count("Heads") <= 1
        assert all((f"first{k}" in page) == (f"last{k}" in page) for k in range(3))
        assert ("Title" in page) <= ("first0" in page)
    assert sum(page.count("last") for page in pages) == 3


def test_many_lines_run_over_many_pages(tmp_path):
    reader = pdf(tmp_path, many_lines(20))
    assert "20 lines: mark set 10 (10 held)" in said(reader)[0]
    assert len(reader.pages) >= 21


def test_no_folder_is_an_error():
    with pytest.raises(ParameterError, match="name the folder"):
        write_report(
            street(), out=None, units="si", language="en", report_lines=None, workers=1, **ALL_LINES
        )


def test_scripts_that_the_font_has_are_drawn_and_the_rest_is_said(tmp_path):
    assert not any(lacks_shapes(drawn(name)) for name in STREET)
    # Arabic joins: isolated letters become presentation forms, last letter first on paper
    assert drawn("شارع") == "\ufec9\ufead\ufe8e\ufeb7"
    names = {f"水道 {k}": line for k, line in enumerate(STREET.values())}
    page = said(pdf(tmp_path, street(names)))[0]
    assert f"{LACKING}{LACKING} 0" in page
    assert "font lacks" in page


SHAPES = st.sampled_from(["LineString", "Polygon", "Point"])


@settings(max_examples=60)
@given(st.lists(st.tuples(st.floats(-9, 9), st.floats(-9, 9)), min_size=4, max_size=7), SHAPES)
@example([(0.0, 0.0), (0.0, 9.562310931202973e-52), (1.0, 3.0), (0.0, 0.0)], "LineString")
def test_pen_stays_on_the_paper_whatever_it_draws(xy, kind):
    sheet = Sheet(100, 50)
    pen = Pen((0, 0, 4, 2), (0, 0, 100, 50), sheet)
    shape = {"LineString": LineString(xy), "Polygon": Polygon(xy).buffer(0), "Point": Point(xy[0])}[
        kind
    ]
    pen.line(shape, "#123456", 1)
    pen.area(shape, "#123456", 0.5)
    if kind == "Polygon":
        pen.hatch(shape, "#123456", 0.3)
    places = np.reshape([p for shape in sheet.contents for piece in shape.pieces for p in piece],
                        (-1, 2))  # fmt: skip
    assert np.all((places >= -1e-6) & (places <= [100 + 1e-6, 50 + 1e-6]))


def test_each_area_has_its_own_opacity():
    sheet, given_ = Sheet(100, 50), (0.1, 0.1, 1.0, 0.4)
    for opacity, colour in zip(given_, ("#123456", "#654321", "#123456", "#123456"), strict=True):
        sheet.box(0, 0, 10, 10, Ink(fill=colour, opacity=opacity))
    page = Canvas(io.BytesIO())
    sheet.drawOn(page, 0, 0)
    values = {name: value for (_, value), name in page._extgstate._c.items()}
    shown, now = [], 1.0
    for name, area in re.findall(r"/(\w+) gs|( re f)", " ".join(page._code)):
        now = values.get(name, now)
        shown += [now] if area else []
    assert tuple(shown) == given_


@settings(max_examples=60)
@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=30))
def test_any_text_can_be_set(text):
    para(text).wrap(200, 200)
    assert not lacks_shapes(drawn(text))
    assert len(fitted(text, "DejaVuSans", 7, 40)) <= len(drawn(text)) + 1


@pytest.mark.pdf
def test_pages_have_ink_where_the_plan_and_the_plot_are(tmp_path):
    if not shutil.which("pdftoppm"):
        (pytest.fail if os.environ.get("CI") else pytest.skip)("poppler-utils is not installed")
    image = pytest.importorskip("PIL.Image")
    write_report(
        street(), out=tmp_path, units="us", language="en", report_lines=None, workers=1, **ALL_LINES
    )
    subprocess.run(
        ["pdftoppm", "-r", "40", "-f", "2", "-l", "2", "-png", "report.pdf", "page"],
        cwd=tmp_path, check=True,
    )  # fmt: skip
    page = np.asarray(image.open(next(tmp_path.glob("page*.png"))).convert("RGB")).astype(int)
    pink = (page[..., 0] > 150) & (page[..., 1] < 130) & (page[..., 2] > 110)
    assert pink[: page.shape[0] // 2].sum() > 50  # the zone on the plan
    assert pink[page.shape[0] // 2 :].sum() > 20  # the leak density


def test_reports_made_at_once_are_those_made_alone(tmp_path):
    """The library of the pages keeps fonts, paragraphs and settings of its own for all threads."""
    jobs = [(street(), "us"), (street(), "si"), (many_lines(12), "us"), (hostile_street(), "si")]
    switch, start = sys.getswitchinterval(), threading.Barrier(len(jobs))

    def made(folder, result, units, wait=lambda: None):
        folder.mkdir()
        wait()
        write_report(
            result,
            out=folder,
            units=units,
            language="en",
            report_lines=None,
            workers=1,
            **ALL_LINES,
        )
        return (folder / "report.pdf").read_bytes()

    alone = [made(tmp_path / f"alone {k}", *job) for k, job in enumerate(jobs)]
    sys.setswitchinterval(1e-5)  # so that threads take turns within a page
    try:
        with ThreadPoolExecutor(len(jobs)) as pool:
            works = [pool.submit(made, tmp_path / str(k), *job, start.wait)
                     for k, job in enumerate(jobs)]  # fmt: skip
            assert [work.result() for work in works] == alone
    finally:
        sys.setswitchinterval(switch)
    assert rl_config.useA85


@pytest.mark.parametrize("bearing_deg", [90.0, 0.0, 30.0])
def test_labels_of_ties_in_one_line_do_not_overlap(bearing_deg):
    view = line_views(street(), "us")[0]
    named = (("curb stop CS-414", 6.2, 0), ("meter M-414", 3.1, 0), ("hose bib HB-414", 9.4, 180))
    ties = tuple(Tie(name, False, far, bearing_deg + turned) for name, far, turned in named)
    shown = SimpleNamespace(
        request=SimpleNamespace(ties=ties), wording=view.wording, mark={"azimuth_deg": bearing_deg}
    )
    register_fonts()
    drawn = tie_sketch(shown, "us", Size(400, 150))
    labels = [s for s in drawn.contents if isinstance(s, Box) and s.height == 9]
    assert len(labels) == 6
    for one, other in itertools.combinations(labels, 2):
        apart_x = abs(one.x + one.width / 2 - other.x - other.width / 2)
        assert apart_x >= (one.width + other.width) / 2 - 0.1 or abs(one.y - other.y) >= 9 - 0.1, (
            one,
            other,
        )
