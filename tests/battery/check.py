"""Runs a spoilt job, and compares what is reported and counted, and what must be as it was."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pyogrio

import leakgeo
from leakgeo.deliver.folder.record import counts
from leakgeo.find.ground.file import ground_toml
from leakgeo.runner.exit_codes import exit_code
from leakgeo.sound.constants import load_constants
from tests.battery.good import LINES, layers

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from leakgeo.faults import Fault
    from leakgeo.result import Result
    from tests.battery.good import Layers

# Lines that a fault does not touch are where they were, but for the rounding of another CRS.
SAME_M = 0.005


@dataclass(frozen=True)
class Case:
    """A fault: how a good job comes to have it, and what is to come of it.

    Parameters
    ----------
    spoil : callable
        Takes the good job's layers, and gives those of the bad one.
    code : str
        Of the fault that is reported.
    words : tuple of str
        What its sentence names: layer, line, figures.
    effect : str
        Of that fault.
    rejected : int
        Readings that are not used.
    untouched : tuple of str
        Lines whose results are as they were.
    rejected_lines : int
        Lines without a result; with any, the exit code is 1.
    """

    spoil: Callable[[Layers], Layers]
    code: str
    words: tuple[str, ...] = ()
    effect: str = "noted"
    rejected: int = 0
    untouched: tuple[str, ...] = LINES
    rejected_lines: int = 0
    also: Callable[[Result], None] | None = field(default=None)


def write(tables: Layers, path: Path) -> Path:
    """Write layers as a crew's GIS would: as they are."""
    for name, table in tables.items():
        pyogrio.write_dataframe(table, path, layer=name)
    return path


def located(tables: Layers) -> Result:
    """Run a job as far as the marks, with the noise law held, which all lines of a job teach."""
    with tempfile.TemporaryDirectory() as folder:
        law = Path(folder) / "ground.toml"
        law.write_text(ground_toml(load_constants().noise_law), "utf-8")
        job = write(tables, Path(folder) / "job.gpkg")
        return leakgeo.locate(leakgeo.ground(job, ground=law))


@cache
def good_result() -> Result:
    """Give what is found on the good job."""
    return located(layers())


def faults(result: Result) -> tuple[Fault, ...]:
    """Give what is reported of a job, and of its results."""
    return (*result.job.faults, *result.faults)


def lines_of(result: Result) -> pd.DataFrame:
    """Give the table of lines, by name."""
    return result["lines"].set_index("line_id")


def assert_case(case: Case) -> None:
    """Run a case, and hold it to what it says."""
    result = located(case.spoil(layers()))
    found = [f for f in faults(result) if f.code == case.code]
    found = [f for f in found if all(w in str(f) for w in case.words)]
    assert found, [f"{f.code}: {f}" for f in faults(result)]
    assert {f.effect for f in found} == {case.effect}
    account = counts(result)["readings"]
    assert account["in"] == account["used"] + account["rejected"]
    assert account["rejected"] == case.rejected, account["rejected_by_reason"]
    lines, before = lines_of(result), lines_of(good_result())
    assert (lines["status"] == "rejected").sum() == case.rejected_lines
    assert exit_code(result) == int(case.rejected_lines > 0)
    for line in case.untouched:
        assert lines.loc[line, "status"] == before.loc[line, "status"], line
        for column in ("chainage_m", "leak_probability"):
            np.testing.assert_allclose(lines.loc[line, column], before.loc[line, column],
                                       atol=SAME_M, err_msg=line)  # fmt: skip
    if case.also is not None:
        case.also(result)
