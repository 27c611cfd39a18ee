"""One reading of a job: its stages in order, each made again only if its inputs changed."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely

from leakgeo.errors import JobError
from leakgeo.faults import Fault, causes_text, job_error, merge_alike
from leakgeo.job.checks import (
    CheckedLayer,
    can_be_placed_by_chainage,
    check_layer,
    lines_with_lists,
    link_rows,
    looks_like_degrees,
    merge_parts,
    mostly_in_feet,
    place_taped_lines,
    position_faults,
    referred_layers,
    selection_faults,
    tapes_in_feet,
    with_selection,
)
from leakgeo.job.crs import (
    base_geographic,
    choose_local_crs,
    crs_without_place,
    is_georeferenced,
    transformer,
)
from leakgeo.job.digest import job_digest
from leakgeo.job.in_local_crs import checked_in_place, layer_in_local_crs
from leakgeo.job.mapping import apply_mapping
from leakgeo.job.model import Job
from leakgeo.job.placed import is_nowhere
from leakgeo.job.rasters.ground import ground_model, ground_state, height_mismatch, read_ground
from leakgeo.job.results.read_back import is_result
from leakgeo.job.same_content import same_checked, same_layer, same_table
from leakgeo.job.schema import readable_layers
from leakgeo.job.source_layers import numbered
from leakgeo.job.sources import (
    digest,
    display_address,
    is_local,
    open_source,
    read_layer,
    row_keys,
    simulated_note_of,
)
from leakgeo.job.unused_layers import unused_layers
from leakgeo.job.workbook import with_sheets
from leakgeo.reason import Reason
from leakgeo.wording import active_wording, wording

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from pyproj import CRS

    from leakgeo.arrays import Objects
    from leakgeo.faults import Effect
    from leakgeo.job.mapping import JobMapping
    from leakgeo.job.rasters.ground import GroundModel
    from leakgeo.job.reuse import Reuse
    from leakgeo.job.schema import LayerSchema
    from leakgeo.job.sources import JobSource, LayerSource, RawLayer

# Causes named in the message of a job that can't be run.
_MAX_CAUSES = 3
# A source with neither of them is no job, and may be a result.
_OF_JOB = frozenset({"routes", "readings"})


@dataclass
class Reading:
    """Layers and faults collected while a job is read.

    Parameters
    ----------
    source : str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
    parameters : mapping of str to object
        Those of the checks, complete; one object for all readings.
    reuse : Reuse
        What the reading before made.
    """

    source: JobSource
    parameters: Mapping[str, object]
    reuse: Reuse
    faults: list[Fault] = field(default_factory=list)
    layers: dict[str, CheckedLayer] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    keys: Mapping[str, str] = field(default_factory=dict)
    routes_crs: CRS | None = None
    listed: frozenset[str] = frozenset()
    in_part: bool = False

    def read(self, lines: Sequence[str] | None, mapping: JobMapping | None) -> Job:
        """Return the job."""
        source_digest, simulated = self._read_layers(mapping)
        self._check_not_empty()
        self._stop_if_needed()
        crs, output_crs = self._to_local_crs()
        ground = self._ground(Path(str(self.source)), crs) if is_local(self.source) else None
        if lines is not None:
            self._select(lines)
        self._stop_if_needed()
        tables: Mapping[str, Any] = self._tables()
        job = Job(
            **tables, crs=crs, output_crs=output_crs, faults=self._all_faults(),
            counts=self.counts, source=display_address(self.source), digest=source_digest,
            ground=ground, mapping="" if mapping is None else mapping.path.name,
            mapping_digest="" if mapping is None else digest(mapping.path),
            simulated=simulated, works_in_feet=mostly_in_feet(tables),
        )  # fmt: skip
        return replace(job, layers_digest=job_digest(job, self.reuse))

    def _read_layers(self, mapping: JobMapping | None) -> tuple[str, str]:
        """Read and check the layers; return the digest of the file and its note of simulation."""
        with open_source(self.source) as opened:
            simulated = simulated_note_of(opened)
            found = opened
            opened = (  # noqa: PLW2901
                with_sheets(opened) if mapping is None else apply_mapping(opened, mapping)
            )
            if not opened.layers.keys() & _OF_JOB and is_result(self.source):
                named = Reason("job_is_result", result=display_address(self.source))
                fault = Fault("job", named, effect="stops")
                raise job_error(display_address(self.source), fault)
            self.faults += unused_layers(found, opened, mapping)
            self.faults += opened.faults
            self.keys = row_keys(opened)
            opened = self._find_lists(opened)  # noqa: PLW2901
            for schema in readable_layers().values():
                self._add_layer(schema, opened)
            return digest(opened.path), simulated

    def _report(self, layer: str, reason: Reason, effect: Effect) -> None:
        self.faults.append(Fault(layer, reason, effect=effect))

    def _all_faults(self) -> tuple[Fault, ...]:
        checked = (f for c in self.layers.values() for f in c.faults)
        return (*self.faults, *checked)

    def _stop_if_needed(self) -> None:
        faults = self._all_faults()
        stops = [f for f in faults if f.effect == "stops"]
        if stops:
            layers = {f.layer for f in stops}
            causes = [f for f in faults if f.effect == "rejected" and f.layer in layers]
            first, source = [*causes, *stops], display_address(self.source)
            named = _summary_of_causes(causes, stops)
            why = Reason("job_stops", source=source, causes=named)
            raise JobError(
                active_wording().text(why),
                [*first, *(f for f in faults if f not in first)],
            )

    def _read_layer(self, opened: LayerSource, name: str) -> RawLayer:
        """Read a layer; one with the same content as before is the same object."""

        def read(_: object) -> RawLayer:
            return self.reuse.alike(("raw", name), numbered(read_layer(opened, name)), same_layer)

        # Without a key it may have changed, and is read.
        raw = self.reuse(("read", name), read, self.keys.get(name, object()))
        return self.reuse.alike(("raw", name), raw, same_layer)

    def _find_lists(self, opened: LayerSource) -> LayerSource:
        """Find the lines with a taped list, which are read before the routes: they need none."""
        if "contacts" not in opened.layers:
            return opened
        try:
            raw = self._read_layer(opened, "contacts")
        except JobError:  # reported when the layer's turn comes
            return opened
        self.listed = self.reuse("listed", lines_with_lists, raw)
        return replace(opened, ready={**opened.ready, "contacts": raw})

    def _add_layer(self, schema: LayerSchema, opened: LayerSource) -> None:
        """Read and check one layer, or report why it is missing."""
        if schema.name not in opened.layers:
            if not schema.part_of and not opened.layers.keys() & dict(schema.drawn_as).keys():
                self._report_missing(schema, opened)
            return
        try:
            raw = self._read_layer(opened, schema.name)
        except JobError as error:
            effect: Effect = "stops" if schema.required else "rejected"
            self.faults += [replace(f, layer=schema.name, effect=effect) for f in error.faults]
            return
        self.counts[schema.job_layer] = self.counts.get(schema.job_layer, 0) + len(raw.table)
        self.in_part |= raw.numbers is not None
        if schema.name == "routes":
            self.routes_crs = raw.crs
        if self._has_position(schema, raw):
            self.layers[schema.name] = self.reuse(
                ("checked", schema.name), check_layer, raw, schema, self.parameters, self.listed,
                self.reuse,
            )  # fmt: skip

    def _report_missing(self, schema: LayerSchema, opened: LayerSource) -> None:
        if not schema.required:
            # Only layers whose absence matters have a message in the catalogue.
            if wording().knows(code := f"{schema.name}_missing"):
                self._report(schema.name, Reason(code), "noted")
            return
        reason = Reason("job_without_layers", layer=schema.name)
        if opened.layers:
            reason = Reason("layer_missing", layer=schema.name, layers=list(opened.layers))
        self._report(schema.name, reason, "stops")

    def _has_position(self, schema: LayerSchema, raw: RawLayer) -> bool:
        """Return whether a layer has a georeferenced geometry, or needs none."""
        if not schema.geometry_types or (raw.has_geometry and is_georeferenced(raw.crs)):
            return True
        names = [str(name) for name in raw.table]
        bare = not raw.has_geometry or raw.table.geometry.isna().all()
        if bare and can_be_placed_by_chainage(schema, names, self.listed):
            return True
        reason = Reason("layer_without_crs", rows=len(raw.table))
        if not raw.has_geometry:
            types = schema.geometry_types
            reason = Reason("layer_without_geometry", rows=len(raw.table), types=types)
        self._report(schema.name, reason, "stops" if schema.required else "rejected")
        return False

    def _check_not_empty(self) -> None:
        """Report empty required layers; a job without a usable route can't be run."""
        if self.counts.get("routes") == 0:
            self._report("routes", Reason("no_routes"), "stops")
        if self.counts.get("readings") == 0:
            self._report("readings", Reason("no_readings"), "noted")
        # Of a job that is read in part, other rows may have them.
        if self.counts.get("utilities") == 0 and not self.in_part:
            self._report("utilities", Reason("utilities_missing"), "noted")
        self._check_good_routes()

    def _check_good_routes(self) -> None:
        routes = self.layers.get("routes")
        if routes is not None and len(routes.table) and routes.table["reason"].notna().all():
            self._report("routes", Reason("no_good_route"), "stops")

    def _to_local_crs(self) -> tuple[CRS, CRS]:
        """Bring every layer into the local CRS, and check the layers against the routes.

        Returns the local CRS and the CRS that the routes were read in.
        """
        routes_crs, placed = self._crs_of_positions()
        crs, position, wrong = self.reuse("local crs", _local_crs, routes_crs, placed)
        if wrong is not None:
            self._report("routes", wrong, "stops")
            self._stop_if_needed()
        if position is not None:
            self.faults += position_faults(routes_crs, *position)
        read_crs = {name: self.reuse(("read crs", name), _crs_of, layer, routes_crs)
                    for name, layer in self.layers.items()
                    if "geometry" in layer.table}  # fmt: skip
        for name, layer in self.layers.items():
            self.layers[name] = self.reuse(
                ("local", name), layer_in_local_crs, layer, crs, read_crs.get(name), routes_crs,
                position,
            )  # fmt: skip
        self._place_taped_lines(crs)
        # Routes first: rows of rejected routes are rejected with them.
        for name in sorted(self.layers, key="routes".__ne__):
            self._check_in_place(name, crs, read_crs.get(name, routes_crs), routes_crs)
        self._check_good_routes()
        self._link_rows()
        return crs, self._output_crs(routes_crs, position)

    def _crs_of_positions(self) -> tuple[CRS, Objects]:
        """Return the CRS of the routes and their shapes, else those of a layer with positions."""
        first = ("routes", "contacts", "readings")
        for name in (*first, *(n for n in self.layers if n not in first)):
            if name in self.layers:
                crs, shapes = self.reuse(("positions", name), _positions, self.layers[name])
                if crs is not None:
                    return crs, shapes
        return self.reuse("no positions", _no_positions)

    def _place_taped_lines(self, crs: CRS) -> None:
        errors = (float(str(self.parameters[n])) for n in ("reading_sd_m", "route_sd_m"))
        if "contacts" in self.layers:
            self.layers |= self.reuse("taped lines", _placed_by_tape, self.layers["routes"],
                                      self.layers["contacts"], crs, *errors)  # fmt: skip

    def _check_in_place(self, name: str, crs: CRS, read_crs: CRS, routes_crs: CRS) -> None:
        """Link one layer to the routes, and run the checks that need every layer in one CRS."""
        digs = self.layers.get("dig_outcomes") if name == "routes" else None
        done = self.reuse(
            ("in place", name), checked_in_place, self.layers[name], self.layers["routes"],
            self.layers.get("contacts"), digs, self.parameters, crs, read_crs, routes_crs,
        )  # fmt: skip
        # All layers depend on the routes, and these on the digs.
        self.layers[name] = (
            self.reuse.alike("routes", done, same_checked) if name == "routes" else done
        )

    def _link_rows(self) -> None:
        linked = {}
        for name, layer in self.layers.items():
            if names := referred_layers(layer.schema):
                referred = (self.layers.get(other) for other in names)
                linked[name] = self.reuse(("linked", name), link_rows, layer, *referred)
        self.layers |= linked

    def _output_crs(self, routes_crs: CRS, position: tuple[float, float] | None) -> CRS:
        """Return the CRS of the results; of a job without positions one in the units of its tapes.

        Feet on any tape mean that the crew works in feet.
        """
        if position is not None:
            return routes_crs
        tables = {name: layer.table for name, layer in self.layers.items()}
        in_feet = bool(tapes_in_feet(tables).any())
        return self.reuse("output crs", _crs_without_place, in_feet)

    def _ground(self, source: Path, crs: CRS) -> GroundModel | None:
        """Read the ground model around the routes, if the job has one and the routes have Z."""
        ground, faults = self.reuse("ground", _read_ground, self.layers["routes"], crs,
                                    self.routes_crs, source, ground_state(source))  # fmt: skip
        self.faults += faults
        return ground

    def _select(self, lines: Sequence[str]) -> None:
        self.faults += selection_faults(self.layers["routes"], lines)
        for name, layer in self.layers.items():
            self.layers[name] = self.reuse(
                ("selected", name), with_selection, layer, frozenset(lines)
            )

    def _tables(self) -> dict[str, pd.DataFrame]:
        """Return the layers of the job; one with the same content as before is the same object."""
        parts: dict[str, list[CheckedLayer]] = {}
        for layer in self.layers.values():
            parts.setdefault(layer.schema.job_layer, []).append(layer)
        made = {name: self.reuse(("merged", name), _merged, *own) for name, own in parts.items()}
        return {name: self.reuse.alike(("table", name), table, same_table)
                for name, table in made.items()}  # fmt: skip


