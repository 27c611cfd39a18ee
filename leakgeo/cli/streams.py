"""Guards of standard streams: closed, full or unread streams do not end a command."""

from __future__ import annotations

import errno
import io
import json
import os
import sys
import threading
import warnings
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

_OUT, _ERR = 1, 2
# Windows raises EINVAL for a pipe that nobody reads.
_NOT_READ = {errno.EPIPE, errno.ESHUTDOWN, *([errno.EINVAL] if os.name == "nt" else [])}
_EVENT = '{"event": '
_END = b"\x00end\n"


class _Raw(io.FileIO):
    """A file descriptor that drops what can't be written and keeps the first error."""

    def __init__(self, number: int, error: OSError | None = None) -> None:
        super().__init__(number, "wb", closefd=False)
        self.error, self.dropped = error, False

    def write(self, data: object) -> int | None:  # type: ignore[override]
        """Write `data`, or drop it after an error."""
        if self.error is None:
            try:
                return super().write(data)  # type: ignore[arg-type]
            except OSError as error:
                self.error = error
        self.dropped = True
        return memoryview(data).nbytes  # type: ignore[arg-type]


@contextmanager
def standard_streams(*, as_json: bool, warned: Callable[[str], None]) -> Iterator[Output]:
    """Guard the standard streams of this process while a command runs.

    Replaced streams, such as those of a test or a notebook, are not guarded.

    Parameters
    ----------
    as_json : bool
        Whether each line on stderr becomes a JSON object: a note, where libraries, compiled code
        or child processes wrote it.
    warned : callable
        Called with the text of each Python warning.

    Yields
    ------
    Output
        State of stdout.
    """
    _fill()
    out = Output(_guarded("stdout", _OUT))
    real = _guarded("stderr", _ERR) is not None
    with warnings.catch_warnings():
        # The job reports this as an accuracy. Filters of other threads can let the warning through.
        warnings.filterwarnings("ignore", "Best transformation is not available")
        warnings.showwarning = lambda message, category, *_, **__: warned(
            f"{category.__name__}: {message}"
        )
        if as_json and real:
            with _json_lines():
                yield out
        else:
            yield out


class Output:
    """State of standard output.

    Parameters
    ----------
    raw : object or None
        Guarded file descriptor; None where stdout is not guarded.
    """

    def __init__(self, raw: _Raw | None) -> None:
        self.raw = raw

    def problem(self) -> str:
        """Return why output is lost; ``""`` if all was written, or nobody reads it."""
        if self.raw is None:
            return ""
        sys.stdout.flush()
        error = self.raw.error
        if error is None or not self.raw.dropped or error.errno in _NOT_READ:
            return ""
        if error.errno == errno.EBADF:
            return "Standard output is closed, so nothing could be shown there."
        return f"Standard output can't be written ({error.strerror}), so not all was shown there."


def _fill() -> None:
    """Open closed streams on the null device, so that no result file gets their number."""
    for number in (0, _OUT, _ERR):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)


def _guarded(name: str, number: int) -> _Raw | None:
    """Guard a stream; return None if it is not the process's own."""
    stream: TextIO | None = getattr(sys, name)
    if stream is None:  # closed as the process began
        raw = _Raw(number, OSError(errno.EBADF, os.strerror(errno.EBADF)))
    elif stream is not getattr(sys, f"__{name}__") or (os.name == "nt" and stream.isatty()):
        return None
    else:
        stream.flush()
        raw = _Raw(number)
    setattr(sys, name, io.TextIOWrapper(
        io.BufferedWriter(raw), getattr(stream, "encoding", None) or "utf-8",
        getattr(stream, "errors", None) or "backslashreplace", line_buffering=True,
    ))  # fmt: skip
    return raw


@contextmanager
def _json_lines() -> Iterator[None]:
    """Turn everything written to stderr, also by child processes, into JSON lines."""
    own = os.dup(_ERR)
    take, give = os.pipe()
    os.dup2(give, _ERR)
    os.close(give)
    reader = threading.Thread(target=_pass_on, args=(take, own), daemon=True)
    reader.start()
    try:
        yield
    finally:
        sys.stderr.flush()
        # Child processes may hold the pipe open for longer.
        os.write(_ERR, b"\n" + _END)
        reader.join()
        os.dup2(own, _ERR)
        os.close(own)


def _pass_on(take: int, own: int) -> None:
    with open(take, "rb") as lines:
        for line in lines:
            if line == _END:
                return
            for event in json_events(line.decode(errors="replace").strip()):
                with suppress(OSError):
                    os.write(own, f"{event}\n".encode())


def json_events(line: str) -> list[str]:
    """Return a line of stderr as JSON objects: events unchanged, other text as notes.

    Examples
    --------
    >>> json_events('no end {"event": "progress"}')
    ['{"event": "note", "message": "no end"}', '{"event": "progress"}']
    """
    before, begin, rest = line.partition(_EVENT)
    event = begin + rest
    try:
        json.loads(event)
    except ValueError:
        before, event = line, ""
    note = json.dumps({"event": "note", "message": before.strip()}) if before.strip() else ""
    return [each for each in (note, event) if each]
