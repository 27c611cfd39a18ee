"""Work out again what changed, whenever a job is saved."""

from __future__ import annotations

import json
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from leakgeo.arrays import texts
from leakgeo.deliver.views.card import card
from leakgeo.deliver.views.rows import records
from leakgeo.errors import FolderInUseError, JobError, OutputError
from leakgeo.job.checks import as_names
from leakgeo.job.read import JobReader
from leakgeo.job.saves import SaveWatch, is_busy
from leakgeo.options import of_checks
from leakgeo.result import joined
from leakgeo.runner.chain import planned_steps
from leakgeo.runner.held_law import with_held_law
from leakgeo.runner.kept_lines import KeptLines
from leakgeo.runner.layer_steps import Chunking
from leakgeo.runner.write_run import CHUNK_LINES, Writing, run_and_write
from leakgeo.staging import exclusive
from leakgeo.wording import wording
from leakgeo.wording.layers import with_texts

if TYPE_CHECKING:
    import threading
    from collections.abc import Callable, Mapping, Sequence

    from leakgeo.deliver.views.card import Card
    from leakgeo.faults import Fault
    from leakgeo.job.model import Job
    from leakgeo.job.sources import JobSource
    from leakgeo.result import Result
    from leakgeo.runner.journal import StoredChunk
    from leakgeo.runner.task import PlannedStep

# Products that take long and that nobody reads at the pipe; `leakgeo.run` writes them.
_LATER = ("report", "export")
# Columns of `lines` that say what is thought of a line, and what to do.
_SAYS = ("status", "code", "values", "advice_code", "advice_values", "held_by_code",
         "held_by_values", "next_action_code", "next_action_values")  # fmt: skip
# A job that is being written, or a folder that another run has locked, is tried again.
_PAUSE_S, _BUSY_S = 0.1, 30.0


@dataclass(frozen=True)
class LineAnswer:
    """What is thought of a line after a save.

    Parameters
    ----------
    line_id : str
    status : str
        Status of the data contract; ``""`` if the line is no longer in the job.
    before : str
        Status before the save; ``""`` for a new line.
    card : Card or None
        Its card, as the map shows it; None if the line is gone.
    advice : str
        The next stops, or why no more are needed.
    stops : tuple of dict
        Rows of ``next_readings``, in order.
    seconds : float
        From the save to the answer.
    """

    line_id: str
    status: str
    before: str
    card: Card | None
    advice: str
    stops: tuple[Mapping[str, object], ...]
    seconds: float


@dataclass(frozen=True)
class Committed:
    """Files of a run that are in place.

    Parameters
    ----------
    result : Result
    seconds : float
        From the save until they were in place.
    """

    result: Result
    seconds: float


@dataclass(frozen=True)
class Problem:
    """Why a save could not be answered; the files of the save before are in place.

    Parameters
    ----------
    message : str
    faults : tuple of Fault
    """

    message: str
    faults: tuple[Fault, ...] = ()


Event = LineAnswer | Committed | Problem


def watch(
    source: JobSource, out: str | Path, heard: Callable[[Event], None], *,
    lines: str | Sequence[str] = (), units: str | None = None, language: str = "en",
    mapping: str | Path | None = None, stop: threading.Event | None = None, **given: object,
) -> None:  # fmt: skip
    """Work out the lines that changed whenever a job is saved, until `stop` is set.

    Each save is answered line by line, and then written as one run: layers, map, tables and locate
    requests. Report and exports of an earlier run are removed, as they would be of another one;
    `leakgeo.run` with ``update`` writes them.

    Parameters
    ----------
    source : str or pathlib.Path
        The job; files only, as a database does not tell when it is saved.
    out : str or pathlib.Path
        Folder for the results.
    heard : callable
        Called with each `LineAnswer`, `Committed` and `Problem`.
    lines, units, language, mapping
        As for `leakgeo.run`.
    stop : threading.Event, optional
        Ends the watch when it is set.
    **given
        Parameters of the steps by name.

    Raises
    ------
    JobError
        If the job can't be run at all at the beginning, or is a database.
    OutputError
        If the folder can't be written.
    ParameterError
        If no step has a parameter of that name, or its value is not allowed.
    """
    also = [] if mapping is None else [Path(mapping)]
    names = as_names(lines) or ()
    watched = _Watched.of(source, out, heard, names, units, language, mapping, given)
    saves = SaveWatch(source, also)
    watched.answer(first=True)
    while not (stop is not None and stop.is_set()):
        if saves.wait(stop, timeout_s=1.0):
            watched.answer()


