"""A job worked off by a Dask scheduler and two workers, all of them real processes."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from contextlib import ExitStack, contextmanager

import geopandas as gpd
import pytest

from leakgeo import run
from leakgeo.errors import ParameterError
from leakgeo.runner import executors
from leakgeo.runner.by_district import run as by_district
from tests.town import QUICK, TOWN, assert_same, assert_same_rows

FIRST = 120.0


@contextmanager
def started(*command, folder):
    with (folder / "log.txt").open("ab") as log:
        child = subprocess.Popen([sys.executable, "-m", *command], stdout=log, stderr=log,
                                 cwd=folder)  # fmt: skip
    try:
        yield child
    finally:
        child.kill()
        child.wait()


def scheduler(told, folder, port="0"):
    return started("distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", port,
                   "--scheduler-file", str(told), "--no-dashboard", folder=folder)  # fmt: skip


def worker(address, folder):
    return started("distributed.cli.dask_worker", address, "--no-nanny", "--nthreads", "1",
                   "--no-dashboard", folder=folder)  # fmt: skip


@pytest.fixture(scope="module")
def cluster(tmp_path_factory):
    """Address of a scheduler with two workers, and the workers."""
    folder = tmp_path_factory.mktemp("cluster")
    told = folder / "scheduler.json"
    with scheduler(told, folder):
        address = waited_for(told)
        with worker(address, folder) as one, worker(address, folder) as other:
            yield address, [one, other]


def waited_for(told):
    until = time.monotonic() + FIRST
    while time.monotonic() < until:
        if told.exists() and told.stat().st_size:
            return json.loads(told.read_text())["address"]
        time.sleep(0.05)
    raise AssertionError("no scheduler")


def test_a_cluster_gives_the_same_and_a_worker_that_dies_is_made_good(few, tmp_path, cluster):
    address, workers = cluster
    (job, result), out = few, tmp_path / "out"

    def kill_one(told):
        if str(told).startswith("chunks: 1 of"):
            os.kill(workers[0].pid, signal.SIGKILL)

    run(job, out, chunk_lines=2, scheduler=address, tell=kill_one)
    assert workers[0].wait(FIRST) == -signal.SIGKILL
    assert workers[1].poll() is None
    assert_same(result, out)


def test_districts_go_on_when_the_scheduler_comes_back(few, tmp_path, monkeypatch):
    monkeypatch.setattr(by_district, "FROM_LINES", 0)
    job, result = few
    told = tmp_path / "scheduler.json"
    with ExitStack() as running:
        first = running.enter_context(scheduler(told, tmp_path))
        address = waited_for(told)
        running.enter_context(worker(address, tmp_path))

        def kill_once(progress):
            if str(progress).startswith("chunks: 1 of") and first.poll() is None:
                first.kill()
                first.wait()
                port = address.rpartition(":")[2]
                running.enter_context(scheduler(told, tmp_path, port))
                running.enter_context(worker(address, tmp_path))

        done = run(job, tmp_path / "out", chunk_lines=2, scheduler=address, tell=kill_once, **QUICK)
    assert first.poll() == -signal.SIGKILL
    assert done.counted is not None
    assert_same_rows(result, tmp_path / "out")


def test_no_scheduler_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr(executors, "_TIMEOUT", "1s")
    with pytest.raises(ParameterError, match="scheduler: none answers at tcp"):
        run(TOWN, tmp_path / "out", scheduler="tcp://127.0.0.1:1")


def test_workers_and_a_scheduler_are_not_both(tmp_path):
    with pytest.raises(ParameterError, match="workers and scheduler: give one of them"):
        run(TOWN, tmp_path / "out", scheduler="tcp://x:1", workers=2)


def test_a_job_in_memory_is_not_for_a_cluster(tmp_path):
    layers = {n: gpd.read_file(TOWN, layer=n) for n in ("routes", "readings")}
    with pytest.raises(ParameterError, match="workers of a cluster can't read a job in memory"):
        run(layers, tmp_path / "out", scheduler="tcp://x:1")
