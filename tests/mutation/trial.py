"""Tests in a forked process: of the package as it is, and of one mutant.

A mutant of a function is tried in a fork of a process that has collected all tests: the code of the
function is replaced there. Other mutants need a process that imports the changed module.
"""

from __future__ import annotations

import functools
import importlib
import importlib.machinery
import inspect
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

    Trials = Sequence[tuple[Mutant, Mapping[str, float]]]

_QUIET = ("-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--no-header", "--no-summary",
          "-W", "ignore::pytest.PytestAssertRewriteWarning")  # fmt: skip
# Imported once, before processes are forked; nothing of the package itself.
_HEAVY = ("geopandas", "holidays", "hypothesis", "numba", "pandas", "pint", "pyarrow", "pyogrio",
          "rasterio", "scipy.optimize", "scipy.special", "scipy.stats", "shapely")  # fmt: skip


# Exit code of a trial whose function can't be changed in place.
_NOT_IN_PLACE = 71


class Quick:
    """Plugin: examples of properties are few, the same each time, and are not made smaller."""

    def pytest_collection(self) -> None:
        """Set it after the tests' own profile, and before their modules are imported."""
        settings.register_profile(
            "mutation", deadline=None, database=None, derandomize=True, max_examples=10,
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
    """Plugin: a mutant in place of its module, and some tests alone, in a given order."""

    def __init__(self, mutant: Finder, seconds: Mapping[str, float]) -> None:
        self.mutant, self.seconds = mutant, seconds

    @pytest.hookimpl(tryfirst=True)
    def pytest_load_initial_conftests(self) -> None:
        """Come before any import, and before the finder of pytest, which takes given files."""
        sys.meta_path.insert(0, self.mutant)

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Keep the chosen tests."""
        known = {item.nodeid: item for item in items}
        items[:] = [known[name] for name in self.seconds]


class Session(Quick):
    """Plugin: in place of all tests, each mutant is tried in a fork of the collected session."""

    def __init__(self, trials: Trials, out: Path) -> None:
        self.trials, self.out = trials, out

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try the mutants, and keep the exit code of each."""
        items = {item.nodeid: item for item in session.items}
        known = json.loads(self.out.read_text("utf-8")) if self.out.exists() else {}
        for mutant, seconds in self.trials:
            chosen = [items[name] for name in seconds]
            tried = functools.partial(_tried, session, mutant, chosen)
            known[mutant.name] = _in_child(tried, _limit_s(seconds))
            self.out.write_text(json.dumps(known), "utf-8")
        return True


def _tried(session: pytest.Session, mutant: Mutant, items: Sequence[pytest.Item]) -> int:
    """Change the function, then run tests until one fails; 0 if none does."""
    if not _change(mutant):
        return _NOT_IN_PLACE
    for item, following in zip(items, [*items[1:], None], strict=True):
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if session.testsfailed:
            return 1
    return 0


def _change(mutant: Mutant) -> bool:
    """Replace the code of the function that holds the change; False if that is not possible."""
    name = (mutant.owner or "").partition(".<locals>")[0]
    here: Any = sys.modules[mutant.module]
    for part in name.split("."):
        here = inspect.getattr_static(here, part, None)
        here = getattr(here, "__wrapped__", None) or getattr(here, "fget", None) or here
        here = getattr(here, "__func__", here)
    before = getattr(here, "__code__", None)
    after = _code_of(compile(mutant.tree(), mutant.path, "exec"), name)
    # Defaults and decorators are no part of the code.
    if before is None or after is None or (after.co_code, after.co_consts) == (
        before.co_code, before.co_consts
    ):  # fmt: skip
        return False
    try:
        here.__code__ = after
    except (TypeError, ValueError):
        return False
    return True


def _code_of(code: CodeType, name: str) -> CodeType | None:
    """Return the code of the function of a qualified name within compiled code."""
    for part in code.co_consts:
        if inspect.iscode(part):
            found = part if part.co_qualname == name else _code_of(part, name)
            if found:
                return found
    return None


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


def survived(trials: Trials, out: Path) -> list[bool]:
    """Return of each mutant whether all its tests pass on it.

    One that no test enters survives; one that takes much too long does not. `out` keeps the answers
    of those that were tried in place, so that an interrupted run goes on.
    """
    known: dict[str, int] = json.loads(out.read_text("utf-8")) if out.exists() else {}
    left = [(m, tests) for m, tests in trials if tests and m.name not in known]
    files = sorted({name.partition("::")[0] for _, tests in left for name in tests})
    if left:
        _in_child(lambda: int(pytest.main([*_QUIET, *files], plugins=[Session(left, out)])), None)
        known = json.loads(out.read_text("utf-8"))
    for mutant, tests in left:
        if known[mutant.name] == _NOT_IN_PLACE:
            known[mutant.name] = _in_new_process(mutant, tests)
            out.write_text(json.dumps(known), "utf-8")
    return [not tests or known[mutant.name] == 0 for mutant, tests in trials]


def _in_new_process(mutant: Mutant, seconds: Mapping[str, float]) -> int:
    """Import the package with the mutant, and run its tests; 0 if all pass."""
    files = sorted({nodeid.partition("::")[0] for nodeid in seconds})

    def run() -> int:
        chosen = Chosen(Finder(mutant.module, mutant.path, mutant.tree()), seconds)
        return int(pytest.main([*_QUIET, "-x", *files], plugins=[chosen]))

    return _in_child(run, _limit_s(seconds))


def _limit_s(seconds: Mapping[str, float]) -> float:
    return 60.0 + 10.0 * sum(seconds.values())


def _in_child(run: Callable[[], int], limit_s: float | None) -> int:
    """Call a function in a forked process without output; return its exit code, -1 if killed."""
    child = os.fork()
    if child == 0:
        if limit_s is not None:
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
