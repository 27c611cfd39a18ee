"""One layer of a source under the names of the contract: its place, its columns, its values."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import pandas as pd

from leakgeo.job.checks.columns import match_columns
from leakgeo.job.mapping.values import constant, convert
from leakgeo.job.sources.coordinates import place, usual_columns
from leakgeo.job.sources.layers import RawLayer

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.job.mapping.model import ColumnMap, LayerMap, Mistakes
    from leakgeo.job.schema import LayerSchema

_MOST = 30
_COMMA = r"^(\s*[-+]?\d*),(\d+\s*)$"


def with_points(schema: LayerSchema, part: LayerMap, raw: RawLayer) -> RawLayer:
    """Write numbers with a decimal comma with a point; what has both is left, to be told of.

    Parameters
    ----------
    schema : LayerSchema
    part : LayerMap
    raw : RawLayer
        Text in its columns of numbers, and in those of coordinates, is looked at.
    """
    numbers = {f.name for f in schema.fields if f.type in ("number", "integer")}
    names = {c.column for c in part.columns if c.name in numbers} | {part.x, part.y}
    names |= set(match_columns(map(str, raw.table), numbers).values())
    names |= set(usual_columns(raw.table.columns) or ())
    table = raw.table.copy()
    for name in (c for c in table if c in names and table[c].dtype.kind not in "biufM"):
        table[name] = table[name].replace(_COMMA, r"\1.\2", regex=True)
    return replace(raw, table=table)


def placed(
    schema: LayerSchema, part: LayerMap, raw: RawLayer, mistakes: Mistakes
) -> RawLayer | None:
    """Give a layer its place: the CRS that it lacks, or points of its coordinates.

    Parameters
    ----------
    schema : LayerSchema
    part : LayerMap
        Whose columns are all in the layer.
    raw : RawLayer
    mistakes : Mistakes
        Takes what is wrong.

    Returns
    -------
    RawLayer or None
        None where the mapping does not fit.
    """
    if raw.has_geometry:
        return _with_crs(part, raw, mistakes)
    named = (part.x, part.y) if part.x and part.y else None
    pair = named or (usual_columns(raw.table.columns) if part.crs else None)
    if not schema.geometry_types or pair is None:
        return raw
    if part.crs is None:
        mistakes.tell((*part.keys, "x"), "The coordinates have no CRS.",
                      'Say which they are in, such as crs = "EPSG:4326".')  # fmt: skip
        return None
    points = place(raw.table, *pair, part.crs)
    if points.bad:
        some = ", ".join(points.bad[:5])
        mistakes.tell(part.keys, f"{len(points.bad)} coordinates are no numbers: {some}.",
                      "Correct them in the source.", some, "noted")  # fmt: skip
    return RawLayer(points.table, points.table.crs, raw.notes)


def _with_crs(part: LayerMap, raw: RawLayer, mistakes: Mistakes) -> RawLayer | None:
    if part.x:
        mistakes.tell((*part.keys, "x"), "The layer has geometry already.",
                      "Take x and y out.", part.x)  # fmt: skip
        return None
    if part.crs is None or raw.crs == part.crs:
        return raw
    if raw.crs is not None:
        mistakes.tell((*part.keys, "crs"), f"The layer has a CRS of its own: {raw.crs.name}.",
                      "Take crs out, or correct the layer in a GIS.", part.crs)  # fmt: skip
        return None
    table = gpd.GeoDataFrame(raw.table).set_crs(part.crs)
    return RawLayer(table, table.crs, raw.notes)


def renamed(schema: LayerSchema, part: LayerMap, raw: RawLayer, mistakes: Mistakes) -> RawLayer:
    """Give columns the names and values of the contract; those not used stay, to be told of.

    Parameters
    ----------
    schema : LayerSchema
    part : LayerMap
    raw : RawLayer
    mistakes : Mistakes
        Takes values that nothing covers.

    Returns
    -------
    RawLayer
    """
    table = raw.table.reset_index(drop=True)
    made = {c.name: _column(schema, c, table, mistakes) for c in part.columns}
    used = {c.column for c in part.columns}
    hidden = {*made, *part.left_out}
    shapes = table.geometry.array if isinstance(table, gpd.GeoDataFrame) else None
    plain = pd.DataFrame(table if shapes is None else table.drop(columns=table.geometry.name))
    rest = [c for c in plain if c not in used and str(c).strip().casefold() not in hidden]
    new = pd.concat([pd.DataFrame(made, index=table.index), plain[rest]], axis=1)
    return replace(raw, table=new if shapes is None else gpd.GeoDataFrame(new, geometry=shapes))


def _column(
    schema: LayerSchema, how: ColumnMap, table: pd.DataFrame, mistakes: Mistakes
) -> pd.Series[Any]:
    if how.column is None:
        return constant(how, len(table))
    done = convert(table[how.column], how, schema.field(how.name))
    if done.uncovered:
        values = _counted(done.uncovered)
        mistakes.tell(
            how.keys, f"Values of {how.column} are not covered by the mapping: {values}.",
            "Add them under values, each with its code.", values, "noted",
        )  # fmt: skip
    return done.column


def _counted(uncovered: Mapping[str, int]) -> str:
    """List values with how often they occur, the most frequent first."""
    often = sorted(uncovered.items(), key=lambda item: -item[1])
    told = ", ".join(f"{value} ({count})" for value, count in often[:_MOST])
    more = len(often) - _MOST
    return told + (f" and {more} more" if more > 0 else "")
