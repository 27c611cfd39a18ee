"""Open an image by the one driver of its kind, with nothing beside it that leads elsewhere."""

from __future__ import annotations

import re
import warnings
from contextlib import contextmanager
from typing import TYPE_CHECKING

import rasterio
from rasterio.errors import RasterioIOError

from leakgeo.reason import Reason
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from rasterio import DatasetReader

# How images begin, and GDAL's driver: TIFF and BigTIFF of either order, JPEG, PNG, JPEG 2000.
_DRIVERS = {
    **dict.fromkeys((b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"), "GTiff"), b"\xff\xd8\xff": "JPEG",
    b"\x89PNG": "PNG", b"\0\0\0\x0cjP  ": "JP2OpenJPEG",
}  # fmt: skip
# Overviews and masks beside an image are opened by any driver, and a file .aux.xml may name them.
_SIDE_IMAGES, _SIDE_TEXT = (".ovr", ".msk"), ".aux.xml"
_NAMES_OTHERS = re.compile(rb"OVERVIEW|<!|&#", re.IGNORECASE)
_MOST_TEXT = 1 << 24
# curl knows no proxy of this kind, and so connects to nothing.
_OFFLINE = {"GDAL_HTTP_PROXY": "off://none", "GDAL_HTTPS_PROXY": "off://none"}


@contextmanager
def open_raster(path: Path, table: str | None = None) -> Iterator[DatasetReader]:
    """Open an image to be read.

    Parameters
    ----------
    path : pathlib.Path
        GeoTIFF, JPEG, PNG or JPEG 2000; or a GeoPackage without a log beside it.
    table : str, optional
        Raster table of the GeoPackage.

    Raises
    ------
    OSError
        If it can't be opened; the text says why.
    """
    if table is None and (found := image_trouble(path)):
        raise RasterioIOError(wording().text(found))
    with rasterio.Env(**_OFFLINE), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        whole = path.resolve()
        with (rasterio.open(whole, driver=_driver(path)) if table is None else
              rasterio.open(f"GPKG:{whole}:{table}", driver="GPKG")) as raster:  # fmt: skip
            yield raster


def image_trouble(path: Path) -> Reason | None:
    """Say why an image is not opened, None where it is.

    Raises
    ------
    OSError
        If it can't be read.
    """
    if _driver(path) is None:
        return Reason("not_an_image")
    for other in sorted(path.resolve().parent.iterdir()):
        name, own = other.name.casefold(), path.resolve().name.casefold()
        if not name.startswith((own, own.rpartition(".")[0] + ".")):
            continue
        if name.endswith(_SIDE_IMAGES) and _driver(other) != "GTiff":
            return Reason("side_file_not_an_image", file=other.name)
        if name.endswith(_SIDE_TEXT) and _leads_away(other):
            return Reason("side_file_names_others", file=other.name)
    return None


def _driver(path: Path) -> str | None:
    with path.open("rb") as file:
        head = file.read(16)
    return next((name for start, name in _DRIVERS.items() if head.startswith(start)), None)


def _leads_away(side: Path) -> bool:
    if side.stat().st_size > _MOST_TEXT:
        return True
    return _NAMES_OTHERS.search(side.read_bytes().replace(b"\0", b"")) is not None
