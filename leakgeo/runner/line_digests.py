"""Digest of everything that the results of a line depend on, for every line of a job."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely
from scipy.sparse import csr_array, eye_array

from leakgeo.arrays import texts
from leakgeo.deliver.folder.record import versions
from leakgeo.find.locate.nearby_lines import REACH_M
from leakgeo.job.crs import transformer
from leakgeo.job.model import LAYERS, NOT_SELECTED
from leakgeo.job.row_hashes import row_hashes, sums_in_order
from leakgeo.job.window import AROUND_M, NEAR_M
from leakgeo.provenance import NEUTRAL_PARAMETERS, content_of
from leakgeo.runner.chunks import AROUND, is_selected

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    import geopandas as gpd
    from numpy.typing import NDArray

    from leakgeo.arrays import Ints, Objects
    from leakgeo.result import Result
    from leakgeo.runner.chunks import ChunkPlan
    from leakgeo.runner.task import PlannedStep

# Tables that a chunk gets whole, of which a line uses the rows with its line_id.
_TABLES = ("meter_tests", "action_results")
# Columns of earlier layers, with numbers over all lines, that no step by line reads.
_OVER_ALL = {
    "contact_ranking": ("network_part", "rank"),
    "survey_bracket": ("network_part", "area", "rank", "order", "probability", "message", "code",
                       "values"),
}  # fmt: skip
# Order in which the steps by line read the rows of a layer.
_ORDER = {"survey_bracket": ["area", "order"]}
_SEPARATOR = "; "  # of the names in ``read_with``
_LEVEL_AFTER = 2  # joins from a near line to the farthest that a chunk includes


@dataclasses.dataclass(frozen=True, eq=False)
class LineDigests:
    """Digests of the inputs of the lines of a job.

    If the digest of a line is the same, and the digests of the readings of the lines that it was
    read with, then every row of it in every layer that the steps by line make is equal to the last
    bit, but for ``priority`` and what `leakgeo.dig.order.dig_order` makes of ``lines``.

    Parameters
    ----------
    of_line : mapping of str to str
        Digest of the inputs of each selected line but the readings on other lines, by ``line_id``
        in the order of the routes.
    heard : mapping of str to int
        Digest of the readings of each line.
    loose : str
        Digest of the readings of no line, and of the lines that are not selected.
    beside : mapping of str to tuple of str
        Lines whose readings may be read with those of a line.
    """

    of_line: Mapping[str, str]
    heard: Mapping[str, int]
    loose: str
    beside: Mapping[str, tuple[str, ...]]

    def read_with(self, line_id: str, named: str | None, *, failed: bool) -> dict[str, int]:
        """Return the digests of the readings that the result of a line depends on.

        Parameters
        ----------
        line_id : str
        named : str or None
            ``read_with`` of its row of ``lines``.
        failed : bool
            Whether it could not be worked out; then any line beside may have mattered.
        """
        beside = self.beside.get(line_id, ())
        # A name with a separator in it can't be told from two.
        unclear = failed or any(_SEPARATOR in name for name in beside)
        names = beside if unclear else (named or "").split(_SEPARATOR)
        return {name: self.heard.get(name, 0) for name in names if name}


def line_digests(
    plan: ChunkPlan, earlier: Result, steps: Sequence[PlannedStep], laws: Iterable[str]
) -> LineDigests:
    """Return the digests of the inputs of every selected line.

    Parameters
    ----------
    plan : ChunkPlan
        Of the whole job, with every good reading assigned to a line.
    earlier : Result
        Result of the steps before.
    steps : sequence of PlannedStep
        The steps by line.
    laws : iterable of str
        Layers of `earlier` that hold for the whole job.
    """
    inputs = _Inputs(plan, earlier, steps)
    whole = inputs.whole_job(laws)
    sums = inputs.of_lines
    found: dict[str, str] = {}
    names = texts(plan.job.routes, "line_id")
    for name, rows in _rows_by_name(names, plan.selected_rows).items():
        mixed = hashlib.blake2b(whole.encode(), digest_size=16)
        mixed.update(sums[rows].tobytes())
        found[name] = mixed.hexdigest()
    loose = hashlib.blake2b(whole.encode(), digest_size=16)
    loose.update(inputs.loose().tobytes())
    heard = {str(n): int(h) for n, h in zip(names, inputs.heard, strict=True) if h and n}
    return LineDigests(found, heard, loose.hexdigest(), inputs.beside())


def with_other_layers(
    result: Result, plan: ChunkPlan, steps: Sequence[PlannedStep]
) -> dict[str, str]:
    """Return the digests of the lines of a result with their rows in the layers of other steps.

    Those layers have ranks and probabilities over all lines.

    Parameters
    ----------
    result : Result
        With what is kept of its lines.
    plan : ChunkPlan
    steps : sequence of PlannedStep
        The steps by line.
    """
    by_line = {name for one in steps for name in (*one.step.makes, *one.step.changes)}
    count = len(plan.job.routes)
    parts = [
        sums_in_order(row_hashes(layer), plan.rows_of(layer["line_id"]), count)
        for name, layer in sorted(result.layers.items())
        if name not in by_line and "line_id" in layer and len(layer)
    ]
    digests: Mapping[str, str] = {} if result.kept is None else result.kept.digests
    row = plan.rows_of(pd.Series([*digests], dtype=object))
    others = np.column_stack([np.zeros(count, dtype=np.uint64), *parts])
    return {
        name: hashlib.blake2b(digest.encode() + others[k].tobytes(), digest_size=16).hexdigest()
        for (name, digest), k in zip(digests.items(), row.tolist(), strict=True)
    }


def _rows_by_name(names: Objects, rows: Ints) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for row in rows.tolist():
        if names[row] is not None:
            found.setdefault(str(names[row]), []).append(row)
    return found


class _Inputs:
    """Hashes of the inputs of each row of the routes."""

    def __init__(self, plan: ChunkPlan, earlier: Result, steps: Sequence[PlannedStep]) -> None:
        self.plan, self.job, self.earlier, self.steps = plan, plan.job, earlier, steps
        self.count = len(plan.job.routes)

    @cached_property
    def of_lines(self) -> NDArray[np.uint64]:
        """Return the hash of the inputs of each route: its own, and those of its neighbours."""
        around = self._in_reach(self._without_readings)
        return np.column_stack([self._without_readings, self.heard, around])

    def beside(self) -> dict[str, tuple[str, ...]]:
        """Return the lines that join each line or come near it."""
        return self.plan.reuse("beside", lambda _: self._beside(), self.job.routes)

    def _beside(self) -> dict[str, tuple[str, ...]]:
        names = texts(self.job.routes, "line_id").astype(str)
        found: dict[str, list[str]] = {}
        shapes = self.job.routes.geometry.to_numpy()
        there = np.flatnonzero(~shapely.is_missing(shapes))
        of, near = self.plan.tree.query(shapes[there], predicate="dwithin", distance=REACH_M)
        pairs = np.hstack([self.plan.pairs, np.stack([there[of], near])])
        for one, other in names[pairs.T].tolist():
            if one != other:
                found.setdefault(one, []).append(other)
        return {name: tuple(dict.fromkeys(others)) for name, others in found.items()}

    def loose(self) -> NDArray[np.uint64]:
        """Return the hashes of what belongs to no selected line."""
        line, readings = self.plan.line_of_reading, self._readings
        free = (line < 0) | ~is_selected(self.job)[line]
        at = np.zeros(int(free.sum()), dtype=np.int64)
        return np.concatenate([
            sums_in_order(readings[free], at, 1), self.of_lines[~is_selected(self.job)].ravel(),
        ])  # fmt: skip

    @cached_property
    def _readings(self) -> NDArray[np.uint64]:
        return row_hashes(as_if_selected(self.job.readings))

    @cached_property
    def heard(self) -> NDArray[np.uint64]:
        """Return the hash of the readings of each route."""
        return sums_in_order(self._readings, self.plan.line_of_reading, self.count)

    @cached_property
    def _without_readings(self) -> NDArray[np.uint64]:
        """Return the hash of what each route has itself: its row, tables and features."""
        read = [getattr(self.job, name) for name in LAYERS if name != "readings"]
        earlier = [self.earlier.layers.get(name) for name in _OVER_ALL]
        of_job = self.job.isolation, self.job.valve_closures, self.job.ground
        return self.plan.reuse(
            "without readings", lambda *_: self._hash_without_readings(), *read, *earlier, *of_job,
            repr(self.job.latest_month), repr(self.steps),
        )  # fmt: skip

    def _hash_without_readings(self) -> NDArray[np.uint64]:
        routes = as_if_selected(self.job.routes)
        parts = [
            sums_in_order(row_hashes(routes), np.arange(self.count), self.count),
            *(self._near(name) for name in AROUND),
            *(self._named(getattr(self.job, name)) for name in _TABLES),
            *(self._named(self._earlier_layer(name)) for name in _OVER_ALL),
            self._tests(), self._settings(), self._ground(),
        ]  # fmt: skip
        # Sums of different parts must not stand in for each other.
        which = np.tile(np.arange(self.count), len(parts))
        return sums_in_order(np.concatenate(parts), which, self.count)

    def _in_reach(self, own: NDArray[np.uint64]) -> NDArray[np.uint64]:
        """Return a sum over the neighbours of each route, as a chunk of it alone would have."""
        line, other = self.plan.reuse("reach", lambda _: self._reach(), self.job.routes)
        return sums_in_order(own[other], line, self.count)

    def _reach(self) -> tuple[Ints, Ints]:
        """Return each two rows of the routes of which the other is a neighbour of the first."""
        shapes = self.job.routes.geometry.to_numpy()
        there = np.flatnonzero(~shapely.is_missing(shapes))
        of, near = self.plan.tree.query(shapes[there], predicate="dwithin", distance=NEAR_M)
        size = (self.count, self.count)
        one = eye_array(self.count, dtype=np.int64, format="csr")
        reach = one + csr_array((np.ones(len(of), np.int64), (there[of], near)), size)
        a, b = self.plan.pairs
        joins = one + csr_array((np.ones(len(a), np.int64), (a, b)), size)
        for _ in range(_LEVEL_AFTER):
            reach = reach @ joins
        reach.sort_indices()
        line = np.repeat(np.arange(self.count), np.diff(reach.indptr))
        beside = line != reach.indices
        return line[beside], np.asarray(reach.indices[beside])

    def _near(self, name: str) -> NDArray[np.uint64]:
        """Return a sum over the features of a layer around each route."""
        layer = getattr(self.job, name)
        if layer is None or layer.empty:
            return np.zeros(self.count, dtype=np.uint64)
        given = self.job.routes, layer, repr(self.job.latest_month)
        return self.plan.reuse(("near", name), lambda *_: self._sum_near(name, layer), *given)

    def _sum_near(self, name: str, layer: gpd.GeoDataFrame) -> NDArray[np.uint64]:
        feature, line = self.plan.tree.query(
            layer.geometry.to_numpy(), predicate="dwithin", distance=AROUND_M
        )
        hashes = row_hashes(layer)
        if name == "history":
            # The age of a record counts from this day.
            hashes = hashes + np.uint64(_hash_of(self.job.latest_month))
        order = np.argsort(feature, kind="stable")
        return sums_in_order(hashes[feature[order]], line[order], self.count)

    def _named(self, layer: pd.DataFrame | None) -> NDArray[np.uint64]:
        """Return a sum over the rows of each line in a table."""
        if layer is None or layer.empty:
            return np.zeros(self.count, dtype=np.uint64)
        return sums_in_order(row_hashes(layer), self.plan.rows_of(layer["line_id"]), self.count)

    def _earlier_layer(self, name: str) -> pd.DataFrame | None:
        """Return a layer of an earlier step as the steps by line read it."""
        layer = self.earlier.layers.get(name)
        if layer is None:
            return None
        ordered = layer.sort_values(_ORDER[name], kind="stable") if name in _ORDER else layer
        return ordered.drop(columns=list(_OVER_ALL[name]), errors="ignore")

    def _tests(self) -> NDArray[np.uint64]:
        """Return a hash of the isolation tests made on each line, and of those that may be."""
        found, may = self.job.isolation, self.job.valve_closures
        names = texts(self.job.routes, "line_id")
        made = {} if found is None else found.by_line
        open_ones = {} if may is None else may.by_line
        return np.array(
            [_hash_of([made.get(n), open_ones.get(n)]) if n in made or n in open_ones else 0
             for n in names], dtype=np.uint64,
        )  # fmt: skip

    def _settings(self) -> NDArray[np.uint64]:
        """Return a hash of the settings that name each line."""
        names = texts(self.job.routes, "line_id")
        given = [
            (one.step.name, p.name, frozenset(one.settings.get(p.name) or ()))  # type: ignore[call-overload]
            for one in self.steps for p in one.step.parameters if p.names_lines
        ]  # fmt: skip
        named = frozenset(name for *_, own in given for name in own)
        return np.array(
            [_hash_of([n in own for *_, own in given]) if n in named else 0 for n in names],
            dtype=np.uint64,
        )

    def _ground(self) -> NDArray[np.uint64]:
        """Return a hash of the elevations around each route."""
        ground, hashes = self.job.ground, np.zeros(self.count, dtype=np.uint64)
        if ground is None:
            return hashes
        to_raster = transformer(self.job.crs, ground.crs)
        a, b, c, d, e, f = ground.transform
        for row, shape in enumerate(self.job.routes.geometry):
            if shape is None or shape.is_empty:
                continue
            west, south, east, north = shape.buffer(AROUND_M).bounds
            x, y = to_raster.transform([west, east, west, east], [south, south, north, north])
            column, line = np.linalg.solve([[a, b], [d, e]], np.array([x, y]) - [[c], [f]])
            (i, j), (k, m) = (
                (max(int(np.floor(at.min())) - 2, 0), max(int(np.ceil(at.max())) + 2, 0))
                for at in (line, column)
            )
            hashes[row] = _hash_of(ground.elevation_m[i:j, k:m])
        return hashes

    def whole_job(self, laws: Iterable[str]) -> str:
        """Return a text of what is the same for all lines."""
        job = self.job
        settings = {
            one.step.name: {
                p.name: content_of(one.settings.get(p.name))
                for p in one.step.parameters
                if p.name not in NEUTRAL_PARAMETERS and not p.names_lines
            }
            for one in self.steps
        }
        foreign = not all(one.step.function.startswith("leakgeo.") for one in self.steps)
        read = self.earlier.layers if foreign else {n: self.earlier.layers[n] for n in laws}
        ground = job.ground and [job.ground.transform, job.ground.crs.to_wkt(), job.ground.z_unit_m]
        return json.dumps([
            versions(), settings, job.crs.to_wkt(), job.output_crs.to_wkt(), ground,
            [name for name in LAYERS if getattr(job, name) is None],
            bool(job.counts.get("utilities")), [self._of_no_line(name) for name in AROUND],
            [self._of_no_line(name, named=True) for name in _TABLES],
            {n: self.plan.reuse(("whole", n), _whole, layer) for n, layer in sorted(read.items())},
        ], default=str)  # fmt: skip

    def _of_no_line(self, name: str, *, named: bool = False) -> int:
        """Return a sum over the rows that every chunk gets: without position, or of no line."""
        layer = getattr(self.job, name)
        if layer is None or layer.empty:
            return 0
        return self.plan.reuse(("of no line", name), _sum_of_no_line, layer, named)


def _sum_of_no_line(layer: pd.DataFrame, named: bool) -> int:
    free = layer["line_id"].isna() if named else shapely.is_missing(layer.geometry.to_numpy())
    return _whole(layer[np.asarray(free)])


def as_if_selected(layer: pd.DataFrame) -> pd.DataFrame:
    """Return a layer without the reason of rows of lines that were not selected."""
    return layer.assign(reason=layer["reason"].where(layer["reason"] != NOT_SELECTED, None))


def _whole(layer: pd.DataFrame) -> int:
    """Return a hash of a whole layer, in its order."""
    return int(sums_in_order(row_hashes(layer), np.zeros(len(layer), dtype=np.int64), 1)[0])


def _hash_of(value: object) -> int:
    """Return a hash of a value that is the same in every process."""
    digest = hashlib.blake2b(digest_size=8)
    for part in _bytes_of(value):
        digest.update(part)
    return int.from_bytes(digest.digest(), "little")


def _bytes_of(value: Any) -> Iterable[bytes]:
    yield type(value).__name__.encode() + b"("
    if isinstance(value, np.ndarray) and value.dtype != object:
        yield repr((value.shape, value.dtype.str)).encode() + value.tobytes()
    elif isinstance(value, shapely.Geometry):
        yield shapely.to_wkb(value)
    elif (parts := _parts_of(value)) is None:
        yield repr(value).encode()
    else:
        for part in parts:
            yield from _bytes_of(part)
    yield b")"


def _parts_of(value: Any) -> Iterable[Any] | None:
    """Return the parts of a value that has some, in an order of their own; else None."""
    if dataclasses.is_dataclass(value):
        return [getattr(value, field.name) for field in dataclasses.fields(value)]
    if isinstance(value, (frozenset, set)):
        return sorted(value, key=repr)
    if hasattr(value, "items"):
        return sorted(value.items(), key=lambda pair: repr(pair[0]))
    return value if isinstance(value, (tuple, list, np.ndarray)) else None
