"""The shipped town: terminal, map, report, layers and summary say the same of each line."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from pypdf import PdfReader

from leakgeo.cli.console import Console
from leakgeo.cli.document import lines_of
from leakgeo.cli.summary import print_result
from leakgeo.conversion import FOOT_M
from leakgeo.deliver.folder.spreadsheets import faults_list, summary_table
from leakgeo.deliver.report.write import write_report
from leakgeo.options import ALL_LINES
from leakgeo.wording.quantities import loss_text, odds_text, percent, tape_text
from tests.deliver.shown import map_data
from tests.deliver.test_map import data_in
from tests.town import layers

WANT_MORE = ("keep_listening", "ambiguous")
# Pages before those of the lines.
OVERVIEW_PAGES = 3
# Actions at the stops of next_readings.
LISTENING = ("listen", "walk_on")


@pytest.fixture(autouse=True)
def _every_line_on_the_terminal(monkeypatch):
    monkeypatch.setattr("leakgeo.cli.summary.MAX_SHOWN", 1000)


@pytest.fixture(scope="module", name="said")
def _said(town):
    """What each product says, by line: layers, map, summary; pages of the report; the terminal."""
    result, out = town
    stored = layers(out / "result.gpkg")
    pages = [
        re.sub(r"\s+", " ", page.extract_text()) for page in PdfReader(out / "report.pdf").pages
    ]
    return {
        "result": result,
        "stored": stored,
        "lines": stored["lines"].set_index("line_id"),
        "marks": stored["marks"].set_index("line_id"),
        "zones": dict(list(stored["search_zones"].groupby("line_id"))),
        "map": {line["id"]: line for line in data_in((out / "map.html").read_text())["lines"]},
        "summary": pd.read_csv(out / "summary.csv", encoding="utf-8-sig").set_index("line_id"),
        "pages": pages,
        "out": out,
    }


def page_of(said, name: str) -> str:
    """Give the page of a line with a mark, or else of the list of those without."""
    own = [page for page in said["pages"] if re.search(rf"readings\. page \d+ {name} ", page)]
    return own[0] if own else "".join(said["pages"][:OVERVIEW_PAGES])


def cards(text):
    """Return what the terminal shows of each line."""
    parts = re.split(r"\n(?=\S)", text)
    return {part.split(maxsplit=1)[0]: " ".join(part.split()) for part in parts if part.strip()}


def test_probabilities_are_those_of_the_layers_in_every_product(said, capsys):
    print_result(Console(), said["result"], said["out"], "us")
    terminal = cards(capsys.readouterr().out)
    document = {line["line_id"]: line for line in lines_of(said["result"].worded("us"))}
    assert set(said["lines"].index) == set(said["map"]) == set(said["summary"].index)
    for name, row in said["lines"].iterrows():
        shown, page = said["map"][name], page_of(said, name)
        on_line = f"{percent(row['leak_probability'])} that there is a leak on this line"
        summary = said["summary"].loc[name]
        if name not in said["marks"].index:
            assert on_line.casefold() in terminal[name].casefold()
        assert document[name]["leak_probability"] == row["leak_probability"]
        clipped = np.clip(row["leak_probability"], 0.001, 0.999)
        assert summary["leak_probability"] == pytest.approx(clipped, abs=5.1e-4)
        for text in (page, *shown["odds"][-1:]):
            assert on_line.casefold() in text.casefold(), name
        if name not in said["marks"].index:
            assert len(shown["odds"]) == 1
            assert shown["mark"] is None
            continue
        near = said["marks"].loc[name, "probability_within_1ft"]
        spot = "the mark" if row["status"] == "located" else "the likeliest place"
        within = f"{percent(near)} that there is a leak within"
        assert f"{odds_text(near)} that the leak is within one foot" in terminal[name]
        assert f"{within} one foot of {spot}".casefold() in shown["odds"][-2].casefold()
        assert document[name]["mark"]["probability_within_1ft"] == near
        assert summary["probability_within_1ft"] == pytest.approx(
            np.clip(near, 0.001, 0.999), abs=5.1e-4
        )
        zones = said["zones"][name].sort_values("rank")
        here = zones["probability_leak_here"]
        assert here.to_numpy() == pytest.approx(
            zones["probability"].to_numpy() * row["leak_probability"], rel=1e-12
        )
        assert summary["probability_in_zones"] == pytest.approx(
            np.clip(here.sum(), 0.001, 0.999), abs=5.1e-4
        )
        for zone, sentence, area in zip(here[:8], shown["odds"], shown["zones"], strict=False):
            start = f"{percent(zone)} that there is a leak within these"
            assert sentence.lower().startswith(start.lower())
            assert area["odds"] == f"{percent(zone)} that there is a leak in it"
        for sentence in (*shown["odds"], shown["error"]):
            assert sentence in page, name
        # The likeliest place of a foot about the mark holds no more than the line does.
        assert near <= row["leak_probability"]
        assert here.sum() <= row["leak_probability"]


def test_the_card_on_the_map_is_that_of_the_terminal(said, capsys):
    print_result(Console(), said["result"], said["out"], "us")
    terminal = cards(capsys.readouterr().out)
    for name, row in said["lines"].iterrows():
        card = said["map"][name]["card"]
        words = " ".join(part for part in (name, card["held"], card["where"], card["next"]) if part)
        assert words in terminal[name]
        assert (card["held"] != "") == (row["status"] == "located")
        assert ("Nothing here clears the dig." in card["next"]) == (row["status"] == "located")


def test_places_are_those_of_the_layers_in_every_product(said, capsys):
    print_result(Console(), said["result"], said["out"], "us")
    terminal = cards(capsys.readouterr().out)
    document = {line["line_id"]: line for line in lines_of(said["result"].worded("us"))}
    for name, mark in said["marks"].iterrows():
        shown, page, summary = said["map"][name], page_of(said, name), said["summary"].loc[name]
        at = tape_text(mark["chainage_m"], "us")
        taped = tape_text(mark["from_fitting_m"], "us")
        assert f"{taped} from {mark['from_fitting']}" in terminal[name]
        assert f"at {at} from the start" in shown["where"]
        assert shown["where"] in page
        assert summary["chainage_ft"] == pytest.approx(mark["chainage_m"] / FOOT_M, abs=5.1e-4)
        degrees = f"{summary['latitude']:.5f}, {summary['longitude']:.5f}"
        # The town's datum is known to four metres: five decimals, and no more, wherever it is.
        assert f"Latitude, longitude: {degrees}" in shown["mark"]["spots"]
        assert degrees in page
        own = document[name]["mark"]
        assert (own["latitude"], own["longitude"]) == (summary["latitude"], summary["longitude"])
        for text in (page, *shown["mark"]["spots"]):
            assert not re.search(r"\d\.\d{6,}", text)


def test_advice_is_one_next_action_and_the_same_in_every_product(said, capsys):
    print_result(Console(), said["result"], said["out"], "us")
    terminal = cards(capsys.readouterr().out)
    stops = said["stored"]["next_readings"].groupby("line_id")["chainage_m"].size()
    actions = dict(list(said["stored"]["next_actions"].sort_values("order").groupby("line_id")))
    for name, row in said["lines"].iterrows():
        advice = row["advice"]
        shown, page = said["map"][name], page_of(said, name)
        assert shown["advice"] == advice == said["summary"].loc[name, "advice"]
        assert (f"Next: {advice}" in terminal[name]) == (row["status"] != "located")
        assert len(shown["next"]) == stops.get(name, 0)
        own = actions.get(name, pd.DataFrame({"action": [], "message": []}))
        assert own["action"].isin(LISTENING).any() == bool(shown["next"])
        everything = " ".join(
            [row["message"], shown["limit"], *shown["improvements"], advice, page]
        )
        if not shown["next"]:
            # Nothing tells to listen closer, or once more at these stops, where that gains nothing.
            assert "Listen at one-foot steps" not in everything
            assert "listen once more" not in page
        if advice.startswith("Enough"):
            assert shown["improvements"] == []
        for message in own["message"][:1]:
            assert message.partition(". ")[0] in advice
        found = re.search(r"shrink by (\d+) %", advice)
        assert found is None or int(found[1]) >= 5


def test_next_actions_are_those_of_the_layer(said):
    actions = said["stored"]["next_actions"].sort_values("order").groupby("line_id")
    tables = 0
    for name, own in actions:
        shown, page = said["map"][name], page_of(said, name)
        assert shown["improvements"] == []  # they are among the actions
        if len(own) == 1 or said["lines"].loc[name, "status"] == "located":
            assert shown["actions"] == []
            continue
        tables += 1
        assert len(shown["actions"]) == min(len(own), 4)
        for row, (_, action) in zip(shown["actions"], own.iterrows(), strict=False):
            agrees(row, action)
            assert name not in said["marks"].index or " ".join(row) in page
    assert tables > 5


def agrees(shown, action):
    """Check the row of an action against the layer."""
    order, what, minutes, less = shown
    assert order == str(action["order"])
    assert action["action"] != "look_inside" or what.endswith("building")
    assert float(minutes) == pytest.approx(action["minutes"], abs=0.5)
    bits = action["expected_gain_bits"]
    assert less.startswith("comes first" if np.isnan(bits) else percent(1 - 0.5**bits))
    assert ("assumed" in less) == (action["basis"] == "assumed")
    assert ("listed below" in what) == (action["action"] in LISTENING)
    if re.search(r": at \d", what):
        assert what.endswith(tape_text(action["chainage_m"], "us"))


def test_other_explanations_are_those_of_the_layer(said):
    may_be, told = said["stored"]["explanations"], 0
    for name, shown in said["map"].items():
        if not shown["else"]:
            continue
        told += 1
        assert said["lines"].loc[name, "status"] != "located"
        odds = {percent(p) for p in may_be.loc[may_be["line_id"] == name, "probability"]}
        assert set(re.findall(r"\(([^()]*%)\)", shown["else"])) <= odds
        assert name not in said["marks"].index or shown["else"] in page_of(said, name)
    assert told > 3


def test_no_status_is_at_odds_with_its_number_and_nothing_is_dug_where_nothing_was_heard(said):
    stored, lines = said["stored"], said["lines"]
    assert not (lines["status"].eq("no_leak_heard") & (lines["leak_probability"] >= 0.5)).any()
    unheard = ("No leak heard", "These readings do not show whether there is a leak")
    quiet = lines.index[lines["message"].str.startswith(unheard)]
    assert len(quiet) > 0
    for name in quiet:
        likely = lines.loc[name, "leak_probability"] >= 0.5
        assert lines.loc[name, "status"] == ("keep_listening" if likely else "no_leak_heard")
        assert lines.loc[name, "message"].startswith(unheard[int(likely)])
        assert np.isnan(lines.loc[name, "chainage_m"])
    for layer in ("marks", "search_zones", "dig_zones", "locate_requests", "ties", "conflicts"):
        assert not set(quiet) & set(stored[layer]["line_id"]), layer


def test_losses_are_one_figure(said):
    tests = said["stored"]["meter_results"].query("verdict == 'loss_shown'").set_index("line_id")
    assert len(tests) > 5
    for name, loss in tests["loss_l_per_day"].items():
        shown = said["map"][name]
        one = loss_text(loss, "us")
        assert dict(shown["facts"])["Loss"] == one
        assert shown["meterSays"][0].startswith(f"Loses {one}")
        assert shown["meter"] == f"Meter: loses {one}"
        assert f"{said['summary'].loc[name, 'loss_gal_per_day']:,.0f} gallons a day" == one
        if name in said["marks"].index:
            assert f"Loses {one}" in page_of(said, name)
        for text in shown["meterSays"]:
            ends = re.search(r"95 %: (.*?) to (.*?) litres", text)
            assert ends is None or ends[1] != ends[2]


METRE = re.compile(r"\d\s?(?:m|mm|cm|km|kPa|litres?)\b|metres?\b")


def texts_in(value):
    """Give every text inside lists and mappings."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        yield from (text for each in value.values() for text in texts_in(each))
    elif isinstance(value, list | tuple):
        yield from (text for each in value for text in texts_in(each))


