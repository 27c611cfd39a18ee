"""Write an empty job GeoPackage with every input layer, as a form for the user's data."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pyogrio.raw
import pyproj

from leakgeo.errors import OutputError, ParameterError
from leakgeo.job.column_descriptions import write_column_descriptions
from leakgeo.job.crs import is_georeferenced
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
    path, wkt = Path(path), _wkt(crs)
    if path.suffix.casefold() != ".gpkg":
        raise OutputError(f"{path} is not a GeoPackage. Give a name that ends in .gpkg.")
    if path.exists():
        raise OutputError(f"{path} exists. Give another name, or move the file.")
    schemas = drawn_layers()
    try:
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=".leakgeo-") as folder:
            draft = Path(folder) / path.name
            for schema in schemas.values():
                _write_layer(draft, schema, wkt)
            write_column_descriptions(draft, schemas.values())
            # Unlike rename, a hard link never replaces a file that was created meanwhile.
            move_into_place(draft, path)
    except OSError as error:
        raise OutputError(f"{path} can't be written: {error.strerror or error}.") from error
    return path


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


def move_into_place(draft: Path, path: Path) -> None:
    """Move a finished file to its path, where no file may be.

    Raises
    ------
    FileExistsError
        If a file was created there meanwhile.
    """
    try:
        path.hardlink_to(draft)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        draft.rename(path)


def _write_layer(path: Path, schema: LayerSchema, wkt: str) -> None:
    spatial = bool(schema.geometry_types)
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
