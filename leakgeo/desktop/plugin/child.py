"""leakgeo as a child process: its events, its result, and clean-up after cancellation."""

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

# Time that leakgeo has to clean up after an interrupt, before it is killed.
_SECONDS_TO_STOP = 5.0


class Canceled(Exception):  # noqa: N818 - requested by the user, not an error
    """The user canceled the run; no process of it is left."""


def run(command, scratch, on_event, is_canceled):
    """Run leakgeo, and wait until it ends.

    Parameters
    ----------
    command : list of str
    scratch : pathlib.Path
        Folder for temporary files; the caller removes it.
    on_event : callable
        Called with each line that leakgeo writes to stderr: a dict if it is an event, else a str.
    is_canceled : callable
        Returns whether to stop leakgeo; called about ten times a second.

    Returns
    -------
    code : int
        Exit code.
    document : dict
        JSON document of leakgeo; empty if it wrote none.

    Raises
    ------
    Canceled
        If the user canceled the run.
    """
    document = Path(scratch) / "document.json"
    with document.open("wb") as out:
        child = _start(command, out, scratch)
    lines = queue.Queue()
    reader = threading.Thread(target=_read, args=(child.stderr, lines), daemon=True)
    reader.start()
    try:
        _listen(child, reader, lines, on_event, is_canceled)
    except BaseException:
        _stop(child)
        raise
    finally:
        reader.join(1.0)
        child.stderr.close()
    try:
        return child.returncode, json.loads(document.read_text("utf-8"))
    except ValueError:
        return child.returncode, {}


def _start(command, out, scratch):
    # A separate process group, so that the children of leakgeo can be stopped with it.
    group = no_window() if WINDOWS else {"start_new_session": True}
    return subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=out, stderr=subprocess.PIPE,
        env=environment(scratch), **group,
    )  # fmt: skip


def _read(stream, lines):
    try:
        for line in stream:
            lines.put(line.decode("utf-8", "replace").rstrip())
    except ValueError:
        pass  # closed after the child was stopped


def _listen(child, reader, lines, on_event, is_canceled):
    while True:
        if is_canceled():
            raise Canceled
        ended = child.poll() is not None and not reader.is_alive()
        try:
            line = lines.get(timeout=0.0 if ended else 0.1)
        except queue.Empty:
            if ended:
                return
            continue
        on_event(_event(line))


def _event(line):
    try:
        event = json.loads(line)
    except ValueError:
        return line
    return event if isinstance(event, dict) else line


def _stop(child):
    """Interrupt leakgeo so that it cleans up, then kill what is left of it and its children."""
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
    with contextlib.suppress(ProcessLookupError, PermissionError):  # no process is left
        os.killpg(child.pid, number)


class OutFolder:
    """Output folder of a run, restored to its state before the run if the run fails."""

    def __init__(self, path):
        self.path = Path(path)
        self.missing = [p for p in (self.path, *self.path.parents) if not p.exists()]
        self.staged_before = set(self.path.glob(".leakgeo-*")) if self.path.is_dir() else set()
        self.record_before = self._record()

    def _record(self):
        path = self.path / "run.json"
        return path.read_bytes() if path.is_file() else b""

    def is_unchanged(self):
        """Return whether no run has written results since this object was made."""
        return self._record() == self.record_before

    def restore(self):
        """Remove staged files of a failed run: a run moves its results into place at the end."""
        if self.path.is_dir():
            for new in set(self.path.glob(".leakgeo-*")) - self.staged_before:
                # The next run completes a commit that has begun.
                if not (new / "commit.json").exists():
                    shutil.rmtree(new, ignore_errors=True)
        for folder in self.missing:
            if folder.is_dir() and not any(folder.iterdir()):
                folder.rmdir()
