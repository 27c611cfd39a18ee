"""Standard streams that may be closed, full, or no longer read: none of them ends a command."""

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
# Windows says EINVAL of a pipe that nobody reads.
_NOT_READ = {errno.EPIPE, errno.ESHUTDOWN, *([errno.EINVAL] if os.name == "nt" else [])}
_EVENT = '{"event": '
_END = b"\x00end\n"


class _Raw(io.FileIO):
    """A file descriptor; what can't be written is dropped, and the first error kept."""

    def __init__(self, number: int, error: OSError | None = None) -> None:
        super().__init__(number, "wb", closefd=False)
        self.error, self.dropped = error, False

    def write(self, data: object) -> int | None:  # type: ignore[override]
        """Write what can be written."""
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

    Streams that stand for others, such as those of a test or a notebook, are left as they are.

    Parameters
    ----------
    as_json : bool
        Each line on stderr is to be a JSON object: what libraries, compiled ones and child
        processes write there becomes a note.
    warned : callable
        Called with the text of each warning of Python.

    Yields
    ------
    Output
        Whether stdout took what was written.
    """
    _fill()
    out = Output(_guarded("stdout", _OUT))
    real = _guarded("stderr", _ERR) is not None
    with warnings.catch_warnings():
        # Told as an accuracy. Where it arises it is caught, but not while a thread lifts filters.
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
    """Standard output as it turned out.

    Parameters
    ----------
    raw : object or None
        None where it is not guarded.
    """

    def __init__(self, raw: _Raw | None) -> None:
        self.raw = raw

    def trouble(self) -> str:
        """Say why output is lost; ``""`` if all was written, or nobody reads it."""
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
    """Open what is closed, or the next file would get its number, and what is printed with it."""
    for number in (0, _OUT, _ERR):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)


def _guarded(name: str, number: int) -> _Raw | None:
    """Guard a stream; gives None where it is not the process's own."""
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
    """Let all that comes to stderr, whoever writes it, go out as JSON objects, one a line."""
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
            for event in as_events(line.decode(errors="replace").strip()):
                with suppress(OSError):
                    os.write(own, f"{event}\n".encode())


def as_events(line: str) -> list[str]:
    """Give a line of stderr as JSON objects: events as they are, all else as notes.

    Examples
    --------
    >>> as_events('no end {"event": "progress"}')
    ['{"event": "note", "message": "no end"}', '{"event": "progress"}']
    """
    before, begin, rest = line.partition(_EVENT)
    event = begin + rest
    try:
        json.loads(event)
    except ValueError:
        before, event = line, ""
    note = json.dumps({"event": "note", "message": before.strip()}) if before.strip() else ""
    return [told for told in (note, event) if told]
