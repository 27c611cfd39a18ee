"""The documents are true: commands, Python, tables, files and pictures that they name."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from tests.site.blocks import run_page
from tests.tables import PAGES

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")


def between(text: str, mark: str, end: str) -> str:
    after = text.partition(f"<!-- {mark} -->\n")[2]
    return after.partition(f"<!-- {end} -->")[0].strip()


@pytest.mark.parametrize("page", PAGES)
def test_the_tables_are_current(page):
    """Where this fails: ``python -m tests.tables``."""
    assert (ROOT / page).read_text("utf-8") == PAGES[page]()


def test_the_readme_is_short_enough_to_be_read():
    assert 100 < len(README.splitlines()) <= 215


def test_the_python_of_the_readme_runs_and_holds_every_dig(capsys):
    names = run_page(README, ROOT, {"python"})
    said = capsys.readouterr().out
    assert "probability_within_1ft" in said
    assert set(names["result"]["dig_zones"]["dig_status"]) == {"hold"}


def test_the_test_command_installs_what_the_package_names_as_its_tests():
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    command = between(README, "test command", "end")
    assert "'.[test]'" in command
    assert "test" in extras["optional-dependencies"]


@pytest.mark.parametrize(
    "page", ["README.md", "DEVELOPERS.md", "data_schemas/README.md", "data_schemas/MAPPING.md"]
)
def test_pictures_and_files_that_are_named_are_there(page):
    # What stands as code is no link.
    text = re.sub(r"`[^`\n]*`", "", (ROOT / page).read_text("utf-8"))
    named = re.findall(r"\]\((?!http)([^)]+)\)", text)
    assert all(((ROOT / page).parent / name).is_file() for name in named)
    assert named or page != "README.md"


GUIDES = (
    "DEVELOPERS.md",
    *(p.relative_to(ROOT).as_posix() for p in ROOT.glob("leakgeo/**/README.md")),
)


@pytest.mark.parametrize("page", GUIDES)
def test_files_that_a_guide_names_are_there(page):
    text = (ROOT / page).read_text("utf-8")
    named = re.findall(r"`((?:[a-z_.]+/)+[a-z_.]*|[a-z_]+\.py)`", text)
    places = (ROOT, ROOT / "leakgeo", (ROOT / page).parent, (ROOT / page).parent / "plugin")
    assert [n for n in named if not any((place / n).exists() for place in places)] == []
