"""Work out again what changed, whenever a job is saved."""

from __future__ import annotations

import json
import shutil
import threading
import time
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from leakgeo.arrays import texts
from leakgeo.deliver.views.card import card
from leakgeo.deliver.views.line_in_short import line_in_short
from leakgeo.deliver.views.rows import records
from leakgeo.errors import FolderInUseError, JobError, LeakgeoError
from leakgeo.job.checks import as_names
from leakgeo.job.read import JobReader
from leakgeo.job.reuse import Reuse
from leakgeo.job.row_hashes import row_hashes
from leakgeo.job.saves import SaveWatch, is_busy
from leakgeo.options import of_checks
from leakgeo.result import joined
from leakgeo.runner.chain import planned_steps
from leakgeo.runner.held_law import with_held_law
from leakgeo.runner.journal import FOLDER as JOURNAL
from leakgeo.runner.kept_lines import KeptLines
from leakgeo.runner.layer_steps import Chunking
from leakgeo.runner.write_run import CHUNK_LINES, Writing, run_and_write
from leakgeo.staging import RECORD, exclusive
from leakgeo.wording import wording
from leakgeo.wording.layers import with_texts

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from leakgeo.deliver.views.card import Card
    from leakgeo.faults import Fault
    from leakgeo.job.model import Job
    from leakgeo.job.sources import JobSource
    from leakgeo.result import Result
    from leakgeo.runner.journal import StoredChunk
    from leakgeo.runner.task import PlannedStep
    from leakgeo.wording import Wording

# Products that take long and that nobody reads at the pipe; `leakgeo.run` writes them.
_LATER = ("report", "export")
# Columns of `lines` that say what is thought of a line, and what to do.
_SAYS = ("status", "code", "values", "advice_code", "advice_values", "held_by_code",
         "held_by_values", "next_action_code", "next_action_values")  # fmt: skip
# A job that is being written is tried again for so long.
_PAUSE_S, _BUSY_S = 0.1, 30.0
# Another run into the folder is waited for without end; after so long, that is told.
_IN_USE_S = 3.0


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
    text : str
        What is thought of it, the next stop, and when to stop, in one line; ``""`` if it is gone.
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
    text: str
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
    """Why a save is not answered; the files of the save before are in place.

    Parameters
    ----------
    message : str
    faults : tuple of Fault
    waits : bool
        Whether the save will be answered as soon as another run into the folder is done.
    """

    message: str
    faults: tuple[Fault, ...] = ()
    waits: bool = False


@dataclass(frozen=True)
class Unchanged:
    """A save that changed no row of the job; its results are in place.

    Parameters
    ----------
    seconds : float
        From the save until that was known.
    """

    seconds: float


Event = LineAnswer | Committed | Unchanged | Problem


