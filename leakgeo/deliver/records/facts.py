"""What the record of one dig says: facts of the job and of the run that it followed."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import UTC, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.dig.closed_line import MeterShown, believed, meters_around
from leakgeo.errors import LeakgeoError
from leakgeo.find.survey.fittings import fitting_chainages
from leakgeo.find.survey.from_fitting import tape_from_fitting
from leakgeo.job.results.earlier import earlier_layers
from leakgeo.options import JOIN_GAP_M, ROUTE_SD_M
from leakgeo.reason import Reason
from leakgeo.route.junctions import junctions_of
from leakgeo.route.lines import lines_of
from leakgeo.staging import RECORD

if TYPE_CHECKING:
    from leakgeo.job.model import Job

# Folders beside the job that may hold the result that the dig followed.
_MOST_FOLDERS, _MOST_RESULTS = 50, 5


@dataclass(frozen=True)
class Mark:
    """The mark that a dig followed, of the latest run on the job.

    Parameters
    ----------
    chainage_m : float
    place : Reason
        As a crew tapes it.
    run_id : str
    written : str
        When the result was written, in UTC (ISO 8601); ``""`` if it does not say.
    """

    chainage_m: float
    place: Reason
    run_id: str
    written: str = ""


@dataclass(frozen=True)
class DigRecord:
    """The record of one dig.

    Parameters
    ----------
    dig : mapping of str to object
        Its row of ``dig_outcomes``.
    address, work_order : str
        Of its line, ``""`` where not known.
    length_m : float
        Of its line.
    place : Reason or None
        Of the leak, as a crew tapes it.
    fittings : tuple of (float, str)
        Chainage and name of each fitting of the line.
    before, after : MeterShown or None
        The last meter test before and since the dig.
    mark : Mark or None
    believed : Reason
        What is believed of the line now.
    superseded_by : str
        Record that corrects this one, ``""`` for none.
    job : str
        Name of the file of the job.
    simulated : str
        Note of simulated data, or ``""``.
    zone : datetime.tzinfo
        Time zone of the page; the columns are in UTC.
    """

    dig: dict[str, Any]
    address: str
    work_order: str
    length_m: float
    place: Reason | None
    fittings: tuple[tuple[float, str], ...]
    before: MeterShown | None
    after: MeterShown | None
    mark: Mark | None
    believed: Reason
    superseded_by: str = ""
    job: str = ""
    simulated: str = field(default="")
    zone: tzinfo = UTC

    @property
    def dig_id(self) -> str:
        """Name of the record."""
        return str(self.dig["dig_id"])

    @property
    def line_id(self) -> str:
        """Line that was dug on, ``""`` where not known."""
        return str(self.dig["line_id"] or "")

    def chainage_m(self, name: str) -> float:
        """Return a chainage of the record, NaN where it was not measured."""
        return float(self.dig[name]) if pd.notna(self.dig[name]) else float("nan")

    @property
    def off_mark_m(self) -> float:
        """Distance from the mark to the leak along the line, negative toward the start; or NaN."""
        if self.mark is None or self.dig["found"] != "leak":
            return float("nan")
        return self.chainage_m("leak_chainage_m") - self.mark.chainage_m


def record_of(job: Job, dig_id: str, results: Path | None = None, zone: tzinfo = UTC) -> DigRecord:
    """Return the record of one dig of a job.

    Parameters
    ----------
    job : Job
    dig_id : str
        A record of the job.
    results : pathlib.Path or None
        Result whose mark the dig followed; by default the latest one of this job in the folder of
        the job, or in a folder there.
    zone : datetime.tzinfo
        Time zone of those who dug.
    """
    digs = job.dig_outcomes
    assert digs is not None
    row = digs[texts(digs, "dig_id") == dig_id].iloc[0]
    line_id = str(row["line_id"] or "")
    lines = lines_of(job, ROUTE_SD_M.number)
    own = fitting_chainages(job.contacts, lines, junctions_of(lines, floor_m=JOIN_GAP_M.number))
    index = int(lines.index_of([line_id])[0])
    corrects = dict(zip(texts(digs, "supersedes"), texts(digs, "dig_id"), strict=True))
    leak = float(floats(pd.DataFrame([row]), "leak_chainage_m")[0])
    dig = {name: row[name] for name in digs.columns if name not in ("geometry", "reason")}
    before = after = None
    if pd.notna(row["time"]):
        before, after = meters_around(job, line_id, row["time"])
    return DigRecord(
        dig, _of_route(job, line_id, "address"), _of_route(job, line_id, "work_order"),
        length_m=float(lines.length_m[index]) if index >= 0 else float("nan"),
        place=_place(line_id, leak, own), fittings=_named(line_id, own),
        before=before, after=after, mark=_mark(job, line_id, leak, own, results),
        believed=believed(job, line_id, zone), zone=zone,
        superseded_by=str(corrects.get(dig_id) or ""),
        job=Path(job.source).name, simulated=job.simulated or "",
    )  # fmt: skip


def _of_route(job: Job, line_id: str, column: str) -> str:
    own = job.routes[texts(job.routes, "line_id") == line_id]
    found = [text for text in texts(own, column) if text] if column in own else []
    return str(found[0]) if found else ""


def _place(line_id: str, at_m: float, fittings: pd.DataFrame) -> Reason | None:
    if not np.isfinite(at_m):
        return None
    stop = pd.DataFrame({"line_id": [line_id], "chainage_m": [at_m]})
    return tape_from_fitting(stop, fittings)[0]


def _named(line_id: str, fittings: pd.DataFrame) -> tuple[tuple[float, str], ...]:
    own = fittings[(fittings["line_id"] == line_id).to_numpy()]
    pairs = zip(floats(own, "chainage_m").tolist(), texts(own, "contact_id"), strict=True)
    return tuple(sorted({(at, str(name)) for at, name in pairs if np.isfinite(at)}))


def _mark(
    job: Job, line_id: str, leak_m: float, fittings: pd.DataFrame, results: Path | None
) -> Mark | None:
    """Return the mark of the line of a result, or of the latest near the job that has one."""
    if results is not None:
        return _mark_in(results, job, line_id, leak_m, fittings)
    for folder in _results_near(Path(job.source)):
        try:
            found = _mark_in(folder, job, line_id, leak_m, fittings)
        except LeakgeoError:
            continue  # nobody named it
        if found is not None:
            return found
    return None


def _mark_in(
    folder: Path, job: Job, line_id: str, leak_m: float, fittings: pd.DataFrame
) -> Mark | None:
    """Return the mark of the line that is nearest to the leak; None without one."""
    layers, _ = earlier_layers(folder, job.crs)
    own = pd.DataFrame(layers["marks"])
    own = own[(own["line_id"] == line_id).to_numpy()]
    if own.empty:
        return None
    marks = floats(own, "chainage_m")
    at = float(marks[int(np.argmin(np.abs(marks - leak_m)))] if np.isfinite(leak_m) else marks[0])
    record = _read_json(folder if folder.is_dir() else folder.parent)
    run = str((own["run_id"].iloc[0] if "run_id" in own else record.get("run_id")) or "")
    written = record.get("written") if record.get("run_id") == run else ""
    place = _place(line_id, at, fittings)
    return None if place is None else Mark(at, place, run, str(written or ""))


def _read_json(folder: Path) -> dict[str, Any]:
    try:
        found = json.loads((folder / RECORD).read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _results_near(source: Path) -> list[Path]:
    """Return the folders beside a job with its latest results, the newest first."""
    try:
        folders = [source.parent, *sorted(p for p in source.parent.iterdir() if p.is_dir())]
    except OSError:
        return []
    of_job = [folder for folder in folders[:_MOST_FOLDERS]
              if (folder / "result.gpkg").is_file()
              and (_read_json(folder).get("input") or {}).get("name") == source.name]  # fmt: skip
    newest = sorted(of_job, key=lambda p: (p / RECORD).stat().st_mtime, reverse=True)
    return newest[:_MOST_RESULTS]
