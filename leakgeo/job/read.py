"""Read a job: every layer there is, checked, in one local metre CRS."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pyproj
import shapely

from leakgeo.errors import JobError, ParameterError
from leakgeo.faults import Fault, merge_alike
from leakgeo.job.checks import (
    CheckedLayer,
    as_names,
    check_layer,
    check_settings,
    joined,
    link_layers,
    link_lines,
    looks_like_degrees,
    may_be_taped,
    pick_lines,
    place_faults,
    put_on_routes,
    run_checks,
    tape_along_routes,
    to_local,
)
from leakgeo.job.crs import base_geographic, choose_local_crs, is_earthly
from leakgeo.job.datum import datum_shift, report_shift
from leakgeo.job.digest import job_digest
from leakgeo.job.mapping import apply_mapping, load_mapping
from leakgeo.job.model import Job
from leakgeo.job.rasters.ground import ground_model, read_ground, unlike_routes
from leakgeo.job.schema import readable_layers
from leakgeo.job.sources import (
    digest,
    is_local,
    open_source,
    read_layer,
    shown,
    simulated_note,
)
from leakgeo.reason import Reason
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from pyproj import CRS

    from leakgeo.faults import Effect
    from leakgeo.job.mapping import JobMapping
    from leakgeo.job.rasters.ground import GroundModel
    from leakgeo.job.schema import LayerSchema
    from leakgeo.job.sources import JobSource, LayerSource, RawLayer

# So many causes are named in the message of a job that can't be run.
_MOST_CAUSES = 3


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
        A local GeoPackage, another vector file of many layers, a folder of files named like the
        layers, the URL of a PostgreSQL database (``postgresql://...``), or GeoDataFrames by the
        name of their layer (tables without geometry as DataFrames). It is only read; nothing is
        written to it or beside it.
    lines : str or sequence of str, optional
        Identifiers of the lines wanted, all if None. Rows of other lines stay, with
        `leakgeo.job.model.NOT_SELECTED` as reason, so that readings without line_id can still be
        told apart by position.
    mapping : str or pathlib.Path, optional
        TOML file that tells which layers, columns, codes and units of the source are those of the
        data contract.
    **parameters
        What the checks go by, as the steps take it: ``route_sd_m``, ``reading_sd_m`` and
        ``tape_sd_m``, the 1-sigma errors in metres of routes, readings and taped chainages that
        give none. Give steps the same.

    Returns
    -------
    Job
        Every layer in one local metre CRS, every row kept, with ``reason``.

    Raises
    ------
    JobError
        If the job can't be run at all; it carries every fault found.
    ParameterError
        If `mapping` is no path, or the checks have no such parameter or do not allow its value.

    Examples
    --------
    >>> from leakgeo.errors import JobError
    >>> try:
    ...     read_job("nowhere.gpkg")
    ... except JobError as error:
    ...     print(error)
    nowhere.gpkg: There is no such file or folder. Check the path of the job.
    """
    wanted, asked = _wanted(mapping), as_names(lines)
    reading = _Reading(shown(source), check_settings(parameters))
    with open_source(source) as opened:
        if wanted is not None:
            opened = apply_mapping(opened, wanted)  # noqa: PLW2901
        reading.faults += opened.faults
        for schema in readable_layers().values():
            reading.take(schema, opened)
        digested = digest(opened.path)
    reading.need_rows()
    reading.stop_if_needed()
    crs, output_crs = reading.bring_local()
    ground = reading.ground(Path(str(source)), crs) if is_local(source) else None
    if asked is not None:
        reading.layers, faults = pick_lines(reading.layers, asked)
        reading.faults += faults
    reading.stop_if_needed()
    tables: Mapping[str, Any] = joined(reading.layers.values())
    job = Job(
        **tables, crs=crs, output_crs=output_crs, faults=reading.all_faults(),
        counts=reading.counts, source=reading.source, digest=digested, ground=ground,
        mapping="" if mapping is None else Path(mapping).name,
        mapping_digest="" if mapping is None else digest(Path(mapping)),
        simulated=simulated_note(reading.source),
    )  # fmt: skip
    return replace(job, layers_digest=job_digest(job))


def _in_short(causes: Sequence[Fault], stops: Sequence[Fault]) -> str:
    """Say why a job can't be run: what is wrong with the layer that stops it, then what follows."""
    alike_ones = merge_alike(causes)
    more = len(alike_ones) - _MOST_CAUSES
    told = [str(fault) for fault in (*alike_ones[:_MOST_CAUSES], *merge_alike(stops))]
    if more > 0:
        told.insert(_MOST_CAUSES, f"... and {more} more.")
    return " ".join(told)


def _wanted(mapping: object) -> JobMapping | None:
    if mapping is not None and not isinstance(mapping, (str, Path)):
        kind = type(mapping).__name__
        raise ParameterError.of(
            "mapping", f"a {kind} is not allowed; give the path of a TOML file."
        )
    return None if mapping is None else load_mapping(mapping)


