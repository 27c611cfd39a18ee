"""The background of the map: a photo inside the page, or tiles of a host."""

from __future__ import annotations

import base64
import re
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import geopandas as gpd
import numpy as np
import shapely
from rasterio.io import MemoryFile

from leakgeo.errors import ParameterError
from leakgeo.faults import Fault
from leakgeo.job.rasters.photo import Photo, read_photo
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.job.model import Job

_AXES = ("{z}", "{x}", "{y}")
# Characters of an address (RFC 3986) and the braces of a template: no quotes, angle brackets,
# backslashes or control characters.
_PLAIN = re.compile(r"[A-Za-z0-9\-._~:/?\[\]@!$&()*+,;=%{}]+")
_HOST = re.compile(r"(\*\.)?[a-z0-9.-]+|\[[0-9a-f:]+\]")

MOST_PIXELS = 3000
_MARGIN_M = 40.0  # around the routes
_GROUND = (243, 241, 234)  # background colour of the page, where the photo has no data
_QUALITY = "80"


@dataclass(frozen=True)
class Background:
    """The background of a page.

    Parameters
    ----------
    photo : dict or None
        ``url`` (a JPEG as a data URL), ``bounds`` (south-west and north-east corner, WGS 84) and
        ``name``.
    tiles : dict or None
        ``url`` (template) and ``host``.
    source : str
        Image source for the content security policy of the page; ``""`` for none.
    faults : tuple of Fault
        Why a photo could not be used.
    """

    photo: dict[str, Any] | None = None
    tiles: dict[str, str] | None = None
    source: str = ""
    faults: tuple[Fault, ...] = ()


def background(job: Job, orthophoto: Path | None, tiles: str | None) -> Background:
    """Return the background for a job.

    A photo that can't be used becomes a fault, and the map has no photo.

    Parameters
    ----------
    job : Job
        The photo is cut to its routes.
    orthophoto : pathlib.Path or None
        Georeferenced raster, in any CRS; no photo if None.
    tiles : str or None
        Address with ``{z}``, ``{x}`` and ``{y}``; no tiles if None.

    Raises
    ------
    ParameterError
        If `tiles` is not an address of tiles by http or https.
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
    box = shapely.box(low_x, low_y, high_x, high_y).buffer(_MARGIN_M)
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


def tile_source(address: str) -> str:
    """Return scheme and host of a tile address, in the form of a content security policy.

    Parameters
    ----------
    address : str
        Template with ``{z}``, ``{x}`` and ``{y}``; ``{s}`` as the first label of the host means any
        subdomain.

    Returns
    -------
    str
        ``scheme://host[:port]``.

    Raises
    ------
    ParameterError
        If it is not an address of tiles by http or https, or has a user name, a password or an
        invalid character in it.

    Examples
    --------
    >>> tile_source("https://tiles.example.org/ortho/{z}/{x}/{y}.png")
    'https://tiles.example.org'
    >>> tile_source("https://{s}.example.org:8443/{z}/{x}/{y}.png")
    'https://*.example.org:8443'
    >>> tile_source("javascript:alert(1)//{z}/{x}/{y}")
    Traceback (most recent call last):
        ...
    leakgeo.errors.ParameterError: tiles: 'javascript:alert(1)//{z}/{x}/{y}' is not an address by
    http or https. Give it as https://HOST/{z}/{x}/{y}.png.
    """
    if not _PLAIN.fullmatch(address):
        raise _refused(address, "has a character that no address has, or is empty")
    if not re.match("https?://", address, re.IGNORECASE):
        raise _refused(address, "is not an address by http or https")
    try:
        parts = urlsplit(address.replace("{s}.", "*.", 1))
        host, port = parts.hostname or "", f":{parts.port}" if parts.port else ""
    except ValueError as error:
        raise _refused(address, "is not an address") from error
    if "@" in parts.netloc:
        raise _refused(address, "has a name or password, which the map would show to all")
    if not _HOST.fullmatch(host):
        raise _refused(address, "has no host")
    if any(axis not in f"{parts.path}?{parts.query}" for axis in _AXES):
        raise _refused(address, "lacks {z}, {x} or {y} after the host")
    return f"{parts.scheme}://{host}{port}"


def _refused(address: str, why: str) -> ParameterError:
    return ParameterError.of(
        "tiles", f"{address!r} {why}. Give it as https://HOST/{{z}}/{{x}}/{{y}}.png."
    )
