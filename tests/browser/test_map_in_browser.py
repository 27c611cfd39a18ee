"""The map as a person meets it: offline, on a desk and on a phone, with mouse and keyboard."""

from dataclasses import replace
from urllib.parse import quote

import pandas as pd
import pytest

from leakgeo.deliver.map.write import write_map
from leakgeo.reason import Reason, columns_of, reasons_in
from tests.deliver.fixture import (
    STREET,
    advised_street,
    hostile_street,
    many_lines,
    street,
    surveyed_street,
)
from tests.deliver.test_map import PLAIN
from tests.deliver.test_map_background import photo

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def maps(tmp_path_factory):
    """Write one map of each kind."""
    made = {
        "us": (street(), "us"), "si": (street(), "si"), "hostile": (hostile_street(), "si"),
        "bare": (replace(street(), layers={}), "si"), "many": (many_lines(600), "us"),
    }  # fmt: skip
    out = {}
    for name, (result, units) in made.items():
        folder = tmp_path_factory.mktemp(name)
        write_map(result, out=folder, units=units, **PLAIN)
        out[name] = folder / "map.html"
    return out


# Each is opened on one screen and then taken to the other, and each screen is the first of two.
@pytest.mark.parametrize(
    ("kind", "widths"),
    [("us", (390, 1280)), ("si", (1280, 390)), ("hostile", (390, 1280)), ("bare", (1280, 390))],
)
def test_asks_for_nothing_complains_of_nothing_and_fits_the_screen(maps, open_map, kind, widths):
    opened = open_map(maps[kind], widths[0])
    opened.page.click(".entry >> nth=0")
    opened.page.wait_for_selector("#lg-panel h2")
    for width in widths:
        opened.page.set_viewport_size({"width": width, "height": 900})
        opened.page.wait_for_timeout(150)
        assert opened.page.evaluate("document.documentElement.scrollWidth") <= width
    assert opened.requests == [maps[kind].as_uri()]
    assert opened.complaints == []
    assert opened.page.evaluate("window.hit") is None


def test_first_sight_tells_where_how_sure_and_what_holds(maps, open_map):
    page = open_map(maps["us"]).page
    first = page.inner_text(".entry >> nth=0")
    assert "Mark at 46 ft 7 in from the start" in first
    assert "87 % that there is a leak within" in first
    assert "HOLD: 2 reasons" in first
    assert "electric U-E1 (Northlight Power)" in first
    footer = page.inner_text("#lg-footer")
    assert "Nothing recorded here clears the dig." in footer
    assert "Alder 12" not in footer  # the list has it
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
    assert "its owner has not answered" in page.inner_text(".holds")


def test_on_a_phone_the_card_stands_above_the_map_and_the_legend_covers_nothing(maps, open_map):
    page = open_map(maps["us"], 390, 844).page
    page.click(".entry >> nth=0")
    page.wait_for_timeout(200)
    held, box = page.locator(".card .held").bounding_box(), page.locator("#lg-mapbox")
    assert held["y"] >= 0
    assert held["y"] + held["height"] <= box.bounding_box()["y"] < 844
    lines = page.inner_text(".card").split("\n")
    assert any(line.startswith("HOLD: electric U-E1") for line in lines)
    assert not page.evaluate("document.querySelector('.legend').open")
    page.click(".legend summary")
    assert page.locator("#lg-mapbox .legend").count() == 0
    legend = page.locator(".legend").bounding_box()
    assert legend["y"] >= box.bounding_box()["y"] + box.bounding_box()["height"] - 1


