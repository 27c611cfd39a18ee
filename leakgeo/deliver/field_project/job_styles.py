"""Forms and symbols inside a job, for those who open its layers without the project."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING, Any

from pyproj import CRS

from leakgeo.deliver.field_project.form_fields import Setting
from leakgeo.deliver.field_project.map_layer import style_qml
from leakgeo.deliver.geopackage.layer_styles import write_rows
from leakgeo.job.crs import base_geographic, horizontal, units_of
from leakgeo.job.schema import drawn_layers
from leakgeo.job.template import write_template
from leakgeo.wording.locales import ENGLISH

if TYPE_CHECKING:
    from pathlib import Path


def setting_of(
    crs: CRS, units: str | None = None, *, in_project: bool = True, language: str = ENGLISH
) -> Setting:
    """Return what forms depend on for a CRS, and units that a crew selected.

    Examples
    --------
    >>> from pyproj import CRS
    >>> setting_of(CRS(2263)).units, setting_of(CRS(4326)).unit_m
    ('us', None)
    """
    flat = horizontal(crs)
    unit_m = None if flat.is_geographic else flat.axis_info[0].unit_conversion_factor
    authority = base_geographic(crs).to_authority()
    geographic = ":".join(authority) if authority else "EPSG:4326"
    return Setting(units_of(crs, units), unit_m, geographic, in_project, language)


def write_job_form(
    path: str | Path, *, crs: Any = "EPSG:4326", units: str | None = None,
    language: str = ENGLISH,
) -> Path:  # fmt: skip
    """Write an empty job, whose layers have forms and symbols for QGIS.

    Parameters
    ----------
    path : str or pathlib.Path
        GeoPackage to create; it must not exist.
    crs : pyproj.CRS or any value that its constructor takes
        CRS of the layers.
    units : {"si", "us"}, optional
        Units of the tape and of labels; by default us for a CRS in feet, else si.
    language : str
        Language of labels, choices and hints; default English.

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
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_job_form(f"{folder}/job.gpkg").name
    'job.gpkg'
    """
    job = write_template(path, crs=crs)
    add_job_styles(job, crs=CRS(crs), units=units, language=language)
    return job


def add_job_styles(
    path: Path, *, crs: CRS, units: str | None = None, language: str = ENGLISH
) -> None:
    """Add form and symbols of each layer to an empty job, as its default style.

    Parameters
    ----------
    path : pathlib.Path
        GeoPackage with the layers of the template.
    crs : pyproj.CRS
        CRS of its layers.
    units : {"si", "us"}, optional
        Units of the tape and of labels; by default us for a CRS in feet, else si.
    language : str
        Language of labels, choices and hints; default English.
    """
    setting = setting_of(crs, units, in_project=False, language=language)
    rows = [
        (name, "geom" if schema.geometry_types else "", name[:30], style_qml(schema, setting), "",
         setting.words.title(schema.title))
        for name, schema in drawn_layers().items()
    ]  # fmt: skip
    with closing(sqlite3.connect(path)) as base, base:
        write_rows(base, rows)
