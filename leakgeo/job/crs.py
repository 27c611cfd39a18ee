"""Choose the one local metre CRS of a job, and know its scale against the ground."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np
import pyproj
import pyproj.network
from pyproj.aoi import AreaOfInterest
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import TransverseMercatorConversion
from pyproj.database import query_utm_crs_info

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from pyproj import CRS

# The truck has no network, and answers must not depend on whether it does.
pyproj.network.set_network_enabled(False)  # type: ignore[attr-defined]

#: How far the scale along a meridian and a parallel may differ and still count as conformal.
CONFORMAL = 1e-5
#: How far grid and ground lengths may differ before another projection is taken.
LARGEST_SCALE_ERROR = 1e-3
#: Share of the points where a CRS must be good; the others may be strays.
MOST = 0.95
_ARM_M = 50.0
_PLAIN_UTM = re.compile(r" / UTM zone \d+[NS]$")


def is_earthly(crs: CRS | None) -> bool:
    """Tell whether a CRS says where on the earth its flat or angular coordinates are.

    Examples
    --------
    >>> is_earthly(pyproj.CRS(2263)), is_earthly(None)
    (True, False)
    """
    # GeoPackage has a "CRS" that stands for none: "Undefined geographic SRS".
    if crs is None or crs.name.casefold().startswith("undefined"):
        return False
    return bool(horizontal(crs).is_geographic or horizontal(crs).is_projected)


def horizontal(crs: CRS) -> CRS:
    """Give the horizontal part of a compound or three-dimensional CRS.

    Examples
    --------
    >>> horizontal(pyproj.CRS("EPSG:2263+6360")).to_epsg()
    2263
    """
    return horizontal(crs.sub_crs_list[0]) if crs.is_compound else crs.to_2d()


def base_geographic(crs: CRS) -> CRS:
    """Give the geographic CRS, in degrees, on the datum that `crs` is tied to.

    Of a bound CRS (one that carries its own datum shift) that is the datum it is bound to.

    Examples
    --------
    >>> base_geographic(pyproj.CRS(32040)).name
    'NAD27'
    """
    flat = horizontal(crs)
    if flat.is_bound and flat.target_crs is not None:
        return base_geographic(flat.target_crs)
    return _own_degrees(flat)


def choose_local_crs(crs: CRS, x: ArrayLike, y: ArrayLike) -> CRS:
    """Choose the projected metre CRS that a job is computed in.

    The routes' own CRS is taken where it is in metres and, over nearly all points (`MOST`), true
    to shape (`CONFORMAL`) and to length (`LARGEST_SCALE_ERROR`), measured on the ellipsoid; so
    Web Mercator never is. Else the UTM zone on the same datum, by the same test; else a transverse
    Mercator on that datum centred on the points. The datum is that of the routes throughout, so
    that they are never shifted.

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
        If no point has a place on the earth.

    Examples
    --------
    >>> choose_local_crs(pyproj.CRS(4326), [14.4], [50.1]).name
    'WGS 84 / UTM zone 33N'
    >>> choose_local_crs(pyproj.CRS(3857), [300000.0], [0.0]).name
    'WGS 84 / UTM zone 31N'
    """
    own, base = horizontal(crs), base_geographic(crs)
    lon, lat = _degrees(own, base, np.asarray(x, float), np.asarray(y, float))
    middle = _middle(lon, lat)
    for candidate in (own, *_utm(base, *middle)):
        if suits(candidate, lon, lat):
            return candidate
    return _transverse_mercator(base, *middle)


def suits(crs: CRS, lon: NDArray[np.float64], lat: NDArray[np.float64]) -> bool:
    """Tell whether lengths and angles may be measured in `crs` at most of the points.

    Parameters
    ----------
    crs : pyproj.CRS
        Candidate.
    lon, lat : ndarray, shape (n,)
        Degrees; the datum makes no difference here.
    """
    if not crs.is_projected or any(a.unit_conversion_factor != 1.0 for a in crs.axis_info[:2]):
        return False
    north, east = _ellipsoidal_steps(crs, lon, lat)
    up, across = np.hypot(*north), np.hypot(*east)
    with np.errstate(invalid="ignore", divide="ignore"):
        good = (
            (np.abs(up / across - 1) < CONFORMAL)
            & (np.abs((north * east).sum(axis=0) / (up * across)) < CONFORMAL)
            & (np.abs(up - 1) < LARGEST_SCALE_ERROR)
            # x to the east and y to the north: left and right must not be swapped.
            & (east[0] > 0)
            & (north[1] > 0)
        )
    return bool(good.mean() >= MOST)


def ground_scale(crs: CRS, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
    """Give the point scale factor: grid length over ground (ellipsoid) length.

    Parameters
    ----------
    crs : pyproj.CRS
        Projected and conformal, in metres, as `Job.crs` is.
    x, y : array-like, shape (n,)
        Easting and northing in `crs`; where they are not finite the factor is NaN.

    Returns
    -------
    ndarray, shape (n,)
        Divide a grid length by it to have the length on the ground.

    Examples
    --------
    >>> ground_scale(pyproj.CRS(32633), [500000.0], [5550000.0]).round(6).tolist()
    [0.9996]
    """
    projection = pyproj.Proj(crs)
    lon, lat = projection(np.asarray(x, float), np.asarray(y, float), inverse=True)
    # PROJ reckons its factors from the prime meridian of the CRS.
    meridian = crs.prime_meridian
    if meridian is not None:
        lon = lon - np.degrees(meridian.longitude * float(meridian.unit_conversion_factor))
    # Of a conformal projection the areal scale is the square of the linear one.
    areal = np.asarray(projection.get_factors(lon, lat).areal_scale, dtype=float)
    scale: NDArray[np.float64] = np.sqrt(np.where(np.isfinite(areal), areal, np.nan))
    return scale


def _own_degrees(crs: CRS) -> CRS:
    """Give the geographic CRS that `crs` is drawn on, whatever it is bound to."""
    source = crs.source_crs if crs.is_bound else crs
    base = None if source is None else source.geodetic_crs
    return pyproj.CRS(4326) if base is None else base.to_2d()


def _degrees(
    crs: CRS, base: CRS, x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    to_degrees = pyproj.Transformer.from_crs(crs, base, always_xy=True)
    lon, lat = to_degrees.transform(x, y)
    # Some, as NTF (Paris), are in grads.
    lon, lat = (np.degrees(v) * base.axis_info[0].unit_conversion_factor for v in (lon, lat))
    kept = np.isfinite(lon) & np.isfinite(lat) & (np.abs(lat) <= 90)
    if not kept.any():
        raise ValueError("No point has a place on the earth.")
    return lon[kept], lat[kept]


def _middle(lon: NDArray[np.float64], lat: NDArray[np.float64]) -> tuple[float, float]:
    """Find the middle of the points; a few strays don't move it, nor does the antimeridian."""
    total = np.exp(1j * np.radians(lon)).sum()
    mean = float(np.degrees(np.angle(total)))
    away = (lon - mean + 180.0) % 360.0 - 180.0
    middle = (mean + np.median(away) + 180.0) % 360.0 - 180.0
    return float(middle), float(np.median(lat))


