"""Results that many tests start from, made once for all processes of a test run.

``python -m tests`` makes them beside the static checks. A pytest that is run by itself makes those
that its tests ask for.
"""

from __future__ import annotations

import os
import pickle
import shutil
import sys
import sysconfig
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.runner.chain import run
from tests.__main__ import WHERE
from tests.town import TOWN, write_few

if TYPE_CHECKING:
    from leakgeo.result import Result

PACKAGE = Path(__file__).parents[1] / "leakgeo"


def made(name: str, folder: Path) -> tuple[Result, Path]:
    """Run the town, or a few lines of it, in one go; give the result and its folder."""
    job = TOWN if name == "town" else write_few(folder / "job.gpkg")
    return run(job, folder / "out"), folder / "out"


def given(name: str, folder: Path) -> tuple[Result, Path]:
    """Give a copy of what was made before; make it where nothing was."""
    before = Path(os.environ.get(WHERE, folder)) / name / "result.pickle"
    if not before.exists():
        return made(name, folder)
    shutil.copytree(before.parent, folder, dirs_exist_ok=True)
    return pickle.loads(before.read_bytes()), folder / "out"


def share_compiled(installed: Path) -> None:
    """Give the installed package, which commands run, the loops that were compiled here.

    A loop is compiled anew for every copy of its file, unless the copy has the same time.
    """
    for loop in PACKAGE.rglob("__pycache__/*.nb[ci]"):
        source = loop.parent.with_name(f"{loop.name.partition('.')[0]}.py")
        twin = installed / source.relative_to(PACKAGE)
        if twin.exists() and twin.read_bytes() == source.read_bytes():
            shutil.copystat(source, twin)
            (twin.parent / "__pycache__").mkdir(exist_ok=True)
            shutil.copy2(loop, twin.parent / "__pycache__")


def main() -> None:
    """Make everything into a folder; compile the loops by the way."""
    for name in ("town", "few"):
        folder = Path(sys.argv[1]) / name
        folder.mkdir(parents=True)
        result, _ = made(name, folder)
        (folder / "result.pickle").write_bytes(pickle.dumps(result))
    share_compiled(Path(sysconfig.get_path("purelib")) / "leakgeo")


if __name__ == "__main__":
    main()
