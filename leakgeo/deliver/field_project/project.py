"""The project file: layers, their tree, themes for day and night, snapping and units."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from pyproj import CRS
from pyproj.exceptions import ProjError

from leakgeo.deliver.field_project.job_styles import setting_of, write_job_form
from leakgeo.deliver.field_project.map_layer import (
    GROUND,
    LIGHTS,
    add_ground,
    add_layer,
    tree_layer,
)
from leakgeo.deliver.field_project.snapping import add_snapping
from leakgeo.deliver.folder.atomic import out_folder, write_new
from leakgeo.deliver.qgis.project_parts import (
    TreeGroup,
    add_canvas,
    add_properties,
    add_theme,
    add_tree,
    project_root,
)
from leakgeo.deliver.qgis.project_parts import project_text as as_text
from leakgeo.deliver.qgis.words import caution_in_both
from leakgeo.errors import OutputError
from leakgeo.job.crs import transformer
from leakgeo.job.schema import drawn_layers
from leakgeo.job.sources import FIELD_JOB
from leakgeo.wording.locales import ENGLISH

if TYPE_CHECKING:
    from leakgeo.deliver.field_project.form_fields import Setting
    from leakgeo.wording import Wording

#: Names of the job and of the project in their folder.
PROJECT = "job.qgs"
# Groups of the layer tree, topmost first.
_TREE = {
    "Stops and fittings": ("readings", "contacts"),
    "Digs": ("dig_outcomes",),
    "Valves": ("valves",),
    "Pipe": ("routes",),
    "In the way": ("utility_points", "utility_lines", "utility_areas"),
    "Ground and history": ("history_points", "history_areas", "surfaces"),
    "Tests": ("meter_tests", "isolation_tests", "closed_valves", "action_results"),
    "Night": (GROUND,),
}
_CLOSED = ("Ground and history", "Night")


def write_field_project(
    folder: str | Path, *, crs: Any = "EPSG:4326", units: str | None = None,
    language: str = ENGLISH,
) -> list[Path]:  # fmt: skip
    """Write an empty job with a QGIS project beside it, for a crew in the field.

    The project has a form for each layer, with defaults and checks, and symbols for day and night.
    It uses the GeoPackage and core expressions alone, with relative paths.

    Parameters
    ----------
    folder : str or pathlib.Path
        Folder to write ``job.gpkg`` and ``job.qgs`` into; created if it is missing.
    crs : pyproj.CRS or any value that its constructor takes
        CRS of the layers and of the map.
    units : {"si", "us"}, optional
        Units of the tape, of labels and of measuring; by default us for a CRS in feet, else si.
        Columns stay in SI.
    language : str
        Language of layers, labels, choices and hints; default English.

    Returns
    -------
    list of pathlib.Path
        Files written.

    Raises
    ------
    OutputError
        If a file exists or can't be written.
    ParameterError
        If `crs` is neither geographic nor projected.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [path.name for path in write_field_project(folder, crs="EPSG:2263")]
    ['job.gpkg', 'job.qgs']
    """
    out = out_folder(Path(folder))
    if (out / PROJECT).exists():
        raise OutputError(f"{out / PROJECT} exists. Give another folder, or move the file.")
    job, known = write_job_form(out / FIELD_JOB, crs=crs, units=units, language=language), CRS(crs)
    write_new(project_text(known, setting_of(known, units, language=language)), out / PROJECT)
    return [job, out / PROJECT]


def project_text(crs: CRS, setting: Setting) -> str:
    """Return the project as XML; the same for the same arguments.

    Parameters
    ----------
    crs : pyproj.CRS
    setting : Setting
    """
    words = setting.words
    root = project_root(f"{words.title('Leak survey')}. {caution_in_both(words)}", crs)
    # The form shows the defaults before the row is stored.
    ET.SubElement(root, "evaluateDefaultValues", active="0")
    add_tree(root, _groups(words))
    add_snapping(root)
    # A crew zooms to its own place.
    add_canvas(root, crs, _bounds(crs))
    layers = ET.SubElement(root, "projectlayers")
    for schema in drawn_layers().values():
        add_layer(layers, schema, setting, crs)
    add_ground(layers, crs, words)
    add_properties(root, setting.units, caution_in_both(words))
    _add_themes(root, words)
    return as_text(root)


def _groups(words: Wording) -> list[TreeGroup]:
    """Return the groups of the tree; layers without one are before the last, which is below all."""
    listed = {name for names in _TREE.values() for name in names}
    others = tuple(name for name in drawn_layers() if name not in listed)
    *groups, ground = _TREE.items()
    every = [*groups, *([("Other", others)] if others else []), ground]
    return [TreeGroup(words.title(title), tuple(tree_layer(name, words) for name in names),
                      title not in _CLOSED)
            for title, names in every]  # fmt: skip


def _bounds(crs: CRS) -> tuple[float, float, float, float]:
    area = crs.area_of_use
    if area is None:
        return (-1000.0, -1000.0, 1000.0, 1000.0)
    if crs.is_geographic:
        return area.bounds
    try:
        own = transformer(crs.geodetic_crs, crs)
        return own.transform_bounds(*area.bounds)
    except ProjError:
        return (-1000.0, -1000.0, 1000.0, 1000.0)


def _add_themes(root: ET.Element, words: Wording) -> None:
    presets = ET.SubElement(root, "visibility-presets")
    names = [layer.name for group in _groups(words) for layer in group.layers]
    for theme in LIGHTS:
        shown = [name for name in names if name != GROUND or theme != "Day"]
        styles = {name: words.title(theme) for name in shown
                  if name != GROUND and drawn_layers()[name].geometry_types}  # fmt: skip
        add_theme(presets, words.title(theme), shown, styles)
