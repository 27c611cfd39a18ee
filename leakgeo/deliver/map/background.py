"""What lies under the map, where the user asks for it: a photo in the page, or tiles of a host."""

from __future__ import annotations

import base64
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import shapely
from rasterio.io import MemoryFile

from leakgeo.deliver.map.tiles import tile_source
from leakgeo.faults import Fault
from leakgeo.job.rasters.photo import Photo, read_photo
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.job.model import Job

MOST_PIXELS = 3000
_ROOM_M = 40.0
_GROUND = (243, 241, 234)  # the page's own ground, where the photo has nothing
_QUALITY = "80"


@dataclass(frozen=True)
class Background:
    """What the page needs to lay a background.

    Parameters
    ----------
    photo : dict or None
        ``url`` (a JPEG as a data URL), ``bounds`` as Leaflet takes them, and ``name``.
    tiles : dict or None
        ``url`` and ``host``.
    source : str
        What the page's content security policy lets images come from, besides the page.
    faults : tuple of Fault
        Why a photo that was asked for isn't there.
    """

    photo: dict[str, Any] | None = None
    tiles: dict[str, str] | None = None
    source: str = ""
    faults: tuple[Fault, ...] = ()


def background(job: Job, orthophoto: Path | None, tiles: str | None) -> Background:
    """Make the background that was asked for.

    A photo that can't be laid is a fault, and the map does without.

    Parameters
    ----------
    job : Job
        Its routes say which part of the photo is wanted.
    orthophoto : pathlib.Path or None
    tiles : str or None
        Address with ``{z}``, ``{x}`` and ``{y}``.

    Raises
    ------
    ParameterError
        If `tiles` is not the address of tiles by http or https.
    """
    source = "" if tiles is None else tile_source(tiles)
    address = None if tiles is None else {"url": tiles, "host": source}
    photo = None if orthophoto is None else _photo(job, orthophoto)
    if isinstance(photo, Fault):
        return Background(None, address, source, (photo,))
    return Background(None if photo is None else _as_image(photo), address, source)


def _photo(job: Job, path: Path) -> Photo | Fault:
    routes = job.routes.loc[job.routes.geometry.notna() & ~job.routes.geometry.is_empty]
    if routes.empty:
        return Fault("orthophoto", Reason("no_route_for_photo"),
                     feature=path.name, effect="noted")  # fmt: skip
    low_x, low_y, high_x, high_y = routes.total_bounds.tolist()
    box = shapely.box(low_x, low_y, high_x, high_y).buffer(_ROOM_M)
    around = gpd.GeoSeries([box], crs=job.crs)
    west, south, east, north = around.to_crs(4326).total_bounds.tolist()
    return read_photo(path, (west, south, east, north), MOST_PIXELS)


def _as_image(photo: Photo) -> dict[str, Any]:
    pixels = np.where(photo.seen[..., None], photo.pixels, np.asarray(_GROUND, np.uint8))
    rows, columns, bands = pixels.shape
    profile = {"driver": "JPEG", "width": columns, "height": rows, "count": bands,
               "dtype": "uint8", "quality": _QUALITY}  # fmt: skip
    with MemoryFile() as memory, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a JPEG in a page has no georeference
        with memory.open(**profile) as image:
            image.write(np.moveaxis(pixels, 2, 0))
        data = base64.b64encode(memory.read()).decode("ascii")
    west, south, east, north = photo.bounds
    return {"url": f"data:image/jpeg;base64,{data}", "name": photo.name,
            "bounds": [[south, west], [north, east]]}  # fmt: skip
