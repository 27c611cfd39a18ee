"""``leak_density.tif``: where the leak is likely, as a cloud-optimised GeoTIFF."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from typing import TYPE_CHECKING, BinaryIO

import numpy as np
from rasterio.errors import RasterioError
from rasterio.transform import Affine

from leakgeo.deliver.formats.density_cells import cells_of, lines_along
from leakgeo.deliver.formats.density_grid import Grid
from leakgeo.deliver.formats.sparse_cog import BLOCK, About, write_sparse_cog
from leakgeo.deliver.geopackage.metadata import METHOD, lineage
from leakgeo.errors import OutputError, called
from leakgeo.faults import Fault
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from leakgeo.deliver.formats.density_cells import Cells
    from leakgeo.deliver.formats.sparse_cog import Place
    from leakgeo.result import Result

TIFF = "leak_density.tif"
# Blocks of the whole extent, empty ones counted: the index of so many is 16 MB.
MOST_BLOCKS = 1_000_000
_ABOUT = ("Expected leaks on a square metre of ground: the posterior along each line, times the "
          "probability that the line leaks, spread by the error of its trace. 0 is not drawn. "
          "Overviews average what is drawn, for looking only.")  # fmt: skip
_CELL = np.dtype([("row", "u2"), ("column", "u2"), ("density", "f4")])


def write_density(result: Result, folder: Path, pixel_m: float) -> tuple[Fault, ...]:
    """Write the density of the leak over the ground, in the CRS of the results, as one file.

    Blocks wait on disk: memory goes with the number of lines, not with how far apart they are.

    Parameters
    ----------
    result : Result
        With ``profile`` and ``lines``.
    folder : pathlib.Path
        It is there already; ``leak_density.tif`` goes into it, where a line has a density.
    pixel_m : float
        Side of a pixel on the ground; twice as large, or four times, where the lines are too far
        apart.

    Returns
    -------
    tuple of Fault
        The larger pixels, if they are.

    Raises
    ------
    OutputError
        If it can't be written.
    """
    corners = _corners(result)
    if corners is None:
        return ()
    middle_x, middle_y = corners.mean(axis=1).tolist()
    grid, times = _fitting(Grid.of(result, middle_x, middle_y, pixel_m), corners)
    try:
        with (
            tempfile.TemporaryFile(dir=folder) as spool,
            tempfile.TemporaryFile(dir=folder) as draft,
        ):
            held = _Spool(spool)
            for line in lines_along(result):
                if (cells := cells_of(line, grid, pixel_m * times)) is not None:
                    held.add(cells)
            if not held.parts:
                return ()
            shape, (west, north) = held.extent()
            place = Affine(grid.width, 0.0, west * BLOCK * grid.width,
                           0.0, -grid.height, -north * BLOCK * grid.height)  # fmt: skip
            about = _about(result, grid, place)
            write_sparse_cog(folder / TIFF, about, shape, held.blocks(), draft)
    except (RasterioError, OSError) as error:
        raise OutputError(f"{folder / TIFF}: can't be written ({error}).") from error
    return _larger(pixel_m, times)


def _corners(result: Result) -> np.ndarray | None:
    """Least and greatest coordinates of all lines that may leak, shape (2, 2): x, then y."""
    ends = [(np.nanmin(v), np.nanmax(v)) for line in lines_along(result)
            for v in (line.x_m, line.y_m)]  # fmt: skip
    if not ends:
        return None
    low, high = np.array(ends).reshape(-1, 2, 2).transpose(2, 0, 1)
    return np.stack([low.min(axis=0), high.max(axis=0)], axis=1)


def _fitting(grid: Grid, corners: np.ndarray) -> tuple[Grid, int]:
    """Double the pixels until the extent has no more than `MOST_BLOCKS`; say how many times."""
    times = 1
    x, y = (v.ravel() for v in np.meshgrid(*corners))
    while np.prod([np.ptp(v) // BLOCK + 2 for v in grid.places(x, y)]) > MOST_BLOCKS:
        grid, times = grid.coarser(), 2 * times
    return grid, times


@dataclass
class _Spool:
    """Cells of all lines by block, on disk; blocks are counted from the origin, rows downward."""

    file: BinaryIO

    def __post_init__(self) -> None:
        self.parts: dict[Place, list[tuple[int, int]]] = {}

    def add(self, cells: Cells) -> None:
        """Put the cells of a line by."""
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
        """Return rows and columns of blocks, and the first column and row."""
        places = np.array(list(self.parts))
        low, high = places.min(axis=0), places.max(axis=0)
        rows, columns = (high - low + 1).tolist()
        return (rows, columns), (int(low[1]), int(low[0]))

    def blocks(self) -> Iterator[tuple[Place, np.ndarray]]:
        """Sum up each block that holds something, from the upper left on."""
        _, (west, north) = self.extent()
        for row, column in sorted(self.parts):
            block = np.zeros((BLOCK, BLOCK), np.float32)
            for offset, count in self.parts[row, column]:
                self.file.seek(offset)
                cells = np.frombuffer(self.file.read(count * _CELL.itemsize), _CELL)
                # No pixel is twice in the cells of one line.
                block[cells["row"], cells["column"]] += cells["density"]
            yield (row - north, column - west), block


def _about(result: Result, grid: Grid, place: Affine) -> About:
    simulated = result.job.simulated
    tags = {"TIFFTAG_IMAGEDESCRIPTION": f"{simulated} {_ABOUT}".strip(),
            "SOURCE": lineage(result), "METHOD": METHOD}  # fmt: skip
    tags |= {"SIMULATED": simulated} if simulated else {}
    return About(grid.output.to_wkt(), place, tags, "leak density per square metre", "1/m2")


def _larger(pixel_m: float, times: int) -> tuple[Fault, ...]:
    if times == 1:
        return ()
    return (
        Fault("profile", Reason("pixels_enlarged", wanted_m=pixel_m, made_m=pixel_m * times,
                                parameter=called("density_lines")), effect="noted"),
    )  # fmt: skip
