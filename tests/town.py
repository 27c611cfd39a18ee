"""The shipped town, and results of it held against each other."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pyogrio

from leakgeo.runner.journal import FOLDER

TOWN = Path(__file__).parents[1] / "examples" / "town" / "job.gpkg"
# Lines of it that are enough where the size of a job is not the point.
_FEW = ("H-101", "H-102", "H-117", "H-126", "S-109", "S-117")
#: Parameters of a run where what is drawn is not the point.
QUICK = {"density": False, "map_lines": 1, "report_lines": 1}
_FILES = ("summary.csv", "faults.csv", "map.html", "locate_request.geojson", "result.qgz")


def write_few(path: Path) -> Path:
    """Write a job of a few lines of the town."""
    for name, frame in ((n, pyogrio.read_dataframe(TOWN, layer=n)) for n in ("routes", "readings")):
        pyogrio.write_dataframe(frame[frame["line_id"].isin(_FEW)], path, layer=name)
    return path


def layers(path: Path) -> dict[str, pd.DataFrame]:
    """Read every layer of a result, but for its styles."""
    names = [n for n in pyogrio.list_layers(path)[:, 0] if n != "layer_styles"]
    return {n: pd.DataFrame(pyogrio.read_dataframe(path, layer=n)) for n in names}


def assert_same(one: Path, other: Path) -> None:
    """Hold two folders to have one result, to the last bit."""
    first, second = layers(one / "result.gpkg"), layers(other / "result.gpkg")
    assert list(first) == list(second)
    for name, frame in first.items():
        pd.testing.assert_frame_equal(frame, second[name], check_exact=True, obj=name)
    for file in _FILES:
        assert (one / file).read_bytes() == (other / file).read_bytes(), file
    assert not (other / FOLDER).exists()


def assert_same_rows(one, other):
    """Hold two folders to have the same rows, to the last bit, in any order."""
    first, second = layers(one / "result.gpkg"), layers(other / "result.gpkg")
    assert list(first) == list(second)
    for name in sorted(set(first) - {"run_record"}):
        own, theirs = sorted_rows(first[name]), sorted_rows(second[name])
        pd.testing.assert_frame_equal(own, theirs, check_exact=True, obj=name)


def sorted_rows(table):
    """Rows by their texts; walks on lines are numbered as they come."""
    table = table.drop(columns=["run_id"], errors="ignore")
    known = table.drop(columns="walk", errors="ignore").map(str).agg("|".join, axis=1)
    table = table.iloc[np.argsort(known.to_numpy(), kind="stable")].reset_index(drop=True)
    if "walk" not in table:
        return table
    on_a_line = table["walk"].where(table["chainage_m"].notna())
    return table.assign(walk=pd.factorize(on_a_line)[0])
