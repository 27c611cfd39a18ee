"""Write an empty job GeoPackage with every input layer, as a form for the user's data."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pyogrio.raw
import pyproj

from leakgeo.errors import ParameterError
from leakgeo.job.column_descriptions import write_column_descriptions
from leakgeo.job.crs import is_georeferenced
from leakgeo.job.new_file import write_new_file
from leakgeo.job.schema import drawn_layers

if TYPE_CHECKING:
    from leakgeo.job.schema import LayerSchema

_STORED = {
    "string": object, "number": "float64", "integer": "int32", "boolean": "bool",
    "datetime": "datetime64[ms]", "date": "datetime64[D]",
}  # fmt: skip


def write_template(path: str | Path, *, crs: Any = "EPSG:4326") -> Path:
    """Write an empty job GeoPackage with every input layer of the contract.

    A GIS shows the title of each layer, the meaning of each column, and its codes as a list.

    Parameters
    ----------
    path : str or pathlib.Path
        GeoPackage to create; it must not exist.
    crs : pyproj.CRS or any value that its constructor takes
        CRS of the layers.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    OutputError
        If the file exists, its name does not end in ``.gpkg``, or its folder can't be written.
    ParameterError
        If `crs` is neither geographic nor projected.

    Examples
    --------
    >>> import tempfile, pyogrio
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     made = write_template(f"{folder}/job.gpkg", crs="EPSG:2263")
    ...     pyogrio.list_layers(made)[:2].tolist()
    [['routes', 'MultiLineString'], ['readings', 'Point']]
    """
    wkt, schemas = _wkt(crs), drawn_layers().values()

    def write(draft: Path) -> None:
        for schema in schemas:
            write_layer(draft, schema, wkt)
        write_column_descriptions(draft, schemas)

    return write_new_file(Path(path), "a GeoPackage", ".gpkg", write)


def _wkt(crs: Any) -> str:
    try:
        known = pyproj.CRS(crs)
    except pyproj.exceptions.CRSError as error:
        raise ParameterError.of(
            "crs", f"{crs!r} is not a CRS; give one such as EPSG:4326."
        ) from error
    if not is_georeferenced(known):
        raise ParameterError.of(
            "crs", f"{known.name} is not on the earth; give a geographic or projected CRS."
        )
    return str(known.to_wkt("WKT2_2019"))


def write_layer(path: Path, schema: LayerSchema, wkt: str | None) -> None:
    """Write an empty layer into an unfinished GeoPackage; without a CRS, it has no geometry."""
    spatial = bool(schema.geometry_types) and wkt is not None
    pyogrio.raw.write(
        path,
        geometry=np.empty(0, dtype=object) if spatial else None,
        field_data=[np.empty(0, dtype=_STORED[f.type]) for f in schema.fields],
        fields=list(schema.columns),
        geometry_type=_stored_geometry(schema) if spatial else None,
        crs=wkt if spatial else None,
        layer=schema.name,
        driver="GPKG",
        append=path.exists(),
        # GDAL of QGIS 3.22 warns of later versions.
        dataset_options={"VERSION": "1.3"},
        IDENTIFIER=schema.title,
        DESCRIPTION=schema.description,
        gdal_tz_offsets={f.name: 0 for f in schema.fields if f.type == "datetime"},
    )


def _stored_geometry(schema: LayerSchema) -> str:
    """Return the narrowest geometry type that includes every allowed type."""
    types = set(schema.geometry_types)
    for widest in sorted(types, key=len, reverse=True):
        if types <= {widest, widest.removeprefix("Multi")}:
            return widest
    return "Unknown"
