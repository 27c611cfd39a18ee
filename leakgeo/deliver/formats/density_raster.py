"""``leak_density.tif``: the leak density on the ground as a cloud-optimised GeoTIFF."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from functools import partial
from hashlib import blake2b
from typing import IO, TYPE_CHECKING

import numpy as np
from rasterio.errors import RasterioError
from rasterio.transform import Affine

from leakgeo.deliver.formats.density_cells import cells_of, line_densities
from leakgeo.deliver.formats.density_grid import Grid
from leakgeo.deliver.formats.sparse_cog import BLOCK, Block, RasterMetadata, write_sparse_cog
from leakgeo.deliver.geopackage.metadata import METHOD, lineage
from leakgeo.errors import OutputError, parameter_label
from leakgeo.faults import Fault
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from leakgeo.deliver.formats.density_cells import Cells, LineDensity
    from leakgeo.deliver.formats.sparse_cog import Place
    from leakgeo.result import Result

TIFF = "leak_density.tif"
# Maximum number of blocks in the extent, empty ones included: their index takes 16 MB.
MAX_BLOCKS = 1_000_000
_DESCRIPTION = (
    "Expected leaks on a square metre of ground: the posterior along each line, times the "
    "probability that the line leaks, spread by the error of its trace. 0 is not drawn. "
    "Overviews average what is drawn, for looking only."
)
_CELL = np.dtype([("row", "u2"), ("column", "u2"), ("density", "f4")])


def write_density(result: Result, folder: Path, pixel_m: float) -> tuple[Fault, ...]:
    """Write the leak density on the ground as one raster in the output CRS.

    Pixels are kept on disk: memory grows with the number of lines, not with the extent.

    Parameters
    ----------
    result : Result
        With ``profile`` and ``lines``. With ``kept``, only blocks that changed are compressed.
    folder : pathlib.Path
        Existing folder for ``leak_density.tif``; no file is written if no line has a density.
    pixel_m : float
        Size of a pixel on the ground, in metres; doubled until the extent has no more than
        `MAX_BLOCKS` blocks.

    Returns
    -------
    tuple of Fault
        A fault if pixels had to be enlarged.

    Raises
    ------
    OutputError
        If it can't be written.
    """
    lines = list(line_densities(result))
    corners = _corners(lines)
    if corners is None:
        return ()
    middle_x, middle_y = corners.mean(axis=1).tolist()
    grid, factor = _fit_grid(Grid.of(result, middle_x, middle_y, pixel_m), corners)
    try:
        with (
            tempfile.TemporaryFile(dir=folder) as spool,
            tempfile.TemporaryFile(dir=folder) as draft,
        ):
            held = _CellStore(spool)
            for line in lines:
                if (cells := cells_of(line, grid, pixel_m * factor)) is not None:
                    held.add(cells)
            if not held.parts:
                return ()
            shape, (west, north) = held.extent()
            place = Affine(grid.width, 0.0, west * BLOCK * grid.width,
                           0.0, -grid.height, -north * BLOCK * grid.height)  # fmt: skip
            metadata = _metadata(result, grid, place)
            write_sparse_cog(folder / TIFF, metadata, shape, held.blocks(), draft, result.kept)
    except (RasterioError, OSError) as error:
        raise OutputError(f"{folder / TIFF}: can't be written ({error}).") from error
    return _enlarged_pixels(pixel_m, factor)


def _corners(lines: list[LineDensity]) -> np.ndarray | None:
    """Return the extent of all lines with a density, shape (2, 2): x, then y; low, then high."""
    ends = [(np.nanmin(v), np.nanmax(v)) for line in lines for v in (line.x_m, line.y_m)]
    if not ends:
        return None
    low, high = np.array(ends).reshape(-1, 2, 2).transpose(2, 0, 1)
    return np.stack([low.min(axis=0), high.max(axis=0)], axis=1)


def _fit_grid(grid: Grid, corners: np.ndarray) -> tuple[Grid, int]:
    """Double the pixels until the extent fits `MAX_BLOCKS`; return the grid and the factor."""
    factor = 1
    x, y = (v.ravel() for v in np.meshgrid(*corners))
    while np.prod([np.ptp(v) // BLOCK + 2 for v in grid.places(x, y)]) > MAX_BLOCKS:
        grid, factor = grid.coarser(), 2 * factor
    return grid, factor


@dataclass
class _CellStore:
    """Cells of all lines on disk, by block; blocks count from the origin, rows downward."""

    file: IO[bytes]

    def __post_init__(self) -> None:
        self.parts: dict[Place, list[tuple[int, int]]] = {}

    def add(self, cells: Cells) -> None:
        """Store the cells of a line."""
        down = -1 - cells.row
        row, column = down // BLOCK, cells.column // BLOCK
        order = np.lexsort((column, row))
        row, column = row[order], column[order]
        data = np.empty(order.size, _CELL)
        data["row"], data["column"] = (down % BLOCK)[order], (cells.column % BLOCK)[order]
        data["density"] = cells.density_per_m2[order]
        new = np.flatnonzero((np.diff(row) != 0) | (np.diff(column) != 0)) + 1
        for begin, end in zip([0, *new], [*new, order.size], strict=True):
            where = self.parts.setdefault((int(row[begin]), int(column[begin])), [])
            where.append((self.file.tell(), int(end - begin)))
            self.file.write(data[begin:end].tobytes())

    def extent(self) -> tuple[Place, Place]:
        """Return the numbers of rows and columns of blocks, and the first column and row."""
        places = np.array(list(self.parts))
        low, high = places.min(axis=0), places.max(axis=0)
        rows, columns = (high - low + 1).tolist()
        return (rows, columns), (int(low[1]), int(low[0]))

    def blocks(self) -> Iterator[tuple[Place, Block]]:
        """Yield the sum of each non-empty block, from the upper left."""
        _, (west, north) = self.extent()
        for row, column in sorted(self.parts):
            lines = [self._cells(*part) for part in self.parts[row, column]]
            digest = blake2b(b"".join(lines), digest_size=16).hexdigest()
            yield (row - north, column - west), Block(digest, partial(_sum, lines))

    def _cells(self, offset: int, count: int) -> bytes:
        self.file.seek(offset)
        return self.file.read(count * _CELL.itemsize)


def _sum(lines: list[bytes]) -> np.ndarray:
    """Return the sum of the cells of lines in a block."""
    block = np.zeros((BLOCK, BLOCK), np.float32)
    for line in lines:
        cells = np.frombuffer(line, _CELL)
        # A pixel occurs only once in the cells of a line, so that += adds all of them.
        block[cells["row"], cells["column"]] += cells["density"]
    return block


def _metadata(result: Result, grid: Grid, place: Affine) -> RasterMetadata:
    simulated = result.job.simulated
    tags = {"TIFFTAG_IMAGEDESCRIPTION": f"{simulated} {_DESCRIPTION}".strip(),
            "SOURCE": lineage(result), "METHOD": METHOD}  # fmt: skip
    tags |= {"SIMULATED": simulated} if simulated else {}
    return RasterMetadata(
        grid.output.to_wkt(), place, tags, "leak density per square metre", "1/m2"
    )


def _enlarged_pixels(pixel_m: float, factor: int) -> tuple[Fault, ...]:
    if factor == 1:
        return ()
    return (
        Fault("profile", Reason("pixels_enlarged", wanted_m=pixel_m, made_m=pixel_m * factor,
                                parameter=parameter_label("density_lines")), effect="noted"),
    )  # fmt: skip
