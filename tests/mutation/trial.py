"""Tests in a forked process: of the package as it is, and of one mutant."""

from __future__ import annotations

import importlib
import importlib.machinery
import json
import os
import signal
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import Phase, settings

if TYPE_CHECKING:
    import ast
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from types import CodeType, ModuleType

    from tests.mutation.mutants import Mutant

ROOT = Path(__file__).parents[2]
_QUIET = ("-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--no-header", "--no-summary",
          "-W", "ignore::pytest.PytestAssertRewriteWarning")  # fmt: skip
# Imported once, before processes are forked; nothing of the package itself.
_HEAVY = ("geopandas", "holidays", "hypothesis", "numba", "pandas", "pint", "pyarrow", "pyogrio",
          "rasterio", "scipy.optimize", "scipy.special", "scipy.stats", "shapely")  # fmt: skip


class Quick:
    """Plugin: examples of properties are few, the same each time, and are not made smaller."""

    def pytest_collection(self) -> None:
        """Set it after the tests' own profile, and before their modules are imported."""
        settings.register_profile(
            "mutation", deadline=None, database=None, derandomize=True, max_examples=25,
            phases=(Phase.explicit, Phase.generate),
        )  # fmt: skip
        settings.load_profile("mutation")


class Recorder(Quick):
    """Plugin: which functions each passing test enters, and how long it takes."""

    def __init__(self, names: Sequence[str]) -> None:
        self.files, self.entered = frozenset(names), set[str]()
        self.tests: dict[str, tuple[float, list[str]]] = {}

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Record the calls of one test, with those of its fixtures."""
        self.entered = set()
        sys.settrace(self._entering)
        begin = time.process_time()
        yield
        sys.settrace(None)
        if item.nodeid not in self.tests:
            self.tests[item.nodeid] = (time.process_time() - begin, sorted(self.entered))

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Leave out what does not pass."""
        if not report.passed:
            self.tests[report.nodeid] = (0.0, [])

    def _entering(self, frame: Any, event: str, _: object) -> None:
        if event == "call" and frame.f_code.co_filename in self.files:
            self.entered.add(f"{frame.f_code.co_filename}::{frame.f_code.co_qualname}")


class Chosen(Quick):
    """Plugin: a mutant in place of its module, and some tests alone, the shortest first."""

    def __init__(self, mutant: Finder, seconds: Mapping[str, float]) -> None:
        self.mutant, self.seconds = mutant, seconds

    @pytest.hookimpl(tryfirst=True)
    def pytest_load_initial_conftests(self) -> None:
        """Come before any import, and before the finder of pytest, which takes given files."""
        sys.meta_path.insert(0, self.mutant)

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Keep the chosen tests."""
        kept = [item for item in items if item.nodeid in self.seconds]
        items[:] = sorted(kept, key=lambda item: self.seconds[item.nodeid])


class Finder(importlib.machinery.SourceFileLoader):
    """Finder and loader of one module, whose syntax tree is given."""

    def __init__(self, name: str, path: Path, tree: ast.Module) -> None:
        super().__init__(name, str(path))
        self.tree = tree

    def find_spec(
        self, fullname: str, _: object = None, __: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        """Return the spec of the mutant, and of no other module."""
        if fullname != self.name:
            return None
        return importlib.util.spec_from_file_location(fullname, self.path, loader=self)

    def get_code(self, _: str) -> CodeType:
        """Compile the mutant; no file of compiled code is read or written."""
        return compile(self.tree, self.path, "exec")


def preload() -> None:
    """Import what every process needs."""
    for name in _HEAVY:
        importlib.import_module(name)


def baseline(
    paths: Sequence[Path], tests: Sequence[str], out: Path
) -> dict[str, tuple[float, list[str]]]:
    """Run all tests once; return the seconds of each, and the functions that it enters."""

    def run() -> int:
        recorder = Recorder([str(path) for path in paths])
        pytest.main([*_QUIET, *tests], plugins=[recorder])
        out.write_text(json.dumps(recorder.tests), "utf-8")
        return 0

    if _in_child(run, 1800.0) != 0 or not out.exists():
        raise RuntimeError("The tests did not run on the package as it is.")
    found: dict[str, tuple[float, list[str]]] = json.loads(out.read_text("utf-8"))
    return found


def survives(mutant: Mutant, seconds: Mapping[str, float]) -> bool:
    """Return whether all tests pass on a mutant; one that takes much too long does not survive."""
    if not seconds:
        return True
    module = ".".join(mutant.path.relative_to(ROOT).with_suffix("").parts)
    files = sorted({nodeid.partition("::")[0] for nodeid in seconds})

    def run() -> int:
        chosen = Chosen(Finder(module, mutant.path, mutant.tree()), seconds)
        return int(pytest.main([*_QUIET, "-x", *files], plugins=[chosen]))

    return _in_child(run, 60.0 + 10.0 * sum(seconds.values())) == 0


def _in_child(run: Callable[[], int], limit_s: float) -> int:
    """Call a function in a forked process without output; return its exit code, -1 if killed."""
    child = os.fork()
    if child == 0:
        signal.alarm(int(limit_s))
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.dup2(null, 2)
        code = 70
        try:
            code = run()
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)