def _summary_of_causes(causes: Sequence[Fault], stops: Sequence[Fault]) -> str:
    """Return why a job can't be run: the faults of the layer that stops it, then the stops."""
    texts = (causes_text(causes, _MAX_CAUSES), *map(str, merge_alike(stops)))
    return " ".join(text for text in texts if text)


def _merged(*parts: CheckedLayer) -> pd.DataFrame:
    return merge_parts(parts)[parts[0].schema.job_layer]


def _crs_of(layer: CheckedLayer, routes_crs: CRS) -> CRS:
    return routes_crs if layer.table.crs is None else pyproj.CRS(layer.table.crs)


def _positions(layer: CheckedLayer) -> tuple[CRS | None, Objects]:
    """Return the CRS and the shapes of the good rows of a layer; None if it has no position."""
    table = layer.table
    none: Objects = np.empty(0, dtype=object)
    if not isinstance(table, gpd.GeoDataFrame) or table.crs is None:
        return None, none
    good = (table["reason"].isna() & table.geometry.notna()).to_numpy()
    if not good.any():
        return None, none
    return pyproj.CRS(table.crs), np.asarray(table.geometry.array, dtype=object)[good]


def _no_positions() -> tuple[CRS, Objects]:
    return crs_without_place(feet=False), np.empty(0, dtype=object)