@pytest.mark.parametrize("width", [1280, 390])
def test_utilities_at_the_mark_are_named_beside_the_mark(maps, open_map, width):
    page = open_map(maps["us"], width).page
    page.click(".entry >> nth=0")
    page.wait_for_timeout(900)
    assert page.locator(".tag:has-text('water line')").count() == 1
    named = page.locator(".tag:has-text('ELECTRIC')")
    assert named.count() == 1
    label, frame = (e.bounding_box() for e in (named.locator("span"), page.locator("#lg-mapbox")))
    assert frame["x"] <= label["x"]
    assert label["x"] + label["width"] <= frame["x"] + frame["width"]
    spot = page.evaluate("""() => { const mark = Object.values(feature_group_marks._layers).find(
        (l) => l.options.arms); return map_leakgeo.latLngToContainerPoint(mark.getLatLng()); }""")
    x, y = frame["x"] + spot["x"], frame["y"] + spot["y"]
    inside = label["x"] < x < label["x"] + label["width"] and (
        label["y"] < y < label["y"] + label["height"]
    )
    assert not inside


def test_louder_readings_are_larger_and_fixes_are_shown_on_demand(tmp_path, open_map):
    result = street()
    readings = result.layers["readings_on_route"]
    fixes = readings.geometry.translate(1.5, 0.5)
    write_map(result.adding({"readings_on_route": readings.set_geometry(fixes)}), out=tmp_path,
              units="si", **PLAIN)  # fmt: skip
    page = open_map(tmp_path / "map.html").page
    page.click(".entry >> nth=0")
    page.wait_for_timeout(900)
    radii = """() => Object.values(feature_group_readings._layers)
        .filter((l) => l.options.radius && l.options.color === looks_ink)
        .map((l) => [l.options.radius, l.options.fillColor])""".replace("looks_ink", "'#14181d'")
    sizes = {colour: radius for radius, colour in page.evaluate(radii)}
    assert sizes["#fde725"] > 2 * sizes["#440154"]  # the loudest and the quietest
    count = "Object.keys(feature_group_readings._layers).length"
    before = page.evaluate(count)
    page.click(".legend summary")
    assert not page.is_checked("#lg-fixes")
    page.check("#lg-fixes")
    page.wait_for_timeout(200)
    assert page.evaluate(count) >= 3 * before  # a point and a line for each
    page.uncheck("#lg-fixes")
    page.wait_for_timeout(200)
    assert page.evaluate(count) == before


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
    lines = result.layers["lines"].assign(status="keep_listening")
    write_map(result.adding({"lines": lines}), out=tmp_path, units="us", **PLAIN)
    page = open_map(tmp_path / "map.html").page
    page.click(".entry >> nth=0")
    panel = page.inner_text("#lg-panel")
    assert "Keep listening; likeliest at 46 ft 7 in" in panel
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
    assert page.evaluate("document.activeElement.id") == "lg-name"
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


def test_hundreds_of_lines_can_be_searched_and_opened(maps, open_map):
    opened = open_map(maps["many"])
    page = opened.page
    assert page.locator(".entry").count() == 200
    page.click("#lg-more")
    page.wait_for_function("document.activeElement.dataset.line === '200'")
    assert page.inner_text("#lg-more") == "200 more lines can be shown"
    page.fill("#lg-search", "L-00345")
    assert page.inner_text("#lg-told") == "1 of 600 lines"
    page.press("#lg-search", "Enter")
    page.wait_for_selector("svg.plot")
    assert page.inner_text("#lg-panel h2") == "L-00345"
    assert opened.complaints == []
    assert opened.requests == [maps["many"].as_uri()]


