"""Pixel grid of the density raster, in the output CRS, with a given pixel size on the ground."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pyproj

from leakgeo.job.crs import ground_scale, horizontal, transformer

if TYPE_CHECKING:
    from pyproj import CRS

    from leakgeo.arrays import Floats
    from leakgeo.result import Result

# Half length, in pixels, of the segments that measure the size of a pixel on the ground.
_STEP = 50.0


@dataclass(frozen=True)
class Grid:
    """Pixels counted from the origin of the output CRS.

    Parameters
    ----------
    local : pyproj.CRS
        CRS of the input coordinates, in metres.
    output : pyproj.CRS
        CRS of the pixels, horizontal; any unit.
    width, height : float
        Size of a pixel in the unit of `output`.
    """

    local: CRS
    output: CRS
    width: float
    height: float

    @classmethod
    def of(cls, result: Result, x_m: float, y_m: float, pixel_m: float) -> Grid:
        """Return a grid with pixels of about `pixel_m` on the ground at a point of the job's CRS.

        In a projected CRS the size is `pixel_m` in its unit, unless its scale is off by 0.5 % or
        more, as in Web Mercator. In degrees, pixels are square on the ground.
        """
        local, output = result.job.crs, horizontal(result.job.output_crs)
        unit = output.axis_info[0].unit_conversion_factor
        size = pixel_m / (unit if output.is_projected else unit * 6.371e6)
        first = cls(local, output, size, size)
        east, north = first._ground_m(x_m, y_m)
        wide, high = (float(np.hypot(*side)) / pixel_m for side in (east, north))
        if output.is_projected:
            wide = high = round(float(np.sqrt(wide * high)), 2)
        return replace(first, width=size / wide, height=size / high)

    def coarser(self) -> Grid:
        """Return a grid with pixels twice as wide and high."""
        return replace(self, width=2 * self.width, height=2 * self.height)

    def places(self, x_m: Floats, y_m: Floats) -> tuple[Floats, Floats]:
        """Transform local coordinates to pixels east and north of the origin."""
        x, y = self._onto.transform(x_m, y_m)
        return np.asarray(x) / self.width, np.asarray(y) / self.height

    def area_m2(self, x_m: float, y_m: float) -> float:
        """Return the ground area of a pixel at a point of the local CRS."""
        east, north = self._ground_m(x_m, y_m)
        return float(abs(east[0] * north[1] - east[1] * north[0]))

    @cached_property
    def _onto(self) -> pyproj.Transformer:
        return transformer(self.local, self.output)

    def _ground_m(self, x_m: float, y_m: float) -> tuple[Floats, Floats]:
        """Return the sides of a pixel as ground vectors in metres: east side, north side."""
        onto = self._onto
        x, y = onto.transform(x_m, y_m)
        steps = np.array([[-1, 0], [1, 0], [0, -1], [0, 1]])
        ends = np.array([x, y]) + _STEP * steps * [self.width, self.height]
        back = np.transpose(onto.transform(ends[:, 0], ends[:, 1], direction="INVERSE"))
        size = 2 * _STEP * ground_scale(self.local, [x_m], [y_m])[0]
        return (back[1] - back[0]) / size, (back[3] - back[2]) / size
