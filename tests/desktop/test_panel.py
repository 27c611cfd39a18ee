"""The panel of one line in a real QGIS window: plot, map, stops that are added, and what if."""

from __future__ import annotations

import doctest
import importlib.util
import os
import sys

import pandas as pd
import pyogrio
import pytest
import shapely

from tests.desktop.conftest import HERE
from tests.desktop.test_window import need_window, played, with_plugin
from tests.town import write_few

PLUGIN = HERE.parents[1] / "leakgeo" / "desktop" / "plugin"
LINE, OTHER, STOP = "H-126", "S-109", "new-1"
# The window is busy no longer than this at a time, in milliseconds of the processor.
MOST_BUSY_MS = 100.0
# QGIS draws itself, saves the layer, and is photographed: that is not the panel.
NOT_THE_PANEL = ("", "picture", "saving by QGIS")
# Its toolbars and docks are arranged anew as the panel is opened.
ARRANGED = ("opening",)


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """Give what the scene told."""
    need_window()
    folder = tmp_path_factory.mktemp("panel")
    with_plugin(folder)
    job = write_few(folder / "job.gpkg")
    pictures = os.environ.get("LEAKGEO_PICTURES", "")
    seen = played(folder, "one_line", script="window_panel.py", job=str(job), line=LINE, stop=STOP,
                  level=55, other=OTHER, pictures=pictures)  # fmt: skip
    sys.stdout.write(f"from save to answer: {seen['save_to_answer_s']:.2f} s\n")
    for what, busy in seen["busy_ms"].items():
        late = seen["late_ms"][what]
        sys.stdout.write(f"{what}: busy {busy:.0f} ms, late {late:.0f} ms\n")
    return seen


def test_toolbar_and_menu_have_the_same_entries_and_open_the_whole_chain(told):
    buttons = ["Run the whole chain", "New job", "Panel of one line"]
    assert told["buttons"] == buttons
    assert told["menu"] == ["leakgeo", [*buttons, "Help"]]
    assert all(told["icons"])
    assert told["help"].startswith("file:///")
    assert told["help"].endswith("/leakgeo_desktop/help/run.html")
    assert told["dialog"] == "Run the whole chain"
    assert told["parts"] == ["AlgorithmDialog", "ParametersPanel"]


def test_it_finds_the_job_and_shows_the_line_that_is_typed(told):
    assert told["lines"] == 6
    assert told["card"].startswith("HOLD: ")
    assert "Nothing here clears the dig." in told["card"]
    assert told["state"].startswith("Mark set.")


def test_the_pointer_tells_what_is_under_it(told):
    stop, level = told["over_stop"][0].split(": ")
    assert stop.startswith(f"Stop {LINE}/")
    assert level.endswith(" dB")
    assert told["over_stop"][-1] == "Used"
    assert any("within one foot of here" in text for text in told["over_zone"])
    assert any(text.startswith("Mark, ") for text in told["over_zone"])


def test_plot_and_map_show_the_same_place(told):
    assert told["overlay"] is not None
    assert told["in_view"]
    assert told["cursor"] == pytest.approx(told["wanted"], abs=0.1)


def test_a_stop_counts_before_and_after_it_is_saved(told):
    (unsaved,), (saved,) = told["unsaved"], told["saved"]
    assert unsaved["state"] == "used"
    assert unsaved == saved


def test_what_if_leaves_a_stop_out_and_one_click_leads_back(told):
    assert told["what_if"] == f"What if: without {STOP}. The data are unchanged."
    assert told["what_if_shown"]
    assert told["what_if_state"] == ["aside"]
    assert told["back"]


def test_leakgeo_is_started_again_after_its_death_by_the_pipe_that_is_selected(told):
    assert told["stopped"].startswith("leakgeo stopped. It starts again when it is asked.")
    assert told["again"].startswith("Mark set.")
    assert told["selected"].startswith(OTHER)
    assert told["unloaded"]


def test_the_window_is_never_busy_for_long(told):
    busy = {k: v for k, v in told["busy_ms"].items() if k not in (*NOT_THE_PANEL, *ARRANGED)}
    assert len(busy) > 7
    assert max(busy.values()) < MOST_BUSY_MS


def test_edits_are_sent_as_they_will_be_stored(host, tmp_path):
    job, stops = write_few(tmp_path / "job.gpkg"), ("H-126/007", "H-126/012")
    before = pyogrio.read_dataframe(job, layer="readings", fid_as_index=True)
    numbers = {name: fid for fid, name in before["reading_id"].items()}
    done = host.scene("unsaved", job, *stops, TZ="America/Chicago")
    assert done["job"] == str(job)
    assert set(done["edited"]) == {"changed"}
    assert "readings" in done["told"]
    assert (done["saved"], done["left"]) == (True, [{}, {}])
    assert done["deleted"] == {"readings": [numbers[stops[1]]]}
    changed, new = done["rows"]["readings"]
    assert (changed["fid"], changed["sound_level"]) == (numbers[stops[0]], 77.0)
    assert "fid" not in new
    stored = pyogrio.read_dataframe(job, layer="readings").set_index("reading_id")
    for row, name in ((changed, stops[0]), (new, "new")):
        assert pd.Timestamp(row["time"]) == stored["time"][name]
        assert shapely.from_wkt(row["geometry"]).equals_exact(stored.geometry[name], 1e-6)
        assert row["set_aside"] is False


def test_ticks_are_round_numbers_and_names_short(monkeypatch):
    spec = importlib.util.spec_from_file_location("plot_scale", PLUGIN / "plot_scale.py")
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "plot_scale", module)
    spec.loader.exec_module(module)
    tried = doctest.testmod(module)
    assert (tried.failed, tried.attempted) == (0, 3)
    for low, high, most in ((0.0, 0.031, 4), (-7.3, 912.0, 7), (12.0, 12.4, 3)):
        found = module.ticks(low, high, most)
        assert 1 <= len(found) <= most
        assert low <= found[0] <= found[-1] <= high


def test_the_panel_never_waits_for_its_process():
    sources = PLUGIN.glob("*.py")
    texts = {path.name: path.read_text("utf-8") for path in sources}
    assert "QProcess" in texts["asking.py"]
    assert not [name for name, text in texts.items() if "waitFor" in text]
