"""A crew's day in a real QGIS window, by clicks and keys, on the field project."""

import json
import os
import shutil
import signal
import subprocess
import sys
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pyogrio
import pytest
import shapely

import leakgeo
from tests.desktop.conftest import HERE, PROGRAM, has_host, unpack_plugin
from tests.test_cli import leakgeo_command

FEET = "EPSG:2263"  # a CRS in US survey feet
# Where the invented street is, and the shape of a pipe 120 feet long.
X, Y = 1_000_000.0, 200_000.0
ROUTE = [(X, Y), (X + 60.0, Y + 4.0), (X + 120.0, Y)]
FITTINGS = {"CS-1": (X, Y), "M-1": (X + 120.0, Y)}
GAS = [(X + 20.0, Y - 30.0), (X + 20.0, Y + 30.0), (X + 34.0, Y + 40.0)]
WALK = {"sensor": "ground plate", "sound_unit": "dB (relative decibels)", "surface": "concrete"}
# A tap, what is typed, and what else is chosen: only the first stop says what holds for the walk.
STOPS = [
    ((X + 30.0, Y + 1.0), "31", WALK),
    ((X + 40.0, Y + 2.0), "37", {}),
    ((X + 50.0, Y + 2.5), "44.5", {}),
    ((X + 60.0, Y + 3.0), "39", {"chainage_from": "CS-1", "chainage_toward": "M-1",
                                 "tape": "60' 1\""}),
]  # fmt: skip

HOLE = {"cause": "split", "photos": "hole.jpg", "note": "by the tree"}


def played(
    folder: Path, name: str, zone: str = "UTC", script: str = "window.py", **arguments
) -> dict:
    """Open a project in a QGIS window, if there is one, play a scene, and return its answer."""
    answer = folder / "answer.json"
    scene = {"name": name, "arguments": arguments, "answer": str(answer)}
    variables = {
        **os.environ, "PATH": os.defpath, "TZ": zone, "LEAKGEO_SCENE": json.dumps(scene),
        "XDG_RUNTIME_DIR": str(folder), "QT_QPA_PLATFORM": "xcb", "PYTHONPATH": str(HERE),
        "LEAKGEO_EXECUTABLE": str(PROGRAM),
    }  # fmt: skip
    project = folder / "day" / "job.qgs"
    opened = ["--project", str(project)] if project.exists() else []
    command = [
        "xvfb-run", "-a", "-s", "-screen 0 1600x1000x24", "qgis", "--nologo", "--noversioncheck",
        "--profiles-path", str(folder / "profile"), *opened, "--code", str(HERE / script),
    ]  # fmt: skip
    with subprocess.Popen(command, env=variables, stdout=subprocess.DEVNULL, text=True,
                          stderr=subprocess.PIPE, start_new_session=True) as window:  # fmt: skip
        try:
            said = window.communicate(timeout=180)[1]
        finally:
            # QGIS would go on without the shell that started it.
            with suppress(ProcessLookupError):
                os.killpg(window.pid, signal.SIGKILL)
    assert answer.exists(), said[-3000:]
    told = json.loads(answer.read_text("utf-8"))
    assert "error" not in told, told["error"]
    return told


def with_plugin(folder: Path, *others: str) -> None:
    """Give the window of `played` a profile with the plugin, and other plugins, enabled."""
    profile = folder / "profile" / "profiles" / "default"
    unpack_plugin(profile)
    enabled = "".join(f"{name}=true\n" for name in ("leakgeo_desktop", *others))
    (profile / "QGIS").mkdir()
    (profile / "QGIS" / "QGIS3.ini").write_text(f"[PythonPlugins]\n{enabled}")


def leakgeo_said(*arguments: object) -> dict:
    """Run a command of leakgeo, and return its JSON document."""
    done = leakgeo_command(*arguments, "--json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def need_window() -> None:
    """Skip without a QGIS window, or fail if `CI` is set."""
    if not (has_host() and shutil.which("xvfb-run") and shutil.which("qgis")):
        if os.environ.get("CI"):
            pytest.fail("QGIS is not installed: apt-get install qgis python3-qgis xvfb")
        pytest.skip("no QGIS")


@pytest.fixture(scope="module")
def day(tmp_path_factory):
    """Give the folder of a job that was drawn and typed in QGIS, and what the scene told."""
    need_window()
    folder = tmp_path_factory.mktemp("day")
    leakgeo_said("template", folder / "day", "--project", "--crs", FEET)
    pictures = os.environ.get("LEAKGEO_PICTURES", "")
    told = played(folder, "field_day", "America/Chicago", route=ROUTE, fittings=FITTINGS,
                  stops=STOPS, utility=GAS, hole=HOLE, pictures=pictures)  # fmt: skip
    return folder / "day" / "job.gpkg", told


def test_a_stop_is_two_taps_and_the_number(day):
    _, told = day
    for number, stop in enumerate(told["stops"]):
        sys.stdout.write(f"stop {number + 1}: {stop['clicks']} clicks, {stop['keys']} keys\n")
        assert stop["focus"] == "sound_level"
    for stop, (_, level, _) in zip(told["stops"][1:3], STOPS[1:3], strict=True):
        assert (stop["clicks"], stop["keys"]) == (2, len(level))


def test_stops_arrive_as_used_with_all_that_was_not_typed(day):
    job, _ = day
    read = leakgeo.read_job(job)
    stops = read.readings
    assert stops["reason"].isna().all()
    assert stops["sound_level"].tolist() == [float(level) for _, level, _ in STOPS]
    assert stops["line_id"].tolist() == ["T-1"] * len(STOPS)
    assert stops["walk_id"].nunique() == 1
    assert stops["reading_id"].is_unique
    assert stops["sensor"].tolist() == ["ground_plate"] * len(STOPS)
    assert stops["surface"].tolist() == ["concrete"] * len(STOPS)
    assert not stops["set_aside"].any()
    age = datetime.now(UTC) - stops["time"]
    # The clock of the window was that of Chicago.
    assert (age < timedelta(minutes=10)).all()
    assert (age > timedelta(0)).all()


def test_only_what_was_taped_has_a_tape(day):
    job, _ = day
    as_stored = pyogrio.read_dataframe(job, layer="readings")
    assert as_stored["chainage_m"].isna().all()
    assert as_stored["tape"].fillna("").tolist() == ["", "", "", "60' 1\""]
    stops = leakgeo.read_job(job).readings
    assert stops["tape_m"].isna().tolist() == [True, True, True, False]
    assert stops["tape_m"].iloc[3] == pytest.approx(60 * 0.3048 + 0.0254, abs=1e-6)


def test_words_of_a_hole_arrive_as_typed(day):
    job, _ = day
    (hole,) = pyogrio.read_dataframe(job, layer="dig_outcomes")[list(HOLE)].to_dict("records")
    assert hole == HOLE


def test_a_gas_main_arrives_with_its_shape(day):
    job, _ = day
    utilities = leakgeo.read_job(job).utilities
    assert utilities["kind"].tolist() == ["gas"]
    assert shapely.get_num_coordinates(utilities.geometry.iloc[0]) == len(GAS)


def test_check_rejects_nothing_that_was_typed(day):
    job, _ = day
    faults = leakgeo_said("check", job)["faults"]
    assert [f for f in faults if f["effect"] == "rejected"] == []
