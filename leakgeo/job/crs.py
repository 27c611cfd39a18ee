"""Choose the one local metre CRS of a job, and know its scale against the ground."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pyproj
from pyproj.aoi import AreaOfInterest
from pyproj.crs import GeographicCRS, ProjectedCRS
from pyproj.crs.coordinate_operation import TransverseMercatorConversion
from pyproj.database import query_utm_crs_info

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from pyproj import CRS

# The truck has no network, and answers must not depend on whether it does.
pyproj.network.set_network_enabled(active=False)

#: How far the scale along a meridian and a parallel may differ and still count as conformal.
CONFORMAL = 1e-5
#: How far grid and ground lengths may differ before another projection is taken.
LARGEST_SCALE_ERROR = 1e-3
_ARM_M = 50.0


def is_earthly(crs: CRS | None) -> bool:
    """Tell whether a CRS says where on the earth its coordinates are.

    Examples
    --------
    >>> is_earthly(pyproj.CRS(4326)), is_earthly(None)
    (True, False)
    """
    if crs is None or crs.name.casefold().startswith(("undefined", "unknown", "unnamed")):
        return crs is not None and crs.to_epsg() is not None
    return bool(crs.is_geographic or crs.is_projected or crs.is_geocentric)


def horizontal(crs: CRS) -> CRS:
    """Give the horizontal part of a compound, bound or three-dimensional CRS."""
    if crs.is_compound:
        return horizontal(crs.sub_crs_list[0])
    return crs.to_2d()


def base_geographic(crs: CRS) -> CRS:
    """Give the geographic CRS (degrees, same datum) that `crs` is built on."""
    flat = horizontal(crs)
    if flat.is_bound and flat.source_crs is not None:
        return base_geographic(flat.source_crs)
    base = flat.geodetic_crs
    if base is None or not base.is_geographic:
        base = pyproj.CRS(4326)
    return GeographicCRS(name=base.name, datum=base.datum)


def choose_local_crs(crs: CRS, x: ArrayLike, y: ArrayLike) -> CRS:
    """Choose the projected metre CRS that a job is computed in.

    The routes' own CRS is taken where it is in metres and, over at least 95 % of the points, true
    to shape (`CONFORMAL`) and to length (`LARGEST_SCALE_ERROR`), measured on the ellipsoid; so
    Web Mercator never is. Else the UTM zone on the same datum, by the same test; else a transverse
    Mercator on that datum centred on the points. The datum is that of the routes throughout, so
    that their own coordinates are never shifted.

    Parameters
    ----------
    crs : pyproj.CRS
        CRS of the points.
    x, y : array-like, shape (n,)
        Points along the routes, in `crs`, in the order easting, northing.

    Returns
    -------
    pyproj.CRS
        Projected, in metres, x to the east.

    Raises
    ------
    ValueError
        If no point has finite coordinates.

    Examples
    --------
    >>> choose_local_crs(pyproj.CRS(4326), [14.4], [50.1]).name
    'WGS 84 / UTM zone 33N'
    >>> choose_local_crs(pyproj.CRS(3857), [300000.0], [0.0]).name
    'WGS 84 / UTM zone 31N'
    """
    base = base_geographic(crs)
    lon, lat = _degrees(crs, base, np.asarray(x, float), np.asarray(y, float))
    middle = _middle(lon, lat)
    own = horizontal(crs)
    for candidate in (own, _utm(base, *middle)):
        if candidate is not None and suits(candidate, base, lon, lat):
            return candidate
    return _transverse_mercator(base, *middle)


def suits(crs: CRS, base: CRS, lon: NDArray[np.float64], lat: NDArray[np.float64]) -> bool:
    """Tell whether lengths and angles may be measured in `crs` at most of the points.

    Parameters
    ----------
    crs : pyproj.CRS
        Candidate.
    base : pyproj.CRS
        Its geographic CRS, in degrees.
    lon, lat : ndarray, shape (n,)
        Degrees in `base`.
    """
    if not crs.is_projected or not _in_metres(crs):
        return False
    along, across, skew = _ellipsoidal_scale(crs, base, lon, lat)
    with np.errstate(invalid="ignore"):
        good = (
            (np.abs(along / across - 1) < CONFORMAL)
            & (np.abs(skew) < CONFORMAL)
            & (np.abs(along - 1) < LARGEST_SCALE_ERROR)
        )
    return bool(good.mean() >= 0.95)


def ground_scale(crs: CRS, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
    """Give the point scale factor: grid length over ground (ellipsoid) length.

    Parameters
    ----------
    crs : pyproj.CRS
        Projected and conformal, in metres, as `Job.crs` is.
    x, y : array-like, shape (n,)
        Easting and northing in `crs`.

    Returns
    -------
    ndarray, shape (n,)
        Divide a grid length by it to have the length on the ground.

    Examples
    --------
    >>> ground_scale(pyproj.CRS(32633), [500000.0], [5550000.0]).round(6)
    array([0.9996])
    """
    projection = pyproj.Proj(crs)
    lon, lat = projection(np.asarray(x, float), np.asarray(y, float), inverse=True)
    # Of a conformal projection the areal scale is the square of the linear one.
    scale: NDArray[np.float64] = np.sqrt(np.asarray(projection.get_factors(lon, lat).areal_scale))
    return scale


def _in_metres(crs: CRS) -> bool:
    return all(a.unit_conversion_factor == 1.0 for a in crs.axis_info[:2])


def _degrees(
    crs: CRS, base: CRS, x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    to_degrees = pyproj.Transformer.from_crs(horizontal(crs), base, always_xy=True)
    lon, lat = to_degrees.transform(x, y)
    kept = np.isfinite(lon) & np.isfinite(lat)
    if not kept.any():
        raise ValueError("No point has a place on the earth.")
    return lon[kept], lat[kept]


def _middle(lon: NDArray[np.float64], lat: NDArray[np.float64]) -> tuple[float, float]:
    """Find the middle of the points; a few strays don't move it, nor does the antimeridian."""
    turn = np.exp(1j * np.radians(lon))
    mean = np.degrees(np.angle(turn.sum())) if abs(turn.sum()) > 1e-9 else lon[0]
    away = (lon - mean + 180.0) % 360.0 - 180.0
    middle = (mean + np.median(away) + 180.0) % 360.0 - 180.0
    return float(middle), float(np.median(lat))


