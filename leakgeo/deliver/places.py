"""Where the marks are, as coordinates a surveyor or a phone takes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd

from leakgeo.deliver.tables import with_geometry

if TYPE_CHECKING:
    from pyproj import CRS


def mark_places(marks: object, output_crs: CRS) -> dict[str, list[tuple[str, str]]]:
    """Give the coordinates of each mark as label and text, by ``line_id``.

    Parameters
    ----------
    marks : geopandas.GeoDataFrame or None
        The ``marks`` layer, in any CRS.
    output_crs : pyproj.CRS
        CRS that the job came in; named with its unit where it is projected.

    Returns
    -------
    dict of str to list of tuple

    Examples
    --------
    >>> from pyproj import CRS
    >>> from shapely import Point
    >>> marks = gpd.GeoDataFrame({"line_id": ["a"]}, geometry=[Point(500000, 0)], crs=32616)
    >>> mark_places(marks, CRS(32616))["a"]
    [('Latitude, longitude', '0.0000000, -87.0000000'), ('East, north', '500,000.00, 0.00 metre')]
    """
    good = with_geometry(marks) if isinstance(marks, gpd.GeoDataFrame) else None
    if good is None or "line_id" not in good:
        return {}
    globe, grid = good.geometry.to_crs(4326), good.geometry.to_crs(output_crs)
    latlon = [
        ("Latitude, longitude", f"{y + 0.0:.7f}, {x + 0.0:.7f}")
        for y, x in zip(globe.y, globe.x, strict=True)
    ]
    if not output_crs.is_projected:
        return {str(k): [pair] for k, pair in zip(good["line_id"], latlon, strict=True)}
    unit = output_crs.axis_info[0].unit_name
    plane = [
        ("East, north", f"{x:,.2f}, {y:,.2f} {unit}") for x, y in zip(grid.x, grid.y, strict=True)
    ]
    pairs = zip(good["line_id"], latlon, plane, strict=True)
    return {str(line_id): [globe_text, grid_text] for line_id, globe_text, grid_text in pairs}
