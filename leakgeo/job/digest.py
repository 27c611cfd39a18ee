"""Digests of the content of jobs and layers, independent of the file format."""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.job.model import LAYERS
from leakgeo.job.reuse import Reuse

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from leakgeo.job.model import Job
    from leakgeo.job.schema import LayerSchema


def job_digest(job: Job, reuse: Reuse | None = None) -> str:
    """Return the SHA-256 of all layers of a job, after reading and checking.

    Parameters
    ----------
    job : Job
    reuse : Reuse, optional
        Has the digests of the layers that did not change.
    """
    reuse, digest = reuse or Reuse(), hashlib.sha256()
    for name in LAYERS:
        layer = getattr(job, name)
        if layer is not None:
            digest.update(name.encode())
            digest.update(reuse(("digest", name), _digest, layer))
    if job.ground is not None:
        digest.update(job.ground.elevation_m.tobytes())
    return digest.hexdigest()


def _digest(layer: pd.DataFrame) -> bytes:
    """Return the digest of every value of a layer; numbers by their bits, others by their text."""
    digest, plain = hashlib.sha256(), pd.DataFrame(layer)
    if isinstance(layer, gpd.GeoDataFrame):
        shapes = shapely.to_wkb(layer.geometry.to_numpy())
        digest.update(b"".join(shape or b"none" for shape in shapes))
        plain = plain.drop(columns=layer.geometry.name)
    digest.update(json.dumps([[str(name), len(plain)] for name in plain]).encode())
    for name in plain:
        for part in _bits(plain[name]):
            digest.update(part)
    return digest.digest()


def _bits(column: pd.Series[Any]) -> tuple[bytes, ...]:
    """Return the numbers of a column; of others, each distinct text once and its rows."""
    if pd.api.types.is_datetime64_any_dtype(column.dtype):
        return (column.array.asi8.tobytes(),)
    if isinstance(column.dtype, np.dtype) and column.dtype.kind in "fiub":
        return (column.to_numpy().tobytes(),)
    rows, distinct = pd.factorize(column)
    texts = json.dumps([str(value) for value in distinct])
    return texts.encode(), np.asarray(rows, dtype=np.int64).tobytes()


def column_types(schema: LayerSchema | None) -> dict[str, str]:
    """Return the types of the columns of a layer of the contract."""
    return {} if schema is None else {f.name: f.type for f in schema.fields}


class LayerDigest:
    """Digest of the rows of a layer, independent of their order and of the file.

    The digest is the same before a layer is written to a GeoPackage and after it is read again, so
    it distinguishes an edited layer from one that a GIS has only opened.

    Parameters
    ----------
    types : mapping of str to str
        Types of columns, as in the schemas; other types are inferred from the values.

    Examples
    --------
    >>> one = LayerDigest({"n": "integer"})
    >>> one.add(pd.DataFrame({"n": [1, None], "t": ["a", "b"]}))
    >>> other = LayerDigest({"n": "integer"})
    >>> other.add(pd.DataFrame({"t": ["b"], "n": [float("nan")]}))
    >>> other.add(pd.DataFrame({"t": ["a"], "n": [1.0]}))
    >>> one.value == other.value
    True
    """

    def __init__(self, types: Mapping[str, str]) -> None:
        self._types, self._rows, self._sum = types, 0, 0

    @classmethod
    def of(cls, frame: pd.DataFrame, types: Mapping[str, str] = MappingProxyType({})) -> str:
        """Return the digest of one frame."""
        digest = cls(types)
        digest.add(frame)
        return digest.value

    def add(self, frame: pd.DataFrame) -> None:
        """Add the rows of a frame."""
        if len(frame) and len(frame.columns):
            self.add_rows(self.rows(frame))

    def rows(self, frame: pd.DataFrame) -> NDArray[np.uint64]:
        """Return the sum of the hashes of the values of each row; columns may be added to it."""
        types = self._types
        return hash_sums(frame, lambda column: _numbers(column, types.get(str(column.name))),
                         _of_shapes, missing=True)  # fmt: skip

    def add_rows(self, rows: NDArray[np.uint64]) -> None:
        """Add rows by their sums; see `rows`."""
        self._rows += len(rows)
        self._sum = (self._sum + int(mixed(rows).sum(dtype=np.uint64))) % 2**64

    @property
    def value(self) -> str:
        """The number of rows and a sum over them, as text."""
        return f"{self._rows}-{self._sum:016x}"


