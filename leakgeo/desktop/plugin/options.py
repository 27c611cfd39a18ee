"""Command line options from the parameter values that QGIS passes."""

from __future__ import annotations

from qgis.core import NULL


def command_options(algorithm, step, values, context):
    """Return the command line options of a step, without those at leakgeo's defaults.

    Parameters
    ----------
    algorithm : QgsProcessingAlgorithm
    step : dict
        A step of the catalog.
    values : dict
        Values by parameter name, as QGIS passes them.
    context : QgsProcessingContext

    Returns
    -------
    list of str
    """
    arguments = []
    for parameter in step["parameters"]:
        if parameter["kind"] == "job":
            continue
        value = _value(algorithm, parameter, values, context)
        if value in (None, "", [], parameter["default"]):
            continue
        arguments += _arguments(parameter, value)
    return arguments


def _arguments(parameter, value):
    if parameter["kind"] == "boolean":
        return [parameter["option"] if value else parameter["option_off"]]
    values = value if parameter["many"] else [value]
    if parameter["option"] is None:
        return [str(value)]
    # With "=", so that a value may begin with a dash.
    return [f"{parameter['option']}={one}" for one in values]


def _value(algorithm, parameter, values, context):
    name, kind = parameter["name"], parameter["kind"]
    value = values.get(name)
    if kind != "boolean" and name in values and (value is None or value == NULL):
        return None
    if name not in values and parameter["default"] is None:
        return None
    return _READERS[kind](algorithm, parameter, values, context)


def _text(algorithm, parameter, values, context):
    name, many = parameter["name"], parameter["many"]
    if many and isinstance(values.get(name), (list, tuple)):
        return [str(one) for one in values[name]]
    text = algorithm.parameterAsString(values, name, context)
    return [row.strip() for row in text.splitlines() if row.strip()] if many else text


def _date(algorithm, parameter, values, context):
    if not values.get(parameter["name"]):
        return None
    moment = algorithm.parameterAsDateTime(values, parameter["name"], context)
    return moment.date().toString("yyyy-MM-dd")


_READERS = {
    "number": lambda a, parameter, v, c: a.parameterAsDouble(v, parameter["name"], c),
    "integer": lambda a, parameter, v, c: a.parameterAsInt(v, parameter["name"], c),
    "boolean": lambda a, parameter, v, c: a.parameterAsBoolean(v, parameter["name"], c),
    "choice": lambda a, parameter, v, c: a.parameterAsEnumString(v, parameter["name"], c),
    "file": lambda a, parameter, v, c: a.parameterAsString(v, parameter["name"], c),
    "folder": lambda a, parameter, v, c: a.parameterAsString(v, parameter["name"], c),
    "text": _text,
    "date": _date,
}
