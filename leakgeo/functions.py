"""Functions of the steps, with signatures and docstrings from their declarations."""

from __future__ import annotations

import inspect
import re
import textwrap
from functools import cache
from typing import TYPE_CHECKING

from leakgeo.contract import WRITTEN
from leakgeo.registry import load_steps

if TYPE_CHECKING:
    from collections.abc import Callable

    from leakgeo.job.schema import LayerSchema
    from leakgeo.parameter import Parameter
    from leakgeo.registry import Step
    from leakgeo.result import Result

#: Type of the first argument of a step, as in ``__init__.pyi``.
SOURCE = "Result | Job | str | Path | Mapping[str, pd.DataFrame]"
_TYPES = {
    "number": "float", "integer": "int", "boolean": "bool", "text": "str", "date": "str | date",
    "folder": "str | Path", "file": "str | Path", "job": "str | Path",
}  # fmt: skip
_SOURCE_HELP = (
    "A result, a job, the path of a job, or its layers by name. Missing layers that the step needs "
    "are made first, with default parameters."
)
_WIDTH = 88


@cache
def function_of(name: str) -> Callable[..., Result]:
    """Return the function of a step, with its signature and docstring.

    Parameters
    ----------
    name : str
        Name of a step that loads.

    Examples
    --------
    >>> print(function_of("survey").__doc__.splitlines()[0])
    Rank the fittings listened to, and bracket the leak between the loudest.
    >>> str(inspect.signature(function_of("confirm")))
    '(source: ..., /, *, most_over_kpa: float = 68.95) -> Result'
    """
    step = load_steps()[name]

    def function(source: object, /, **given: object) -> Result:
        return step(source, **given)  # type: ignore[arg-type]

    function.__name__ = function.__qualname__ = name
    function.__module__ = "leakgeo"
    function.__doc__ = docstring(step)
    function.__signature__ = signature(step)  # type: ignore[attr-defined]
    return function


class _Verbatim(str):
    """An annotation whose repr is its text, without quotes."""

    __slots__ = ()

    def __repr__(self) -> str:
        return str(self)


def signature(step: Step) -> inspect.Signature:
    """Return the signature of a step, with types and defaults."""
    keyword, first = inspect.Parameter.KEYWORD_ONLY, inspect.Parameter.POSITIONAL_ONLY
    source = inspect.Parameter("source", first, annotation=_Verbatim("..."))
    rest = [
        inspect.Parameter(p.name, keyword, default=p.default, annotation=_Verbatim(annotation(p)))
        for p in step.parameters
    ]
    return inspect.Signature([source, *rest], return_annotation=_Verbatim("Result"))


def annotation(parameter: Parameter) -> str:
    """Return the type annotation of a parameter.

    Examples
    --------
    >>> from leakgeo.options import LINES, UNITS
    >>> annotation(LINES), annotation(UNITS)
    ('str | Sequence[str]', "Literal['si', 'us'] | None")
    """
    if parameter.kind == "choice":
        one = f"Literal[{', '.join(map(repr, parameter.choices))}]"
    else:
        one = _TYPES[parameter.kind]
    if parameter.many or parameter.listed:
        one = f"{one} | Sequence[{one}]"
    return f"{one} | None" if parameter.default is None else one


def docstring(step: Step) -> str:
    """Return the docstring of a step: parameters, layers, errors, and an example."""
    parts = [step.summary, *([_wrapped(step.about)] if step.about else []), _parameters(step),
             _returns(step), _raises(step)]  # fmt: skip
    if step.example:
        parts.append(_section("Examples", ">>> import leakgeo\n" + step.example.strip()))
    return "\n\n".join(parts)


def _section(title: str, text: str) -> str:
    return f"{title}\n{'-' * len(title)}\n{text}"


def _wrapped(text: str, indent: str = "", more: str = "") -> str:
    return textwrap.fill(
        text, _WIDTH, initial_indent=indent, subsequent_indent=indent + more,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip


def _parameters(step: Step) -> str:
    source = (
        "source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame\n"
        + _wrapped(_SOURCE_HELP, "    ")
    )
    return _section("Parameters", "\n".join([source, *map(_parameter, step.parameters)]))


def _parameter(p: Parameter) -> str:
    unit = f" [{p.unit}]" if p.unit else ""
    kind = "{" + ", ".join(map(repr, p.choices)) + "}" if p.choices else _numpydoc_type(p)
    return f"{p.name} : {kind}{unit}, default {p.default!r}\n{_wrapped(p.help + _range(p), '    ')}"


def _numpydoc_type(p: Parameter) -> str:
    """Return a type as numpydoc writes it, without None, which the default shows."""
    text = annotation(p).removesuffix(" | None").replace("Path", "pathlib.Path")
    return re.sub(r"Sequence\[(.*)\]", r"sequence of \1", text).replace(" | ", " or ")


def _range(p: Parameter) -> str:
    if p.minimum is None and p.maximum is None:
        return ""
    low = "" if p.minimum is None else f"from {p.minimum:g}"
    high = "" if p.maximum is None else f"to {p.maximum:g}"
    return f" Allowed: {' '.join(part for part in (low, high) if part)}."


def _returns(step: Step) -> str:
    from leakgeo.job.schema import load_schemas

    schemas = load_schemas("output")
    layers = [_layer(schemas[name], "made") for name in step.makes if name in schemas]
    layers += [_layer(schemas[name], "filled in further", step.name) for name in step.changes]
    files = [name for name in step.makes if name not in schemas]
    texts = [f"With {', '.join(files)} written into `out`."] if files else []
    if layers:
        texts.append("With these layers, in the job's local metre CRS:")
    elif not files:
        texts.append("With more layers.")
    lines = ["Result", *(_wrapped(text, "    ") for text in texts)]
    return _section("Returns", "\n".join([*lines, *(f"\n{layer}" for layer in layers)]))


def _layer(schema: LayerSchema, how: str, changed_by: str = "") -> str:
    """Describe a layer: its geometry types, and its columns with their units."""
    shapes = " or ".join(schema.geometry_types) or "table without geometry"
    head = f"- ``{schema.name}`` ({shapes}; {how}): {schema.description}"
    return f"{_wrapped(head, '    ', '  ')}\n{_wrapped(_columns(schema, changed_by), '      ')}"


def _columns(schema: LayerSchema, changed_by: str) -> str:
    """List the columns: those that a step makes, or adds to a layer, and who adds the others."""
    by: dict[str, list[str]] = {}
    for f in schema.fields:
        if f.name != WRITTEN:
            text = f"{f.name} [{f.unit}]" if f.unit else f.name
            by.setdefault(f.filled_in_by, []).append(text)
    if added := by.get(changed_by) if changed_by else None:
        return f"Columns added: {', '.join(added)}."
    made = ", ".join(by.pop("", []))
    later = [f" Added by {name}: {', '.join(own)}." for name, own in by.items()]
    later += [f" In files also {WRITTEN}."] if WRITTEN in schema.columns else []
    return f"Columns: {made}.{''.join(later)}"


def _raises(step: Step) -> str:
    errors = [
        "ParameterError\n    If a parameter is unknown or a value is not allowed.",
        "JobError\n    If `source` is the path of a job that can't be run at all.",
    ]
    if step.writes_files or any(p.name == "out" for p in step.parameters):
        errors.append("OutputError\n    If a file can't be written, or the layers do not belong "
                      "together.")  # fmt: skip
    return _section("Raises", "\n".join(errors))
