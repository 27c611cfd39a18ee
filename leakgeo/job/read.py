"""Read a job: every layer there is, checked, in one local metre CRS."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from leakgeo.errors import JobError
from leakgeo.faults import Fault
from leakgeo.job.check import CheckedLayer, check_layer, reject, to_local
from leakgeo.job.crs import choose_local_crs, is_earthly
from leakgeo.job.model import NOT_ASKED, Job
from leakgeo.job.schema import load_schemas
from leakgeo.job.source import digest, open_source, read_layer

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from pyproj import CRS

    from leakgeo.job.schema import LayerSchema
    from leakgeo.job.source import Source

_ABSENT = {
    "contacts": ("No fittings were listened to, so no survey bracket is drawn.",
                 "Add the layer if a first survey was made."),
    "meter_tests": ("There is no meter test, so the loss of water is not known.",
                    "Add the table if the meter was read before and after a time of no use."),
    "utilities": ("No other utilities are given. That is not clearance: it says nothing of what "
                  "is in the ground.",
                  "Ask the one-call centre, and add what the owners mark."),
    "surfaces": ("Ground surfaces are not given.", "Add the layer if the cover changes."),
    "history": ("Past leaks and repairs are not given.", "Add the layer if there are records."),
    "dig_outcomes": ("Outcomes of digs are not given.", "Add the layer as holes are opened."),
}  # fmt: skip


@dataclass
class _Reading:
    """What has been gathered so far while a job is read."""

    faults: list[Fault] = field(default_factory=list)
    layers: dict[str, CheckedLayer] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)

    def tell(self, layer: str, problem: str, what_to_do: str, effect: Any, value: str = "") -> None:
        self.faults.append(Fault(layer, problem, what_to_do, value=value, effect=effect))

    def all_faults(self) -> tuple[Fault, ...]:
        checked = (f for c in self.layers.values() for f in c.faults)
        return (*self.faults, *checked)

    def stop_if_needed(self, source: object) -> None:
        faults = self.all_faults()
        stops = [str(f) for f in faults if f.effect == "stops"]
        if stops:
            raise JobError(f"{source}: the job can't be run. " + " ".join(stops), faults)


def read_job(source: str | Path, *, lines: Sequence[str] | None = None) -> Job:
    """Read and check a job.

    Parameters
    ----------
    source : str or pathlib.Path
        A local GeoPackage, another vector file of many layers, or a folder of files named like
        the layers. It is only read; nothing is written to it or beside it.
    lines : sequence of str, optional
        Identifiers of the lines wanted; rows of other lines stay, with `NOT_ASKED` as reason, so
        that readings without line_id can still be told apart. All lines if None.

    Returns
    -------
    Job
        Every layer in one local metre CRS, every row kept, with ``reason``.

    Raises
    ------
    JobError
        If the job can't be run at all; it carries every fault found.

    Examples
    --------
    >>> from leakgeo.errors import JobError
    >>> try:
    ...     read_job("nowhere.gpkg")
    ... except JobError as error:
    ...     print(error)
    nowhere.gpkg: There is no such file or folder. Check the path of the job.
    """
    gathered = _Reading()
    with open_source(source) as opened:
        gathered.faults += opened.faults
        for schema in load_schemas("input").values():
            _take(schema, opened, gathered)
        digested = digest(opened.path)
    _need_rows(gathered)
    gathered.stop_if_needed(source)
    crs, output_crs = _local_crs(gathered, source)
    _bring_local(gathered, crs)
    _need_routes(gathered)
    _link_lines(gathered)
    _ask(gathered, lines)
    gathered.stop_if_needed(source)
    tables: Mapping[str, Any] = {name: c.table for name, c in gathered.layers.items()}
    return Job(
        **tables, crs=crs, output_crs=output_crs, faults=gathered.all_faults(),
        counts=gathered.counts, source=str(source), digest=digested,
    )  # fmt: skip


def _take(schema: LayerSchema, opened: Source, gathered: _Reading) -> None:
    """Read and check one layer, or say why it is not there."""
    if schema.name not in opened.layers:
        _absent(schema, opened, gathered)
        return
    effect = "stops" if schema.required else "noted"
    try:
        raw = read_layer(opened, schema.name)
    except JobError as error:
        gathered.tell(schema.name, str(error), "Open it in a GIS, and write it anew.", effect)
        return
    gathered.counts[schema.name] = len(raw.table)
    effect = "stops" if schema.required else "rejected"
    if schema.geometry_types and not raw.has_geometry:
        gathered.tell(
            schema.name, f"The layer has no geometry; its {len(raw.table)} rows are left out.",
            f"Write it with {' or '.join(schema.geometry_types)} geometry.", effect,
        )  # fmt: skip
    elif schema.geometry_types and not is_earthly(raw.crs):
        gathered.tell(
            schema.name, "The layer has no CRS that places it on the earth; its "
            f"{len(raw.table)} rows are left out.", "Set the CRS it was drawn in.", effect,
        )  # fmt: skip
    else:
        gathered.layers[schema.name] = check_layer(raw, schema)


def _absent(schema: LayerSchema, opened: Source, gathered: _Reading) -> None:
    if schema.required:
        there = ", ".join(name for _, name in opened.layers.values()) or "none"
        gathered.tell(
            schema.name, f"The job has no layer {schema.name}; its layers are: {there}.",
            "Add it, or rename the layer that holds it.", "stops",
        )  # fmt: skip
    else:
        gathered.tell(schema.name, *_ABSENT[schema.name], "noted")


def _need_rows(gathered: _Reading) -> None:
    for name, what in (("routes", "traced routes"), ("readings", "readings")):
        if gathered.counts.get(name) == 0:
            gathered.tell(name, f"The layer is empty: the job has no {what}.",
                          f"Add the {what}.", "stops" if name == "routes" else "noted")  # fmt: skip
    _need_routes(gathered)


def _need_routes(gathered: _Reading) -> None:
    routes = gathered.layers.get("routes")
    if routes is not None and len(routes.table) and routes.table["reason"].notna().all():
        gathered.tell("routes", "No route can be used.", "Mend the routes first.", "stops")


def _local_crs(gathered: _Reading, source: object) -> tuple[CRS, CRS]:
    routes = gathered.layers["routes"].table
    good = routes.geometry[routes["reason"].isna()]
    x, y = shapely.get_coordinates(good.to_numpy()).T
    try:
        return choose_local_crs(routes.crs, x, y), routes.crs
    except ValueError:
        gathered.tell("routes", "No route is at a place in the layer's CRS.",
                      "Check the CRS of the layer.", "stops")  # fmt: skip
        gathered.stop_if_needed(source)
        raise


def _bring_local(gathered: _Reading, crs: CRS) -> None:
    for name, checked in gathered.layers.items():
        gathered.layers[name] = to_local(checked, load_schemas()[name], crs)


def _link_lines(gathered: _Reading) -> None:
    """Reject rows whose line is not among the routes, or whose route is rejected."""
    routes = gathered.layers["routes"].table
    known = routes["line_id"].dropna()
    sound = routes.loc[routes["reason"].isna(), "line_id"]
    for name, checked in gathered.layers.items():
        schema = load_schemas()[name]
        if not schema.refers_to_routes:
            continue
        line = checked.table["line_id"]
        unknown = (line.notna() & ~line.isin(known)).to_numpy()
        unusable = (line.isin(known) & ~line.isin(sound)).to_numpy()
        checked = reject(checked, schema, unknown, "Unknown line: no route has this line_id.",
                         "Correct line_id, or add the route.", "line_id")  # fmt: skip
        gathered.layers[name] = reject(checked, schema, unusable, "The route of its line is rejected.",
                                       "Mend the route.", "line_id")  # fmt: skip


def _ask(gathered: _Reading, lines: Sequence[str] | None) -> None:
    """Mark the rows of lines that were not asked for."""
    if lines is None:
        return
    known = set(gathered.layers["routes"].table["line_id"].dropna())
    for line in dict.fromkeys(lines):
        if line not in known:
            gathered.tell("routes", f"Line {line} was asked for, and no route has that line_id.",
                          "Check its name.", "noted", line)  # fmt: skip
    if not known & set(lines):
        gathered.tell("routes", "None of the lines asked for is in the job.",
                      "Check their names.", "stops", ", ".join(lines))  # fmt: skip
        return
    for name, checked in gathered.layers.items():
        if "line_id" in checked.table:
            gathered.layers[name] = _asked(checked, set(lines))


def _asked(checked: CheckedLayer, lines: set[str]) -> CheckedLayer:
    """A line not asked for is no fault, so no fault is told of it."""
    line, reason = checked.table["line_id"], checked.table["reason"]
    other = line.notna() & ~line.isin(lines) & reason.isna()
    kept = np.where(other, NOT_ASKED, reason)
    return CheckedLayer(checked.table.assign(reason=kept), checked.faults)