def _utm(base: CRS, lon: float, lat: float) -> CRS | None:
    """Find the UTM zone of a place on the same datum, if the registry has one."""
    name = base.name
    found = query_utm_crs_info(datum_name=name, area_of_interest=AreaOfInterest(lon, lat, lon, lat))
    return pyproj.CRS.from_epsg(found[0].code) if found else None


def _transverse_mercator(base: CRS, lon: float, lat: float) -> CRS:
    conversion = TransverseMercatorConversion(
        latitude_natural_origin=round(lat, 4),
        longitude_natural_origin=round(lon, 4),
        false_easting=500_000.0,
        false_northing=500_000.0,
        scale_factor_natural_origin=1.0,
    )
    name = f"leakgeo local transverse Mercator {lon:.4f} {lat:.4f}"
    return ProjectedCRS(conversion, name=name, geodetic_crs=base)


def _ellipsoidal_scale(
    crs: CRS, base: CRS, lon: NDArray[np.float64], lat: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Measure scale north and east, and the cosine between them, by short geodesics.

    PROJ's own factors are those of the sphere for Web Mercator, so they are not asked here.
    """
    geod = base.get_geod()
    forward = pyproj.Transformer.from_crs(base, crs, always_xy=True)
    step = []
    for bearing in (0.0, 90.0):
        there = geod.fwd(lon, lat, np.full_like(lon, bearing), np.full_like(lon, _ARM_M))
        back = geod.fwd(lon, lat, np.full_like(lon, bearing + 180), np.full_like(lon, _ARM_M))
        ends = forward.transform(there[0], there[1]), forward.transform(back[0], back[1])
        step.append(np.subtract(*ends) / (2 * _ARM_M))
    north, east = (np.hypot(*s) for s in step)
    with np.errstate(invalid="ignore", divide="ignore"):
        skew = np.sum(step[0] * step[1], axis=0) / (north * east)
    return north, east, skew