@dataclass
class _Watched:
    """A job that is watched, with the state that the next answer needs."""

    reader: JobReader
    source: JobSource
    mapping: str | Path | None
    writing: Writing
    steps: list[PlannedStep]
    lines: tuple[str, ...]
    heard: Callable[[Event], None]
    rows: dict[str, dict[str, Any]]

    @classmethod
    def of(
        cls, source: JobSource, out: str | Path, heard: Callable[[Event], None],
        lines: Sequence[str], units: str | None, language: str, mapping: str | Path | None,
        given: Mapping[str, object],
    ) -> _Watched:  # fmt: skip
        folder = Path(out)
        steps = planned_steps({**given, "out": folder, "units": units, "language": language})
        steps = [one for one in steps if one.step.name not in _LATER]
        reader = JobReader(source, lines=tuple(lines) or None, mapping=mapping, **of_checks(given))
        writing = Writing(folder, units, language, overwrite=True)
        return cls(reader, source, mapping, writing, steps, tuple(lines), heard, {})

    def answer(self, *, first: bool = False) -> None:
        """Answer a save; a job that can't be run is reported, and ends the watch only at first."""
        begin = time.time()
        saved = _saved_at(self.source, begin)
        until = time.monotonic() + _BUSY_S
        while True:
            try:
                self._answer(begin if first else saved)
            except (JobError, OutputError) as error:
                busy = isinstance(error, JobError) and is_busy(error)
                if (busy or isinstance(error, FolderInUseError)) and time.monotonic() < until:
                    time.sleep(_PAUSE_S)
                    continue
                if first:
                    raise
                self.heard(Problem(str(error), tuple(getattr(error, "faults", ()))))
            return

    def _answer(self, begin: float) -> None:
        job = self.reader.read()
        writing = self.writing.of_job(job)
        with exclusive(writing.folder):
            kept = KeptLines(writing.folder)
            steps = with_held_law(self.steps, job, kept, relearn=False)
            chunking = Chunking(
                writing.folder, CHUNK_LINES, None, False, None, self.source, self.mapping,
                self.lines, kept, answered=lambda chunks: self._tell(chunks, kept, job, begin),
            )  # fmt: skip
            result = run_and_write(job, steps, chunking, writing)
        gone = set(self.rows) - set(texts(result.layers["lines"], "line_id"))
        for name in sorted(gone):
            status = str(self.rows.pop(name)["status"])
            self.heard(LineAnswer(name, "", status, None, "", (), time.time() - begin))
        self.rows = _by_line(result.layers["lines"])
        self.heard(Committed(result, time.time() - begin))

    def _tell(self, chunks: Sequence[StoredChunk], kept: KeptLines, job: Job, begin: float) -> None:
        """Tell what is thought of the lines that changed, before the files are written."""
        if not self.rows:
            return  # the first run tells of all lines at once
        words = wording(job.units(self.writing.units), self.writing.language)
        table = joined([chunk.layer("lines") for chunk in chunks])
        stops = joined([chunk.layer("next_readings") for chunk in chunks])
        raw, worded = _by_line(table), _by_line(with_texts(table, words))
        for name, row in worded.items():
            known = self.rows.get(name, {})
            same = all(_plain(raw[name].get(c)) == _plain(known.get(c)) for c in _SAYS)
            if same and name not in kept.changed:
                continue
            own = with_texts(pd.DataFrame(stops[stops["line_id"] == name]), words)
            proposed = tuple(
                {key: value for key, value in each.items() if key != "geometry"}
                for each in records(own.sort_values("order"))
            )
            self.heard(LineAnswer(
                name, str(row["status"]), str(known.get("status", "")), card(row, words),
                str(row.get("advice") or ""), proposed, time.time() - begin,
            ))  # fmt: skip
        self.rows |= raw


def _by_line(table: pd.DataFrame) -> dict[str, dict[str, Any]]:
    rows: Any = table.to_dict("records")
    return {str(row["line_id"]): row for row in rows}


def _plain(value: object) -> object:
    """Return a value that is equal to itself, missing or not."""
    return value if isinstance(value, str) else json.dumps(value, default=str)


def _saved_at(source: JobSource, now: float) -> float:
    """Return when the files of a job were changed last, by the clock of this machine."""
    path = Path(str(source))
    files = [f for f in path.iterdir() if f.is_file()] if path.is_dir() else [
        path.with_name(path.name + end) for end in ("", "-wal")]  # fmt: skip
    times = [file.stat().st_mtime for file in files if file.is_file()]
    return min(max(times, default=now), now)
