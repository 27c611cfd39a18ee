"""Every block of code on a page of the site runs, in a copy of the example."""

from __future__ import annotations

import shutil

import pytest

from tests.site.blocks import blocks_of, run_page
from tests.site.build import GUIDE
from tests.town import TOWN

PAGES = sorted(path.relative_to(GUIDE).as_posix() for path in GUIDE.rglob("*.md"))


@pytest.mark.parametrize("page", PAGES)
def test_every_block_of_a_page_runs(page, tmp_path, request):
    text = (GUIDE / page).read_text("utf-8")
    (tmp_path / "examples" / "town").mkdir(parents=True)
    shutil.copy(TOWN, tmp_path / "examples" / "town")
    # A page that goes on from a run begins with the results of the town.
    if text.startswith("---\nstart: out\n---\n"):
        shutil.copytree(request.getfixturevalue("town")[1], tmp_path / "out")
    run_page(text, tmp_path)


WRONG = {
    "python that raises": "```python\n1 / 0\n```",
    "another output of Python": "```pycon\n>>> 1 + 1\n3\n```",
    "no line of Python": "```pycon\n1\n```",
    "another exit code": "```console exit=1\n$ leakgeo --version\n```",
    "another output of a command": "```console\n$ leakgeo --version\nthree\n```",
    "a command of another program": "```console\n$ ls\n```",
    "a kind that nothing runs": "```bash\nls\n```",
    "a directive for code": "```{code-block} python\nimport leakgeo\n```",
    "run by a test that is not there": "```console run-by=tests/none.py\n$ ls\n```",
    "data that can't be read": "```toml\na = \n```",
    "within a note": "````{note}\n```python\n1 / 0\n```\n````",
    "a command that is no console block": "```text\nleakgeo run job.gpkg\n```",
    "without a kind": "```\n1\n```",
}


@pytest.mark.parametrize("wrong", WRONG)
def test_a_block_that_is_wrong_is_found(wrong, tmp_path):
    with pytest.raises((AssertionError, ArithmeticError, ValueError)):
        run_page(WRONG[wrong], tmp_path)


def test_blocks_of_a_page_share_names_and_files(tmp_path):
    page = (
        "```text file=one.txt\n1\n```\n\n:::{note}\n```python\nfrom pathlib import Path\n"
        "x = int(Path('one.txt').read_text())\n```\n:::\n\n```pycon\n>>> x\n1\n```\n"
        "```console\n$ leakgeo --version\nleakgeo, ...\n```\n"
    )
    assert len(list(blocks_of(page))) == 4
    assert run_page(page, tmp_path)["x"] == 1