def hash_sums(
    frame: pd.DataFrame, of_values: Callable[[pd.Series[Any]], NDArray[np.uint64]],
    of_shapes: Callable[[NDArray[np.object_]], NDArray[np.uint64]], *, missing: bool,
) -> NDArray[np.uint64]:  # fmt: skip
    """Return the sum of the hashes of the values of each row, in any order of the columns.

    Parameters
    ----------
    frame : pandas.DataFrame or geopandas.GeoDataFrame
    of_values, of_shapes : callable
        Return the hashes of the values of a column, and of an array of geometries.
    missing : bool
        Whether missing values enter the sum.
    """
    shapes = frame.active_geometry_name if isinstance(frame, gpd.GeoDataFrame) else None
    total = np.zeros(len(frame), dtype=np.uint64)
    for name, column in pd.DataFrame(frame).items() if len(frame) else ():
        label = "geometry" if name == shapes else str(name)
        is_shape = name == shapes
        hashes = of_shapes(np.asarray(column, dtype=object)) if is_shape else of_values(column)
        values = mixed(hashes ^ _of_name(label))
        if not missing:
            values[column.isna().to_numpy()] = 0
        total += values
    return total


@lru_cache(maxsize=4096)
def _of_name(label: str) -> NDArray[np.uint64]:
    """Return the hash of the name of a column, shape (1,)."""
    return np.asarray(pd.util.hash_array(np.array([label], dtype=object)))


def mixed(value: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Return values whose bits each depend on all bits, after the finalizer of splitmix64."""
    value = (value ^ (value >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    value = (value ^ (value >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.asarray(value ^ (value >> np.uint64(31)))


def _numbers(column: pd.Series[Any], kind: str | None) -> NDArray[np.uint64]:
    """Return each value as a number of 64 bits; missing values have the same number."""
    seen = pd.api.types.infer_dtype(column, skipna=True) if column.dtype == object else ""
    is_time = pd.api.types.is_datetime64_any_dtype(column.dtype) or kind in ("date", "datetime")
    if is_time or seen in ("datetime", "date", "datetime64"):
        times = pd.to_datetime(column, utc=True, errors="coerce", format="ISO8601")
        if not (times.isna() & column.notna()).any():
            # A GeoPackage stores milliseconds, which some writers round and others truncate.
            stamps = times.dt.tz_localize(None).dt.floor("s").dt.as_unit("s")
            return np.asarray(stamps.to_numpy().view("uint64"))
    if pd.api.types.is_numeric_dtype(column.dtype):
        numbers = column.to_numpy(dtype="float64", na_value=np.nan)
    elif seen in ("boolean", "integer", "floating"):
        numbers = np.array([np.nan if missing else float(v) for v, missing in
                            zip(column, column.isna(), strict=True)])  # fmt: skip
    else:
        return _of_objects(column)
    numbers = numbers + 0.0  # no negative zero
    numbers[np.isnan(numbers)] = np.nan  # one of its many forms
    return numbers.view("uint64")


def _of_shapes(shapes: NDArray[np.object_]) -> NDArray[np.uint64]:
    """Return points, which are frequent, as hashes of coordinates; other shapes of their WKB."""
    points = shapely.get_type_id(shapes) == 0
    numbers = np.zeros(len(shapes), np.uint64)
    places = pd.DataFrame({"x": shapely.get_x(shapes[points]), "y": shapely.get_y(shapes[points])})
    numbers[points] = pd.util.hash_pandas_object(places, index=False).to_numpy()
    wkb = shapely.to_wkb(shapely.force_2d(shapes[~points]))
    numbers[~points] = _of_objects(pd.Series(wkb, dtype=object))
    return numbers


def _of_objects(column: pd.Series[Any]) -> NDArray[np.uint64]:
    values = np.array(column, dtype=object)
    values[pd.isna(values)] = None
    return np.asarray(pd.util.hash_array(values, categorize=True))
