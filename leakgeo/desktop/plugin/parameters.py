"""Parameters and layers of leakgeo as the host's own; all that is said of them leakgeo says."""

from __future__ import annotations

from qgis.core import (
    QgsProcessing,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterDateTime,
    QgsProcessingParameterDefinition,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFeatureSource,
    QgsProcessingParameterFile,
    QgsProcessingParameterFolderDestination,
    QgsProcessingParameterMultipleLayers,
    QgsProcessingParameterNumber,
    QgsProcessingParameterString,
)

_KINDS = {"Point": QgsProcessing.TypeVectorPoint, "LineString": QgsProcessing.TypeVectorLine,
          "Polygon": QgsProcessing.TypeVectorPolygon}  # fmt: skip
# Shown at once whatever the step; the others of `run` are many, and wait under the host's fold.
_IN_SIGHT = ("The job", "Output")


def kinds_of(layer):
    """Give the kinds of geometry that a layer may have, as the host names them."""
    simple = (name.replace("Multi", "") for name in layer["geometry_types"])
    return [_KINDS[name] for name in dict.fromkeys(simple)]


def many_layers(layer):
    """Tell whether a layer is put together from several, as one of the host has one geometry."""
    return len(kinds_of(layer)) > 1


def layer_parameter(layer):
    """Give the parameter by which a layer of the job is chosen."""
    # The host adds to a label that it is optional.
    label, optional = layer["title"], not layer["required"]
    if many_layers(layer):
        made = QgsProcessingParameterMultipleLayers(
            layer["name"], f"{label}: all features of each", QgsProcessing.TypeVector,
            optional=optional,
        )  # fmt: skip
    else:
        kinds = kinds_of(layer) or [QgsProcessing.TypeVector]
        made = QgsProcessingParameterFeatureSource(layer["name"], label, kinds, optional=optional)
    made.setHelp(layer["description"])
    return made


def step_parameters(step):
    """Give the parameters of a step, but for its job, which is made of layers."""
    return [_parameter(step, told) for told in step["parameters"] if told["kind"] != "job"]


def label_of(told):
    """Give the label of a parameter: its name in words, and its unit."""
    name, unit = told["name"], told["unit"]
    if unit and name.endswith(f"_{unit.lower()}"):
        name = name[: -len(unit) - 1]
    words = name.replace("_", " ")
    return f"{words[:1].upper()}{words[1:]}{f' [{unit}]' if unit else ''}"


def _parameter(step, told):
    made = _MAKERS[told["kind"]](told)
    made.setHelp(told["help"])
    flags = made.flags()
    if not told["required"] and (told["default"] is None or told["kind"] == "text"):
        flags |= QgsProcessingParameterDefinition.FlagOptional
    if step["name"] == "run" and told["group"] not in _IN_SIGHT:
        flags |= QgsProcessingParameterDefinition.FlagAdvanced
    made.setFlags(flags)
    return made


def _number(told):
    # No "distance" of the host: that takes the units of a layer's CRS, and these are metres always.
    whole = told["kind"] == "integer"
    kind = QgsProcessingParameterNumber.Integer if whole else QgsProcessingParameterNumber.Double
    made = QgsProcessingParameterNumber(
        told["name"], label_of(told), kind, told["default"], told["default"] is None
    )
    if told["minimum"] is not None:
        made.setMinimum(told["minimum"])
    if told["maximum"] is not None:
        made.setMaximum(told["maximum"])
    if not whole:
        made.setMetadata({"widget_wrapper": {"decimals": 4}})
    return made


def _boolean(told):
    return QgsProcessingParameterBoolean(told["name"], label_of(told), bool(told["default"]))


def _choice(told):
    return QgsProcessingParameterEnum(
        told["name"], label_of(told), told["choices"], False, told["default"],
        told["default"] is None, True,
    )  # fmt: skip


def _text(told):
    label = f"{label_of(told)}, one a row" if told["many"] else label_of(told)
    default = "\n".join(told["default"]) if told["many"] else told["default"]
    return QgsProcessingParameterString(told["name"], label, default, told["many"], True)


def _date(told):
    return QgsProcessingParameterDateTime(
        told["name"], label_of(told), QgsProcessingParameterDateTime.Date, told["default"], True
    )


def _file(told):
    return QgsProcessingParameterFile(
        told["name"], label_of(told), defaultValue=told["default"], optional=not told["required"]
    )


def _folder(told):
    return QgsProcessingParameterFolderDestination(
        told["name"], label_of(told), told["default"], not told["required"], True
    )


_MAKERS = {"number": _number, "integer": _number, "boolean": _boolean, "choice": _choice,
           "text": _text, "date": _date, "file": _file, "folder": _folder}  # fmt: skip
