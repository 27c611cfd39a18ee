"""leakgeo as a child process: what it says while it runs, and an end that leaves nothing behind."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import shutil
import signal
import subprocess
import threading
import time
from pathlib import Path

from .program import WINDOWS, environment, no_window

# So long it may take to clear up after itself when it is asked to stop.
_SECONDS_TO_STOP = 5.0


class Stopped(Exception):  # noqa: N818 - no error: the user asked for it
    """The user has stopped it; nothing is left of it."""


def run(command, scratch, heard, stopped):
    """Run leakgeo to its end.

    Parameters
    ----------
    command : list of str
    scratch : pathlib.Path
        Folder for what is temporary; it goes with whoever made it.
    heard : callable
        Called with each event that leakgeo tells, as a dict, and with each other line, as text.
    stopped : callable
        Whether to stop it; asked ten times a second.

    Returns
    -------
    code : int
    document : dict
        Empty where it ended without one.

    Raises
    ------
    Stopped
        If it was stopped.
    """
    told = Path(scratch) / "document.json"
    with told.open("wb") as out:
        child = _start(command, out, scratch)
    lines = queue.Queue()
    reader = threading.Thread(target=_read, args=(child.stderr, lines), daemon=True)
    reader.start()
    try:
        _listen(child, reader, lines, heard, stopped)
    except BaseException:
        _stop(child)
        raise
    finally:
        reader.join(1.0)
        child.stderr.close()
    try:
        return child.returncode, json.loads(told.read_text("utf-8"))
    except ValueError:
        return child.returncode, {}


def _start(command, out, scratch):
    # A group of its own, so that its own children can be stopped with it.
    own = no_window() if WINDOWS else {"start_new_session": True}
    return subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=out, stderr=subprocess.PIPE,
        env=environment(scratch), **own,
    )  # fmt: skip


def _read(stream, lines):
    try:
        for line in stream:
            lines.put(line.decode("utf-8", "replace").rstrip())
    except ValueError:
        pass  # closed, as the child was stopped


def _listen(child, reader, lines, heard, stopped):
    while True:
        if stopped():
            raise Stopped
        over = child.poll() is not None and not reader.is_alive()
        try:
            line = lines.get(timeout=0.0 if over else 0.1)
        except queue.Empty:
            if over:
                return
            continue
        heard(_event(line))


def _event(line):
    try:
        event = json.loads(line)
    except ValueError:
        return line
    return event if isinstance(event, dict) else line


def _stop(child):
    """Ask it to stop, so that it clears up; then stop it and its children for good."""
    if WINDOWS:
        subprocess.run(["taskkill", "/T", "/F", "/PID", str(child.pid)], check=False,
                       capture_output=True, **no_window())  # fmt: skip
        child.wait()
        return
    _signal(child, signal.SIGINT)
    end = time.monotonic() + _SECONDS_TO_STOP
    while child.poll() is None and time.monotonic() < end:
        time.sleep(0.05)
    _signal(child, signal.SIGKILL)
    child.wait()


def _signal(child, number):
    with contextlib.suppress(ProcessLookupError, PermissionError):  # none of them is left
        os.killpg(child.pid, number)


class OutFolder:
    """The folder that results go to, put back as it was where the run does not end well."""

    def __init__(self, path):
        self.path = Path(path)
        self.missing = [p for p in (self.path, *self.path.parents) if not p.exists()]
        self.before = set(self.path.glob(".leakgeo-*")) if self.path.is_dir() else set()
        self.record = self._record()

    def _record(self):
        path = self.path / "run.json"
        return path.read_bytes() if path.is_file() else b""

    def is_as_it_was(self):
        """Whether no run has put its results there since."""
        return self._record() == self.record

    def put_back(self):
        """Remove what a run that was stopped has staged: results are put in place at the end."""
        if self.path.is_dir():
            for new in set(self.path.glob(".leakgeo-*")) - self.before:
                # What is committed already is completed by the next run.
                if not (new / "commit.json").exists():
                    shutil.rmtree(new, ignore_errors=True)
        for made in self.missing:
            if made.is_dir() and not any(made.iterdir()):
                made.rmdir()