@pytest.mark.parametrize("width", [1280, 390])
def test_utilities_that_are_too_many_to_draw_are_counted_until_one_comes_closer(
    tmp_path, open_map, width
):
    result = street()
    known = result.job.utilities
    far = [known.assign(geometry=known.geometry.translate(0, 3.0 * k)) for k in range(200)]
    crowd = pd.concat(far, ignore_index=True)
    write_map(replace(result, job=replace(result.job, utilities=crowd)), out=tmp_path, units="si",
              **PLAIN)  # fmt: skip
    page = open_map(tmp_path / "map.html", width).page
    drawn = "() => Object.keys(feature_group_utilities._layers).length"
    page.evaluate("() => { map_leakgeo.setZoom(map_leakgeo.getZoom() - 4, { animate: false }); }")
    page.wait_for_function("document.getElementById('lg-hidden').textContent !== ''")
    said = page.inner_text("#lg-hidden")
    assert said == f"{len(crowd):,} utilities here are not drawn: zoom in"
    assert page.evaluate(drawn) == 0
    box, around = page.locator("#lg-hidden").bounding_box(), page.locator("#lg-mapbox")
    assert box["x"] >= around.bounding_box()["x"]
    assert box["x"] + box["width"] <= width
    page.evaluate("() => { map_leakgeo.removeLayer(feature_group_utilities); }")
    assert page.inner_text("#lg-hidden") == ""
    page.evaluate("() => { map_leakgeo.addLayer(feature_group_utilities); }")
    page.evaluate("() => { map_leakgeo.setZoom(22, { animate: false }); }")
    page.wait_for_function("document.getElementById('lg-hidden').textContent === ''")
    assert page.evaluate(drawn) > 0


def test_a_click_on_a_cluster_comes_closer_until_lines_are_drawn(maps, open_map):
    page = open_map(maps["many"]).page
    drawn = "() => Object.values(feature_group_marks._layers).map((l) => l.options.text || '')"
    page.wait_for_timeout(300)
    counts = [int(text) for text in page.evaluate(drawn) if text]
    assert sum(counts) == pytest.approx(600, abs=len(page.evaluate(drawn)))
    assert max(counts) > 9
    spot = page.evaluate(
        """() => { const all = Object.values(feature_group_marks._layers);
                   const { x, y } = map_leakgeo.getSize();
                   const inner = L.bounds([90, 90], [x - 90, y - 90]);
                   const one = all.find((layer) => layer.options.text && inner.contains(
                     map_leakgeo.latLngToContainerPoint(layer.getLatLng())));
                   return map_leakgeo.latLngToContainerPoint(one.getLatLng()); }"""
    )
    zoom = page.evaluate("map_leakgeo.getZoom()")
    box = page.locator(".folium-map").bounding_box()
    page.mouse.click(box["x"] + spot["x"], box["y"] + spot["y"])
    page.wait_for_timeout(900)
    assert page.evaluate("map_leakgeo.getZoom()") > zoom
    assert len(page.evaluate("() => Object.keys(feature_group_zones._layers)")) > 0


def test_an_old_browser_is_told_that_it_is_too_old(maps, browser):
    page = browser.new_page()
    page.add_init_script("delete window.DecompressionStream")
    page.goto(maps["many"].as_uri())
    page.wait_for_selector("#lg-told:not(:empty)")
    assert "too old" in page.inner_text("#lg-told")
    page.close()


@pytest.mark.parametrize("name", ["Alder 14", "Ulica Źródlana 3", "شارع النخيل ١٢"])
def test_a_link_opens_its_line_and_back_and_forward_work(maps, browser, name):
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.goto(f"{maps['si'].as_uri()}#line={quote(name)}")
    assert page.inner_text("#lg-panel h2") == name
    page.click(".back")
    page.click(".entry >> nth=0")
    assert page.evaluate("decodeURIComponent(location.hash)") == "#line=Alder 12"
    page.wait_for_timeout(300)  # a step back while a step is still on its way would be lost
    page.evaluate("history.back()")
    page.wait_for_selector("#lg-panel", state="hidden")
    page.evaluate("history.back()")
    page.wait_for_selector("#lg-panel", state="visible")
    assert page.inner_text("#lg-panel h2") == name
    page.evaluate("history.forward()")
    page.wait_for_selector("#lg-panel", state="hidden")
    page.close()


def test_a_link_to_a_line_that_is_not_there_says_so(maps, browser):
    page = browser.new_page()
    page.goto(f"{maps['si'].as_uri()}#line=%E0%A4%A")  # not even an encoding
    page.goto(f"{maps['si'].as_uri()}#line=nowhere")
    assert "not on the map" in page.inner_text("#lg-told")
    assert page.is_hidden("#lg-panel")
    page.close()


