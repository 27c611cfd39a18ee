"""Check one layer as read against its schema; every row stays, with the reason if it is no good."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.job.columns import match_columns
from leakgeo.job.crs import horizontal
from leakgeo.job.findings import Findings
from leakgeo.job.identity import check_unique
from leakgeo.job.rules import check_rules
from leakgeo.job.shapes import check_shapes, check_transformed
from leakgeo.job.values import check_column

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from pyproj import CRS

    from leakgeo.faults import Fault
    from leakgeo.job.schema import LayerSchema
    from leakgeo.job.source import RawLayer


@dataclass(frozen=True)
class CheckedLayer:
    """A checked layer: its table with ``reason``, and the faults found.

    Parameters
    ----------
    table : geopandas.GeoDataFrame or pandas.DataFrame
        Every row read; contract columns in their types, ``reason``, geometry in the layer's CRS.
    faults : tuple of Fault
    """

    table: pd.DataFrame
    faults: tuple[Fault, ...]


def check_layer(raw: RawLayer, schema: LayerSchema) -> CheckedLayer:
    """Type and check a layer; nothing that it holds raises.

    Parameters
    ----------
    raw : RawLayer
        As read; not changed.
    schema : LayerSchema

    Returns
    -------
    CheckedLayer
        With geometry still in the layer's own CRS.
    """
    table = raw.table.reset_index(drop=True)
    matched = match_columns(_plain(table), schema.columns)
    findings = Findings(schema.name, _labels(table, matched, schema))
    _notes(raw, table, matched, findings)
    columns = {
        f.name: check_column(table[matched[f.name]] if f.name in matched else None, f, findings)
        for f in schema.fields
    }
    frame = pd.DataFrame(columns, index=table.index)
    if schema.geometry_types:
        shapes = check_shapes(_shapes(table), schema, findings)
        frame = gpd.GeoDataFrame(frame, geometry=shapes, crs=raw.crs and horizontal(raw.crs))
    check_rules(frame, schema, findings)
    check_unique(frame, schema, findings)
    return _done(frame, findings)


def to_local(checked: CheckedLayer, schema: LayerSchema, crs: CRS) -> CheckedLayer:
    """Bring a checked layer into the local metre CRS, and check what only shows there.

    Parameters
    ----------
    checked : CheckedLayer
        With geometry in a known CRS; tables without geometry pass unchanged.
    schema : LayerSchema
    crs : pyproj.CRS
        The job's.
    """
    table = checked.table
    if not isinstance(table, gpd.GeoDataFrame):
        return checked
    findings = _resume(checked, schema)
    before = table.geometry.to_numpy()
    moved = table.geometry.to_crs(crs)
    shapes = check_transformed(np.asarray(moved, dtype=object), np.asarray(before, dtype=object),
                               schema, findings)  # fmt: skip
    frame = table.drop(columns="reason").set_geometry(gpd.GeoSeries(shapes, table.index, crs=crs))
    return _done(frame, findings)


def reject(checked: CheckedLayer, schema: LayerSchema, rows: NDArray[np.bool_], problem: str,
           what_to_do: str, column: str = "") -> CheckedLayer:  # fmt: skip
    """Reject rows of a checked layer for a reason found by looking at other layers."""
    findings = _resume(checked, schema)
    values = checked.table[column] if column else None
    findings.tell(rows, problem, what_to_do, column=column, values=values)
    return _done(checked.table.drop(columns="reason"), findings)


def _done(frame: pd.DataFrame, findings: Findings) -> CheckedLayer:
    reason = pd.Series(findings.reasons, index=frame.index, dtype=object)
    return CheckedLayer(frame.assign(reason=reason), tuple(findings.faults))


def _resume(checked: CheckedLayer, schema: LayerSchema) -> Findings:
    matched = {c: c for c in schema.columns}
    findings = Findings(schema.name, _labels(checked.table, matched, schema))
    findings.reasons = checked.table["reason"].to_numpy(dtype=object, copy=True)
    findings.faults = list(checked.faults)
    return findings


def _plain(table: pd.DataFrame) -> list[str]:
    geometry = table.geometry.name if isinstance(table, gpd.GeoDataFrame) else None
    return [str(c) for c in table.columns if c != geometry]


def _shapes(table: pd.DataFrame) -> NDArray[np.object_]:
    if isinstance(table, gpd.GeoDataFrame):
        return np.array(table.geometry.array, dtype=object)
    return np.full(len(table), None, dtype=object)


def _labels(
    table: pd.DataFrame, matched: dict[str, str], schema: LayerSchema
) -> NDArray[np.object_]:
    """Call each row by its identifier, or by its place where it has none."""
    rows = ("row " + pd.Series(np.arange(1, len(table) + 1)).astype(str)).astype(object)
    key = matched.get(schema.key[0]) if schema.key else None
    if key is None:
        return rows.to_numpy(dtype=object)
    names: pd.Series[Any] = table[key].reset_index(drop=True)
    named = names.notna() & (names.astype(str).str.strip() != "")
    return names.astype(object).astype(str).where(named, rows).to_numpy(dtype=object)


def _notes(raw: RawLayer, table: pd.DataFrame, matched: dict[str, str], findings: Findings) -> None:
    for note in raw.notes:
        findings.tell_layer(f"The reader says: {note}", "Look at the layer in a GIS.")
    extra = [c for c in _plain(table) if c not in set(matched.values())]
    if extra:
        findings.tell_layer(
            f"{len(extra)} columns are not of the contract and were left aside: "
            f"{', '.join(extra[:10])}{' ...' if len(extra) > 10 else ''}.",
            "Nothing, unless one of them is a misspelt column of the contract.",
            value=", ".join(extra[:10]),
        )
