"""The notebook runs from its first cell to its last, and is kept without what it printed."""

from __future__ import annotations

import ast
import json
from pathlib import Path

import matplotlib as mpl
import pytest

NOTEBOOK = Path(__file__).parents[1] / "examples" / "first_hour.ipynb"
CELLS = json.loads(NOTEBOOK.read_text("utf-8"))["cells"]
CODE = ["".join(cell["source"]) for cell in CELLS if cell["cell_type"] == "code"]


def run_cell(source, names):
    """Run a cell, and give its last expression, as a notebook shows it."""
    tree = ast.parse(source)
    last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
    exec(compile(tree, "cell", "exec"), names)
    if last is None:
        return None
    return eval(compile(ast.Expression(last.value), "cell", "eval"), names)


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    mpl.use("Agg")
    import matplotlib.pyplot as plt

    names = {"__name__": "__main__"}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("tempfile.tempdir", str(tmp_path_factory.mktemp("notebook")))
        shown = [run_cell(source, names) for source in CODE]
        names["axes"] = plt.gcf().axes
        names["drawn"] = [(axis.get_ylabel(), len(axis.lines)) for axis in plt.gcf().axes]
        plt.close("all")
    return names, shown


def test_it_goes_from_frames_to_files(ran):
    names, shown = ran
    assert names["job"].counts["routes"] == len(names["layers"]["routes"])
    assert names["drawn"] == [("level, dB", 1), ("leak, per metre", 1)]
    assert shown[-2] == sorted(path.name for path in names["out"].iterdir())
    assert {"map.html", "result.gpkg", "summary.csv"} <= set(shown[-2])
    assert set(names["zones"]["dig_status"]) == {"hold"}


def test_marks_are_near_the_leaks_that_were_simulated(ran):
    _, shown = ran
    assert len(shown[-1]) >= 4
    assert shown[-1].median() < 0.5


def test_it_is_kept_without_outputs_and_places_of_a_machine():
    assert len(CODE) >= 8
    assert all(not c["outputs"] and c["execution_count"] is None
               for c in CELLS if c["cell_type"] == "code")  # fmt: skip
    text = NOTEBOOK.read_text("utf-8")
    assert "/home/" not in text

    assert "simulated" in text
