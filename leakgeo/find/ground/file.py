"""The file ground.toml: what one job taught about its ground, for the next jobs of a crew."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.errors import ParameterError
from leakgeo.sound.noise_law import COLUMNS, FLOOR, NoiseLaw
from leakgeo.sound.walk_law import WalkLaw

if TYPE_CHECKING:
    from pathlib import Path

# Constants of the floor beyond this are no decibels.
_MOST_DB = 60.0
_HEAD = """\
# What a job taught about the noise of readings on its ground. Give it to another job of the same
# crew and town as its ground; delete nothing.
# Each node: standard deviation of the coupling of sensor and ground in dB, its correlation length
# in metres, standard deviation of a reading in dB, and the share of the lines. Before them, in dB:
# how far the ambient floor lies below a leak, how much that varies, and its trend along a line.
"""
_WALKS_HEAD = """
# Walks by satellite. Errors: share of the variance of a fix that drifts, stops over which the
# drift is remembered, 1 if each walk has a drift of its own, and the share of the visits. Steps:
# length in metres, and the share of the walks.
"""


def ground_toml(law: NoiseLaw, walks: WalkLaw | None = None) -> str:
    """Return the text of ground.toml for the laws of noise and walks.

    Examples
    --------
    >>> law = NoiseLaw.of([[1.0, 0.8, 1.3, 0.5], [2.0, 0.8, 1.3, 0.5]], lines=40)
    >>> print(ground_toml(law).split("[noise_law]")[1].strip())
    lines = 40
    nodes = [
      [1.0, 0.8, 1.3, 0.5],
      [2.0, 0.8, 1.3, 0.5],
    ]
    """
    rows = law.table()[list(COLUMNS)].to_numpy().tolist()
    nodes = "".join(f"  {row},\n" for row in rows)
    floor = "".join(f"{name} = {value}\n" for name, value in law.floor.items())
    text = f"{_HEAD}[noise_law]\nlines = {law.lines}\n{floor}nodes = [\n{nodes}]\n"
    return text if walks is None else text + _walks(walks)


def _walks(law: WalkLaw) -> str:
    errors = np.column_stack([law.errors, law.error_weight]).tolist()
    steps = np.column_stack([law.steps_m, law.step_weight]).tolist()
    rows = ["".join(f"  {row},\n" for row in table) for table in (errors, steps)]
    return (
        f"{_WALKS_HEAD}[walk_law]\nvisits = {law.visits}\nwalks = {law.walks}\n"
        f"errors = [\n{rows[0]}]\nsteps = [\n{rows[1]}]\n"
    )


def walk_law_from(path: Path, otherwise: WalkLaw) -> WalkLaw:
    """Return the law of walks in a file that an earlier run wrote.

    Parameters
    ----------
    path : pathlib.Path
    otherwise : WalkLaw
        Returned if the file has only a law of noise.

    Raises
    ------
    ParameterError
        If the file can't be read, or its law is none.
    """
    try:
        table = tomllib.loads(path.read_text("utf-8")).get("walk_law")
        if table is None:
            return otherwise
        parts = table["errors"], table["steps"], int(table["visits"]), int(table["walks"])
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise ParameterError.of(
            "ground", f"{path} can't be read as a law of walks ({error}); give the ground.toml of "
            "an earlier run."
        ) from error  # fmt: skip
    return WalkLaw.of(*parts, where=str(path))


def noise_law_from(path: Path) -> NoiseLaw:
    """Return the law in a file that an earlier run wrote.

    Parameters
    ----------
    path : pathlib.Path

    Raises
    ------
    ParameterError
        If the file can't be read, or has no law.
    """
    try:
        table = tomllib.loads(path.read_text("utf-8"))["noise_law"]
        nodes, lines = table["nodes"], int(table.get("lines", 0))
        floor = {name: float(table[name]) for name in FLOOR if name in table}
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise ParameterError.of(
            "ground", f"{path} can't be read as a law of noise ({error}); give the ground.toml of "
            "an earlier run."
        ) from error  # fmt: skip
    if not all(0.0 < value < _MOST_DB for value in floor.values()):
        raise ParameterError.of(
            "ground", f"{path}: {', '.join(FLOOR)} must be above 0 and below {_MOST_DB:g} dB."
        )
    return NoiseLaw.of(nodes, lines, str(path)).with_floor(floor)
