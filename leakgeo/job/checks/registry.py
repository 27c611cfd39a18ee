"""The declared checks of a job: each is one function, which is found by its decorator.

A check is written into any module of this package and declared with `check`. It is given the rows
of a layer and the collector of what is found, and by the names of its further arguments whatever
else it asks for: the routes, the CRS that the layer came in, or parameters of the run.
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
#: What a check may ask for beside the rows, the collector and parameters of the run.
CONTEXT = ("schema", "routes", "crs", "read_crs", "routes_crs")
_AT_HAND: Mapping[Stage, tuple[str, ...]] = {"read": ("schema",), "local": CONTEXT}
_declared: list[Check] = []


@dataclass(frozen=True)
class Check:
    """A declared check.

    Parameters
    ----------
    name : str
    function : callable
    layers : tuple of str
        Layers whose rows it looks at; empty for all.
    stage : {"read", "local"}
    order : int
        Lower ones come first; those of one order go by name.
    asks : tuple of str
        What it is given beside the rows and the collector.
    """

    name: str
    function: Function
    layers: tuple[str, ...]
    stage: Stage
    order: int
    asks: tuple[str, ...]


def check(
    *layers: str, stage: Stage = "local", order: int = 1000
) -> Callable[[Function], Function]:
    """Declare a function as a check of some layers, or of all where none is named.

    Parameters
    ----------
    *layers : str
        Layers as the data contract names them.
    stage : {"read", "local"}
        ``read``: with columns in their types, and geometry in the CRS that the layer came in;
        ``local``: with every layer in the job's metre CRS, and linked to the routes.
    order : int
        Checks of lower order come first. A row keeps the first reason that it is given.

    Returns
    -------
    callable
        Decorator of a function that takes ``rows``, a table of which row k is named
        ``issues.labels[k]``, and ``issues``, the collector to report to. By name it may ask for
        ``schema``, the layer's `LayerSchema`; at the stage ``local`` also for ``routes``, the good
        routes, for ``crs``, the job's, and for ``read_crs`` and ``routes_crs``, those that the
        layer and the routes came in; at either for each of `leakgeo.options.CHECK_PARAMETERS`.

    Raises
    ------
    TypeError
        If the function asks for anything else.

    Examples
    --------
    >>> def deep(rows, issues, route_sd): ...
    >>> check("routes")(deep)
    Traceback (most recent call last):
        ...
    TypeError: The check deep asks for route_sd. It may ask for schema, routes, crs, read_crs, \
routes_crs, route_sd_m, reading_sd_m, tape_sd_m.
    """
    known = (*_AT_HAND[stage], *(p.name for p in CHECK_PARAMETERS))

    def declare(function: Function) -> Function:
        name = function.__name__
        asks = tuple(inspect.signature(function).parameters)[2:]
        if unknown := [a for a in asks if a not in known]:
            raise TypeError(
                f"The check {name} asks for {', '.join(unknown)}. It may ask for "
                f"{', '.join(known)}."
            )
        _declared.append(Check(name, function, layers, stage, order, asks))
        return function

    return declare


@cache
def load_checks() -> tuple[Check, ...]:
    """Give every check that is declared in a module of this package, in order."""
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
        Values of `leakgeo.options.CHECK_PARAMETERS`, as `check_settings` gives them.
    **context
        What the checks may ask for at that stage, besides ``schema``.
    """
    issues = layer.issues()
    given = {**parameters, **context, "schema": layer.schema}
    for one in load_checks():
        if one.stage == stage and (not one.layers or layer.schema.in_job in one.layers):
            one.function(layer.table, issues, **{name: given[name] for name in one.asks})
    return layer.with_issues(issues)


def check_settings(given: Mapping[str, object]) -> dict[str, object]:
    """Fill in defaults of the parameters that checks may ask for, and check what was given.

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
