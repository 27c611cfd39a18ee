"""The number that a CRS has in a database."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pyproj import CRS

    from leakgeo.deliver.postgis.tables import Home

# Beyond the numbers that PostGIS ships with, and below those that it keeps for itself.
_FREE_SRID = 910_000


def find_srid(home: Home, crs: CRS) -> int:
    """Find the number that a CRS has in the database; one that it lacks is added to it.

    Parameters
    ----------
    home : Home
    crs : pyproj.CRS

    Returns
    -------
    int
    """
    from psycopg.sql import SQL, Identifier

    table = Identifier(home.postgis, "spatial_ref_sys")
    wkt, authority = crs.to_wkt("WKT1_GDAL"), crs.to_authority(min_confidence=100)
    name, code = authority or ("", "0")
    known = SQL("SELECT srid FROM {} WHERE (auth_name = %s AND auth_srid = %s) OR srtext = %s")
    number = int(code) if code.isdigit() else 0
    found = home.connection.execute(known.format(table), [name, number, wkt]).fetchone()
    if found is not None:
        return int(found[0])
    add = SQL(
        "INSERT INTO {0} (srid, srtext) SELECT greatest(max(srid) + 1, {1}), %s FROM {0} "
        "RETURNING srid"
    ).format(table, SQL(str(_FREE_SRID)))
    (srid,) = home.connection.execute(add, [wkt]).fetchone() or (0,)
    return int(srid)
