"""The map for who sees little or no colours, has no mouse, enlarges it or prints it."""

from __future__ import annotations

import pytest

import leakgeo
from tests.browser.axe import findings

pytestmark = pytest.mark.browser
FOCUS = """() => { const e = document.activeElement; return e === document.body ? "nothing"
  : e.id || e.dataset.line || e.className || e.tagName; }"""
# The focus is seen: an outline of three pixels, on an element that is within the window.
SEEN = """() => { const e = document.activeElement, s = getComputedStyle(e),
  { left, right, top, bottom } = e.getBoundingClientRect();
  return s.outlineStyle === "solid" && s.outlineWidth === "3px" && right > 0 && bottom > 0
    && left < innerWidth && top < innerHeight; }"""


@pytest.fixture(scope="module")
def town_map(whole):
    return whole / "map.html"


@pytest.fixture(scope="module")
def spanish_map(whole, tmp_path_factory):
    out = tmp_path_factory.mktemp("mapa")
    leakgeo.map(leakgeo.read_result(whole), out=out, language="es", units="si")
    return out / "map.html"


def where(page):
    return page.evaluate(FOCUS)


def open_held(page):
    """Open the first line with a mark whose dig is held."""
    page.click(".entry:has-text('Mark at'):has(.hold) >> nth=0")
    page.wait_for_selector(".card .held")
    page.wait_for_timeout(150)


def test_axe_finds_nothing_on_a_desk(town_map, open_map):
    page = open_map(town_map, 1280, 800).page
    page.fill("#lg-search", "H-12")
    assert findings(page) == []
    open_held(page)
    page.click(".each summary")
    page.click(".legend summary")
    page.hover(".leaflet-control-layers")
    assert page.locator(".each tr").count() > 10
    assert findings(page) == []
    page.evaluate("document.documentElement.lang = ''")
    assert [f.split(":")[0] for f in findings(page, "html-has-lang")] == ["serious html-has-lang"]


def test_a_phone_shows_holds_at_once_and_the_legend_off_the_map(town_map, open_map):
    page = open_map(town_map, 390, 844).page

    def box(name):
        return page.locator(name).first.bounding_box()

    def below(name):
        return box(name)["y"] + box(name)["height"]

    sizes = ((390, 844), (360, 640))
    for width, height in sizes:
        page.set_viewport_size({"width": width, "height": height})
        assert below(".badge.hold") <= box("#lg-footer")["y"]
    page.click(".entry:has-text('Keep listening'):has(.hold) >> nth=0")  # no mark, and still held
    assert "HOLD" in page.inner_text(".card .badge")
    assert below(".card .badge") <= box("#lg-mapbox")["y"]
    page.click(".back")
    open_held(page)
    for width, height in sizes:
        page.set_viewport_size({"width": width, "height": height})
        page.evaluate("window.scrollTo(0, 0)")
        assert 0 <= box(".card .held")["y"] < below(".card .held") <= box("#lg-mapbox")["y"]
        assert below(".card .held") <= box("#lg-footer")["y"]
    page.click(".legend summary")
    assert box(".legend")["y"] >= below("#lg-mapbox") - 1
    assert findings(page) == []
    # A window of 1280 by 800 at 200 %, one of 1280 by 1024 at 400 % (WCAG 2.2, 1.4.4 and 1.4.10).
    for width, height in ((640, 400), (320, 256)):
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert box("#lg-mapbox")["height"] <= 0.65 * height
        footer = page.evaluate("getComputedStyle(document.getElementById('lg-footer')).position")
        assert footer == "static"


def test_a_longer_language_leaves_the_holds_in_sight_on_a_phone(spanish_map, open_map):
    page = open_map(spanish_map, 390, 844).page
    for width, height in ((390, 844), (360, 640)):
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(150)
        badge, where, footer, box = (
            page.locator(name).first.bounding_box()
            for name in (".badge.hold", ".entry .where", "#lg-footer", "#lg-mapbox")
        )
        assert badge["y"] + badge["height"] <= footer["y"]
        assert box["height"] >= 120
        assert height < 800 or where["y"] + where["height"] <= footer["y"]
    assert "DETENIDA" in page.inner_text(".badge.hold >> nth=0")
    assert findings(page) == []


def use_map_layers_and_legend(page):
    def press(key, leads_to):
        page.keyboard.press(key)
        assert leads_to in where(page)
        assert page.evaluate(SEEN)

    assert where(page) == "lg-skip"
    press("Enter", "map_leakgeo")
    before = page.evaluate("[map_leakgeo.getCenter().lng, map_leakgeo.getZoom()]")
    press("ArrowRight", "map_leakgeo")
    press("+", "map_leakgeo")
    page.wait_for_function(
        "([lng, zoom]) => map_leakgeo.getCenter().lng > lng && map_leakgeo.getZoom() > zoom",
        arg=before,
    )
    press("Tab", "zoom-in")
    press("Tab", "zoom-out")
    press("Tab", "layers-toggle")
    press("Enter", "layers-selector")
    press("Space", "layers-selector")
    assert not page.evaluate("map_leakgeo.hasLayer(feature_group_bracket)")
    press("Escape", "layers-toggle")
    press("Space", "layers-selector")
    assert page.get_attribute(".leaflet-control-layers-toggle", "aria-expanded") == "true"
    press("Escape", "layers-toggle")
    assert page.get_attribute(".leaflet-control-layers-toggle", "aria-expanded") == "false"
    press("Tab", "SUMMARY")
    press("Enter", "SUMMARY")
    press("Tab", "lg-fixes")
    press("Escape", "SUMMARY")
    assert not page.evaluate("document.querySelector('.legend').open")
    press("Tab", "SUMMARY")
    assert page.evaluate("document.activeElement.closest('footer') !== null")
    page.keyboard.press("Tab")
    assert where(page) == "nothing"  # out of the page: no trap


def find_read_and_come_back(page):
    reached = []
    for _ in range(4):
        page.keyboard.press("Tab")
        reached.append(where(page))
        assert page.evaluate(SEEN)
    assert reached[:3] == ["lg-skip", "lg-search", "lg-status"]
    page.keyboard.press("Enter")
    page.wait_for_selector("#lg-panel h2")
    assert where(page) == "lg-name"
    assert "HOLD" in page.inner_text(".card")
    page.keyboard.press("Tab")
    assert where(page) == "back"
    page.keyboard.press("Enter")
    assert where(page) == reached[3]


def test_keys_alone_suffice(town_map, open_map):
    page = open_map(town_map, 1280, 800).page
    find_read_and_come_back(page)
    for _ in range(3):
        page.keyboard.press("Shift+Tab")
    use_map_layers_and_legend(page)


def test_paper_has_the_legend_below_the_map_and_nothing_glides_unasked(town_map, browser):
    page = browser.new_page(reduced_motion="reduce")
    page.goto(town_map.as_uri())
    page.wait_for_selector("#lg-footer details")
    names = ("zoomAnimation", "fadeAnimation", "markerZoomAnimation", "inertia")
    assert not any(page.evaluate(f"map_leakgeo.options.{name}") for name in names)
    page.emulate_media(media="print")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    page.wait_for_timeout(100)
    legend, box = (page.locator(n).bounding_box() for n in (".legend", "#lg-mapbox"))
    assert legend["y"] >= box["y"] + box["height"] - 1
    assert legend["height"] > 100
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert not page.evaluate("document.querySelector('.legend').open")
    page.close()
