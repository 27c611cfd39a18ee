"""Processes that run chunks: one that dies is replaced, and no chunk is lost."""

from __future__ import annotations

import multiprocessing
import os
import subprocess
import sys
import time
from multiprocessing.spawn import get_preparation_data
from pathlib import Path
from types import ModuleType, SimpleNamespace

from leakgeo.processes import no_script_for_children
from leakgeo.runner.executors import Processes
from leakgeo.runner.journal import Journal

# Longer than a process takes to end on any machine.
LONG_S = 20.0


class NoWork:
    """A task and its result, of one empty file."""

    def run(self, _):
        """Return the result of any chunk."""
        return self

    def files(self):
        """Return the files of the result."""
        return {"empty": b""}


def test_a_process_that_dies_between_two_chunks_is_replaced(tmp_path):
    journal, done = Journal(tmp_path, {}), []
    journal.begin(resume=False)

    def kill_one():
        done.append(1)
        if len(done) == 1:
            child = multiprocessing.active_children()[0]
            child.kill()
            child.join()
            # The pool notices before the next chunk is submitted.
            time.sleep(1)

    plan = SimpleNamespace(chunk=lambda number: SimpleNamespace(number=number))
    Processes(journal, 2).run_chunks(plan, range(6), NoWork(), kill_one)
    assert len(done) == 6
    assert all(journal.has(number) for number in range(6))


# A run whose chunks take long, and that is killed once both workers are at work.
_KILLED = """
import os, signal, sys
from pathlib import Path
from types import SimpleNamespace
from leakgeo.runner.executors import Processes
from leakgeo.runner.journal import Journal
from tests.test_executors import Endless
journal = Journal(Path(sys.argv[1]), {})
journal.begin(resume=False)
if __name__ == "__main__":
    plan = SimpleNamespace(chunk=lambda number: SimpleNamespace(number=number))
    Processes(journal, 2).run_chunks(plan, range(2), Endless(), None)
"""


class Endless:
    """A task that takes long, and writes to stdout when it begins and ends."""

    def run(self, _):
        """Write the number of the process, wait, write that it is still there, and end it."""
        os.write(1, f"{os.getpid()}\n".encode())
        time.sleep(LONG_S)
        os.write(1, b"still there\n")
        os._exit(1)


def test_workers_end_with_a_run_that_is_killed(tmp_path):
    script = tmp_path / "run.py"
    script.write_text(_KILLED, encoding="utf-8")
    with subprocess.Popen(
        [sys.executable, str(script), str(tmp_path)], stdout=subprocess.PIPE, text=True,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[1])},
    ) as run:  # fmt: skip
        assert run.stdout is not None
        workers = [int(run.stdout.readline()) for _ in range(2)]
        run.kill()
        assert run.stdout.read() == ""  # both have closed it
    assert len({*workers}) == 2


def test_a_process_can_be_started_without_the_script_of_this_one(monkeypatch):
    main = ModuleType("__main__")
    main.__file__ = __file__
    monkeypatch.setitem(sys.modules, "__main__", main)

    def script():
        return {key for key in get_preparation_data("worker") if key.startswith("init_main")}

    before = script()
    with no_script_for_children():
        assert script() == set()
    assert script() == before != set()
