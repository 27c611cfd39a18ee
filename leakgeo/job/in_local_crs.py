"""The stages of a layer in the local metre CRS: its transformation, its checks among the others."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.job.checks import (
    depths_in_doubt,
    displays_in_doubt,
    link_lines,
    place_by_chainage,
    place_digs_by_chainage,
    run_checks,
    tape_along_routes,
    to_local,
    with_repairs,
    with_tap_points,
)
from leakgeo.job.datum import datum_shift, report_shift

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pyproj import CRS

    from leakgeo.job.checks import CheckedLayer


def layer_in_local_crs(
    layer: CheckedLayer, crs: CRS, read_crs: CRS | None, routes_crs: CRS,
    position: tuple[float, float] | None,
) -> CheckedLayer:  # fmt: skip
    """Transform a layer to the local CRS, and report a poor shift of its datum.

    Parameters
    ----------
    layer : CheckedLayer
    crs, read_crs, routes_crs : pyproj.CRS
        The local CRS, that of the layer, None without geometry, and that of the routes.
    position : tuple of float or None
        Longitude and latitude of the job, degrees; None without positions.
    """
    other = layer.schema.geometry_types and layer.schema.name != "routes"
    if other and position is not None and read_crs is not None:
        shift = datum_shift(read_crs, routes_crs, position)
        layer = report_shift(layer, read_crs, routes_crs, shift)
    return to_local(layer, crs)


def checked_in_place(
    layer: CheckedLayer, routes: CheckedLayer, contacts: CheckedLayer | None,
    digs: CheckedLayer | None, parameters: Mapping[str, object], crs: CRS, read_crs: CRS,
    routes_crs: CRS,
) -> CheckedLayer:  # fmt: skip
    """Link one layer to the routes, and run the checks that need every layer in one CRS.

    Parameters
    ----------
    layer, routes, contacts : CheckedLayer
        In the local CRS; the routes are checked before all others.
    digs : CheckedLayer or None
        ``dig_outcomes``, if `layer` is the routes.
    parameters : mapping of str to object
        Those of the checks.
    crs, read_crs, routes_crs : pyproj.CRS
    """
    name, route_sd_m = layer.schema.name, float(str(parameters["route_sd_m"]))
    if name != "routes":
        layer = link_lines(layer, routes)
    if name == "readings":
        layer = tape_along_routes(layer, contacts, routes, route_sd_m)
        layer = with_tap_points(layer, contacts)
        layer = displays_in_doubt(place_by_chainage(layer, routes))
    if name == "dig_outcomes":
        layer = place_digs_by_chainage(layer, routes)
    good = routes.table[routes.table["reason"].isna()]
    fittings = None if contacts is None else contacts.table
    done = run_checks(layer, "local", parameters, routes=good, contacts=fittings, crs=crs,
                      read_crs=read_crs, routes_crs=routes_crs)  # fmt: skip
    if name == "routes":
        return with_repairs(depths_in_doubt(done), digs, route_sd_m)
    return done