def test_a_line_whose_leak_is_likelier_elsewhere_leads_there(tmp_path, open_map):
    result = street()
    lines = result.layers["lines"].copy()
    place = Reason("also_on_other_line", line="Alder 12", chainage_m=14.2, probability=0.98)
    said = reasons_in(lines, "message")
    said[4] = Reason("likelier_on_other_line", Reason("also_possible", places=[place]))
    lines = lines.assign(**columns_of("message", said))
    write_map(result.adding({"lines": lines}), out=tmp_path, units="us", **PLAIN)
    page = open_map(tmp_path / "map.html").page
    page.click(".entry >> nth=4")
    assert "on Alder 12, about 46 ft 7 in (98 %)" in page.inner_text("#lg-panel")
    page.click("#lg-panel a:has-text('Alder 12')")
    page.wait_for_selector("h2:has-text('Alder 12')")


def test_survey_air_meter_and_improvements_are_in_panel_and_map(tmp_path, open_map):
    write_map(surveyed_street(), out=tmp_path, units="us", **PLAIN)
    page = open_map(tmp_path / "map.html").page
    assert "Meter: loses 1,100 gallons a day" in page.inner_text(".entry >> nth=0")
    page.click(".entry >> nth=0")
    panel = page.inner_text("#lg-panel")
    for said in ("Where to walk first", "the leak sounds here", "Ways to improve", "meter C0"):
        assert said in panel
    drawn = page.evaluate(
        """() => Object.values(feature_group_bracket._layers)
                   .filter((l) => l.options.opacity < 1).map((l) => l.options.opacity)"""
    )
    assert len(drawn) == 2
    assert max(drawn) > 2 * min(drawn)  # probabilities 0.7 and 0.2
    assert page.locator(".tag.walk").all_inner_texts() == ["walk 1", "walk 2"]
    assert page.evaluate("Object.keys(feature_group_air._layers).length") == 1


@pytest.mark.parametrize("language", ["en", "es"])
def test_what_to_do_next_is_a_table_that_fits_a_phone(tmp_path, open_map, language):
    write_map(advised_street(), out=tmp_path, units="us", **{**PLAIN, "language": language})
    opened = open_map(tmp_path / "map.html", 360)
    opened.page.click(".entry >> nth=2")
    cells = opened.page.locator("table.actions td").all_inner_texts()
    assert cells[::4] == ["1", "2", "3", "4"]
    assert "29 ft 6 in" in cells[1]
    assert "(22 %)" in opened.page.inner_text("#lg-panel")
    for width in (360, 1400):
        opened.page.set_viewport_size({"width": width, "height": 800})
        box = opened.page.locator("table.actions").bounding_box()
        assert 0 <= box["x"] <= box["x"] + box["width"] <= width
        assert opened.page.evaluate("document.documentElement.scrollWidth") <= width
    assert opened.complaints == []


def test_layers_can_be_switched_off(maps, open_map):
    page = open_map(maps["si"]).page
    page.hover(".leaflet-control-layers")
    for name in ("Marks", "Conflicts", "Search zones", "Where to walk first"):
        page.click(f".leaflet-control-layers label:has-text('{name}')")
    assert page.evaluate(
        "['marks', 'conflicts', 'zones', 'bracket'].some((k) => "
        "map_leakgeo.hasLayer(window['feature_group_' + k]))"
    ) is False  # fmt: skip


def test_the_photo_is_in_the_page_and_asks_for_nothing(tmp_path, open_map):
    path = photo(tmp_path / "a.tif")
    write_map(street(), out=tmp_path, units="si", **{**PLAIN, "orthophoto": path})
    opened = open_map(tmp_path / "map.html")
    image = opened.page.locator("img.leaflet-image-layer")
    assert image.evaluate("(i) => i.complete && i.naturalWidth") > 300
    assert [url for url in opened.requests if not url.startswith("data:")] == [
        (tmp_path / "map.html").as_uri()
    ]
    assert opened.complaints == []
    assert "Photo: a.tif" in opened.page.inner_text("#lg-footer")


