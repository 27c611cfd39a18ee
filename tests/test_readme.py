"""The README keeps its word: its commands, its Python, and its tables of layers."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from leakgeo.job.docs import layers_table
from leakgeo.registry import load_steps

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")
SNIPPETS = re.findall(r"```python\n(.*?)```", README, flags=re.DOTALL)


def between(text: str, mark: str, end: str) -> str:
    after = text.partition(f"<!-- {mark} -->\n")[2]
    return after.partition(f"<!-- {end} -->")[0].strip()


@pytest.mark.parametrize("role", ["input", "output"])
def test_the_tables_of_layers_are_those_of_the_schemas(role):
    """Where this fails, put the text of ``leakgeo.job.docs.layers_table`` between the marks."""
    assert between(README, f"{role} layers", f"end of {role} layers") == layers_table(role)


def test_there_is_python_to_try():
    assert SNIPPETS


@pytest.mark.parametrize("snippet", SNIPPETS)
def test_the_python_of_the_readme_runs_and_holds_every_dig(snippet, monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    names: dict[str, object] = {}
    exec(snippet, names)
    said = capsys.readouterr().out
    assert "probability_within_1ft" in said
    assert set(names["result"]["dig_zones"]["dig_status"]) == {"hold"}


def test_every_step_is_named():
    assert all(f"`{name}`" in README or f"leakgeo {name}" in README for name in load_steps())


def test_the_test_command_installs_what_the_package_names_as_its_tests():
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    command = between(README, "test command", "end")
    assert "'.[test]'" in command
    assert "test" in extras["optional-dependencies"]


def test_pictures_and_files_that_are_named_are_there():
    named = re.findall(r"\]\((?!http)([^)]+)\)", README)
    assert named
    assert all((ROOT / name).is_file() for name in named)


def test_files_that_the_developers_guide_names_are_there():
    table = (ROOT / "DEVELOPERS.md").read_text("utf-8").partition("### Files")[2]
    rows = [row.split("|")[1] for row in table.partition("## ")[0].splitlines() if row[:3] == "| `"]
    assert len(rows) > 20
    for row in rows:
        names = re.findall(r"`([^`]+)`", row)
        room = names[0].rpartition("/")[0]
        for name in names:
            place = name if "/" in name[:-1] or not room else f"{room}/{name}"
            assert list((ROOT / "leakgeo").glob(place)), name