def test_us_units_leave_no_metre_on_any_sheet_table_or_map(said, tmp_path):
    result = said["result"]
    located = list(said["lines"].query("status == 'located'").index)
    write_report(
        result,
        out=tmp_path,
        units="us",
        language="en",
        report_lines=len(located),
        workers=1,
        **ALL_LINES,
    )
    pages = [page.extract_text() for page in PdfReader(tmp_path / "report.pdf").pages]
    summary = summary_table(result.worded("us"), "us")
    tables = [table.to_csv() for table in (summary, faults_list(result, "us"))]
    shown = list(texts_in(map_data(result, "us")))
    assert len(pages) > 10
    for text in (*pages, *tables, *shown):
        assert not METRE.search(text), text[max(METRE.search(text).start() - 80, 0) :][:200]
    assert METRE.search(" ".join(texts_in(map_data(result, "si"))))
    # Coordinates are those of the CRS, whose unit stands beside them and nowhere else.
    job = result.job
    grid = list(texts_in(map_data(replace(result, job=replace(job, output_crs=job.crs)), "us")))
    own = [text for text in grid if METRE.search(text)]
    assert own
    assert all(
        re.match(r"East, north \(EPSG:\d+, metre\): [\d,.]+, [\d,.]+$", text) for text in own
    )
