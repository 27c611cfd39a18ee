"""Registry of the checks of a job; each check is a function with the decorator `check`.

A check may be defined in any module of this package. It is called with the rows of a layer and an
`IssueCollector`; further arguments are passed by name, such as the routes, the CRS that the layer
was read in, or parameters of the run.
"""

from __future__ import annotations

import inspect
import pkgutil
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from leakgeo.errors import ParameterError
from leakgeo.options import CHECK_PARAMETERS

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from leakgeo.job.checks.layer import CheckedLayer

    Function = Callable[..., None]

Stage = Literal["read", "local"]
#: Arguments of a check besides the rows, the collector and parameters of the run.
CONTEXT = ("schema", "routes", "contacts", "crs", "read_crs", "routes_crs")
_AVAILABLE: Mapping[Stage, tuple[str, ...]] = {"read": ("schema",), "local": CONTEXT}
_declared: list[Check] = []


@dataclass(frozen=True)
class Check:
    """A declared check.

    Parameters
    ----------
    name : str
    function : callable
    layers : tuple of str
        Layers that are checked; empty for all.
    stage : {"read", "local"}
    order : int
        Checks run by ascending order, then by name.
    arguments : tuple of str
        Names of the arguments besides the rows and the collector.
    """

    name: str
    function: Function
    layers: tuple[str, ...]
    stage: Stage
    order: int
    arguments: tuple[str, ...]


def check(
    *layers: str, stage: Stage = "local", order: int = 1000
) -> Callable[[Function], Function]:
    """Declare a function as a check of some layers, or of all layers if none is named.

    Parameters
    ----------
    *layers : str
        Layers as the data contract names them.
    stage : {"read", "local"}
        ``read``: columns have their types, and geometry is in the CRS that the layer was read in;
        ``local``: every layer is in the local metre CRS and linked to the routes.
    order : int
        Checks of lower order run first. A row keeps the first reason that is reported.

    Returns
    -------
    callable
        Decorator of a function that takes ``rows``, a table of which row k is called
        ``issues.labels[k]``, and ``issues``, the collector to report to. Further arguments, by
        name: ``schema``, the layer's `LayerSchema`; each of `leakgeo.options.CHECK_PARAMETERS`;
        at the stage ``local`` also ``routes``, the good routes, ``contacts``, all fittings or None,
        ``crs``, the local CRS, and ``read_crs`` and ``routes_crs``, the CRS that the layer and the
        routes were read in.

    Raises
    ------
    TypeError
        If the function has any other argument.

    Examples
    --------
    >>> def deep(rows, issues, route_sd): ...
    >>> check("routes")(deep)
    Traceback (most recent call last):
        ...
    TypeError: The check deep has the unknown argument route_sd. Allowed are schema, routes, \
contacts, crs, read_crs, routes_crs, route_sd_m, reading_sd_m, tape_sd_m.
    """
    known = (*_AVAILABLE[stage], *(p.name for p in CHECK_PARAMETERS))

    def declare(function: Function) -> Function:
        name = function.__name__
        arguments = tuple(inspect.signature(function).parameters)[2:]
        if unknown := [a for a in arguments if a not in known]:
            raise TypeError(
                f"The check {name} has the unknown argument {', '.join(unknown)}. Allowed are "
                f"{', '.join(known)}."
            )
        _declared.append(Check(name, function, layers, stage, order, arguments))
        return function

    return declare


@cache
def load_checks() -> tuple[Check, ...]:
    """Return every check declared in a module of this package, in the order of running."""
    package = __name__.rpartition(".")[0]
    for module in pkgutil.iter_modules([str(Path(__file__).parent)]):
        import_module(f"{package}.{module.name}")
    return tuple(sorted(_declared, key=lambda one: (one.order, one.name)))


def run_checks(
    layer: CheckedLayer, stage: Stage, parameters: Mapping[str, object], **context: object
) -> CheckedLayer:
    """Run the declared checks of a layer at one stage.

    Parameters
    ----------
    layer : CheckedLayer
    stage : {"read", "local"}
    parameters : mapping of str to object
        Values of `leakgeo.options.CHECK_PARAMETERS`, as returned by `check_settings`.
    **context
        Other arguments of the checks at that stage, besides ``schema``.
    """
    issues = layer.issues()
    given = {**parameters, **context, "schema": layer.schema}
    for one in load_checks():
        if one.stage == stage and (not one.layers or layer.schema.job_layer in one.layers):
            one.function(layer.table, issues, **{name: given[name] for name in one.arguments})
    return layer.with_issues(issues)


def check_settings(given: Mapping[str, object]) -> dict[str, object]:
    """Validate parameters of the checks, and fill in defaults.

    Raises
    ------
    ParameterError
        If a name is unknown or a value is not allowed.

    Examples
    --------
    >>> check_settings({"route_sd_m": "5"})["route_sd_m"]
    5.0
    """
    known = [p.name for p in CHECK_PARAMETERS]
    if unknown := sorted(set(given) - set(known)):
        raise ParameterError(
            f"The checks of a job have no parameter {', '.join(unknown)}; "
            f"they have {', '.join(known)}."
        )
    return {p.name: p.check(given.get(p.name)) for p in CHECK_PARAMETERS}
