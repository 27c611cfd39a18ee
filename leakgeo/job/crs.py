"""Choose the local metre CRS of a job, and compute its point scale factor."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pyproj
import pyproj.network
from pyproj.aoi import AreaOfInterest
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import TransverseMercatorConversion
from pyproj.database import query_utm_crs_info

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import ArrayLike, NDArray
    from pyproj import CRS

# Results must not depend on whether a network is available.
pyproj.network.set_network_enabled(False)  # type: ignore[attr-defined]

#: Largest relative difference between the scales along meridian and parallel of a conformal CRS.
MAX_ANISOTROPY = 1e-5
#: Largest relative difference between grid and ground lengths.
MAX_SCALE_ERROR = 1e-3
#: Share of the points where a CRS must meet these limits; the others may be outliers.
MIN_GOOD_SHARE = 0.95
_HALF_STEP_M = 50.0
#: Lines that are not placed on the ground have an easting from here on, beyond that of any
#: projection of the earth, so that they lie beside nothing and have no longitude.
NOWHERE_M = 2e8
_PLAIN_UTM = re.compile(r" / UTM zone \d+[NS]$")


@lru_cache(maxsize=64)
def transformer(source: CRS, target: CRS | int) -> pyproj.Transformer:
    """Return the transformation from one CRS to another, x before y; making one takes 0.1 s.

    Examples
    --------
    >>> transformer(pyproj.CRS(4326), pyproj.CRS(4326)).transform(-100.5, 40.0)
    (-100.5, 40.0)
    """
    return pyproj.Transformer.from_crs(source, target, always_xy=True)


def is_georeferenced(crs: CRS | None) -> bool:
    """Return whether a CRS is geographic or projected, so that its coordinates are on the earth.

    Examples
    --------
    >>> is_georeferenced(pyproj.CRS(2263)), is_georeferenced(None)
    (True, False)
    """
    # GeoPackage writes "Undefined geographic SRS" for no CRS.
    if crs is None or crs.name.casefold().startswith("undefined"):
        return False
    return bool(horizontal(crs).is_geographic or horizontal(crs).is_projected)


def horizontal(crs: CRS) -> CRS:
    """Return the horizontal part of a compound or three-dimensional CRS.

    Examples
    --------
    >>> horizontal(pyproj.CRS("EPSG:2263+6360")).to_epsg()
    2263
    """
    return horizontal(crs.sub_crs_list[0]) if crs.is_compound else crs.to_2d()


def units_of(crs: CRS | None, selected: str | None = None) -> str:
    """Return the units in which people read texts: those selected, or else those of the CRS.

    Parameters
    ----------
    crs : pyproj.CRS or None
        CRS of the results; a foot CRS means ``us``, any other ``si``. A job in degrees also has
        its tapes: see `leakgeo.job.model.Job.units`.
    selected : {"si", "us"} or None
        Units that the reader selected.

    Examples
    --------
    >>> units_of(pyproj.CRS(2263)), units_of(pyproj.CRS(26910)), units_of(pyproj.CRS(4326))
    ('us', 'si', 'si')
    >>> units_of(pyproj.CRS(2263), "si")
    'si'
    """
    if selected is not None:
        return selected
    axes = [] if crs is None else horizontal(crs).axis_info
    return "us" if any("foot" in axis.unit_name.casefold() for axis in axes) else "si"


def base_geographic(crs: CRS) -> CRS:
    """Return the geographic CRS, in degrees, on the datum of `crs`.

    The datum of a bound CRS (one with its own datum shift) is its target datum.

    Examples
    --------
    >>> base_geographic(pyproj.CRS(32040)).name
    'NAD27'
    """
    flat = horizontal(crs)
    # Only a bound CRS has one.
    if flat.target_crs is not None:
        return base_geographic(flat.target_crs)
    return _source_geographic(flat)


def choose_local_crs(crs: CRS, x: ArrayLike, y: ArrayLike) -> CRS:
    """Choose the local metre CRS of a job.

    The first suitable CRS is chosen: the CRS of the routes; the UTM zone on the same datum; a
    transverse Mercator projection on that datum, centred on the points. A CRS is suitable if it is
    in metres and, at nearly all points (`MIN_GOOD_SHARE`), conformal (`MAX_ANISOTROPY`) and true
    to length (`MAX_SCALE_ERROR`) on the ellipsoid, which excludes Web Mercator. The datum never
    changes, so routes are never shifted.

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
        If no point can be transformed to longitude and latitude.

    Examples
    --------
    >>> choose_local_crs(pyproj.CRS(4326), [14.4], [50.1]).name
    'WGS 84 / UTM zone 33N'
    >>> choose_local_crs(pyproj.CRS(3857), [300000.0], [0.0]).name
    'WGS 84 / UTM zone 31N'
    """
    own, base = horizontal(crs), base_geographic(crs)
    lon, lat = _to_degrees(own, base, np.asarray(x, float), np.asarray(y, float))
    middle = _median_position(lon, lat)
    for candidate in _candidates(own, base, middle):
        if is_suitable(candidate, lon, lat):
            return candidate
    return _transverse_mercator(base, *middle)


def is_suitable(crs: CRS, lon: NDArray[np.float64], lat: NDArray[np.float64]) -> bool:
    """Return whether lengths and angles can be measured in `crs` at most of the points.

    Parameters
    ----------
    crs : pyproj.CRS
        Candidate.
    lon, lat : ndarray, shape (n,)
        Degrees; the datum makes no difference here.
    """
    if not crs.is_projected or any(a.unit_conversion_factor != 1.0 for a in crs.axis_info):
        return False
    north, east = _grid_vectors(crs, lon, lat)
    up, across = np.hypot(*north), np.hypot(*east)
    with np.errstate(invalid="ignore"):
        skew = (north * east).sum(axis=0)
        good = (
            (np.maximum(np.abs(up - across), np.abs(skew)) < MAX_ANISOTROPY)
            & (np.abs(up - 1) < MAX_SCALE_ERROR)
            # x to the east and y to the north, so that left and right are not swapped
            & (np.minimum(east[0], north[1]) > 0)
        )
    return bool(good.mean() >= MIN_GOOD_SHARE)


def ground_scale(crs: CRS, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
    """Compute the point scale factor: grid length over ground (ellipsoid) length.

    Parameters
    ----------
    crs : pyproj.CRS
        Projected and conformal, in metres, like `Job.crs`.
    x, y : array-like, shape (n,)
        Easting and northing in `crs`; the factor is NaN where they are not finite, and 1 at
        lines that are not placed on the ground (`NOWHERE_M`).

    Returns
    -------
    ndarray, shape (n,)
        Length on the ground is length on the grid divided by this factor.

    Examples
    --------
    >>> ground_scale(pyproj.CRS(32633), [500000.0], [5550000.0]).round(6).tolist()
    [0.9996]
    """
    projection, east = pyproj.Proj(crs), np.asarray(x, float)
    nowhere = np.isfinite(east) & (east >= NOWHERE_M)
    lon, lat = projection(np.where(nowhere, np.nan, east), np.asarray(y, float), inverse=True)
    # PROJ's factors take longitudes from the prime meridian of the CRS.
    meridian = crs.prime_meridian
    if meridian is not None:
        lon = lon - np.degrees(meridian.longitude * float(meridian.unit_conversion_factor))
    # The areal scale of a conformal projection is the square of the linear scale.
    areal = np.asarray(projection.get_factors(lon, lat).areal_scale, dtype=float)
    scale: NDArray[np.float64] = np.sqrt(np.where(np.isfinite(areal), areal, np.nan))
    return np.where(nowhere, 1.0, scale)


def crs_without_place(*, feet: bool) -> CRS:
    """Return a CRS for a job without any position, in metres or in feet.

    No layer has a geometry in it. It is named undefined, as GeoPackage calls the lack of a CRS.

    Parameters
    ----------
    feet : bool
        Whether people read the results in feet.

    Examples
    --------
    >>> is_georeferenced(crs_without_place(feet=True)), units_of(crs_without_place(feet=True))
    (False, 'us')
    """
    unit = "us-ft" if feet else "m"
    plain = pyproj.CRS(f"+proj=tmerc +lat_0=0 +lon_0=0 +datum=WGS84 +units={unit} +type=crs")
    named = {**plain.to_json_dict(), "name": "Undefined: nothing is placed on the ground"}
    return pyproj.CRS.from_json_dict(named)


def _source_geographic(crs: CRS) -> CRS:
    """Return the geographic base of a georeferenced CRS; of a bound CRS, that of its source."""
    source: Any = crs.source_crs if crs.is_bound else crs
    base: CRS = source.geodetic_crs.to_2d()
    return base


def _unit_deg(base: CRS) -> float:
    """Return the unit of a geographic CRS in degrees; some are in grads, such as NTF (Paris)."""
    return float(np.degrees(base.axis_info[0].unit_conversion_factor))


def _to_degrees(
    crs: CRS, base: CRS, x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    to_degrees = transformer(crs, base)
    lon, lat = (_unit_deg(base) * np.asarray(v) for v in to_degrees.transform(x, y))
    kept = np.isfinite(lon) & np.isfinite(lat) & (np.abs(lat) <= 90)
    if not kept.any():
        raise ValueError("No point can be transformed to longitude and latitude.")
    return lon[kept], lat[kept]


def _median_position(lon: NDArray[np.float64], lat: NDArray[np.float64]) -> tuple[float, float]:
    """Return the median of the points; it is robust to outliers and to the antimeridian."""
    turn = np.exp(1j * np.radians(lon))
    mean = turn.sum()
    away = np.median(np.angle(turn * mean.conj()))
    return float(np.degrees(np.angle(mean * np.exp(1j * away)))), float(np.median(lat))


def _candidates(own: CRS, base: CRS, middle: tuple[float, float]) -> Iterator[CRS]:
    """Yield the CRS of the routes, then UTM; the registry is slow, and seldom needed."""
    yield own
    yield from _utm_zones(base, *middle)


# The registry takes a tenth of a second, and a job is often read more than once.
@lru_cache(maxsize=32)
def _utm_zones(base: CRS, lon: float, lat: float) -> tuple[CRS, ...]:
    """Return the UTM zone of a position on the same datum, if the registry has one."""
    area = AreaOfInterest(lon, lat, lon, lat)
    found = query_utm_crs_info(datum_name=base.name, area_of_interest=area)
    # The registry has variants with swapped axes, with the zone before the easting, or on a
    # national realization of the datum; these are skipped.
    plain = dict.fromkeys(
        i.code for i in found if _PLAIN_UTM.sub("", i.name) == base.name != i.name
    )
    return tuple(pyproj.CRS.from_epsg(code) for code in plain)


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
    # to_2d fails for some CRSs built this way, and works after a round trip through WKT.
    return pyproj.CRS.from_wkt(built.to_wkt())


def _grid_vectors(crs: CRS, lon: NDArray[np.float64], lat: NDArray[np.float64]) -> Any:
    """Compute the grid vectors of a metre north and a metre east on the ellipsoid.

    PROJ's factors are not used because for Web Mercator they are those of the sphere.
    """
    base = _source_geographic(crs)
    drawn = crs.source_crs if crs.is_bound else crs
    forward = transformer(base, drawn)
    geod: Any = base.get_geod()
    unit = _unit_deg(base)
    steps = []
    for bearing in (0.0, 90.0):
        there, back = (
            geod.fwd(lon, lat, np.full_like(lon, bearing), np.full_like(lon, arm))
            for arm in (_HALF_STEP_M, -_HALF_STEP_M)
        )
        ends = [np.array(forward.transform(e[0] / unit, e[1] / unit)) for e in (there, back)]
        with np.errstate(invalid="ignore"):
            steps.append((ends[0] - ends[1]) / (2 * _HALF_STEP_M))
    return steps
