"""A newcomer's additions, done mechanically in a copy of the package, run in one process."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import leakgeo
from tests.newcomer.additions import add_all

ROOT = Path(leakgeo.__file__).parents[1]


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    """What came of all six."""
    copy, folder = tmp_path_factory.mktemp("copy"), tmp_path_factory.mktemp("done")
    for name in ("leakgeo", "data_schemas"):
        shutil.copytree(ROOT / name, copy / name)
    shutil.copy(ROOT / "pyproject.toml", copy)
    add_all(copy)
    install(copy)
    # The copy is found before the package, and the tests beside it.
    where = {**os.environ, "PYTHONPATH": os.pathsep.join([str(copy), str(ROOT)])}
    call = [sys.executable, "-m", "tests.newcomer.try_all", str(folder)]
    child = subprocess.run(call, cwd=folder, env=where, capture_output=True, text=True, check=False)
    assert child.returncode == 0, child.stderr[-4000:]
    told = json.loads((folder / "done.json").read_text("utf-8"))
    assert told["home"] == str(copy)
    return told


def install(copy: Path) -> None:
    """Write what an installer writes of the entry points."""
    points = tomllib.loads((copy / "pyproject.toml").read_text("utf-8"))["project"]["entry-points"]
    info = copy / "leakgeo-0.1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: leakgeo\nVersion: 0.1.0\n")
    lines = [f"[{group}]\n" + "\n".join(f"{k} = {v}" for k, v in table.items())
             for group, table in points.items()]  # fmt: skip
    (info / "entry_points.txt").write_text("\n".join(lines))


def test_a_pipe_material_is_one_file_and_one_without_constants_is_a_clear_error(done):
    told = done["material"]
    assert "material 'brass' has no constants of sound" in told["without"]
    assert "soundGroups" in told["without"]
    assert "'tin'" in told["unknown"]
    assert "groups there are metal" in told["unknown"]
    assert told["group"] == "metal"
    assert told["read"] == ["brass", "pvc"]
    assert told["faults"] == []


def test_a_tolerance_rule_is_one_file(done):
    assert done["rule"] == {"rule": ["county"], "tolerance_m": [1.0], "help": True}


def test_an_export_format_is_one_file_and_help_lists_it(done):
    told = done["format"]
    assert "wkt" in told["help"]
    assert told["marks"].startswith("POINT")
    assert "Columns are not in it." in told["loses"]


def test_a_check_is_one_function(done):
    short = [text for text in done["check"] if "too short to walk" in text]
    assert len(short) == 1
    assert short[0].startswith("L2")


def test_a_step_is_one_file_and_one_entry_point(done):
    told = done["step"]
    assert told["made"] == pytest.approx([50.0, 40.0], rel=1e-3)
    assert told["code"] == 0, told["said"]
    assert told["written"] == ["L1"]
    assert "lengths" in told["listed"]
    assert told["run"]
    assert "| `leakgeo lengths` | Measure each line. |" in told["table"]


def test_an_output_column_is_declared_and_made_or_an_error(done):
    told = done["column"]
    assert "meter_results.note: the step meter makes this column" in told["undeclared"]
    assert told["made"] == ["metered"]
    assert "meter_results.weather: data_schemas/meter_results.json declares it" in told["unmade"]
