"""What is declared is imported, what is imported is declared, and the reason is written down."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).parent.parent
DECLARED = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]


def names(requirements):
    return [re.match(r"[\w.-]+", requirement)[0] for requirement in requirements]


def test_imports_and_dependencies_are_the_same():
    call = [sys.executable, "-m", "deptry", "--no-ansi", "."]
    done = subprocess.run(call, capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stderr


def test_no_extra_has_what_is_required_anyway():
    required = {*names(DECLARED["dependencies"])}
    for extra, more in DECLARED["optional-dependencies"].items():
        assert required.isdisjoint(names(more)), extra


def test_each_dependency_has_its_reason_in_the_table():
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8").partition("\n## Dependencies\n")[2]
    rows = re.findall(r"^\| ([\w.-]+) \| \S", text.partition("\n## ")[0], flags=re.MULTILINE)
    assert rows[1:] == sorted(names(DECLARED["dependencies"]))
