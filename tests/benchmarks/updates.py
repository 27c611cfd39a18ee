"""An update against a run of all lines, over random edits of every input layer.

Both must agree to the last bit: every layer, every fault. One in some edits is an update after
several edits, as after a night.

    python -m tests.benchmarks.updates --edits 100 --seed 1 [--warm]

With ``--warm`` one process reads the job again and again, as a watch does.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from contextlib import ExitStack
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely

from leakgeo.errors import JobError
from leakgeo.job.read import JobReader, read_job
from leakgeo.job.reuse import Reuse
from leakgeo.progress import ignore
from leakgeo.result import Result
from leakgeo.runner.chain import planned_steps
from leakgeo.runner.kept_lines import KeptLines
from leakgeo.runner.layer_steps import Chunking, run_layer_steps
from leakgeo.runner.task import PlannedStep
from tests.town import TOWN

if TYPE_CHECKING:
    from collections.abc import Callable

    from leakgeo.job.model import Job

Layers = dict[str, Any]
# Fractions of numbers that an edit changes, and metres that it moves a shape by.
_FACTOR, _MOVED_M = 0.1, 3.0


def town_layers() -> Layers:
    """Return the layers of the town by their names in the contract; lines and areas are one."""
    return {name: frame.copy() for name, frame in _town_layers().items()}


@cache
def _town_layers() -> Layers:
    parts: dict[str, list[Any]] = {}
    for name in pyogrio.list_layers(TOWN)[:, 0]:
        layer = _PARTS.get(str(name), str(name))
        parts.setdefault(layer, []).append(pyogrio.read_dataframe(TOWN, layer=name))
    frames = {name: pd.concat(parts[name], ignore_index=True) for name in INPUTS if name in parts}
    return {name: frame for name, frame in frames.items() if len(frame)}


INPUTS = ("routes", "readings", "contacts", "meter_tests", "valves", "isolation_tests",
          "closed_valves", "action_results", "utilities", "surfaces", "history",
          "dig_outcomes")  # fmt: skip
# Layers of the file that are parts of an input layer.
_PARTS = {"utility_lines": "utilities", "utility_areas": "utilities", "history_points": "history",
          "history_areas": "history"}  # fmt: skip


@dataclass
class Editor:
    """Random edits of a job.

    Parameters
    ----------
    layers : dict of str to DataFrame
        Changed in place.
    rng : numpy.random.Generator
    """

    layers: Layers
    rng: np.random.Generator
    made: list[str] = field(default_factory=list)

    def edit(self, name: str) -> str:
        """Change one layer at random; return what was done."""
        kinds: list[Callable[[str], str]] = [
            self._change, self._change, self._change, self._delete, self._add, self._empty,
            self._swap,
        ]  # fmt: skip
        if isinstance(self.layers[name], gpd.GeoDataFrame):
            kinds += [self._move, self._move]
        if not self._columns(name):
            kinds = [self._delete, self._add, self._swap]
        kind = kinds[self.rng.integers(len(kinds))]
        return f"{name}: {kind(name)}"

    def _row(self, name: str) -> int:
        return int(self.rng.integers(len(self.layers[name])))

    def _columns(self, name: str) -> list[str]:
        frame = self.layers[name]
        good = [c for c in frame if c != "geometry" and frame[c].notna().any()]
        return [c for c in good if not pd.api.types.is_bool_dtype(frame[c])]

    def _change(self, name: str) -> str:
        """Change a value to one of another row, or by a tenth."""
        frame, row = self.layers[name].copy(), self._row(name)
        column = str(self.rng.choice(self._columns(name)))
        values = frame[column].dropna()
        value = values.iloc[int(self.rng.integers(len(values)))]
        if pd.api.types.is_float_dtype(frame[column]) and self.rng.random() < 0.7:
            value = value * (1.0 + _FACTOR * self.rng.normal())
        frame.loc[frame.index[row], column] = value
        self.layers[name] = frame
        return f"row {row}, {column} = {value}"

    def _empty(self, name: str) -> str:
        frame, row = self.layers[name].copy(), self._row(name)
        column = str(self.rng.choice(self._columns(name)))
        frame.loc[frame.index[row], column] = None
        self.layers[name] = frame
        return f"row {row}, {column} emptied"

    def _delete(self, name: str) -> str:
        row = self._row(name)
        if len(self.layers[name]) < 2:
            return "none deleted"
        self.layers[name] = self.layers[name].drop(self.layers[name].index[row])
        self.layers[name] = self.layers[name].reset_index(drop=True)
        return f"row {row} deleted"

    def _add(self, name: str) -> str:
        """Copy a row under another identifier, somewhere in the layer."""
        frame, row = self.layers[name], self._row(name)
        one = frame.iloc[[row]].copy()
        own = next((c for c in frame if str(c).endswith("_id")), None)
        if own is not None:
            one[own] = f"new-{self.rng.integers(10**6)}"
        at = int(self.rng.integers(len(frame) + 1))
        self.layers[name] = pd.concat([frame.iloc[:at], one, frame.iloc[at:]], ignore_index=True)
        return f"row {row} copied to {at}"

    def _swap(self, name: str) -> str:
        order = np.arange(len(self.layers[name]))
        a, b = self._row(name), self._row(name)
        order[[a, b]] = order[[b, a]]
        self.layers[name] = self.layers[name].iloc[order].reset_index(drop=True)
        return f"rows {a} and {b} swapped"

    def _move(self, name: str) -> str:
        frame, row = self.layers[name].copy(), self._row(name)
        shapes = frame.geometry.to_numpy().copy()
        if shapes[row] is None:
            return "no shape to move"
        by = self.rng.normal(0.0, _MOVED_M, 2)
        shapes[row] = shapely.transform(shapes[row], lambda xy: xy + by)
        self.layers[name] = frame.set_geometry(shapes, crs=frame.crs)
        return f"row {row} moved by {np.round(by, 2).tolist()}"


class Warm:
    """What a watch keeps from one save to the next."""

    def __init__(self) -> None:
        self.layers: Layers = {}
        self.reader, self.reuse = JobReader(self.layers), Reuse()

    def read(self, source: Layers) -> Job:
        """Read a job of which some layers are others than before."""
        self.layers.clear()
        self.layers.update(source)
        return self.reader.read()


def layers_of(
    source: Layers, out: Path, *, ground: Path | None, update: bool, size: int = 1000,
    resume: bool = False, lines: tuple[str, ...] = (), warm: Warm | None = None, **given: object,
) -> Result:  # fmt: skip
    """Run the steps that make layers."""
    job = read_job(source, lines=lines or None) if warm is None else warm.read(source)
    steps = planned_steps({"out": out, "ground": ground, **given})
    steps = [s for s in steps if not s.step.writes_files]
    steps = [PlannedStep(s.step, {**s.settings, **({"out": None} if "out" in s.settings else {})})
             for s in steps]  # fmt: skip
    kept = KeptLines(out) if update else None
    reuse = None if warm is None else warm.reuse
    chunking = Chunking(out, size, 1, resume, None, source, None, lines, kept, reuse=reuse)
    with ExitStack() as cleanup:
        result = run_layer_steps(Result(job), steps, chunking, cleanup, ignore)[0]
    if reuse is not None:
        reuse.keep()
    return result


def differences(one: Result, other: Result) -> list[str]:
    """Return the layers, and the faults, in which two results differ."""
    unlike = set(one.layers) ^ set(other.layers)
    found = [f"layers {unlike}"] if unlike else []
    for name, layer in one.layers.items():
        try:
            pd.testing.assert_frame_equal(
                _plain(layer), _plain(other.layers[name]), check_exact=True
            )
        except AssertionError as error:
            found.append(f"{name}: {' '.join(str(error).split())[:300]}")
    if one.faults != other.faults:
        unlike = set(one.faults) ^ set(other.faults)
        found.append(f"faults: {unlike or 'in another order'}")
    return found


def _plain(layer: pd.DataFrame) -> pd.DataFrame:
    """Return a layer with texts as objects: files do not tell the two types of pandas apart."""
    plain = pd.DataFrame(layer)
    texts = [
        c for c in plain if isinstance(plain[c].dtype, pd.StringDtype) or plain[c].dtype == object
    ]
    return plain.assign(**{c: plain[c].astype(object).where(plain[c].notna(), None) for c in texts})


def main() -> None:
    """Print each edit that is not answered alike, and how many were."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--edits", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--warm", action="store_true")
    asked = parser.parse_args()
    rng, source = np.random.default_rng(asked.seed), town_layers()
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder)
        law = out / "ground.toml"
        first = layers_of(source, out / "first", ground=None, update=False)
        law.write_text(ground_text(first), encoding="utf-8")
        warm = Warm() if asked.warm else None
        layers_of(source, out, ground=law, update=True, warm=warm)
        wrong, spent, worked, every = 0, [0.0, 0.0], 0, 0
        for number in range(asked.edits):
            made = []
            for _ in range(1 if rng.random() < 0.8 else 4):
                editor = Editor(dict(source), rng)
                made.append(editor.edit(str(rng.choice([n for n in INPUTS if n in source]))))
                source = editor.layers
            try:
                begin = time.perf_counter()
                updated = layers_of(source, out, ground=law, update=True, warm=warm)
                middle = time.perf_counter()
                whole = layers_of(source, out / "whole", ground=law, update=False)
            except JobError as error:
                print(number, made, "the job can't be run:", str(error)[:90])
                continue
            spent[0] += middle - begin
            spent[1] += time.perf_counter() - middle
            worked += len(updated.kept.worked_out)
            every += len(updated.layers["lines"])
            if unlike := differences(whole, updated):
                wrong += 1
                print(number, made, *unlike, sep="\n  ", flush=True)
        print(
            f"{asked.edits} edits, {wrong} not alike; {worked} of {every} lines worked out; "
            f"updates took {spent[0] / spent[1]:.2f} of the runs of all lines ({spent[1]:.0f} s)"
        )


def ground_text(result: Result) -> str:
    """Return ground.toml of a result."""
    from leakgeo.find.ground.file import ground_toml
    from leakgeo.sound.noise_law import NoiseLaw
    from leakgeo.sound.walk_law import WalkLaw

    laws = (NoiseLaw.from_table(result.layers["noise_law"]),
            WalkLaw.from_table(result.layers["walk_law"]))  # fmt: skip
    return ground_toml(*laws)


if __name__ == "__main__":
    main()
