"""Work out again what changed, whenever a job is saved."""

from __future__ import annotations

import json
import shutil
import threading
import time
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.checkpoint import ended_by, go_on
from leakgeo.errors import FolderInUseError, JobError, LeakgeoError
from leakgeo.job.checks import as_names
from leakgeo.job.read import JobReader
from leakgeo.job.reuse import Reuse
from leakgeo.job.saves import SaveWatch, is_busy
from leakgeo.options import of_checks
from leakgeo.runner.chain import planned_steps
from leakgeo.runner.held_law import with_held_law
from leakgeo.runner.journal import FOLDER as JOURNAL
from leakgeo.runner.kept_lines import KeptLines
from leakgeo.runner.layer_steps import Chunking
from leakgeo.runner.told_lines import ToldLines
from leakgeo.runner.watch_events import Committed, Problem, Unchanged
from leakgeo.runner.write_run import CHUNK_LINES, Writing, run_and_write
from leakgeo.staging import RECORD, exclusive

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from leakgeo.faults import Fault
    from leakgeo.job.model import Job
    from leakgeo.job.sources import JobSource
    from leakgeo.result import Result
    from leakgeo.runner.kept_lines import Share
    from leakgeo.runner.task import PlannedStep
    from leakgeo.runner.watch_events import Event

# Products that take long and that nobody reads at the pipe; `leakgeo.run` writes them.
_LATER = ("report", "export")
# A job that is being written is tried again for so long.
_PAUSE_S, _BUSY_S = 0.1, 30.0
# Another run into the folder is waited for without end; after so long, that is told.
_IN_USE_S = 3.0
# Files are given up for newer saves for so long, that one saved without end is written as well.
_GIVEN_UP_S = 10.0
# Faults of a job that has no route to work out yet.
_NO_ROUTES = frozenset(("no_routes", "no_good_route"))


def watch(
    source: JobSource, out: str | Path, heard: Callable[[Event], None], *,
    lines: str | Sequence[str] = (), units: str | None = None, language: str = "en",
    mapping: str | Path | None = None, stop: threading.Event | None = None, **given: object,
) -> None:  # fmt: skip
    """Work out the lines that changed whenever a job is saved, until `stop` is set.

    Each save is answered line by line, and then written as one run: layers, map, tables and locate
    requests. A newer save is answered first: the files of the one before are given up, for at most
    10 s after the first save that has none, and those of the newer save stand for both. Report and
    exports of an earlier run are removed, as they would be of another one;
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
        If the job can't be run at all at the beginning, and not only because it has no good route
        yet; or is a database.
    OutputError
        If the folder can't be written.
    ParameterError
        If no step has a parameter of that name, or its value is not allowed.
    """
    names, stop = as_names(lines) or (), stop or threading.Event()
    watched = _Watched.of(source, out, heard, names, units, language, mapping, given)
    watched.answer(stop, first=True)
    while watched.saves.wait(stop):
        watched.answer(stop)


class _NewerSave(Exception):  # noqa: N818 - a reason to answer it first, not an error
    """The job was saved again while files were written."""


