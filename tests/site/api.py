"""Pages of the Python interface: one for each public name."""

from __future__ import annotations

import inspect
from importlib import import_module

import leakgeo
from tests.site.markdown import page
from tests.site.public import MODULES, names_of

_INTRO = """Every public name has a page of its own. Other modules are internal, and may change
without notice. Arguments and columns with a unit have its name at their end: `_m` is metres, `_db`
decibels, `_kpa` kilopascals."""

_MEMBERS = {
    "autofunction": "",
    "autoexception": "   :members:\n",
    "autoclass": "   :members:\n   :inherited-members: Mapping\n",
}


def pages() -> dict[str, str]:
    """Give the page of the interface, and one of each name."""
    index = page("# Python", _INTRO, *(_module(module) for module in MODULES))
    return {"reference/api/index.md": index} | {
        f"reference/api/{module}.{name}.md": _page(module, name)
        for module in MODULES for name in names_of(module)
    }  # fmt: skip


def _page(module: str, name: str) -> str:
    found = getattr(import_module(module), name)
    directive = "autofunction" if not inspect.isclass(found) else (
        "autoexception" if issubclass(found, Exception) else "autoclass")  # fmt: skip
    text = f".. {directive}:: {module}.{name}\n{_MEMBERS[directive]}"
    return page(f"# {module}.{name}", f"```{{eval-rst}}\n{text}```")


def _module(module: str) -> str:
    kinds: dict[str, list[str]] = {}
    for name in names_of(module):
        kinds.setdefault(_kind(module, name), []).append(name)
    lists = [f"### {kind}\n\n{_listed(module, names)}" if len(kinds) > 1 else _listed(module, names)
             for kind, names in sorted(kinds.items(), reverse=True)]  # fmt: skip
    hidden = "\n".join(f"{module}.{name}" for name in names_of(module))
    summary = (import_module(module).__doc__ or "").partition("\n")[0]
    return page(f"(module-{module})=\n## {module}", summary, *lists,
                f"```{{toctree}}\n:hidden:\n\n{hidden}\n```").strip()  # fmt: skip


def _kind(module: str, name: str) -> str:
    if module == "leakgeo" and name in leakgeo._STEPS:
        return "Steps"
    found = getattr(import_module(module), name)
    if not inspect.isclass(found):
        return "Functions"
    return "Errors" if issubclass(found, Exception) else "Classes"


def _listed(module: str, names: list[str]) -> str:
    listed = "\n".join(f"   ~{module}.{name}" for name in names)
    return f"```{{eval-rst}}\n.. autosummary::\n\n{listed}\n```"
