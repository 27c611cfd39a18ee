"""Values that the host gives, as options of the command line."""

from __future__ import annotations

from qgis.core import NULL


def options(algorithm, step, parameters, context):
    """Give the options of a call; what is as leakgeo has it by default is left out."""
    given = []
    for told in step["parameters"]:
        if told["kind"] == "job":
            continue
        value = _value(algorithm, told, parameters, context)
        if value in (None, "", [], told["default"]):
            continue
        given += _option(told, value)
    return given


def _option(told, value):
    if told["kind"] == "boolean":
        return [told["option"] if value else told["option_off"]]
    values = value if told["many"] else [value]
    # With "=", so that a value may begin with a dash.
    return [f"{told['option']}={one}" for one in values]


def _value(algorithm, told, parameters, context):
    name, kind = told["name"], told["kind"]
    given = parameters.get(name)
    if kind != "boolean" and name in parameters and (given is None or given == NULL):
        return None
    if name not in parameters and told["default"] is None:
        return None
    return _READERS[kind](algorithm, told, parameters, context)


def _text(algorithm, told, parameters, context):
    if told["many"] and isinstance(parameters.get(told["name"]), (list, tuple)):
        return [str(one) for one in parameters[told["name"]]]
    text = algorithm.parameterAsString(parameters, told["name"], context)
    return [row.strip() for row in text.splitlines() if row.strip()] if told["many"] else text


def _date(algorithm, told, parameters, context):
    if not parameters.get(told["name"]):
        return None
    moment = algorithm.parameterAsDateTime(parameters, told["name"], context)
    return moment.date().toString("yyyy-MM-dd")


_READERS = {
    "number": lambda a, told, p, c: a.parameterAsDouble(p, told["name"], c),
    "integer": lambda a, told, p, c: a.parameterAsInt(p, told["name"], c),
    "boolean": lambda a, told, p, c: a.parameterAsBoolean(p, told["name"], c),
    "choice": lambda a, told, p, c: a.parameterAsEnumString(p, told["name"], c),
    "file": lambda a, told, p, c: a.parameterAsFile(p, told["name"], c),
    "folder": lambda a, told, p, c: a.parameterAsString(p, told["name"], c),
    "text": _text,
    "date": _date,
}
