"""The public names of the package, which the reference and the checks of docstrings share."""

from __future__ import annotations

import inspect
from importlib import import_module

#: Public modules, in the order of the reference, and their names; None stands for all of them.
MODULES: dict[str, tuple[str, ...] | None] = {
    "leakgeo": None,
    "leakgeo.datasets": None,
    "leakgeo.simulate": None,
    "leakgeo.simulate.town": ("simulate_town", "write_town"),
    "leakgeo.simulate.job": ("fields_to_layers",),
    "leakgeo.simulate.site": ("Site", "draw_site"),
    "leakgeo.registry": None,
    "leakgeo.reason": ("Reason",),
    "leakgeo.wording": ("languages", "set_locale"),
    "leakgeo.progress": ("Progress",),
    "leakgeo.notebook": None,
}

# Of numpydoc's checks: a docstring and its summary; every parameter, no other, told of; what comes
# back, told of. Order is left free: fields that belong together stand together.
CHECKS = {"GL08", "SS01", "SS02", "SS03", "SS05", "SS06", "PR01", "PR02", "PR04", "PR07", "PR10",
          "RT01", "RT02", "RT03", "RT04"}  # fmt: skip


def names_of(module: str) -> list[str]:
    """Give the public names of a module that have a page: those it exports, or defines.

    Examples
    --------
    >>> names_of("leakgeo.notebook")
    ['table', 'collapsible']
    """
    home = import_module(module)
    defined = [name for name, value in vars(home).items()
               if (inspect.isfunction(value) or inspect.isclass(value))
               and value.__module__ == module]  # fmt: skip
    chosen = MODULES[module] or getattr(home, "__all__", defined)
    return [name for name in chosen if not name.startswith("_")]


def public_names() -> list[str]:
    """Give the full name of everything public."""
    return [f"{module}.{name}" for module in MODULES for name in names_of(module)]
