"""The optional ground elevation model, read around the routes."""

from __future__ import annotations

import sqlite3
import warnings
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pyproj
import shapely

from leakgeo.conversion import FOOT_M, US_SURVEY_FOOT_M
from leakgeo.faults import Fault
from leakgeo.job.crs import transformer
from leakgeo.job.rasters.raster import image_refusal, open_raster
from leakgeo.job.sources import digest, file_state, read_only_copy
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import ArrayLike, NDArray
    from pyproj import CRS
    from rasterio import DatasetReader
    from rasterio.windows import Window

#: Limit of the cells read; a larger window is read at a coarser resolution, which is reported.
MAX_CELLS = 16_000_000
#: Windows of more cells are refused: even coarser reading would not end.
REFUSED_CELLS = 4_000_000_000
#: Range of the median cover of a network; outside it, ground and Z have different datums or units.
MIN_COVER_M, MAX_COVER_M = -2.0, 15.0
# Name of the raster table of the ground model in a GeoPackage.
_RASTER_TABLE = "ground"
_UNITS = {"m": 1.0, "metre": 1.0, "meter": 1.0, "metres": 1.0, "meters": 1.0, "ft": FOOT_M,
          "foot": FOOT_M, "feet": FOOT_M, "us survey foot": US_SURVEY_FOOT_M,
          "us-ft": US_SURVEY_FOOT_M, "us survey feet": US_SURVEY_FOOT_M,
          "ftus": US_SURVEY_FOOT_M}  # fmt: skip


@dataclass(frozen=True, eq=False)
class GroundModel:
    """Ground elevations around the routes.

    Parameters
    ----------
    elevation_m : (rows, columns) numpy.ndarray
        Metres; NaN for missing cells.
    transform : tuple of float
        Affine coefficients a, b, c, d, e, f from column and row to `crs`.
    crs : pyproj.CRS
        Horizontal CRS of the raster.
    z_unit_m : float
        Unit of the routes' Z in metres; NaN if not known.
    """

    elevation_m: NDArray[np.float64]
    transform: tuple[float, float, float, float, float, float]
    crs: CRS
    z_unit_m: float

    def elevation_at(self, x: ArrayLike, y: ArrayLike, crs: CRS) -> NDArray[np.float64]:
        """Interpolate the ground elevation at points (bilinear between cell centres).

        Parameters
        ----------
        x, y : (n,) array_like
            In `crs`, in the order easting, northing.
        crs : pyproj.CRS

        Returns
        -------
        (n,) numpy.ndarray
            Metres; NaN outside the model, and next to missing cells.

        Examples
        --------
        >>> plane = np.array([[0.0, 1.0], [2.0, 3.0]])
        >>> ground = GroundModel(plane, (1, 0, 0, 0, -1, 2), pyproj.CRS(32633), 1.0)
        >>> ground.elevation_at([1.0, 9.0], [1.0, 9.0], pyproj.CRS(32633)).tolist()
        [1.5, nan]
        """
        from scipy.ndimage import map_coordinates  # slow to import, and few jobs have a model

        to_raster = transformer(crs, self.crs)
        there = np.stack(to_raster.transform(np.asarray(x, float), np.asarray(y, float)))
        a, b, c, d, e, f = self.transform
        column, row = np.linalg.solve([[a, b], [d, e]], there - [[c], [f]])
        with np.errstate(invalid="ignore"):
            height = map_coordinates(
                self.elevation_m, np.nan_to_num([row - 0.5, column - 0.5], nan=-9.0),
                order=1, mode="constant", cval=np.nan,
            )  # fmt: skip
        return np.asarray(height, dtype=float)


@contextmanager
def ground_model(source: Path) -> Iterator[tuple[Path, str | None] | None]:
    """Find the ground model of a job: in its folder, in its GeoPackage, or next to it.

    Parameters
    ----------
    source : pathlib.Path
        A folder (its file ``ground.tif``), or a file ``NAME.gpkg`` (its raster table ``ground``, or
        the file ``NAME_ground.tif`` next to it).

    Yields
    ------
    (pathlib.Path, str or None) or None
        A GeoTIFF, or a readable GeoPackage and its raster table; None if there is no model.
    """
    if (file := _tiff_of(source)) is not None:
        yield file, None
        return
    if not source.is_file() or source.suffix.casefold() != ".gpkg":
        yield None
        return
    with read_only_copy(source) as (readable, _):
        yield (readable, _RASTER_TABLE) if _has_raster(readable) else None


def ground_state(source: Path) -> tuple[object, ...]:
    """Return name, size and time of the file that the ground model of a job is in."""
    file = _tiff_of(source) or source
    return str(file), *(value for state in file_state(file) for value in (state or (0, 0)))


def _tiff_of(source: Path) -> Path | None:
    folder, stem = (source, "") if source.is_dir() else (source.parent, f"{source.stem}_")
    files = (folder / f"{stem}ground{suffix}" for suffix in (".tif", ".tiff"))
    return next((file for file in files if file.is_file()), None)


def height_mismatch(ground: GroundModel, lines: NDArray[np.object_], crs: CRS) -> Fault | None:
    """Return a fault if a ground model does not match the routes' Z, else None.

    Parameters
    ----------
    ground : GroundModel
    lines : (n,) array of shapely geometries
        Routes in `crs`, some of them with Z.
    crs : pyproj.CRS

    Returns
    -------
    Fault or None
    """
    xyz = shapely.get_coordinates(lines[shapely.has_z(lines)], include_z=True)
    cover = ground.elevation_at(xyz[:, 0], xyz[:, 1], crs) - xyz[:, 2] * ground.z_unit_m
    cover = cover[np.isfinite(cover)]
    if not cover.size:
        return _fault("ground_without_height")
    if MIN_COVER_M <= np.median(cover) <= MAX_COVER_M:
        return None
    return _fault("ground_unlike_routes", cover_m=np.median(cover))


