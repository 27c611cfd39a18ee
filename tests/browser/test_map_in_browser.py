"""The map as a person meets it: offline, on a desk and on a phone, with mouse and keyboard."""

from dataclasses import replace

import pandas as pd
import pytest

from leakgeo.deliver.map import write_map
from tests.deliver.fixture import STREET, hostile_street, many_lines, street
from tests.deliver.test_map import PLAIN

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def maps(tmp_path_factory):
    """Write one map of each kind."""
    made = {
        "us": (street(), "us"), "si": (street(), "si"), "hostile": (hostile_street(), "si"),
        "bare": (replace(street(), layers={}), "si"),
    }  # fmt: skip
    out = {}
    for name, (result, units) in made.items():
        folder = tmp_path_factory.mktemp(name)
        write_map(result, out=folder, units=units, **PLAIN)
        out[name] = folder / "map.html"
    return out


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("kind", ["us", "si", "hostile", "bare"])
def test_asks_for_nothing_complains_of_nothing_and_fits_the_screen(maps, open_map, kind, width):
    opened = open_map(maps[kind], width)
    opened.page.click(".entry >> nth=0")
    opened.page.wait_for_selector("#lg-panel h2")
    opened.page.wait_for_timeout(150)
    assert opened.requests == [maps[kind].as_uri()]
    assert opened.complaints == []
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= width
    assert opened.page.evaluate("window.hit") is None


def test_first_sight_tells_where_how_sure_and_what_holds(maps, open_map):
    page = open_map(maps["us"]).page
    first = page.inner_text(".entry >> nth=0")
    assert "Mark at 46 ft 7 in from the start" in first
    assert "9 in 10 that the leak is within" in first
    assert "HOLD: 2 reasons" in first
    assert "no answer from electric U-E1" in first
    footer = page.inner_text("#lg-footer")
    assert "Nothing recorded here clears the dig." in footer
    assert "Alder 12 is held" in footer
    assert "simulated_street.gpkg" in footer
    assert page.locator(".entry").count() == len(STREET)
    assert "safe" not in page.inner_text("body").lower()


def test_entry_opens_the_panel_with_a_plot_that_shows_every_reading(maps, open_map):
    page = open_map(maps["si"]).page
    page.click(".entry >> nth=0")
    readings = street().layers["readings_on_route"]
    expected = int((readings["line_id"] == "Alder 12").sum())
    assert page.locator("svg.plot circle").count() == expected
    assert page.locator("svg.plot polygon").count() == 2  # the band, and the leak density
    page.click("text=Near the likeliest")
    assert 0 < page.locator("svg.plot circle").count() < expected
    assert "no answer from electric" in page.inner_text(".holds")


def test_plot_puts_the_mark_where_the_density_peaks(maps, open_map):
    page = open_map(maps["si"]).page
    page.click(".entry >> nth=0")
    places = page.evaluate(
        """() => {
          const [band, density] = document.querySelectorAll("svg.plot polygon");
          const points = [...density.points], top = Math.min(...points.map((p) => p.y));
          const mark = document.querySelector("svg.plot line[stroke-dasharray]");
          return [points.find((p) => p.y === top).x, +mark.getAttribute("x1")];
        }"""
    )
    assert places[0] == pytest.approx(places[1], abs=1.5)


def test_place_that_is_not_located_reads_as_no_mark(tmp_path, open_map):
    result = street()
    lines = result.layers["lines"].assign(status="narrow_further")
    write_map(result.adding({"lines": lines}), out=tmp_path, units="us", **PLAIN)
    page = open_map(tmp_path / "map.html").page
    page.click(".entry >> nth=0")
    panel = page.inner_text("#lg-panel")
    assert "Listen more before digging; likeliest at 46 ft 7 in" in panel
    assert "Mark at" not in panel
    assert "Ready" not in page.inner_text("body")


def test_readings_far_off_do_not_shrink_the_street(tmp_path, open_map):
    result = street()
    readings = result.layers["readings_on_route"].copy()
    far = readings.iloc[:1].assign(line_id=None, used=False, reason="too far from any route")
    far = far.set_geometry(far.geometry.translate(50_000, 50_000))
    layers = {"readings_on_route": pd.concat([readings, far], ignore_index=True)}
    write_map(result.adding(layers), out=tmp_path, units="si", **PLAIN)
    page = open_map(tmp_path / "map.html").page
    assert page.inner_text(".leaflet-control-scale-line").removesuffix(" m").isdigit()


def test_keyboard_alone_opens_and_closes_a_line(maps, open_map):
    page = open_map(maps["si"]).page
    page.focus(".entry >> nth=1")
    page.keyboard.press("Enter")
    assert page.inner_text("#lg-panel h2") == "Alder 14"
    assert page.evaluate("document.activeElement.id") == "lg-panel"
    page.keyboard.press("Escape")
    assert page.evaluate("document.activeElement.dataset.line") == "1"
    assert page.is_hidden("#lg-panel")


def test_click_on_the_map_opens_the_line_that_is_there(maps, open_map):
    page = open_map(maps["si"]).page
    page.click(".entry >> nth=1")  # brings its mark to the middle of the map
    page.wait_for_timeout(700)
    page.click(".back")
    box = page.locator(".folium-map").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert page.inner_text("#lg-panel h2") == "Alder 14"


def test_hostile_text_is_shown_as_it_stands(maps, open_map):
    page = open_map(maps["hostile"]).page
    assert "</script><script>window.hit=1" in page.inner_text(".entry >> nth=0")
    assert "{{7*7}}{% raw %}{#" in page.inner_text(".entry >> nth=0")
    box = page.locator(".folium-map").bounding_box()
    for part in range(1, 8):  # tooltips are made when the pointer comes over
        page.mouse.move(box["x"] + box["width"] * part / 8, box["y"] + box["height"] / 2)
    assert page.locator("img").count() == 0
    assert page.evaluate("window.hit") is None


def test_colours_match_the_levels_from_quiet_to_loud(maps, open_map):
    page = open_map(maps["si"]).page
    page.click(".entry >> nth=0")
    dots = page.evaluate(
        """() => [...document.querySelectorAll("svg.plot circle")].map(
             (c) => [+c.getAttribute("cy"), c.getAttribute("fill")])"""
    )
    used = sorted((y, fill) for y, fill in dots if fill != "#fff")
    assert used[0][1] == "#fde725"  # highest on the plot, loudest
    assert used[-1][1] == "#440154"
    assert sum(fill == "#fff" for _, fill in dots) == 1


def test_hundreds_of_lines_can_be_searched_and_opened(tmp_path, open_map):
    write_map(many_lines(600), out=tmp_path, units="us", **PLAIN)
    opened = open_map(tmp_path / "map.html")
    page = opened.page
    assert page.locator(".entry").count() == 600
    page.fill("#lg-search", "L-00345")
    assert page.locator("#lg-list li:visible").count() == 1
    page.click(".entry:visible")
    page.wait_for_selector("svg.plot")
    assert page.inner_text("#lg-panel h2") == "L-00345"
    assert opened.complaints == []
    assert (tmp_path / "map.html").stat().st_size < 6e6