def watch(
    source: JobSource, out: str | Path, heard: Callable[[Event], None], *,
    lines: str | Sequence[str] = (), units: str | None = None, language: str = "en",
    mapping: str | Path | None = None, stop: threading.Event | None = None, **given: object,
) -> None:  # fmt: skip
    """Work out the lines that changed whenever a job is saved, until `stop` is set.

    Each save is answered line by line, and then written as one run: layers, map, tables and locate
    requests. Report and exports of an earlier run are removed, as they would be of another one;
    `leakgeo.run` with ``update`` writes them. A line is told of when its own readings changed, or
    what is said of it.

    Parameters
    ----------
    source : str or pathlib.Path
        The job; files only, as a database does not tell when it is saved.
    out : str or pathlib.Path
        Folder for the results.
    heard : callable
        Called with each `LineAnswer`, `Committed`, `Unchanged` and `Problem`.
    lines : str or sequence of str
        Only this line or these lines; all if empty.
    units : {"si", "us"}, optional
        Units of the texts, as for `leakgeo.run`.
    language : str
        Language of the texts.
    mapping : str or pathlib.Path, optional
        File that maps the source to the data contract; it is watched as well.
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
    names, stop = as_names(lines) or (), stop or threading.Event()
    watched = _Watched.of(source, out, heard, names, units, language, mapping, given)
    saves = SaveWatch(source, also)
    watched.answer(stop, first=True)
    while not stop.is_set():
        if saves.wait(stop, timeout_s=1.0):
            watched.answer(stop)


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
    rows: dict[str, dict[str, Any]] = field(default_factory=dict)
    readings: dict[str, int] = field(default_factory=dict)
    reuse: Reuse = field(default_factory=Reuse)
    last: tuple[Job, str] | None = None

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
        return cls(reader, source, mapping, writing, steps, tuple(lines), heard)

    def answer(self, stop: threading.Event, *, first: bool = False) -> None:
        """Answer a save; a job that can't be run is reported, and ends the watch only at first."""
        now, since, told = time.time(), time.monotonic(), False
        begin = now if first else _saved_at(self.source, now)
        while not stop.is_set():
            try:
                self._answer(begin)
            except LeakgeoError as error:
                waited = time.monotonic() - since
                waits = isinstance(error, FolderInUseError)
                busy = isinstance(error, JobError) and is_busy(error) and waited < _BUSY_S
                if first and not (waits or busy):
                    raise
                if not (told or busy or (waits and waited < _IN_USE_S)):
                    self.heard(Problem(str(error), tuple(getattr(error, "faults", ())), waits))
                    told = True
                if waits or busy:
                    stop.wait(_PAUSE_S)
                    continue
            return

    def _answer(self, begin: float) -> None:
        # Locked before the job is read, which would take long to do in vain.
        with exclusive(self.writing.folder):
            job = self.reader.read()
            if self._is_in_place(job):
                self.heard(Unchanged(time.time() - begin))
                return
            self._tell_gone(job, begin)
            result = self._run(job, begin)
        if not self.readings:
            self.readings = _readings_by_line(job, result.layers["readings_on_route"])
        self.last = job, result.run_id
        self.rows = _by_line(result.layers["lines"])
        self.heard(Committed(result, time.time() - begin))

    def _run(self, job: Job, begin: float) -> Result:
        writing = self.writing.of_job(job)
        kept = KeptLines(writing.folder)
        steps = with_held_law(self.steps, job, kept, relearn=False)
        chunking = Chunking(
            writing.folder, CHUNK_LINES, None, False, None, self.source, self.mapping, self.lines,
            kept, answered=lambda chunks: self._tell(chunks, job, begin), reuse=self.reuse,
        )  # fmt: skip
        try:
            result = run_and_write(job, steps, chunking, writing)
        except BaseException:
            # Nothing resumes a watch; what is worked out already is kept by line.
            shutil.rmtree(writing.folder / JOURNAL, ignore_errors=True)
            raise
        self.reuse.keep()
        return result

    def _is_in_place(self, job: Job) -> bool:
        """Return whether the results of a job are in the folder, and no others."""
        if self.last is None:
            return False
        before, run_id = self.last
        same = _identity(job) == _identity(before)
        return same and _run_id_in(self.writing.folder) == run_id

    def _tell_gone(self, job: Job, begin: float) -> None:
        """Tell of the lines that are no longer in the job."""
        for name in sorted(set(self.rows) - set(texts(job.routes, "line_id"))):
            status = str(self.rows.pop(name)["status"])
            self.readings.pop(name, None)
            self.heard(LineAnswer(name, "", status, None, "", "", (), time.time() - begin))

    def _tell(self, chunks: Sequence[StoredChunk], job: Job, begin: float) -> None:
        """Tell what is thought of the lines that changed, before the files are written."""
        if not self.rows:
            return  # the first run tells of all lines at once
        placed = joined([chunk.layer("readings_on_route") for chunk in chunks])
        raw = _by_line(joined([chunk.layer("lines") for chunk in chunks]))
        readings = _readings_by_line(job, placed)
        own = {name for name in raw if readings.get(name, 0) != self.readings.get(name, 0)}
        unlike = {name: row for name, row in raw.items() if row != self.rows.get(name)}
        words = wording(job.units(self.writing.units), self.writing.language)
        now, before = _worded(own | set(unlike), raw, words), _worded(unlike, self.rows, words)
        stops = joined([chunk.layer("next_readings") for chunk in chunks])
        for name, row in now.items():
            if name in own or name not in before or not _says_alike(row, before[name], words):
                known = str(before.get(name, self.rows.get(name, {})).get("status", ""))
                self.heard(_line_answer(name, row, known, stops, words, time.time() - begin))
        self.rows |= raw
        self.readings |= {name: readings.get(name, 0) for name in raw}


