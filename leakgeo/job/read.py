"""Read the layers of a job, check them, and bring them into one local metre CRS."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely

from leakgeo.errors import JobError, ParameterError
from leakgeo.faults import Fault, causes_text, merge_alike
from leakgeo.job.checks import (
    CheckedLayer,
    as_names,
    can_be_placed_by_chainage,
    check_layer,
    check_settings,
    depths_in_doubt,
    displays_in_doubt,
    lines_with_lists,
    link_layers,
    link_lines,
    looks_like_degrees,
    merge_parts,
    mostly_in_feet,
    place_by_chainage,
    place_digs_by_chainage,
    place_taped_lines,
    position_faults,
    run_checks,
    select_lines,
    tape_along_routes,
    tapes_in_feet,
    to_local,
    with_repairs,
    with_tap_points,
)
from leakgeo.job.crs import (
    base_geographic,
    choose_local_crs,
    crs_without_place,
    is_georeferenced,
)
from leakgeo.job.datum import datum_shift, report_shift
from leakgeo.job.digest import job_digest
from leakgeo.job.mapping import apply_mapping, load_mapping
from leakgeo.job.model import Job
from leakgeo.job.placed import is_nowhere
from leakgeo.job.rasters.ground import ground_model, height_mismatch, read_ground
from leakgeo.job.schema import readable_layers
from leakgeo.job.sources import (
    digest,
    display_address,
    is_local,
    open_source,
    read_layer,
    simulated_note,
)
from leakgeo.job.workbook import with_sheets
from leakgeo.reason import Reason
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray
    from pyproj import CRS

    from leakgeo.faults import Effect
    from leakgeo.job.mapping import JobMapping
    from leakgeo.job.rasters.ground import GroundModel
    from leakgeo.job.schema import LayerSchema
    from leakgeo.job.sources import JobSource, LayerSource, RawLayer

# Causes named in the message of a job that can't be run.
_MAX_CAUSES = 3


def read_job(
    source: JobSource,
    *,
    lines: str | Sequence[str] | None = None,
    mapping: str | Path | None = None,
    **parameters: object,
) -> Job:
    """Read and check a job.

    Parameters
    ----------
    source : str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A local GeoPackage, another vector file with several layers, a folder of files named after
        the layers, the URL of a PostgreSQL database (``postgresql://...``), or GeoDataFrames by
        layer name (DataFrames for tables without geometry). The source is only read; nothing is
        written to it or next to it.
    lines : str or sequence of str, optional
        Identifiers of the lines to read, all if None. Rows of other lines are kept, with
        `leakgeo.job.model.NOT_SELECTED` as reason, so that readings without line_id can still be
        assigned to a line by position.
    mapping : str or pathlib.Path, optional
        TOML file that maps layers, columns, codes and units of the source to those of the data
        contract.
    **parameters
        Parameters of the checks: ``route_sd_m``, ``reading_sd_m`` and ``tape_sd_m``, the 1-sigma
        errors in metres of routes, readings and taped chainages that state none. Pass the same
        values to the steps.

    Returns
    -------
    Job
        Every layer in one local metre CRS, with every row, and the column ``reason``.

    Raises
    ------
    JobError
        If the job can't be run at all; it carries every fault found.
    ParameterError
        If `mapping` is not a path, or a parameter is unknown or its value is not allowed.

    Examples
    --------
    >>> from leakgeo.errors import JobError
    >>> try:
    ...     read_job("nowhere.gpkg")
    ... except JobError as error:
    ...     print(error)
    nowhere.gpkg: There is no such file or folder. Check the path of the job.
    """
    job_mapping, selected = _load_given_mapping(mapping), as_names(lines)
    reader = _JobReader(display_address(source), check_settings(parameters))
    with open_source(source) as opened:
        if job_mapping is not None:
            opened = apply_mapping(opened, job_mapping)  # noqa: PLW2901
        else:
            opened = with_sheets(opened)  # noqa: PLW2901
        reader.faults += opened.faults
        opened = reader.find_lists(opened)  # noqa: PLW2901
        for schema in readable_layers().values():
            reader.add_layer(schema, opened)
        source_digest = digest(opened.path)
    reader.check_not_empty()
    reader.stop_if_needed()
    crs, output_crs = reader.to_local_crs()
    ground = reader.read_ground_model(Path(str(source)), crs) if is_local(source) else None
    if selected is not None:
        reader.layers, faults = select_lines(reader.layers, selected)
        reader.faults += faults
    reader.stop_if_needed()
    tables: Mapping[str, Any] = merge_parts(reader.layers.values())
    job = Job(
        **tables, crs=crs, output_crs=output_crs, faults=reader.all_faults(),
        counts=reader.counts, source=reader.source, digest=source_digest, ground=ground,
        mapping="" if mapping is None else Path(mapping).name,
        mapping_digest="" if mapping is None else digest(Path(mapping)),
        simulated=simulated_note(reader.source), works_in_feet=mostly_in_feet(tables),
    )  # fmt: skip
    return replace(job, layers_digest=job_digest(job))


def _summary_of_causes(causes: Sequence[Fault], stops: Sequence[Fault]) -> str:
    """Return why a job can't be run: the faults of the layer that stops it, then the stops."""
    texts = (causes_text(causes, _MAX_CAUSES), *map(str, merge_alike(stops)))
    return " ".join(text for text in texts if text)


def _load_given_mapping(mapping: object) -> JobMapping | None:
    if mapping is not None and not isinstance(mapping, (str, Path)):
        kind = type(mapping).__name__
        raise ParameterError.of(
            "mapping", f"a {kind} is not allowed; give the path of a TOML file."
        )
    return None if mapping is None else load_mapping(mapping)


@dataclass
class _JobReader:
    """Layers and faults collected while a job is read."""

    source: str
    parameters: Mapping[str, object]
    faults: list[Fault] = field(default_factory=list)
    layers: dict[str, CheckedLayer] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    routes_crs: CRS | None = None
    listed: frozenset[str] = frozenset()

    def report(self, layer: str, reason: Reason, effect: Effect) -> None:
        self.faults.append(Fault(layer, reason, effect=effect))

    def all_faults(self) -> tuple[Fault, ...]:
        checked = (f for c in self.layers.values() for f in c.faults)
        return (*self.faults, *checked)

    def stop_if_needed(self) -> None:
        faults = self.all_faults()
        stops = [f for f in faults if f.effect == "stops"]
        if stops:
            layers = {f.layer for f in stops}
            causes = [f for f in faults if f.effect == "rejected" and f.layer in layers]
            first = [*causes, *stops]
            raise JobError(
                f"{self.source}: the job can't be run. {_summary_of_causes(causes, stops)}",
                [*first, *(f for f in faults if f not in first)],
            )

    def find_lists(self, opened: LayerSource) -> LayerSource:
        """Find the lines with a taped list, which are read before the routes: they need none."""
        if "contacts" not in opened.layers:
            return opened
        try:
            raw = read_layer(opened, "contacts")
        except JobError:  # reported when the layer's turn comes
            return opened
        self.listed = lines_with_lists(raw)
        return replace(opened, ready={**opened.ready, "contacts": raw})

    def add_layer(self, schema: LayerSchema, opened: LayerSource) -> None:
        """Read and check one layer, or report why it is missing."""
        if schema.name not in opened.layers:
            if not schema.part_of and not opened.layers.keys() & dict(schema.drawn_as).keys():
                self._report_missing(schema, opened)
            return
        try:
            raw = read_layer(opened, schema.name)
        except JobError as error:
            effect: Effect = "stops" if schema.required else "rejected"
            self.faults += [replace(f, layer=schema.name, effect=effect) for f in error.faults]
            return
        self.counts[schema.job_layer] = self.counts.get(schema.job_layer, 0) + len(raw.table)
        if schema.name == "routes":
            self.routes_crs = raw.crs
        if self._has_position(schema, raw):
            self.layers[schema.name] = check_layer(raw, schema, self.parameters, self.listed)

    def _report_missing(self, schema: LayerSchema, opened: LayerSource) -> None:
        if not schema.required:
            # Only layers whose absence matters have a message in the catalogue.
            if wording().knows(code := f"{schema.name}_missing"):
                self.report(schema.name, Reason(code), "noted")
            return
        reason = Reason("job_without_layers", layer=schema.name)
        if opened.layers:
            reason = Reason("layer_missing", layer=schema.name, layers=list(opened.layers))
        self.report(schema.name, reason, "stops")

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
        self.report(schema.name, reason, "stops" if schema.required else "rejected")
        return False

    def check_not_empty(self) -> None:
        """Report empty required layers; a job without a usable route can't be run."""
        if self.counts.get("routes") == 0:
            self.report("routes", Reason("no_routes"), "stops")
        if self.counts.get("readings") == 0:
            self.report("readings", Reason("no_readings"), "noted")
        self._check_good_routes()

    def _check_good_routes(self) -> None:
        routes = self.layers.get("routes")
        if routes is not None and len(routes.table) and routes.table["reason"].notna().all():
            self.report("routes", Reason("no_good_route"), "stops")

    def to_local_crs(self) -> tuple[CRS, CRS]:
        """Bring every layer into the local CRS, and check the layers against the routes.

        Returns the local CRS and the CRS that the routes were read in.
        """
        routes_crs, placed = self._crs_of_positions()
        crs, position = self._choose_crs(routes_crs, placed)
        if position is not None:
            self.faults += position_faults(routes_crs, *position)
        read_crs = {
            name: routes_crs if layer.table.crs is None else pyproj.CRS(layer.table.crs)
            for name, layer in self.layers.items()
            if "geometry" in layer.table
        }
        for name, layer in self.layers.items():
            if layer.schema.geometry_types and name != "routes" and position is not None:
                shift = datum_shift(read_crs[name], routes_crs, position)
                layer = report_shift(layer, read_crs[name], routes_crs, shift)  # noqa: PLW2901
            self.layers[name] = to_local(layer, crs)
        self.layers = place_taped_lines(self.layers, crs, *self._errors("reading", "route"))
        # Routes first: rows of rejected routes are rejected with them.
        for name in sorted(self.layers, key="routes".__ne__):
            self._check_in_local_crs(
                name, crs=crs, read_crs=read_crs.get(name, routes_crs), routes_crs=routes_crs
            )
        self._check_good_routes()
        self.layers |= link_layers(self.layers)
        return crs, self._output_crs(routes_crs, position)

    def _errors(self, *names: str) -> tuple[float, ...]:
        return tuple(float(str(self.parameters[f"{name}_sd_m"])) for name in names)

    def _crs_of_positions(self) -> tuple[CRS, NDArray[np.object_]]:
        """Return the CRS of the routes and their shapes, else those of a layer with positions."""
        first = ("routes", "contacts", "readings")
        for name in (*first, *(n for n in self.layers if n not in first)):
            table = self.layers[name].table if name in self.layers else pd.DataFrame()
            if not isinstance(table, gpd.GeoDataFrame) or table.crs is None:
                continue
            good = (table["reason"].isna() & table.geometry.notna()).to_numpy()
            if good.any():
                return pyproj.CRS(table.crs), np.asarray(table.geometry.array, dtype=object)[good]
        return crs_without_place(feet=False), np.empty(0, dtype=object)

    def _output_crs(self, routes_crs: CRS, position: tuple[float, float] | None) -> CRS:
        """Return the CRS of the results; of a job without positions one in the units of its tapes.

        Feet on any tape mean that the crew works in feet.
        """
        if position is not None:
            return routes_crs
        tables = {name: layer.table for name, layer in self.layers.items()}
        return crs_without_place(feet=bool(tapes_in_feet(tables).any()))

    def _check_in_local_crs(self, name: str, **crs: CRS) -> None:
        """Link one layer to the routes, and run the checks that need every layer in one CRS."""
        checked, all_routes = self.layers[name], self.layers["routes"]
        if name != "routes":
            checked = link_lines(checked, all_routes)
        contacts = self.layers.get("contacts")
        (route_sd_m,) = self._errors("route")
        if name == "readings":
            checked = tape_along_routes(checked, contacts, all_routes, route_sd_m)
            checked = with_tap_points(checked, contacts)
            checked = displays_in_doubt(place_by_chainage(checked, all_routes))
        if name == "dig_outcomes":
            checked = place_digs_by_chainage(checked, all_routes)
        routes = all_routes.table[all_routes.table["reason"].isna()]
        fittings = None if contacts is None else contacts.table
        done = run_checks(
            checked, "local", self.parameters, routes=routes, contacts=fittings, **crs
        )
        if name == "routes":
            done = with_repairs(depths_in_doubt(done), self.layers.get("dig_outcomes"), route_sd_m)
        self.layers[name] = done

    def read_ground_model(self, source: Path, crs: CRS) -> GroundModel | None:
        """Read the ground model around the routes, if the job has one and the routes have Z."""
        routes = self.layers["routes"].table
        lines = routes.geometry[routes["reason"].isna()].to_numpy()
        lines = lines[~is_nowhere(lines)]
        if not shapely.has_z(lines).any():
            return None
        x, y = shapely.get_coordinates(lines).T
        with ground_model(source) as model:
            if model is None:
                return None
            ground, faults = read_ground(model, x, y, crs, pyproj.CRS(self.routes_crs))
        if ground is not None and (fault := height_mismatch(ground, lines, crs)) is not None:
            ground, faults = None, [fault]
        self.faults += faults
        return ground

    def _choose_crs(
        self, routes_crs: CRS, lines: NDArray[np.object_]
    ) -> tuple[CRS, tuple[float, float] | None]:
        """Return the local CRS, and the median longitude and latitude, None without positions."""
        if not len(lines):
            return routes_crs, None
        if looks_like_degrees(routes_crs, lines):
            self.report("routes", Reason("degrees_in_metre_crs", crs=routes_crs.name), "stops")
            self.stop_if_needed()
        x, y = shapely.get_coordinates(lines).T
        try:
            crs = choose_local_crs(routes_crs, x, y)
        except ValueError:
            self.report("routes", Reason("no_route_on_earth"), "stops")
            self.stop_if_needed()
            raise
        return crs, _median_position(routes_crs, x, y)


def _median_position(crs: CRS, x: Any, y: Any) -> tuple[float, float]:
    """Return the median longitude and latitude, degrees, by which datum shifts are selected."""
    to_degrees = pyproj.Transformer.from_crs(crs, base_geographic(crs), always_xy=True)
    lon, lat = to_degrees.transform(x, y)
    return float(np.median(lon[np.isfinite(lon)])), float(np.median(lat[np.isfinite(lat)]))