@dataclass
class _Reading:
    """What has been gathered so far while a job is read."""

    source: str
    parameters: Mapping[str, object]
    faults: list[Fault] = field(default_factory=list)
    layers: dict[str, CheckedLayer] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    routes_crs: CRS | None = None

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
                f"{self.source}: the job can't be run. {_in_short(causes, stops)}",
                [*first, *(f for f in faults if f not in first)],
            )

    def take(self, schema: LayerSchema, opened: LayerSource) -> None:
        """Read and check one layer, or say why it is not there."""
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
        self.counts[schema.in_job] = self.counts.get(schema.in_job, 0) + len(raw.table)
        if schema.name == "routes":
            self.routes_crs = raw.crs
        if self._is_placed(schema, raw):
            self.layers[schema.name] = check_layer(raw, schema, self.parameters)

    def _report_missing(self, schema: LayerSchema, opened: LayerSource) -> None:
        if not schema.required:
            # The catalogue says of which layers it matters.
            if wording().knows(code := f"{schema.name}_missing"):
                self.report(schema.name, Reason(code), "noted")
            return
        reason = Reason("job_without_layers", layer=schema.name)
        if opened.layers:
            reason = Reason("layer_missing", layer=schema.name, layers=list(opened.layers))
        self.report(schema.name, reason, "stops")

    def _is_placed(self, schema: LayerSchema, raw: RawLayer) -> bool:
        """Tell whether a layer has geometry on the earth, if it is to have any."""
        if not schema.geometry_types or (raw.has_geometry and is_earthly(raw.crs)):
            return True
        if not raw.has_geometry and may_be_taped(schema, [str(name) for name in raw.table]):
            return True
        reason = Reason("layer_without_crs", rows=len(raw.table))
        if not raw.has_geometry:
            types = schema.geometry_types
            reason = Reason("layer_without_geometry", rows=len(raw.table), types=types)
        self.report(schema.name, reason, "stops" if schema.required else "rejected")
        return False

    def need_rows(self) -> None:
        """Say which required layer is empty; without a usable route there is nothing to run."""
        if self.counts.get("routes") == 0:
            self.report("routes", Reason("no_routes"), "stops")
        if self.counts.get("readings") == 0:
            self.report("readings", Reason("no_readings"), "noted")
        self._need_good_routes()

    def _need_good_routes(self) -> None:
        routes = self.layers.get("routes")
        if routes is not None and len(routes.table) and routes.table["reason"].notna().all():
            self.report("routes", Reason("no_good_route"), "stops")

    def bring_local(self) -> tuple[CRS, CRS]:
        """Bring every layer into the local CRS, and check the layers against the routes."""
        routes = self.layers["routes"].table
        own = pyproj.CRS(routes.crs)
        crs, place = self._choose(own)
        self.faults += place_faults(own, *place)
        came = {n: own if c.table.crs is None else pyproj.CRS(c.table.crs)
                for n, c in self.layers.items() if "geometry" in c.table}  # fmt: skip
        for name, checked in self.layers.items():
            if checked.schema.geometry_types and name != "routes":
                shift = datum_shift(came[name], own, place)
                checked = report_shift(checked, came[name], own, shift)  # noqa: PLW2901
            self.layers[name] = to_local(checked, crs)
        # Routes first: what is linked to them must know which are good.
        for name in sorted(self.layers, key="routes".__ne__):
            self._check_locally(name, crs=crs, read_crs=came.get(name, own), routes_crs=own)
        self._need_good_routes()
        self.layers |= link_layers(self.layers)
        return crs, own

    def _check_locally(self, name: str, **crs: CRS) -> None:
        """Link one layer to the routes, and run the checks that need every layer in one CRS."""
        checked, traced = self.layers[name], self.layers["routes"]
        if name != "routes":
            checked = link_lines(checked, traced)
        if name == "readings":
            route_sd_m = float(str(self.parameters["route_sd_m"]))
            taped = tape_along_routes(checked, self.layers.get("contacts"), traced, route_sd_m)
            checked = put_on_routes(taped, traced)
        routes = traced.table[traced.table["reason"].isna()]
        self.layers[name] = run_checks(
            checked, "local", self.parameters,
            routes=routes, **crs,
        )  # fmt: skip

    def ground(self, source: Path, crs: CRS) -> GroundModel | None:
        """Read the ground model around the routes, if the job has one and the routes have Z."""
        routes = self.layers["routes"].table
        lines = routes.geometry[routes["reason"].isna()].to_numpy()
        if not shapely.has_z(lines).any():
            return None
        x, y = shapely.get_coordinates(lines).T
        with ground_model(source) as model:
            if model is None:
                return None
            ground, faults = read_ground(model, x, y, crs, pyproj.CRS(self.routes_crs))
        if ground is not None and (fault := unlike_routes(ground, lines, crs)) is not None:
            ground, faults = None, [fault]
        self.faults += faults
        return ground

    def _choose(self, own: CRS) -> tuple[CRS, tuple[float, float]]:
        routes = self.layers["routes"].table
        lines = routes.geometry[routes["reason"].isna()].to_numpy()
        if looks_like_degrees(own, lines):
            self.report("routes", Reason("degrees_in_metre_crs", crs=own.name), "stops")
            self.stop_if_needed()
        x, y = shapely.get_coordinates(lines).T
        try:
            crs = choose_local_crs(own, x, y)
        except ValueError:
            self.report("routes", Reason("no_route_on_earth"), "stops")
            self.stop_if_needed()
            raise
        return crs, _somewhere(own, x, y)


def _somewhere(crs: CRS, x: Any, y: Any) -> tuple[float, float]:
    """Give a place of the job in degrees, by which a datum shift is picked."""
    to_degrees = pyproj.Transformer.from_crs(crs, base_geographic(crs), always_xy=True)
    lon, lat = to_degrees.transform(x, y)
    return float(np.median(lon[np.isfinite(lon)])), float(np.median(lat[np.isfinite(lat)]))
