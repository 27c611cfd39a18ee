"""Open an image with the driver of its format; refuse sidecar files that name other files."""

from __future__ import annotations

import re
import warnings
from contextlib import contextmanager
from typing import TYPE_CHECKING

from leakgeo.reason import Reason
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from rasterio import DatasetReader

# GDAL driver by signature: TIFF and BigTIFF of either byte order, JPEG, PNG, JPEG 2000.
_DRIVERS = {
    **dict.fromkeys((b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"), "GTiff"), b"\xff\xd8\xff": "JPEG",
    b"\x89PNG": "PNG", b"\0\0\0\x0cjP  ": "JP2OpenJPEG",
}  # fmt: skip
# GDAL opens overviews and masks of an image with any driver; an .aux.xml file may name others.
_SIDECAR_IMAGES, _SIDECAR_TEXT = (".ovr", ".msk"), ".aux.xml"
_NAMES_OTHERS = re.compile(rb"OVERVIEW|<!|&#", re.IGNORECASE)
_MAX_SIDECAR_BYTES = 1 << 24
# curl refuses this kind of proxy, so nothing is connected.
_OFFLINE = {"GDAL_HTTP_PROXY": "off://none", "GDAL_HTTPS_PROXY": "off://none"}


@contextmanager
def open_raster(path: Path, table: str | None = None) -> Iterator[DatasetReader]:
    """Open an image for reading.

    Parameters
    ----------
    path : pathlib.Path
        GeoTIFF, JPEG, PNG or JPEG 2000; or a GeoPackage without a log.
    table : str, optional
        Raster table of the GeoPackage.

    Raises
    ------
    OSError
        If the image is refused or can't be opened.
    """
    import rasterio  # slow to import, and few jobs have an image
    from rasterio.errors import RasterioIOError

    if table is None and (reason := image_refusal(path)):
        raise RasterioIOError(wording().text(reason))
    with rasterio.Env(**_OFFLINE), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        whole = path.resolve()
        with (rasterio.open(whole, driver=_driver(path)) if table is None else
              rasterio.open(f"GPKG:{whole}:{table}", driver="GPKG")) as raster:  # fmt: skip
            yield raster


def image_refusal(path: Path) -> Reason | None:
    """Return why an image must not be opened; None if it may be.

    Raises
    ------
    OSError
        If the file or its folder can't be read.
    """
    if _driver(path) is None:
        return Reason("not_an_image")
    for other in sorted(path.resolve().parent.iterdir()):
        name, own = other.name.casefold(), path.resolve().name.casefold()
        if not name.startswith((own, own.rpartition(".")[0] + ".")):
            continue
        if name.endswith(_SIDECAR_IMAGES) and _driver(other) != "GTiff":
            return Reason("side_file_not_an_image", file=other.name)
        if name.endswith(_SIDECAR_TEXT) and _names_other_files(other):
            return Reason("side_file_names_others", file=other.name)
    return None


def _driver(path: Path) -> str | None:
    with path.open("rb") as file:
        head = file.read(16)
    return next((name for start, name in _DRIVERS.items() if head.startswith(start)), None)


def _names_other_files(side: Path) -> bool:
    if side.stat().st_size > _MAX_SIDECAR_BYTES:
        return True
    return _NAMES_OTHERS.search(side.read_bytes().replace(b"\0", b"")) is not None
