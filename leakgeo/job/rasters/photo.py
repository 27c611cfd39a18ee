"""Read the user's aerial photo around the routes, as background of the map."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pyproj
from rasterio import Affine
from rasterio.enums import ColorInterp, Resampling
from rasterio.errors import RasterioError
from rasterio.vrt import WarpedVRT
from rasterio.warp import transform_bounds

from leakgeo.faults import Fault
from leakgeo.job.rasters.raster import image_refusal, open_raster
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray
    from rasterio import DatasetReader

Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Photo:
    """Part of a photo in Web Mercator (EPSG:3857), for display only.

    Parameters
    ----------
    pixels : (rows, columns, 3) numpy.ndarray
        Red, green and blue, of 8 bits.
    seen : (rows, columns) numpy.ndarray of bool
        Whether each pixel has data.
    bounds : tuple of float
        West, south, east and north in longitude and latitude, degrees (EPSG:4326).
    name : str
        Name of the file.
    """

    pixels: NDArray[np.uint8]
    seen: NDArray[np.bool_]
    bounds: Bounds
    name: str


def read_photo(path: Path, around: Bounds, most: int) -> Photo | Fault:
    """Read the part of a photo inside bounds.

    Parameters
    ----------
    path : pathlib.Path
        GeoTIFF, JPEG, PNG or JPEG 2000, with a CRS; a single band is grey, the first three of
        several are red, green and blue.
    around : tuple of float
        West, south, east and north, in degrees (EPSG:4326).
    most : int
        Largest number of pixels of the longer side; a finer photo is averaged.

    Returns
    -------
    Photo or Fault
        A fault if the photo can't be read or lies outside; the map is then drawn without it.

    Examples
    --------
    >>> from pathlib import Path
    >>> read_photo(Path("nowhere.tif"), (0.0, 0.0, 1.0, 1.0), 100).problem
    'It could not be read.'
    """
    try:
        if reason := image_refusal(path):
            return _fault(path.name, "photo_refused", why=reason)
        with open_raster(path) as source:
            return _read(source, path.name, around, most)
    except (RasterioError, OSError, MemoryError, pyproj.exceptions.ProjError):
        return _fault(path.name, "photo_not_read")


def _fault(name: str, code: str, **values: object) -> Fault:
    return Fault("orthophoto", Reason(code, **values), feature=name, effect="noted")


def _read(source: DatasetReader, name: str, around: Bounds, most: int) -> Photo | Fault:
    if source.crs is None:
        return _fault(name, "photo_without_crs")
    west, south, east, north = around
    has = transform_bounds(source.crs, 4326, *source.bounds)
    box = (max(west, has[0]), max(south, has[1]), min(east, has[2]), min(north, has[3]))
    if box[0] >= box[2] or box[1] >= box[3]:
        return _fault(name, "photo_off_routes")
    flat = transform_bounds(4326, 3857, *box)
    columns, rows = _size(source, flat, most)
    left, bottom, right, top = flat
    onto = Affine((right - left) / columns, 0, left, 0, (bottom - top) / rows, top)
    with WarpedVRT(source, crs="EPSG:3857", transform=onto, width=columns, height=rows,
                   resampling=Resampling.average) as warped:  # fmt: skip
        return Photo(*_pixels(warped), box, name)


def _size(source: DatasetReader, flat: Bounds, most: int) -> tuple[int, int]:
    """Return columns and rows: at most the resolution of the photo, and at most `most`."""
    left, bottom, right, top = transform_bounds(source.crs, 3857, *source.bounds)
    fine = min((right - left) / source.width, (top - bottom) / source.height)
    wide, high = flat[2] - flat[0], flat[3] - flat[1]
    pixel = max(fine, max(wide, high) / most)
    return max(round(wide / pixel), 1), max(round(high / pixel), 1)


def _pixels(warped: WarpedVRT) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    colours = [b for b, what in zip(warped.indexes, warped.colorinterp, strict=True)
               if what is not ColorInterp.alpha]  # fmt: skip
    bands = colours[:3] if len(colours) >= 3 else colours[:1] * 3
    values, seen = warped.read(bands), warped.dataset_mask() > 0
    return np.moveaxis(_to_bytes(values, seen), 0, 2), seen


def _to_bytes(values: NDArray[np.generic], seen: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Scale values of other types from their 2nd and 98th percentile to 8 bits."""
    if values.dtype == np.uint8 or not seen.any():
        return values.astype(np.uint8)
    numbers = np.nan_to_num(values.astype(float))
    low, high = np.percentile(numbers[:, seen], [2, 98])
    share = np.clip((numbers - low) / max(high - low, 1e-12), 0, 1)
    stretched: NDArray[np.uint8] = np.round(255 * share).astype(np.uint8)
    return stretched
