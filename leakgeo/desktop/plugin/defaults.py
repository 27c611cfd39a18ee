"""What a dialog proposes from the open project; models and scripts get nothing of it."""

from __future__ import annotations

from pathlib import Path

from qgis.core import QgsProcessingParameterDefinition, QgsProject

from .job_input import JOB_FILE
from .matching import crs_of_routes, folder_of, in_feet, job_file_of_project, layers_by_name
from .parameters import accepts_many

_RECORD = "run.json"


def propose(algorithm, layers):
    """Set the defaults of an algorithm that is about to be shown.

    Parameters
    ----------
    algorithm : QgsProcessingAlgorithm
        It must be the one of the dialog alone.
    layers : list of dict
        Input layers of the catalog that it takes.
    """
    if algorithm.parameterDefinition(JOB_FILE) is not None and not layers:
        return  # a file with layers of another form
    job_file = job_file_of_project(_active_layer())
    found = {} if job_file else layers_by_name(layers)
    if job_file:
        _set(algorithm, JOB_FILE, job_file)
        for layer in layers:
            _hide(algorithm, layer["name"])
    for layer in layers:
        if layer["name"] in found:
            ids = found[layer["name"]]
            _set(algorithm, layer["name"], ids if accepts_many(layer) else ids[0])
    routes = found.get("routes", [""])[0]
    of_routes = crs_of_routes(job_file, routes)
    known = [of_routes] if of_routes is not None else []
    if in_feet(*known, QgsProject.instance().crs()):
        _set(algorithm, "units", "us")
    _propose_folder(algorithm, folder_of(job_file, routes))


def _propose_folder(algorithm, folder):
    """Propose a folder beside the job, and say so if that replaces earlier results."""
    out = algorithm.parameterDefinition("out")
    if not folder or out is None or out.type() != "folderDestination":
        return
    _set(algorithm, "out", str(Path(folder) / "out"))
    if (Path(folder) / "out" / _RECORD).is_file():
        _set(algorithm, "overwrite", True)


def _active_layer():
    from qgis.utils import iface

    return iface.activeLayer() if iface is not None else None


def _set(algorithm, name, value):
    definition = algorithm.parameterDefinition(name)
    if definition is not None:
        definition.setDefaultValue(value)


def _hide(algorithm, name):
    """Move a parameter under Advanced."""
    definition = algorithm.parameterDefinition(name)
    definition.setFlags(definition.flags() | QgsProcessingParameterDefinition.FlagAdvanced)