def _crs_without_place(feet: bool) -> CRS:
    return crs_without_place(feet=feet)


def _local_crs(
    routes_crs: CRS, lines: Objects
) -> tuple[CRS, tuple[float, float] | None, Reason | None]:
    """Return the local CRS, the median longitude and latitude if any, and what stops the job."""
    if not len(lines):
        return routes_crs, None, None
    if looks_like_degrees(routes_crs, lines):
        return routes_crs, None, Reason("degrees_in_metre_crs", crs=routes_crs.name)
    x, y = shapely.get_coordinates(lines).T
    try:
        crs = choose_local_crs(routes_crs, x, y)
    except ValueError:
        return routes_crs, None, Reason("no_route_on_earth")
    return crs, median_position(routes_crs, x, y), None


def median_position(crs: CRS, x: Any, y: Any) -> tuple[float, float]:
    """Return the median longitude and latitude, degrees, by which datum shifts are selected."""
    to_degrees = transformer(crs, base_geographic(crs))
    lon, lat = to_degrees.transform(x, y)
    return float(np.median(lon[np.isfinite(lon)])), float(np.median(lat[np.isfinite(lat)]))


def _placed_by_tape(
    routes: CheckedLayer, contacts: CheckedLayer, crs: CRS, reading_sd_m: float, route_sd_m: float
) -> dict[str, CheckedLayer]:
    layers = {"routes": routes, "contacts": contacts}
    return place_taped_lines(layers, crs, reading_sd_m, route_sd_m)


def _read_ground(
    routes: CheckedLayer, crs: CRS, routes_crs: CRS, source: Path, _: tuple[object, ...]
) -> tuple[GroundModel | None, list[Fault]]:
    """Return the ground model of a source, and its faults; the last input is the file's state."""
    lines = routes.table.geometry[routes.table["reason"].isna()].to_numpy()
    lines = lines[~is_nowhere(lines)]
    if not shapely.has_z(lines).any():
        return None, []
    x, y = shapely.get_coordinates(lines).T
    with ground_model(source) as model:
        if model is None:
            return None, []
        ground, faults = read_ground(model, x, y, crs, pyproj.CRS(routes_crs))
    if ground is not None and (fault := height_mismatch(ground, lines, crs)) is not None:
        return None, [fault]
    return ground, list(faults)
