"""Data goes one way: a package imports only those before it, and no modules import each other."""

from __future__ import annotations

import ast
from importlib import import_module
from itertools import chain
from pathlib import Path

import networkx as nx
import pytest

import leakgeo

PACKAGE = Path(leakgeo.__file__).parent
# The chain; the others stand above it.
PACKAGES = ("job", "route", "sound", "find", "dig", "deliver")
ABOVE = {"simulate", "runner", "answer", "cli", "desktop"}
# The plugin runs in the host's own Python.
FILES = {
    ".".join(("leakgeo", *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(
        ".__init__"
    ): path
    for path in sorted(PACKAGE.rglob("*.py"))
    if "plugin" not in path.parts
}


def imported(path: Path) -> set[str]:
    """Modules that a file imports, also within functions, but not those for types alone."""
    found: set[str] = set()
    nodes = [ast.parse(path.read_text("utf-8"))]
    while nodes:
        node = nodes.pop()
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            continue
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [f"{node.module}.{alias.name}" for alias in node.names]
            found |= {name if name in FILES else node.module for name in names}
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        nodes += ast.iter_child_nodes(node)
    return found & FILES.keys()


CHAIN = [m for m in FILES if m.split(".")[1:2] and m.split(".")[1] in PACKAGES]


@pytest.mark.parametrize("module", CHAIN)
def test_a_package_imports_only_packages_before_it(module):
    place = PACKAGES.index(module.split(".")[1])
    tops = {name.split(".")[1] for name in imported(FILES[module]) if "." in name}
    assert tops.isdisjoint({*PACKAGES[place + 1 :], *ABOVE})


# Packages of which others import what is exported, and nothing else.
WITH_INTERFACE = (
    "leakgeo.job.checks",
    "leakgeo.job.guards",
    "leakgeo.job.mapping",
    "leakgeo.job.sources",
)


@pytest.mark.parametrize("package", WITH_INTERFACE)
def test_others_import_only_what_a_package_exports(package):
    exported = import_module(package).__all__
    inside = []
    for module, path in FILES.items():
        if module != package and not module.startswith(f"{package}."):
            inside += [
                f"{module}: {node.module}.{alias.name}"
                for node in ast.walk(ast.parse(path.read_text("utf-8")))
                if isinstance(node, ast.ImportFrom) and (node.module or "").startswith(package)
                for alias in node.names
                if node.module != package or alias.name not in exported
            ]
    assert inside == []


def test_no_modules_import_each_other_in_a_circle():
    # The package itself is its face: it imports a name when it is asked for.
    edges = chain.from_iterable(
        ((module, name) for name in imported(path)) for module, path in FILES.items()
    )
    graph = nx.DiGraph((a, b) for a, b in edges if a != "leakgeo" and b not in ("leakgeo", a))
    circles = [sorted(c) for c in nx.strongly_connected_components(graph) if len(c) > 1]
    assert circles == []