@dataclass
class _Unwritten:
    """Saves that were told of, and whose files were given up for a newer save.

    Parameters
    ----------
    since : float
        When the first of them was answered, by `time.monotonic`.
    worked_out : tuple of str
        Lines that they worked out.
    notes : tuple of Fault
        What was kept for them but could not be used, and which law holds.
    """

    since: float
    worked_out: tuple[str, ...] = ()
    notes: tuple[Fault, ...] = ()

    def add(self, kept: KeptLines) -> None:
        """Add a save that was told of."""
        self.worked_out += kept.worked_out
        self.notes += tuple(kept.faults)

    def before(self, result: Result) -> Result:
        """Return the result of the save after them, with what was worked out for them."""
        kept = result.kept
        if kept is None:
            return result
        worked_out = tuple(dict.fromkeys((*self.worked_out, *kept.worked_out)))
        notes = tuple(dict.fromkeys((*self.notes, *kept.notes)))
        return replace(result, kept=replace(kept, worked_out=worked_out, notes=notes))


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
    saves: SaveWatch
    told: ToldLines
    reuse: Reuse = field(default_factory=Reuse)
    last: tuple[Job, str] | None = None
    unwritten: _Unwritten | None = None

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
        saves = SaveWatch(source, [] if mapping is None else [Path(mapping)])
        told = ToldLines(units, language)
        return cls(reader, source, mapping, writing, steps, tuple(lines), heard, saves, told)

    def answer(self, stop: threading.Event, *, first: bool = False) -> None:
        """Answer a save; a job that can't be run is reported, and may end the watch at first."""
        now, since, reported = time.time(), time.monotonic(), False
        begin = now if first else _saved_at(self.source, now)
        while not stop.is_set():
            try:
                self._answer(begin)
            except _NewerSave:
                self.last = None  # the folder has another job than was told of
            except LeakgeoError as error:
                waited = time.monotonic() - since
                waits = isinstance(error, FolderInUseError)
                busy = isinstance(error, JobError) and is_busy(error) and waited < _BUSY_S
                if first and not (waits or busy or _lacks_routes(error)):
                    raise
                if not (reported or busy or (waits and waited < _IN_USE_S)):
                    self.heard(Problem(str(error), tuple(getattr(error, "faults", ())), waits))
                    reported = True
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
            for gone in self.told.gone(job, begin):
                self.heard(gone)
            result = self._run(job, begin)
        self.told.written(job, result)
        self.last = job, result.run_id
        self.heard(Committed(result, time.time() - begin))

    def _run(self, job: Job, begin: float) -> Result:
        writing = self.writing.of_job(job)
        kept = KeptLines(writing.folder)
        steps = with_held_law(self.steps, job, kept, relearn=False)
        chunking = Chunking(
            writing.folder, CHUNK_LINES, None, False, None, self.source, self.mapping, self.lines,
            kept, answered=lambda shares: self._tell(shares, job, begin),
            answered_of=self.told.inputs, reuse=self.reuse,
        )  # fmt: skip
        self.unwritten = self.unwritten or _Unwritten(time.monotonic())
        # Another law changes all lines, so one that is learned is written first.
        check = self._end_if_saved if self.told.rows and kept.law else go_on
        try:
            with ended_by(check):
                result = run_and_write(job, steps, chunking, writing)
        except BaseException as error:
            # Nothing resumes a watch; what is worked out already is kept by line.
            shutil.rmtree(writing.folder / JOURNAL, ignore_errors=True)
            if isinstance(error, _NewerSave):
                self.unwritten.add(kept)
                self.reuse.keep()
            raise
        self.reuse.keep()
        result, self.unwritten = self.unwritten.before(result), None
        return result

    def _tell(self, shares: Sequence[Share], job: Job, begin: float) -> None:
        for line in self.told.changed(shares, job, begin):
            self.heard(line)

    def _end_if_saved(self) -> None:
        """Raise `_NewerSave` if there is one, unless files have been given up for long."""
        assert self.unwritten is not None  # only while a job is run
        if time.monotonic() - self.unwritten.since < _GIVEN_UP_S and self.saves.is_newer():
            raise _NewerSave

    def _is_in_place(self, job: Job) -> bool:
        """Return whether the results of a job are in the folder, and no others."""
        if self.last is None:
            return False
        before, run_id = self.last
        same = _identity(job) == _identity(before)
        return same and _run_id_in(self.writing.folder) == run_id


def _lacks_routes(error: LeakgeoError) -> bool:
    """Return whether a job can't be run only because nobody has drawn a good route yet."""
    stops = {one.code for one in getattr(error, "faults", ()) if one.effect == "stops"}
    return bool(stops) and stops <= _NO_ROUTES


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
