"""What each check of this folder is compared with, as a table for ``python -m tests.tables``."""

from __future__ import annotations

import importlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import ModuleType

SUBJECTS = (
    "position",
    "direction",
    "sound",
    "profile",
    "posterior",
    "water",
    "steps",
    "digging",
    "files",
    "trade",
)
Test = TypeVar("Test", bound="Callable[..., Any]")
_HEAD = "| what is checked | against | source | how close | where |\n|---|---|---|---|---|"


@dataclass(frozen=True)
class Check:
    """One row of the table; `close` may name `within`, which the test is given and asserts."""

    what: str
    against: str
    source: str
    close: str
    within: float | None = None
    where: str = ""

    def row(self) -> str:
        """Give the row as Markdown."""
        close = self.close.format(within=self.within).replace("e-0", "e-")
        return f"| {self.what} | {self.against} | {self.source} | {close} | `{self.where}` |"


def outside(
    what: str, *, against: str, source: str, close: str, within: float | None = None
) -> Callable[[Test], Test]:
    """Mark a test as a check against the outside; ``within`` reaches it as a fixture.

    Several tests may share a row: it is told once, with the file that they are in.
    """

    def mark(test: Test) -> Test:
        test.outside = Check(what, against, source, close, within)  # type: ignore[attr-defined]
        return test

    return mark


def checks_of(module: ModuleType) -> list[Check]:
    """Give the checks of one file, in the order they are written in, each once."""
    found = [f.outside for f in vars(module).values() if hasattr(f, "outside")]
    return [replace(c, where=f"{module.__name__.rpartition('.')[2]}.py")
            for c in dict.fromkeys(found)]  # fmt: skip


def outside_table() -> str:
    """Lay out all checks, by subject."""
    parts = []
    for subject in SUBJECTS:
        if not Path(__file__).with_name(f"test_{subject}.py").exists():
            continue
        module = importlib.import_module(f"tests.outside.test_{subject}")
        rows = [check.row() for check in checks_of(module)]
        parts += [f"| **{subject.capitalize()}** | | | | |", *rows]
    return "\n".join([_HEAD, *parts])