def _has_raster(path: Path) -> bool:
    """Return whether a GeoPackage has the raster table of a ground model; it is only read."""
    try:
        uri = f"{path.resolve().as_uri()}?mode=ro&immutable=1"
        with closing(sqlite3.connect(uri, uri=True)) as file:
            query = "select 1 from gpkg_contents where table_name = ? and data_type like ?"
            return file.execute(query, (_RASTER_TABLE, "%gridded%")).fetchone() is not None
    except sqlite3.Error:
        return False


def read_ground(
    model: tuple[Path, str | None], x: ArrayLike, y: ArrayLike, crs: CRS, routes_crs: CRS
) -> tuple[GroundModel | None, list[Fault]]:
    """Read the part of a ground model around points.

    Parameters
    ----------
    model : (pathlib.Path, str or None)
        As returned by `ground_model`.
    x, y : (n,) array_like
        Points in `crs`, the vertices of the routes.
    crs : pyproj.CRS
    routes_crs : pyproj.CRS
        CRS that the routes were read in, which defines the unit of their Z.

    Returns
    -------
    ground : GroundModel or None
        None if it can't be used; the faults state why.
    faults : list of Fault
    """
    from rasterio.errors import RasterioError

    file, table = model
    if table is None and (reason := image_refusal(file)):
        return None, [_fault("ground_refused", why=reason)]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            with open_raster(file, table) as raster:
                return _read(raster, np.asarray(x, float), np.asarray(y, float), crs, routes_crs)
        except (RasterioError, ValueError, MemoryError, pyproj.exceptions.ProjError) as error:
            first = str(error).strip().split("\n", 1)[0]
            return None, [_fault("ground_not_read", error=first.rstrip("."))]


def _fault(code: str, **values: object) -> Fault:
    return Fault("ground", Reason(code, **values))


def _read(
    raster: DatasetReader, x: NDArray[np.float64], y: NDArray[np.float64], crs: CRS,
    routes_crs: CRS,
) -> tuple[GroundModel | None, list[Fault]]:  # fmt: skip
    if raster.crs is None:
        return None, [_fault("ground_without_crs")]
    full = pyproj.CRS.from_wkt(raster.crs.to_wkt())
    flat = full.sub_crs_list[0] if full.is_compound else full.to_2d()
    unit = _UNITS.get((raster.units[0] or "").casefold()) or vertical_unit_m(full)
    z_unit = vertical_unit_m(routes_crs)
    if unit is None or z_unit is None:
        return None, [_fault("ground_unit_unknown" if unit is None else "ground_z_unit_unknown")]
    window = _window(raster, *transformer(crs, flat).transform(x, y))
    if window is None:
        return None, [_fault("ground_off_routes")]
    if window.width * window.height > REFUSED_CELLS:
        return None, [_fault("ground_too_fine", columns=window.width, rows=window.height)]
    coarser = max(1.0, (window.width * window.height / MAX_CELLS) ** 0.5)
    shape = (max(2, int(window.height / coarser)), max(2, int(window.width / coarser)))
    heights = raster.read(1, window=window, out_shape=shape, masked=True).astype(float)
    affine = raster.window_transform(window) * raster.transform.scale(
        window.width / shape[1], window.height / shape[0]
    )
    elevation = np.ma.filled(heights * raster.scales[0] + raster.offsets[0], np.nan) * unit
    return GroundModel(elevation, tuple(affine)[:6], flat, z_unit), _notes(raster.name, coarser)


def _notes(name: str, coarser: float) -> list[Fault]:
    file = Path(name)
    notes = [Reason("ground_read_from_table", table=file.name)]
    if file.is_file():
        notes = [Reason("ground_read_from_file", file=file.name, sha256=digest(file)[:16])]
    if coarser > 1:
        notes.append(Reason("ground_read_coarser", times=coarser))
    return [Fault("ground", reason, effect="noted") for reason in notes]


def _window(raster: DatasetReader, x: NDArray[np.float64], y: NDArray[np.float64]) -> Window | None:
    """Return the window of the points with a margin of two cells; None if they are outside."""
    from rasterio.windows import Window, from_bounds

    good = np.isfinite(x) & np.isfinite(y)
    if not good.any():
        return None
    around = from_bounds(
        x[good].min(), y[good].min(), x[good].max(), y[good].max(), raster.transform
    )
    left, top = int(np.floor(around.col_off)) - 2, int(np.floor(around.row_off)) - 2
    right = int(np.ceil(around.col_off + around.width)) + 2
    bottom = int(np.ceil(around.row_off + around.height)) + 2
    left, top = max(left, 0), max(top, 0)
    right, bottom = min(right, raster.width), min(bottom, raster.height)
    if right - left < 1 or bottom - top < 1:
        return None
    return Window(left, top, right - left, bottom - top)


def vertical_unit_m(crs: CRS) -> float | None:
    """Return the unit of height of a CRS in metres, None if it is not known.

    A projected CRS in metres without a vertical axis has heights in metres.

    Examples
    --------
    >>> round(vertical_unit_m(pyproj.CRS("EPSG:2263+6360")), 7)
    0.3048006
    >>> vertical_unit_m(pyproj.CRS(2263)), vertical_unit_m(pyproj.CRS(32633))
    (None, 1.0)
    """
    upwards = [a for a in crs.axis_info if a.direction == "up"]
    if upwards:
        return float(upwards[0].unit_conversion_factor)
    across = crs.axis_info[0] if crs.axis_info else None
    metric = crs.is_projected and across is not None and across.unit_conversion_factor == 1.0
    return 1.0 if metric else None
