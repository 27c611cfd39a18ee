"""Data goes one way: a room imports only rooms to its left."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import leakgeo

PACKAGE = Path(leakgeo.__file__).parent
ROOMS = ("job", "route", "sound", "find", "dig", "deliver")
FILES = sorted(p for room in ROOMS for p in (PACKAGE / room).glob("*.py"))


def rooms_imported(file: Path) -> set[str]:
    nodes = list(ast.walk(ast.parse(file.read_text("utf-8"))))
    modules = [n.module for n in nodes if isinstance(n, ast.ImportFrom) and n.module]
    modules += [alias.name for n in nodes if isinstance(n, ast.Import) for alias in n.names]
    parts = [m.split(".") for m in modules if m.startswith("leakgeo.")]
    return {p[1] for p in parts}


@pytest.mark.parametrize("file", FILES, ids=lambda f: f"{f.parent.name}/{f.name}")
def test_a_room_imports_only_rooms_to_its_left(file):
    place = ROOMS.index(file.parent.name)
    assert rooms_imported(file).isdisjoint({*ROOMS[place + 1 :], "simulate", "cli", "chain"})
