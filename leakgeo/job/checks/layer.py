"""Check a layer against its schema; every row is kept, rejected rows with their reason."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.job.checks.collector import IssueCollector, as_text
from leakgeo.job.checks.drawn_and_typed import merge_drawn_and_typed
from leakgeo.job.checks.lines import has_chainage
from leakgeo.job.checks.registry import run_checks
from leakgeo.job.checks.shapes import check_shapes, check_transformed
from leakgeo.job.checks.tape_text import with_written_tapes
from leakgeo.job.checks.taped_lists import needs_no_geometry
from leakgeo.job.checks.values import MAX_CHARACTERS, check_column, longer_texts
from leakgeo.job.columns import match_columns, parse_column
from leakgeo.job.crs import horizontal, is_georeferenced
from leakgeo.job.mapping import codes_for_booleans, nearest_column, rename_former_columns
from leakgeo.job.reuse import Reuse
from leakgeo.job.same_content import same_column
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.typing import NDArray
    from pyproj import CRS

    from leakgeo.faults import Fault
    from leakgeo.job.columns import Parsed
    from leakgeo.job.schema import Field, LayerSchema
    from leakgeo.job.sources import RawLayer

# Unused columns named in a note.
_MAX_NAMED = 10


@dataclass(frozen=True)
class CheckedLayer:
    """A checked layer: its table with the column ``reason``, and its faults.

    Parameters
    ----------
    schema : LayerSchema
    table : geopandas.GeoDataFrame or pandas.DataFrame
        Every row read, in the order read; contract columns in their types, ``reason``, geometry.
    labels : ndarray of str, shape (n,)
        Name of each row in faults.
    faults : tuple of Fault
    own : ndarray of bool, shape (n,), optional
        Whether faults of each row are reported here; None for all rows.
    """

    schema: LayerSchema
    table: pd.DataFrame
    labels: NDArray[np.object_]
    faults: tuple[Fault, ...] = ()
    own: NDArray[np.bool_] | None = None

    def issues(self) -> IssueCollector:
        """Return a collector with a copy of the reasons and faults reported so far."""
        issues = IssueCollector(self.schema.name, self.labels, self.own)
        issues.reasons = self.table["reason"].to_numpy(dtype=object, copy=True)
        issues.faults = list(self.faults)
        return issues

    def with_issues(self, issues: IssueCollector) -> CheckedLayer:
        """Return a copy with the reasons and faults of `issues`."""
        reason = pd.Series(issues.reasons, index=self.table.index, dtype=object)
        table = self.table.assign(reason=reason)
        return replace(self, table=table, faults=tuple(issues.faults))


def check_layer(
    raw: RawLayer, schema: LayerSchema, parameters: Mapping[str, object],
    listed: frozenset[str] = frozenset(), reuse: Reuse | None = None,
) -> CheckedLayer:  # fmt: skip
    """Convert the columns of a layer to their types and check them; no content raises.

    Parameters
    ----------
    raw : RawLayer
        As read; not changed.
    schema : LayerSchema
    parameters : mapping of str to object
        Parameters of the declared checks.
    listed : frozenset of str
        Lines with a taped list of fittings, which need no geometry.
    reuse : Reuse, optional
        Has the columns of the last reading.

    Returns
    -------
    CheckedLayer
        With geometry still in the layer's own CRS.
    """
    table = raw.table.reset_index(drop=True)
    table, renamed = rename_former_columns(table, schema, raw.longest_name)
    matched = match_columns(_attribute_columns(table), schema.columns, longest=raw.longest_name)
    coded = {n: codes_for_booleans(table[was], schema.field(n)) for n, was in matched.items()}
    parsed = {n: _parsed(column, schema, n, reuse or Reuse()) for n, (column, _) in coded.items()}
    numbers = np.arange(1, len(table) + 1) if raw.numbers is None else np.asarray(raw.numbers)
    labels = _labels(np.abs(numbers).tolist(), parsed, schema)
    own = None if raw.numbers is None else numbers > 0
    issues = IssueCollector(schema.name, labels, own)
    extra = [c for c in _attribute_columns(table) if c not in set(matched.values())]
    issues.similar_columns = {f.name: nearest_column(extra, f) for f in schema.fields if f.required}
    _report_notes(raw, matched, extra, issues)
    for was, now in renamed.items():
        issues.report_layer(Reason("column_of_older_files", was=was, column=now), column=was)
    for name, (_, unticked) in coded.items():
        _report_unticked_boxes(unticked, name, issues)
    columns = {
        f.name: _column(parsed.get(f.name), table.get(matched.get(f.name, "")), f, schema, issues)
        for f in schema.fields
    }
    frame = pd.DataFrame(columns, index=table.index)
    if "tape" in frame:
        frame = with_written_tapes(frame, issues)
    if schema.geometry_types:
        shapes = _geometries(table)
        exempt = has_chainage(frame, schema) | needs_no_geometry(frame, schema, listed)
        if schema.name == "routes":
            frame, merged = merge_drawn_and_typed(frame, shapes, schema, issues)
            exempt |= merged
        shapes = check_shapes(shapes, schema, issues, exempt)
        frame = gpd.GeoDataFrame(frame, geometry=shapes, crs=_crs_of(raw))
    typed = CheckedLayer(schema, frame, labels, own=own).with_issues(issues)
    return run_checks(typed, "read", parameters)


def _crs_of(raw: RawLayer) -> CRS | None:
    """Return the horizontal CRS of a layer; None if it has none, as it then has no geometry."""
    return horizontal(raw.crs) if raw.crs is not None and is_georeferenced(raw.crs) else None


def merge_parts(layers: Iterable[CheckedLayer]) -> dict[str, pd.DataFrame]:
    """Concatenate layers that are parts of one layer of the job, in the order given.

    Parameters
    ----------
    layers : iterable of CheckedLayer
        In one CRS.

    Returns
    -------
    dict of str to pandas.DataFrame
        Layers of the job by name.
    """
    parts: dict[str, list[pd.DataFrame]] = {}
    for checked in layers:
        parts.setdefault(checked.schema.job_layer, []).append(checked.table)
    return {name: tables[0] if len(tables) == 1 else pd.concat(tables, ignore_index=True)
            for name, tables in parts.items()}  # fmt: skip


def to_local(checked: CheckedLayer, crs: CRS) -> CheckedLayer:
    """Transform a checked layer to the local metre CRS, and check its geometry there.

    Parameters
    ----------
    checked : CheckedLayer
        With geometry in a known CRS; tables without geometry are returned unchanged.
    crs : pyproj.CRS
        Local CRS of the job.
    """
    table = checked.table
    if not isinstance(table, gpd.GeoDataFrame):
        return checked
    issues = checked.issues()
    before = np.array(table.geometry.array, dtype=object)
    # A layer without a CRS has only null geometry here.
    projected = table.geometry if table.crs is None else table.geometry.to_crs(crs)
    moved = np.array(projected.array, dtype=object)
    exempt = has_chainage(table, checked.schema)
    shapes = check_transformed(moved, before, checked.schema, issues, exempt)
    frame = gpd.GeoDataFrame(table.drop(columns="geometry"), geometry=shapes, crs=crs)
    order = [*checked.schema.columns, "geometry", "reason"]
    return replace(checked, table=frame[order]).with_issues(issues)


def _parsed(column: pd.Series[Any], schema: LayerSchema, name: str, reuse: Reuse) -> Parsed:
    """Return a converted column; one with the values of the last reading is not converted again."""
    column = reuse.alike(("column", schema.name, name), column, _alike)
    return reuse(("parsed", schema.name, name), parse_column, column, schema.field(name))


def _alike(one: pd.Series[Any], other: pd.Series[Any]) -> bool:
    return one.dtype == other.dtype and len(one) == len(other) and same_column(one, other)


def _column(
    parsed: Parsed | None, raw: Any, field: Field, schema: LayerSchema, issues: IssueCollector
) -> pd.Series[Any]:
    values = check_column(parsed, raw, field, issues)
    if not field.name_missing or values.notna().all():
        return values
    if field.note_missing_name:
        issues.report(
            values.isna().to_numpy(), Reason("name_missing", column=field.name),
            column=field.name, rejects=False,
        )  # fmt: skip
    # Names must also differ between the parts that are concatenated to one layer of the job.
    of_layer = f"{schema.name} " if schema.part_of else ""
    names = np.array([of_layer + str(label) for label in issues.labels], dtype=object)
    return pd.Series(np.where(values.isna(), names, values), dtype=object)


def _report_unticked_boxes(unticked: NDArray[np.bool_], name: str, issues: IssueCollector) -> None:
    if unticked.any():
        issues.report(
            unticked, Reason("box_not_ticked", column=name), column=name,
            values=np.full(len(unticked), "false"), rejects=False,
        )  # fmt: skip


def _attribute_columns(table: pd.DataFrame) -> list[str]:
    geometry = table.geometry.name if isinstance(table, gpd.GeoDataFrame) else None
    return [str(c) for c in table.columns if c != geometry]


def _geometries(table: pd.DataFrame) -> NDArray[np.object_]:
    if isinstance(table, gpd.GeoDataFrame):
        return np.array(table.geometry.array, dtype=object)
    return np.full(len(table), None, dtype=object)


def _labels(
    numbers: Sequence[int], parsed: Mapping[str, Parsed], schema: LayerSchema
) -> NDArray[np.object_]:
    """Return the identifier of each row, or its number in the layer if it has none."""
    key = schema.key[0] if schema.key else ""
    if key not in parsed:
        return np.array([f"row {number}" for number in numbers], dtype=object)
    labels: NDArray[np.object_] = parsed[key].column.to_numpy(dtype=object, copy=True)
    for i in np.flatnonzero(longer_texts(MAX_CHARACTERS, parsed[key].column)):
        labels[i] = as_text(labels[i])
    nameless = np.flatnonzero(pd.isna(labels))
    labels[nameless] = [f"row {numbers[int(i)]}" for i in nameless]
    return labels


def _report_notes(
    raw: RawLayer, matched: Mapping[str, str], extra: Sequence[str], issues: IssueCollector
) -> None:
    for note in raw.notes:
        issues.report_layer(note)
    longest = raw.longest_name
    cut = [Reason("cut_name", was=was, column=name) for name, was in matched.items()
           if longest is not None and len(was) == longest < len(name)]  # fmt: skip
    if cut:
        issues.report_layer(Reason("names_cut_off", columns=cut))
    if not extra:
        return
    named, more = extra[:_MAX_NAMED], len(extra[_MAX_NAMED:])
    reason = Reason("columns_not_used", columns=len(extra), names=named, more=more)
    issues.report_layer(reason, value=", ".join(named) + (" ..." if more else ""))
