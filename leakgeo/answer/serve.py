"""Answers to requests, each a line of JSON: a job that a panel asks about after every stop."""

from __future__ import annotations

import gc
import json
import threading
import time
from typing import TYPE_CHECKING, Any, TextIO

import leakgeo
from leakgeo.answer.document import answer_document, lines_document
from leakgeo.errors import JobError, LeakgeoError, ParameterError
from leakgeo.job.sources import EditedSource, is_local
from leakgeo.options import LANGUAGE, UNITS
from leakgeo.wording import active_wording, set_locale

if TYPE_CHECKING:
    from collections.abc import Callable

    from leakgeo.answer.warm_job import WarmJob

Plain = dict[str, Any]
#: Version of the requests and answers, increased when a key is removed or changes its meaning.
FORMAT = 1
_LISTS = {"aside": list, "rows": dict, "deleted": dict}


class Waiting:
    """Requests that wait; the newest of a panel stands for its older ones."""

    def __init__(self, superseded: Callable[[Plain], None]) -> None:
        self._there, self._requests, self._ended = threading.Condition(), list[Plain](), False
        self._superseded = superseded

    def put(self, request: Plain) -> None:
        """Add a request, and drop those of the same panel and kind that wait."""
        same = _kind(request)
        with self._there:
            dropped = [one for one in self._requests if _kind(one) == same]
            self._requests = [one for one in self._requests if _kind(one) != same] + [request]
            self._there.notify()
        for one in dropped:
            self._superseded(one)

    def end(self) -> None:
        """Let `take` return None when no request waits."""
        with self._there:
            self._ended = True
            self._there.notify()

    def take(self) -> Plain | None:
        """Return the oldest request, as soon as there is one; None at the end."""
        with self._there:
            while not self._requests and not self._ended:
                self._there.wait()
            return self._requests.pop(0) if self._requests else None


def _kind(request: Plain) -> tuple[str, bool]:
    return str(request.get("panel", "")), "line" in request


def serve(
    kept: WarmJob, requests: TextIO, answers: TextIO, *, units: str | None = None,
    language: str = "en",
) -> None:  # fmt: skip
    """Answer requests until their end.

    Parameters
    ----------
    kept : WarmJob
    requests : file of text
        One JSON object a line; ``cli/README.md`` explains the keys.
    answers : file of text
        Gets one JSON object a line.
    units : {"si", "us"} or None
        Units of the texts where a request names none.
    language : str
        Language of the texts where a request names none.
    """
    writing = threading.Lock()

    def write(answer: Plain) -> None:
        with writing:
            answers.write(json.dumps(answer, allow_nan=False) + "\n")
            answers.flush()

    waiting = Waiting(lambda one: write({"id": one.get("id"), "superseded": True}))
    reader = threading.Thread(target=_read, args=(requests, waiting, write), daemon=True)
    write({"ready": True, "leakgeo": leakgeo.__version__, "format": FORMAT})
    reader.start()
    first = True
    while (request := waiting.take()) is not None:
        write(answered(kept, {"units": units, "language": language, **request}))
        if first:
            # What was read and imported stays; it need not be searched again and again.
            gc.collect()
            gc.freeze()
        first = False


def _read(requests: TextIO, waiting: Waiting, write: Callable[[Plain], None]) -> None:
    for line in requests:
        if not line.strip():
            continue
        try:
            request = json.loads(line)
        except ValueError as error:
            request = str(error)
        if isinstance(request, dict):
            waiting.put(request)
        else:
            write(_error(None, ParameterError(f"A request is no JSON object ({request}).")))
    waiting.end()


def answered(kept: WarmJob, request: Plain) -> Plain:
    """Return the answer to a request: with its ``id``, and an ``error`` if there is one."""
    name, begin = request.get("id"), time.perf_counter()
    try:
        _check(request)
        set_locale(request["units"] or "si", request["language"])
        if request.get("learn"):
            kept.learn_again()
        edits = _edits(kept, request)
        job = kept.refresh(edits)
        read = time.perf_counter()
        if "line" not in request:
            return {"id": name, "lines": lines_document(job), "units": job.units(request["units"])}
        known = set(job.readings["reading_id"].dropna().astype(str))
        # A stop may have been deleted since the panel saw it.
        aside = [str(one) for one in request.get("aside") or () if str(one) in known]
        result = kept.ask(str(request["line"]), aside=aside, edits=edits)
        found = time.perf_counter()
        document = answer_document(result, str(request["line"]), units=request["units"],
                                   language=request["language"], aside=aside)  # fmt: skip
        seconds = {"read": read - begin, "found": found - read,
                   "worded": time.perf_counter() - found}  # fmt: skip
    except LeakgeoError as error:
        return _error(name, error)
    except Exception as error:  # noqa: BLE001 - one request must not end the others
        message = f"leakgeo failed: {type(error).__name__}: {error}."
        return {"id": name, "error": {"kind": "Crash", "message": message, "faults": []}}
    return {"id": name, "answer": document, "seconds": seconds}


def _check(request: Plain) -> None:
    UNITS.check(request["units"])
    LANGUAGE.check(request["language"])
    wrong = [name for name, kind in _LISTS.items()
             if not isinstance(request.get(name, kind()), (kind, type(None)))]  # fmt: skip
    if wrong:
        raise ParameterError(f"{', '.join(wrong)}: lists are expected, by layer for rows.")


def _edits(kept: WarmJob, request: Plain) -> EditedSource | None:
    rows, deleted = request.get("rows") or {}, request.get("deleted") or {}
    if not rows and not deleted:
        return None
    from pathlib import Path

    if not is_local(kept.source):
        raise ParameterError("rows: only a job in a file can be asked about with unsaved rows.")
    return EditedSource(Path(str(kept.source)), rows, deleted)


def _error(name: object, error: Exception) -> Plain:
    faults = error.faults if isinstance(error, JobError) else ()
    return {"id": name, "error": {
        "kind": type(error).__name__, "message": str(error),
        "faults": [fault.row(active_wording()) for fault in faults],
    }}  # fmt: skip