def _utm(base: CRS, lon: float, lat: float) -> list[CRS]:
    """Find the UTM zone of a place on the same datum, if the registry has one."""
    place = AreaOfInterest(lon, lat, lon, lat)
    found = query_utm_crs_info(datum_name=base.name, area_of_interest=place)
    # Some zones come again with axes swapped, with the zone before the easting, or on a
    # national realization of the datum: only the plain one is wanted.
    plain = dict.fromkeys(
        i.code for i in found if _PLAIN_UTM.sub("", i.name) == base.name != i.name
    )
    return [pyproj.CRS.from_epsg(code) for code in plain]


def _transverse_mercator(base: CRS, lon: float, lat: float) -> CRS:
    lon, lat = round(lon, 3), round(lat, 3)
    conversion = TransverseMercatorConversion(
        latitude_natural_origin=lat,
        longitude_natural_origin=lon,
        false_easting=500_000.0,
        false_northing=500_000.0,
        scale_factor_natural_origin=1.0,
    )
    name = f"{base.name} / local transverse Mercator at {lon} {lat}"
    built = ProjectedCRS(conversion, name=name, geodetic_crs=base)
    # As built it can't always be brought down to two dimensions; read from its own text it can.
    return pyproj.CRS.from_wkt(built.to_wkt())


def _ellipsoidal_steps(crs: CRS, lon: NDArray[np.float64], lat: NDArray[np.float64]) -> Any:
    """Measure what a metre north, and a metre east, on the ellipsoid is on the grid.

    PROJ's own factors are those of the sphere for Web Mercator, so they are not asked here.
    """
    base = _own_degrees(crs)
    drawn = crs.source_crs if crs.is_bound else crs
    forward = pyproj.Transformer.from_crs(base, drawn, always_xy=True)
    geod = base.get_geod() or pyproj.Geod(ellps="WGS84")
    unit = np.radians(1.0) / base.axis_info[0].unit_conversion_factor
    steps = []
    for bearing in (0.0, 90.0):
        arm = np.full_like(lon, _ARM_M)
        there = geod.fwd(lon, lat, np.full_like(lon, bearing), arm)
        back = geod.fwd(lon, lat, np.full_like(lon, bearing - 180.0), arm)
        ends = [np.array(forward.transform(e[0] * unit, e[1] * unit)) for e in (there, back)]
        with np.errstate(invalid="ignore"):
            steps.append((ends[0] - ends[1]) / (2 * _ARM_M))
    return steps
