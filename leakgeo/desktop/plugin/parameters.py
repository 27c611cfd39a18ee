"""QGIS parameter definitions from the input layers and parameters in the catalog of leakgeo."""

from __future__ import annotations

from qgis.core import (
    QgsProcessing,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterDateTime,
    QgsProcessingParameterDefinition,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFeatureSource,
    QgsProcessingParameterFile,
    QgsProcessingParameterFileDestination,
    QgsProcessingParameterFolderDestination,
    QgsProcessingParameterMultipleLayers,
    QgsProcessingParameterNumber,
    QgsProcessingParameterString,
)

from .catalog_words import label_words
from .language import default_language, tr, tr_catalog

_KINDS = {"Point": QgsProcessing.TypeVectorPoint, "LineString": QgsProcessing.TypeVectorLine,
          "Polygon": QgsProcessing.TypeVectorPolygon}  # fmt: skip
# Groups that `run` shows at once; its other parameters are many, and go under "Advanced".
_BASIC_GROUPS = ("The job", "Output")
# Parameters that few need, in whatever group they are.
_RARE = ("where", "keep_earlier", "to_postgis", "schema", "upsert")


def _labels():
    """Return labels that say more than the names on the command line, by parameter."""
    return {
        "mapping": tr("Mapping of other names, codes and units"),
        "lines": tr("Only these lines"),
        "overwrite": tr("Replace earlier results in the folder"),
        "keep_earlier": tr("Keep the replaced results, marked as superseded"),
        "to_postgis": tr("PostGIS database to write to as well (URL)"),
        "schema": tr("Schema of that database"),
        "upsert": tr("Keep rows of other lines in that database"),
        "where": tr("Only lines that meet this condition"),
    }


def geometry_kinds(layer):
    """Return the QGIS source types of the geometries that a layer may have."""
    simple = (name.replace("Multi", "") for name in layer["geometry_types"])
    return [_KINDS[name] for name in dict.fromkeys(simple)]


def accepts_many(layer):
    """Return whether several QGIS layers, of one geometry type each, may form the layer."""
    return len(geometry_kinds(layer)) > 1


def layer_parameter(layer):
    """Return the definition of the parameter for a layer of the job."""
    # All are optional, as a job file takes their place; QGIS adds "[optional]" to the label.
    needed = tr("{label}, needed without a job file") if layer["required"] else "{label}"
    label = needed.format(label=tr_catalog(layer["title"]))
    if accepts_many(layer):
        definition = QgsProcessingParameterMultipleLayers(
            layer["name"], tr("{label} (one or more layers, all features)").format(label=label),
            QgsProcessing.TypeVector, optional=True,
        )  # fmt: skip
    else:
        kinds = geometry_kinds(layer) or [QgsProcessing.TypeVector]
        definition = QgsProcessingParameterFeatureSource(layer["name"], label, kinds, optional=True)
    definition.setHelp(tr_catalog(layer["description"]))
    return definition


def step_parameters(step):
    """Return the parameter definitions of a step, except for the job: layers take its place."""
    return [_definition(step, p) for p in step["parameters"] if p["kind"] != "job"]


def parameter_label(parameter):
    """Return the label of a parameter: its name in words, and its unit."""
    name, unit = parameter["name"], parameter["unit"]
    if name == "out":
        is_folder = parameter["kind"] == "folder"
        return tr("Folder of the results") if is_folder else tr("Draft of the mapping")
    if name in _labels():
        return _labels()[name]
    words = tr_catalog(label_words(parameter))
    return f"{words} [{unit}]" if unit else words


def _definition(step, parameter):
    definition = _MAKERS[parameter["kind"]](parameter)
    definition.setHelp(tr_catalog(parameter["help"]))
    flags = definition.flags()
    empty = parameter["default"] is None or parameter["kind"] == "text"
    if empty and not parameter["required"] and parameter["name"] != "out":
        flags |= QgsProcessingParameterDefinition.FlagOptional
    many = step["name"] == "run" and parameter["group"] not in _BASIC_GROUPS
    if many or parameter["name"] in _RARE:
        flags |= QgsProcessingParameterDefinition.FlagAdvanced
    definition.setFlags(flags)
    return definition


def _number(p):
    # Not QgsProcessingParameterDistance: its values are in the units of a layer's CRS, not metres.
    whole = p["kind"] == "integer"
    kind = QgsProcessingParameterNumber.Integer if whole else QgsProcessingParameterNumber.Double
    definition = QgsProcessingParameterNumber(
        p["name"], parameter_label(p), kind, p["default"], p["default"] is None
    )
    if p["minimum"] is not None:
        definition.setMinimum(p["minimum"])
    if p["maximum"] is not None:
        definition.setMaximum(p["maximum"])
    if not whole:
        definition.setMetadata({"widget_wrapper": {"decimals": 4}})
    return definition


def _boolean(p):
    return QgsProcessingParameterBoolean(p["name"], parameter_label(p), bool(p["default"]))


def _choice(p):
    default = default_language(p) if p["name"] == "language" else p["default"]
    return QgsProcessingParameterEnum(
        p["name"], parameter_label(p), p["choices"], False, default, p["default"] is None, True
    )


def _text(p):
    label = parameter_label(p)
    label = tr("{label}, one per row").format(label=label) if p["many"] else label
    default = "\n".join(p["default"]) if p["many"] else p["default"]
    return QgsProcessingParameterString(p["name"], label, default, p["many"], True)


def _date(p):
    return QgsProcessingParameterDateTime(
        p["name"], parameter_label(p), QgsProcessingParameterDateTime.Date, p["default"], True
    )


def _file(p):
    if p["name"] == "out":
        return QgsProcessingParameterFileDestination(
            p["name"], parameter_label(p), tr("Mappings (*.toml)"), p["default"]
        )
    # The path of a folder, such as that of an earlier result, can be typed.
    return QgsProcessingParameterFile(
        p["name"], parameter_label(p), defaultValue=p["default"], optional=not p["required"],
        fileFilter=f"{tr('All files and folders')} (*)",
    )  # fmt: skip


def _folder(p):
    return QgsProcessingParameterFolderDestination(
        p["name"], parameter_label(p), p["default"], not p["required"], True
    )


_MAKERS = {"number": _number, "integer": _number, "boolean": _boolean, "choice": _choice,
           "text": _text, "date": _date, "file": _file, "folder": _folder}  # fmt: skip
