"""Conversion of layers to and from Arrow, for other processes and for files."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
from pandas.api.types import is_object_dtype

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

# Key of the names of object columns in the metadata of a file.
_OBJECTS = b"leakgeo:objects"


def as_arrow(frame: pd.DataFrame) -> pa.Table:
    """Return a layer as an Arrow table, with geometries as well-known binary.

    Parameters
    ----------
    frame : pandas.DataFrame or geopandas.GeoDataFrame
        The index is dropped.

    Examples
    --------
    >>> import pandas as pd
    >>> as_arrow(pd.DataFrame({"depth_m": [0.9]})).column_names
    ['depth_m']
    """
    if isinstance(frame, gpd.GeoDataFrame):
        table = pa.table(frame.to_arrow(index=False, geometry_encoding="WKB"))
    else:
        table = pa.Table.from_pandas(frame, preserve_index=False)
    # A text column of nulls only has no type in older pandas, and GDAL would not write it.
    for k, field in enumerate(table.schema):
        if pa.types.is_null(field.type):
            table = table.set_column(k, field.with_type(pa.string()), table[k].cast(pa.string()))
    return table


def from_arrow(table: pa.Table) -> pd.DataFrame:
    """Return the layer of a table made by `as_arrow`.

    Examples
    --------
    >>> import pandas as pd
    >>> from_arrow(as_arrow(pd.DataFrame({"depth_m": [0.9]})))["depth_m"].tolist()
    [0.9]
    """
    if any(b"ARROW:extension:name" in (f.metadata or {}) for f in table.schema):
        return gpd.GeoDataFrame.from_arrow(table)
    frame: pd.DataFrame = table.to_pandas()
    return frame


def to_ipc(frame: pd.DataFrame) -> bytes:
    """Return a layer as the bytes of an Arrow IPC file, which has the names of object columns."""
    table, sink = as_arrow(frame), pa.BufferOutputStream()
    objects = [str(name) for name, dtype in frame.dtypes.items() if is_object_dtype(dtype)]
    table = table.replace_schema_metadata(
        {**(table.schema.metadata or {}), _OBJECTS: json.dumps(objects)}
    )
    with pa.ipc.new_file(sink, table.schema) as out:
        out.write_table(table)
    return bytes(sink.getvalue())


def from_ipc(file: bytes, lines: Iterable[str] | None = None) -> pd.DataFrame:
    """Return the layer of an Arrow IPC file, or only its rows of some lines.

    Texts of object columns are objects again, so that chunks of a job equal the whole of it.

    Examples
    --------
    >>> import pandas as pd
    >>> whole = pd.DataFrame({"a": pd.Series(["x", None], dtype=object), "b": ["y", "z"]})
    >>> from_ipc(to_ipc(whole)).equals(whole)
    True
    """
    table: Any = pa.ipc.open_file(pa.py_buffer(file)).read_all()
    if lines is not None:
        names = pa.array(list(lines), table.schema.field("line_id").type)
        table = table.filter(pc.is_in(table["line_id"], names))
    objects = json.loads((table.schema.metadata or {}).get(_OBJECTS, b"[]"))
    frame = from_arrow(table)
    for name in (n for n in objects if isinstance(frame[n].dtype, pd.StringDtype)):
        texts = frame[name].astype(object)
        frame[name] = texts.where(texts.notna(), None)
    return frame


def counts_of_ipc(path: Path, name: str) -> dict[str, int]:
    """Return how many rows have each value of a column of an Arrow IPC file."""
    with pa.memory_map(str(path)) as source:
        counts = pc.value_counts(pa.ipc.open_file(source).read_all()[name])
    return {str(one["values"]): int(one["counts"]) for one in counts.to_pylist()}