def _line_answer(
    name: str, row: Mapping[str, Any], before: str, stops: pd.DataFrame, words: Wording,
    seconds: float,
) -> LineAnswer:  # fmt: skip
    own = with_texts(pd.DataFrame(stops[stops["line_id"] == name]), words)
    proposed = tuple(
        {key: value for key, value in each.items() if key != "geometry"}
        for each in records(own.sort_values("order"))
    )
    return LineAnswer(
        name, str(row["status"]), before, card(row, words), line_in_short(row, words),
        str(row.get("advice") or ""), proposed, seconds,
    )  # fmt: skip


def _says_alike(one: Mapping[str, Any], other: Mapping[str, Any], words: Wording) -> bool:
    """Return whether the same is said of a line, in words that people read."""
    same = (one[column] == other[column] for column in ("status", "advice"))
    return all(same) and card(one, words) == card(other, words)


def _by_line(table: pd.DataFrame) -> dict[str, dict[str, Any]]:
    """Return what is said of each line; what is missing is None."""
    columns = table[["line_id", *_SAYS]]
    rows: Any = columns.astype(object).where(columns.notna(), None).to_dict("records")
    return {str(row["line_id"]): row for row in rows}


def _worded(
    names: Iterable[str], rows: Mapping[str, dict[str, Any]], words: Wording
) -> dict[str, dict[str, Any]]:
    """Return the rows of those lines that are there, with texts, in the order of the lines."""
    wanted = set(names)
    found = pd.DataFrame([row for name, row in rows.items() if name in wanted],
                         columns=["line_id", *_SAYS])  # fmt: skip
    worded: Any = with_texts(found, words).to_dict("records")
    return {str(row["line_id"]): row for row in worded}


def _readings_by_line(job: Job, placed: pd.DataFrame) -> dict[str, int]:
    """Return a digest of the readings of each line, by the lines that they were placed on."""
    own = job.readings[job.readings["reading_id"].isin(placed["reading_id"])]
    of_reading: dict[object, int] = {}
    for name, value in zip(own["reading_id"], row_hashes(own).tolist(), strict=True):
        of_reading[name] = of_reading.get(name, 0) + value
    found: dict[str, int] = {}
    for line, name in zip(placed["line_id"], placed["reading_id"], strict=True):
        found[str(line)] = found.get(str(line), 0) + of_reading.get(name, 0)
    return found


def _identity(job: Job) -> tuple[object, ...]:
    """Return what is equal for two jobs that have one result."""
    ground = job.ground and (job.ground.transform, job.ground.crs, job.ground.z_unit_m)
    return job.layers_digest, job.faults, job.counts, job.output_crs, ground


def _run_id_in(folder: Path) -> str:
    """Return the run id of the results in a folder; ``""`` if there are none."""
    with suppress(OSError, ValueError, KeyError):
        return str(json.loads((folder / RECORD).read_text("utf-8"))["run_id"])
    return ""


def _saved_at(source: JobSource, now: float) -> float:
    """Return when the files of a job were changed last, by the clock of this machine."""
    path = Path(str(source))
    files = [f for f in path.iterdir() if f.is_file()] if path.is_dir() else [
        path.with_name(path.name + end) for end in ("", "-wal")]  # fmt: skip
    times = [file.stat().st_mtime for file in files if file.is_file()]
    return min(max(times, default=now), now)