def test_tiles_are_asked_of_their_host_alone_and_that_is_told(tmp_path, browser):
    address = "http://127.0.0.1:9/{z}/{x}/{y}.png"  # the discard port: nobody answers
    write_map(street(), out=tmp_path, units="si", **{**PLAIN, "tiles": address})
    page = browser.new_page()
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto((tmp_path / "map.html").as_uri())
    page.wait_for_selector("#lg-footer details")
    page.wait_for_timeout(300)
    assert asked[0].startswith("file:")
    assert len(asked) > 1
    assert all(url.startswith("http://127.0.0.1:9/") for url in asked[1:])
    assert "where you look: http://127.0.0.1:9" in page.text_content("#lg-footer")
    page.close()


def test_lines_left_out_are_told(tmp_path, open_map):
    write_map(street(), out=tmp_path, units="si", **{**PLAIN, "map_lines": 3})
    said = open_map(tmp_path / "map.html").page.inner_text("#lg-left-out")
    assert said == "On this map are the first lines by priority: 3. 3 more are in result.gpkg."


def test_texts_are_dark_on_light_and_controls_have_names(maps, open_map):
    page = open_map(maps["us"]).page
    page.click(".entry >> nth=0")
    contrast = page.evaluate(CONTRAST)
    assert contrast
    assert min(contrast) >= 4.5  # WCAG 2.2, success criterion 1.4.3
    nameless = page.evaluate(
        """() => [...document.querySelectorAll("button, input:not([type=checkbox]), select, a")]
             .filter((e) => !(e.textContent.trim() || e.getAttribute("aria-label") || e.title))
             .length"""
    )
    assert nameless == 0


# Relative luminance and contrast as WCAG 2.2 defines them, of every text on its background.
CONTRAST = """() => {
  const parse = (c) => c.match(/[\\d.]+/g).map(Number);
  const light = ([r, g, b]) => [r, g, b].map((v) => v / 255).map((v) =>
    (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4))
    .reduce((s, v, k) => s + v * [0.2126, 0.7152, 0.0722][k], 0);
  const back = (e) => { while (e) { const c = parse(getComputedStyle(e).backgroundColor);
    if (c.length < 4 || c[3] > 0.5) return c; e = e.parentElement; } return [255, 255, 255]; };
  return [...document.querySelectorAll("#lg-side *, #lg-footer *, .legend *")]
    .filter((e) => e.offsetParent)
    .filter((e) => [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()))
    .map((e) => { const [a, b] = [light(parse(getComputedStyle(e).color)), light(back(e))];
      return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05); });
}"""


def test_two_marks_of_a_line_are_drawn_named_and_in_the_panel(tmp_path, open_map):
    result = street()
    twin = {"marks": "rank", "dig_zones": "mark_rank", "holds": "mark_rank"}
    for name, column in twin.items():
        first = result.layers[name].assign(**{column: 1})
        second = first[first["line_id"] == "Alder 12"].assign(**{column: 2})
        if name != "holds":
            second.geometry = second.geometry.translate(0.0, -8.0)
        result = result.adding({name: pd.concat([first, second], ignore_index=True)})
    write_map(result, out=tmp_path, units="si", **PLAIN)
    opened = open_map(tmp_path / "map.html", 1440)
    page = opened.page
    assert "Marks at 14.20 m and 14.20 m from the start" in page.inner_text(".entry >> nth=0")
    page.click(".entry >> nth=0")
    page.wait_for_timeout(300)
    assert page.locator("h3.of-mark").count() == 2
    assert page.locator("#lg-panel .holds").count() == 2
    names = page.locator(".tag").all_inner_texts()
    assert {"mark 1", "mark 2"} <= set(names)
    assert opened.complaints == []
