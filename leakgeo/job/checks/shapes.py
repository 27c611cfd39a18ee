"""Check geometries, repair those with a single valid repair, and report implausible routes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from leakgeo.job.checks.registry import check
from leakgeo.reason import Reason

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

    from leakgeo.job.checks.collector import IssueCollector
    from leakgeo.job.schema import LayerSchema


# By GEOS type number; the last is for missing geometry, which has number -1.
_TYPE_NAMES = np.array(
    [
        "Point", "LineString", "LinearRing", "Polygon", "MultiPoint", "MultiLineString",
        "MultiPolygon", "GeometryCollection", "",
    ], dtype=object,
)  # fmt: skip
#: No CRS has larger coordinates, and geometry can't be computed with them.
MAX_COORDINATE = 1e12
#: No coordinate on the earth is larger in metres: more than twice its circumference.
MAX_LOCAL_COORDINATE_M = 1e8
#: Routes shorter than this on the ground are points, not lines.
MIN_ROUTE_M = 0.001
#: Routes longer than this have a wrong vertex.
MAX_ROUTE_M = 100_000.0


def check_shapes(
    shapes: NDArray[np.object_], schema: LayerSchema, issues: IssueCollector,
    exempt: NDArray[np.bool_],
) -> NDArray[np.object_]:  # fmt: skip
    """Check geometries before they are transformed to the local CRS.

    Parameters
    ----------
    shapes : ndarray of shapely geometries, shape (n,)
        In the layer's own CRS.
    schema : LayerSchema
    issues : IssueCollector
        Collector to report to.
    exempt : ndarray of bool, shape (n,)
        Rows that need no geometry.

    Returns
    -------
    ndarray of shapely geometries, shape (n,)
        Null if a geometry can't be used.
    """
    null, empty = shapely.is_missing(shapes), shapely.is_empty(shapes)
    for bare, code in zip((null, empty), _bare_codes(schema.name), strict=True):
        issues.report(bare & ~exempt, Reason(code), column="geometry")
    endless = _beyond(shapes, MAX_COORDINATE) & ~empty
    issues.report(endless, Reason("coordinate_not_finite"), column="geometry")
    shapes = _without_partial_z(shapes, schema, issues)
    single = _single_points(shapes, schema)
    wrong = _wrong_type(single, schema) & ~(null | empty | endless)
    issues.report(
        wrong,
        Reason("wrong_geometry_type", allowed=schema.geometry_types),
        column="geometry",
        values=_TYPE_NAMES[shapely.get_type_id(single)],
    )
    return _repair_polygons(_nulled(single, null | empty | endless | wrong), schema, issues)


def _bare_codes(layer: str) -> tuple[str, str]:
    """Return the codes of a null and an empty geometry; a tape may place rows of some layers."""
    if layer == "readings":
        return "reading_without_geometry", "reading_geometry_empty"
    if layer == "routes":
        return "route_without_geometry", "geometry_empty"
    return "fitting_without_geometry" if layer == "contacts" else "no_geometry", "geometry_empty"


def check_transformed(
    shapes: NDArray[np.object_], before: NDArray[np.object_], schema: LayerSchema,
    issues: IssueCollector, exempt: NDArray[np.bool_],
) -> NDArray[np.object_]:  # fmt: skip
    """Check geometries in the local metre CRS: coordinates out of range, lines without length.

    Rows that are `exempt` need no geometry; an unusable one is noted, and set to null.
    """
    lost = _beyond(shapes, MAX_LOCAL_COORDINATE_M) & ~shapely.is_missing(before)
    for rows, rejects in ((lost & ~exempt, True), (lost & exempt, False)):
        issues.report(rows, Reason("no_place_in_crs"), column="geometry", rejects=rejects)
    shapes = _nulled(shapes, lost)
    short = np.zeros(len(shapes), dtype=bool)
    if schema.name == "routes":
        short = (shapely.length(shapes) < MIN_ROUTE_M) & ~shapely.is_missing(shapes)
    issues.report(short, Reason("route_without_length"), column="geometry")
    return _nulled(shapes, short | _reject_too_long(shapes, schema, issues))


def _reject_too_long(
    shapes: NDArray[np.object_], schema: LayerSchema, issues: IssueCollector
) -> NDArray[np.bool_]:
    """Reject routes longer than MAX_ROUTE_M."""
    long = shapely.length(shapes)
    with np.errstate(invalid="ignore"):
        endless = (
            (long > MAX_ROUTE_M) if schema.name == "routes" else np.zeros(len(long), dtype=bool)
        )
    reasons = [Reason("route_too_long", length_m=metres) for metres in long[endless]]
    issues.report(endless, reasons, column="geometry")
    return np.asarray(endless)


def _without_partial_z(
    shapes: NDArray[np.object_], schema: LayerSchema, issues: IssueCollector
) -> NDArray[np.object_]:
    """Drop the Z of routes that have it only in some vertices, since it is not interpolated.

    A Z of 0 counts as missing because many programs write it for an unknown height.
    """
    if schema.name != "routes" or not shapely.has_z(shapes).any():
        return shapes
    z, owner = shapely.get_coordinates(shapes, include_z=True, return_index=True)
    known = np.isfinite(z[:, 2]) & (z[:, 2] != 0)
    some = np.bincount(owner[known], minlength=len(shapes)) > 0
    partly = some & (np.bincount(owner[~known], minlength=len(shapes)) > 0) & shapely.has_z(shapes)
    issues.report(partly, Reason("z_in_part"), column="geometry", rejects=False)
    flat: NDArray[np.object_] = shapes.copy()
    flat[partly] = shapely.force_2d(shapes[partly])
    return flat


def _nulled(shapes: NDArray[np.object_], rows: NDArray[np.bool_]) -> NDArray[np.object_]:
    kept: NDArray[np.object_] = shapes.copy()
    kept[rows] = None
    return kept


def _beyond(shapes: NDArray[np.object_], most: float) -> NDArray[np.bool_]:
    coordinates, owner = shapely.get_coordinates(shapes, return_index=True)
    bad = np.zeros(len(shapes), dtype=bool)
    bad[owner[~(np.isfinite(coordinates) & (np.abs(coordinates) <= most)).all(axis=1)]] = True
    return bad


def _single_points(shapes: NDArray[np.object_], schema: LayerSchema) -> NDArray[np.object_]:
    """Convert MultiPoints of one point, which many programs write, to points."""
    multi = shapely.get_type_id(shapes) == shapely.GeometryType.MULTIPOINT
    alone = multi & (shapely.get_num_geometries(shapes) == 1)
    if "Point" not in schema.geometry_types or not alone.any():
        return shapes
    singles: NDArray[np.object_] = shapes.copy()
    singles[alone] = shapely.get_geometry(shapes[alone], 0)
    return singles


def _wrong_type(shapes: NDArray[np.object_], schema: LayerSchema) -> NDArray[np.bool_]:
    allowed = [int(shapely.GeometryType[t.upper()]) for t in schema.geometry_types]
    return ~np.isin(shapely.get_type_id(shapes), allowed)


def _repair_polygons(
    shapes: NDArray[np.object_], schema: LayerSchema, issues: IssueCollector
) -> NDArray[np.object_]:
    """Repair polygons whose outline crosses itself; reject those without area afterwards."""
    if "Polygon" not in schema.geometry_types:
        return shapes
    area = shapely.get_dimensions(shapes) == 2
    broken = area & ~shapely.is_valid(shapes)
    if not broken.any():
        return shapes
    repaired: NDArray[np.object_] = shapes.copy()
    repaired[broken] = shapely.make_valid(shapes[broken], method="structure", keep_collapsed=False)
    hopeless = broken & shapely.is_empty(repaired)
    issues.report(hopeless, Reason("outline_without_area"), column="geometry")
    crossed = broken & ~hopeless
    issues.report(crossed, Reason("outline_repaired"), column="geometry", rejects=False)
    repaired[hopeless] = None
    return repaired


# A turn this close to 180 degrees, with both legs at least this long, is a digitizing error: a pipe
# that returns has two bends.
BACK_DEG, LEG_M = 4.0, 0.3
# Vertices closer than this are duplicates.
_SAME_M = 1e-6


@check("routes", order=10)
def implausible_routes(rows: gpd.GeoDataFrame, issues: IssueCollector) -> None:
    """Report routes that turn back or cross themselves, so that their length is doubtful."""
    lines = rows.geometry.to_numpy()
    back = count_reversals(lines)
    turns = [Reason("route_turns_back", times=times) for times in back[back > 0]]
    issues.report(back > 0, turns, column="geometry", rejects=False)
    there = ~shapely.is_missing(lines) & (back == 0)
    crosses = np.zeros(len(lines), dtype=bool)
    crosses[there] = ~shapely.is_simple(lines[there])
    issues.report(crosses, Reason("route_crosses_itself"), column="geometry", rejects=False)


def count_reversals(lines: NDArray[np.object_]) -> NDArray[np.int64]:
    """Count the reversals of each line; 0 for routes in several parts.

    Examples
    --------
    >>> count_reversals(shapely.from_wkt(["LINESTRING (0 0, 9 0, 9 5, 9 0, 20 0)"])).tolist()
    [1]
    """
    whole = shapely.get_type_id(lines) == shapely.GeometryType.LINESTRING
    single = lines.copy()
    single[~whole] = None
    xy, owner = shapely.get_coordinates(single, return_index=True)
    step = np.diff(xy, axis=0)
    fresh = np.ones(len(xy), dtype=bool)
    fresh[1:] = (np.diff(owner) != 0) | (np.hypot(*step.T) > _SAME_M)
    xy, owner = xy[fresh], owner[fresh]
    step, joined = np.diff(xy, axis=0), np.diff(owner) == 0
    long = np.hypot(*step.T)
    most = -np.cos(np.radians(BACK_DEG)) * long[:-1] * long[1:]
    back = joined[:-1] & joined[1:] & ((step[:-1] * step[1:]).sum(axis=1) < most)
    back &= np.minimum(long[:-1], long[1:]) > LEG_M
    return np.bincount(owner[1:-1][back], minlength=len(lines)).astype(np.int64)
