"""Check the geometry of a layer, and mend what can be mended without guessing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from leakgeo.job.checks.collector import Findings
    from leakgeo.job.schema import LayerSchema

# By GEOS type number; the last stands for none, which is numbered -1.
_TYPE_NAMES = np.array(
    [
        "Point", "LineString", "LinearRing", "Polygon", "MultiPoint", "MultiLineString",
        "MultiPolygon", "GeometryCollection", "",
    ], dtype=object,
)  # fmt: skip
_DRAW = ("Draw it, or remove the row.", "Draw it, or give its line_id and its taped chainage_m.")
#: Larger coordinates are of no CRS at all, and beyond what geometry is computed with.
UNBOUNDED = 1e12
#: No coordinate of a place on the earth is larger: twice its way around, in metres.
LARGEST_M = 1e8
#: Routes shorter than this on the ground are points, not lines.
SHORTEST_M = 0.001
#: Routes longer than this are drawn wrong: no line is listened to over so many kilometres.
LONGEST_M = 100_000.0


def check_shapes(
    shapes: NDArray[np.object_], schema: LayerSchema, findings: Findings,
    spared: NDArray[np.bool_],
) -> NDArray[np.object_]:  # fmt: skip
    """Check geometries before they are brought into another CRS.

    Parameters
    ----------
    shapes : ndarray of shapely geometries, shape (n,)
        In the layer's own CRS.
    schema : LayerSchema
    findings : Findings
        Takes what is found.
    spared : ndarray of bool, shape (n,)
        Rows that need no geometry.

    Returns
    -------
    ndarray of shapely geometries, shape (n,)
        Null where a geometry can't be used.
    """
    null, empty = shapely.is_missing(shapes), shapely.is_empty(shapes)
    for bare, what in ((null, "It has no geometry."), (empty, "Its geometry is empty.")):
        findings.tell(bare & ~spared, what, _DRAW[schema.name == "readings"], column="geometry")
    endless = _not_finite(shapes, UNBOUNDED) & ~empty
    findings.tell(
        endless, "A coordinate is not a finite number.", "Draw it again.", column="geometry"
    )
    shapes = _all_or_no_z(shapes, schema, findings)
    single = _single_points(shapes, schema)
    wrong = _wrong_type(single, schema) & ~(null | empty | endless)
    findings.tell(
        wrong,
        f"Its geometry is not a {' or '.join(schema.geometry_types)} but a {{value}}.",
        "Draw it as that, or put it in the layer it belongs to.",
        column="geometry",
        values=_TYPE_NAMES[shapely.get_type_id(single)],
    )
    return _mended(_without(single, null | empty | endless | wrong), schema, findings)


def check_transformed(
    shapes: NDArray[np.object_], before: NDArray[np.object_], schema: LayerSchema,
    findings: Findings, spared: NDArray[np.bool_],
) -> NDArray[np.object_]:  # fmt: skip
    """Check geometries in the local metre CRS: places out of its reach, lines without length.

    Rows that are `spared` need no geometry: those of theirs that are no place are noted, and go.
    """
    lost = _not_finite(shapes, LARGEST_M) & ~shapely.is_missing(before)
    for rows, rejects in ((lost & ~spared, True), (lost & spared, False)):
        findings.tell(
            rows,
            "Its coordinates are not a place in the layer's CRS.",
            "Check the layer's CRS, and whether x and y (longitude and latitude) are swapped.",
            column="geometry",
            rejects=rejects,
        )
    shapes = _without(shapes, lost)
    short = np.zeros(len(shapes), dtype=bool)
    if schema.name == "routes":
        short = (shapely.length(shapes) < SHORTEST_M) & ~shapely.is_missing(shapes)
    findings.tell(short, "The route has no length.", "Trace it again.", column="geometry")
    return _without(shapes, short | _endless(shapes, schema, findings))


def _endless(
    shapes: NDArray[np.object_], schema: LayerSchema, findings: Findings
) -> NDArray[np.bool_]:
    """Reject routes that run to another country: a vertex of theirs is wrong."""
    long = shapely.length(shapes)
    with np.errstate(invalid="ignore"):
        endless = (long > LONGEST_M) if schema.name == "routes" else np.zeros(len(long), dtype=bool)
    findings.tell(
        endless, "The route is {value} km long.", "Look for a vertex far away, and check the CRS.",
        column="geometry", values=[f"{m / 1000:.0f}" for m in np.nan_to_num(long)],
    )  # fmt: skip
    return np.asarray(endless)


def _all_or_no_z(
    shapes: NDArray[np.object_], schema: LayerSchema, findings: Findings
) -> NDArray[np.object_]:
    """Drop the Z of routes that have it in some vertices only: between them it would be invented.

    Many programs write 0 where they know no height.
    """
    if schema.name != "routes" or not shapely.has_z(shapes).any():
        return shapes
    z, owner = shapely.get_coordinates(shapes, include_z=True, return_index=True)
    known = np.isfinite(z[:, 2]) & (z[:, 2] != 0)
    some = np.bincount(owner[known], minlength=len(shapes)) > 0
    partly = some & (np.bincount(owner[~known], minlength=len(shapes)) > 0) & shapely.has_z(shapes)
    findings.tell(
        partly, "Only some of its vertices have a Z; it is left out.",
        "Give every vertex its Z, or none.", column="geometry", rejects=False,
    )  # fmt: skip
    flat: NDArray[np.object_] = shapes.copy()
    flat[partly] = shapely.force_2d(shapes[partly])
    return flat


def _without(shapes: NDArray[np.object_], rows: NDArray[np.bool_]) -> NDArray[np.object_]:
    kept: NDArray[np.object_] = shapes.copy()
    kept[rows] = None
    return kept


def _not_finite(shapes: NDArray[np.object_], most: float) -> NDArray[np.bool_]:
    coordinates, owner = shapely.get_coordinates(shapes, return_index=True)
    bad = np.zeros(len(shapes), dtype=bool)
    bad[owner[~(np.isfinite(coordinates) & (np.abs(coordinates) <= most)).all(axis=1)]] = True
    return bad


def _single_points(shapes: NDArray[np.object_], schema: LayerSchema) -> NDArray[np.object_]:
    """Take a MultiPoint of one point as that point: many programs write points so."""
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


def _mended(
    shapes: NDArray[np.object_], schema: LayerSchema, findings: Findings
) -> NDArray[np.object_]:
    """Mend areas whose outline crosses itself; what is not an area afterwards is rejected."""
    if "Polygon" not in schema.geometry_types:
        return shapes
    area = shapely.get_dimensions(shapes) == 2
    broken = area & ~shapely.is_valid(shapes)
    if not broken.any():
        return shapes
    mended: NDArray[np.object_] = shapes.copy()
    mended[broken] = shapely.make_valid(shapes[broken], method="structure", keep_collapsed=False)
    hopeless = broken & (shapely.is_empty(mended) | (shapely.area(mended) == 0))
    findings.tell(hopeless, "Its outline encloses no area.", "Draw it again.", column="geometry")
    findings.tell(
        broken & ~hopeless, "Its outline crossed itself; it was mended.",
        "Look at it, and draw it again if it is wrong.", column="geometry", rejects=False,
    )  # fmt: skip
    mended[hopeless] = None
    return mended
