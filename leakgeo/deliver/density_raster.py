"""``leak_density.tif``: where the leak is likely, as a cloud-optimised GeoTIFF."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import numpy as np
import rasterio
from rasterio.errors import RasterioError
from rasterio.shutil import copy
from rasterio.transform import Affine
from rasterio.windows import Window

from leakgeo.deliver.about import METHOD, lineage
from leakgeo.deliver.density_cells import Cells, line_cells
from leakgeo.errors import OutputError
from leakgeo.faults import Fault
from leakgeo.job.simulated import simulated_note

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from leakgeo.result import Result

NAME = "leak_density"
TIFF, MOSAIC, TILES = f"{NAME}.tif", f"{NAME}.vrt", f"{NAME}_tiles"
# One file up to so many pixels, empty ones counted; else tiles, only where there is something.
MOST_PIXELS = 64_000_000
TILE = 1024
MOST_TILES = 1600
BLOCK = 512
_ABOUT = ("Expected leaks on a square metre of ground: the posterior along each line, times the "
          "probability that the line leaks, spread by the error of its trace. 0 is not drawn. "
          "Overviews average what is drawn, for looking only.")  # fmt: skip


def write_density(
    result: Result, folder: Path, pixel_m: float
) -> tuple[list[Path], tuple[Fault, ...]]:
    """Write the density of the leak over the ground, in the job's local metre CRS.

    Parameters
    ----------
    result : Result
        With ``profile`` and ``lines``.
    folder : pathlib.Path
        It is there already.
    pixel_m : float
        Side of a pixel.

    Returns
    -------
    paths : list of pathlib.Path
        ``leak_density.tif``; or, where one file would have more than `MOST_PIXELS` pixels,
        ``leak_density.vrt`` over tiles in ``leak_density_tiles``; or nothing, where no line has a
        density.
    faults : tuple of Fault
        What was chosen, and the lines left out of too many tiles.

    Raises
    ------
    OutputError
        If it can't be written.
    """
    lines = list(line_cells(result, pixel_m))
    if not lines:
        return [], ()
    x0, y0, x1, y1 = _extent(lines)
    try:
        if (x1 - x0) * (y1 - y0) <= MOST_PIXELS:
            path = folder / TIFF
            _write(path, _Notes.of(result), _grid(lines, (x0, y0, x1, y1)), (x0, y1), pixel_m)
            return [path], ()
        return _tiles(result, lines, folder, pixel_m)
    except (RasterioError, OSError) as error:
        raise OutputError(f"{folder / NAME}: can't be written ({error}).") from error


def _extent(lines: Sequence[Cells]) -> tuple[int, int, int, int]:
    """Give the pixels that hold all lines: west, south, east and north, the last two excluded."""
    west, south = (min(int(c.min()) for c in each) for each in _ends(lines))
    east, north = (max(int(c.max()) for c in each) + 1 for each in _ends(lines))
    return west, south, east, north


def _ends(lines: Sequence[Cells]) -> tuple[list[np.ndarray], list[np.ndarray]]:
    return [c.column for c in lines], [c.row for c in lines]


def _grid(lines: Iterable[Cells], box: tuple[int, int, int, int]) -> np.ndarray:
    """Sum up the lines on the pixels of a box, north up."""
    x0, y0, x1, y1 = box
    grid = np.zeros((y1 - y0, x1 - x0), np.float32)
    for c in lines:
        inside = (c.column >= x0) & (c.column < x1) & (c.row >= y0) & (c.row < y1)
        grid[y1 - 1 - c.row[inside], c.column[inside] - x0] += c.density_per_m2[inside]
    return grid


@dataclass(frozen=True)
class _Notes:
    """What every file says of itself."""

    crs: str
    tags: Mapping[str, str]

    @classmethod
    def of(cls, result: Result) -> _Notes:
        simulated = simulated_note(result.job.source)
        tags = {"TIFFTAG_IMAGEDESCRIPTION": f"{simulated} {_ABOUT}".strip(),
                "SOURCE": lineage(result), "METHOD": METHOD}  # fmt: skip
        return cls(result.job.crs.to_wkt(), tags | ({"SIMULATED": simulated} if simulated else {}))


def _write(
    path: Path, notes: _Notes, grid: np.ndarray, corner: tuple[int, int], pixel_m: float
) -> None:
    """Write blocks that hold something into a draft, and make a cloud-optimised file of it."""
    shape = {"height": grid.shape[0], "width": grid.shape[1], "count": 1, "dtype": "float32"}
    place = Affine(pixel_m, 0.0, corner[0] * pixel_m, 0.0, -pixel_m, corner[1] * pixel_m)
    with tempfile.TemporaryDirectory(dir=path.parent, prefix=".density-") as beside:
        draft, done = Path(beside) / "draft.tif", Path(beside) / path.name
        with rasterio.open(draft, "w", driver="GTiff", tiled=True, blockxsize=BLOCK,
                           blockysize=BLOCK, sparse_ok=True, nodata=0.0, transform=place,
                           crs=notes.crs, **shape) as out:  # fmt: skip
            for row in range(0, grid.shape[0], BLOCK):
                for column in range(0, grid.shape[1], BLOCK):
                    part = grid[row : row + BLOCK, column : column + BLOCK]
                    if part.any():
                        window = Window(column, row, part.shape[1], part.shape[0])
                        out.write(part, 1, window=window)
            out.update_tags(**notes.tags)
            out.set_band_description(1, "leak density per square metre")
            out.set_band_unit(1, "1/m2")
        copy(draft, done, driver="COG", compress="DEFLATE", predictor="YES", blocksize=BLOCK,
             sparse_ok="TRUE", overview_resampling="AVERAGE", bigtiff="IF_SAFER")  # fmt: skip
        done.replace(path)


def _tiles(
    result: Result, lines: Sequence[Cells], folder: Path, pixel_m: float
) -> tuple[list[Path], tuple[Fault, ...]]:
    """Write a file for each tile that holds something, the most urgent lines first."""
    holding: dict[tuple[int, int], list[Cells]] = {}
    left = []
    for line in lines:
        needs = set(zip((line.column // TILE).tolist(), (line.row // TILE).tolist(), strict=True))
        if len(needs | set(holding)) > MOST_TILES:
            left.append(line.line_id)
            continue
        for tile in needs:
            holding.setdefault(tile, []).append(line)
    inside = folder / TILES
    inside.mkdir(exist_ok=True)
    notes = _Notes.of(result)
    for (i, j), some in holding.items():
        box = (i * TILE, j * TILE, (i + 1) * TILE, (j + 1) * TILE)
        _write(inside / _name(i, j), notes, _grid(some, box), (box[0], box[3]), pixel_m)
    path = folder / MOSAIC
    path.write_bytes(_mosaic(result, sorted(holding), pixel_m))
    return [path, *(inside / _name(*tile) for tile in holding)], _told(len(holding), left)


def _name(i: int, j: int) -> str:
    return f"{NAME}_{i}_{j}.tif"


def _told(tiles: int, left: Sequence[str]) -> tuple[Fault, ...]:
    """Say that there are tiles, and what is on none of them."""
    large = Fault("profile", f"The lines are too far apart for one leak_density.tif: {tiles} tiles "
                  "are in leak_density_tiles.", "Open leak_density.vrt to see them as one.",
                  effect="noted")  # fmt: skip
    lost = [
        Fault("profile", f"It is not in leak_density: more than {MOST_TILES} tiles would be needed "
              "for all lines, and more urgent ones came first.",
              "Export it by itself with --line, or with larger pixels.", line, effect="noted")
        for line in left
    ]  # fmt: skip
    return (large, *lost)


def _mosaic(result: Result, tiles: Sequence[tuple[int, int]], pixel_m: float) -> bytes:
    """Lay tiles out as one raster, as GDAL's virtual format has it."""
    (x0, y0), (x1, y1) = np.min(tiles, axis=0), np.max(tiles, axis=0) + 1
    root = ET.Element("VRTDataset", rasterXSize=str((x1 - x0) * TILE),
                      rasterYSize=str((y1 - y0) * TILE))  # fmt: skip
    ET.SubElement(root, "SRS").text = result.job.crs.to_wkt()
    corner = (x0 * TILE * pixel_m, pixel_m, 0.0, y1 * TILE * pixel_m, 0.0, -pixel_m)
    ET.SubElement(root, "GeoTransform").text = ", ".join(f"{v:.12g}" for v in corner)
    band = ET.SubElement(root, "VRTRasterBand", dataType="Float32", band="1")
    ET.SubElement(band, "NoDataValue").text = "0"
    for i, j in tiles:
        source = ET.SubElement(band, "SimpleSource")
        name = ET.SubElement(source, "SourceFilename", relativeToVRT="1")
        name.text = f"{TILES}/{_name(i, j)}"
        ET.SubElement(source, "SourceBand").text = "1"
        for tag, x, y in (("SrcRect", 0, 0), ("DstRect", (i - x0) * TILE, (y1 - 1 - j) * TILE)):
            ET.SubElement(source, tag, xOff=str(x), yOff=str(y), xSize=str(TILE), ySize=str(TILE))
    return bytes(ET.tostring(root, encoding="utf-8"))
