"""Processes that run chunks: one that dies is replaced, and no chunk is lost."""

from __future__ import annotations

import multiprocessing
import time
from types import SimpleNamespace

from leakgeo.runner.executors import Processes
from leakgeo.runner.journal import Journal


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
