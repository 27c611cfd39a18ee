"""Add one stop to a job, and read it again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.arrays import floats
from leakgeo.errors import JobError
from leakgeo.faults import Fault
from leakgeo.job.append import append_rows, refused, require_geopackage
from leakgeo.job.read import JobReader
from leakgeo.job.sources import FIELD_JOB
from leakgeo.options import ROUTE_SD_M
from leakgeo.reason import Reason
from leakgeo.route.lines import lines_of
from leakgeo.route.stop_row import Stop, StopRow
from leakgeo.route.typed_place import with_unit
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.job.model import Job
    from leakgeo.wording import Wording


@dataclass(frozen=True)
class AddedStop:
    """A stop that was added to a job.

    Parameters
    ----------
    row : mapping of str to object
        Its columns of ``readings``, as the job now has them.
    chainage_m, length_m : float or None
        Where it is along its line, and how long that is, in metres on the ground.
    taken : mapping of str to object
        Columns that were not given, with the values of the stop before.
    message : Reason
        What was added, where along the pipe, what was taken, and why it is not used if so.
    units : {"si", "us"}
        Of the texts.
    faults : tuple of Fault
        What is noted of the stop in its job.
    """

    row: Mapping[str, object]
    chainage_m: float | None
    length_m: float | None
    taken: Mapping[str, object]
    message: Reason
    units: str
    faults: tuple[Fault, ...]

    @property
    def used(self) -> bool:
        """Whether the stop has no fault for which it is left out."""
        return not isinstance(self.row["reason"], Reason)


def add_stop(
    job: str | Path, line_id: str, level: float, *, at: str | float | None = None,
    xy: tuple[float, float] | None = None, crs: Any = None, unit: str | None = None,
    surface: str | None = None, air: str | None = None, air_kpa: float | None = None,
    gain_db: float | None = None, band: str | None = None, sensor: str | None = None,
    walk_id: str | None = None, tap_open: str | None = None, tape_unit: str | None = None,
    set_aside: bool = False, time: datetime | None = None, units: str | None = None,
    language: str = "en",
) -> AddedStop:  # fmt: skip
    r"""Add one stop to a job: a row of ``readings``, in one transaction; nothing else changes.

    What holds for a walk and is not given is taken from the last stop of the walk or the line:
    unit of the level, sensor, gain, band and surface; so is the walk itself, for four hours.

    Parameters
    ----------
    job : str or pathlib.Path
        GeoPackage of the job, or the folder of a field project; another program may have it open.
    line_id : str
        Line that was listened to.
    level : float
        As shown by the sensor.
    at : str or float, optional
        Place by tape: a length along the line, or one from a fitting, as
        ``21' 5" from CS-12 toward M-3``. A length alone begins where the last tape on the line
        did, or else at the start of the route. A number is in metres; in a text without a unit
        it is refused where `units` are us, unless `tape_unit` is given.
    xy : tuple of float, optional
        Position, easting and northing or longitude and latitude; with or instead of `at`.
    crs : pyproj.CRS or any value that its constructor takes, optional
        CRS of `xy`; by default that of the routes.
    unit : {"db", "scale"}, optional
        Unit of the level.
    surface, air, band, sensor : str, optional
        Codes of the data contract; `air` holds for this stop alone.
    air_kpa, gain_db : float, optional
        Pressure of the air, in kilopascals; gain of the sensor, in decibels.
    walk_id : str, optional
        Walk that the stop belongs to.
    tap_open : str, optional
        Fitting that was open to a trickle, by its ``contact_id``.
    tape_unit : {"m", "ft"}, optional
        Unit of a length in `at` that has none.
    set_aside : bool
        Whether the stop is kept and not used.
    time : datetime.datetime, optional
        With its zone; without one, that of this machine. By default now.
    units : {"si", "us"}, optional
        Units of the texts; by default us for a job in a foot CRS, else si.
    language : str
        Language of the texts.

    Returns
    -------
    AddedStop
        The row as the job now has it, and where it is along the pipe.

    Raises
    ------
    JobError
        If anything that was given can't be true of the job, with every fault. Nothing is written.
    OutputError
        If the job can't be written. Nothing is written then.

    Examples
    --------
    >>> import shutil, tempfile
    >>> import leakgeo
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     job = shutil.copy("examples/town/job.gpkg", folder)
    ...     added = leakgeo.add_stop(job, "H-117", 41, at="23' 6\"")
    >>> round(added.chainage_m, 3), added.taken["sound_unit"]
    (7.163, 'db')
    """
    inside = Path(job) / FIELD_JOB
    path = inside if inside.is_file() else Path(job)
    require_geopackage(path, "stop_into_sheet")
    reader = JobReader(path)
    before = reader.read()
    say = wording(before.units(units), language)
    values = {
        "sound_level": level, "sound_unit": unit, "surface": surface, "air": air,
        "air_kpa": air_kpa, "gain_db": gain_db, "band": band, "sensor": sensor,
        "walk_id": walk_id, "tap_open": tap_open, "set_aside": True if set_aside else None,
    }  # fmt: skip
    stop = Stop(str(line_id), _place(at, tape_unit), xy, crs, _zoned(time), values)
    made = StopRow(before, stop, datetime.now(UTC).astimezone(), plain_m=say.units == "si")
    rows = {"readings": made.table()}
    _stop_if_wrong([*made.faults, *_not_fitting(path, rows, made)], say)
    append_rows(path, rows)
    return _added(reader.read(), made, str(rows["readings"]["reading_id"].iloc[0]), say.units)


def _place(at: str | float | None, tape_unit: str | None) -> str | None:
    """Return a place as text: a number of Python is in metres, whatever the units of texts."""
    text = at if at is None or isinstance(at, str) else f"{at} m"
    return text if text is None or tape_unit is None else with_unit(text, tape_unit)


def _zoned(time: datetime | None) -> datetime | None:
    """Return a time with its zone: that of this machine if it has none."""
    return time if time is None or time.tzinfo else time.astimezone()


def _not_fitting(path: Path, rows: Mapping[str, pd.DataFrame], made: StopRow) -> list[Fault]:
    """Return faults of values by the schema; that of the place is reported better."""
    found = refused(path, rows)
    if made.faults:
        found = [f for f in found if f.column not in ("geometry", "line_id", "tape")]
    return [Fault(f.layer, f.reason, made.stop.line_id, f.column, f.value, "stops") for f in found]


def _stop_if_wrong(faults: list[Fault], say: Wording) -> None:
    if faults:
        causes = " ".join(dict.fromkeys(" ".join(fault.texts(say)) for fault in faults))
        raise JobError(f"Nothing was written. {causes}", faults, complete=True)


def _added(job: Job, made: StopRow, reading_id: str, units: str) -> AddedStop:
    """Return the stop as the job now has it."""
    own = pd.DataFrame(job.readings[job.readings["reading_id"] == reading_id])
    row = {str(name): own[name].iloc[0] for name in own}
    at_m, length_m = _place_along(job, row)
    faults = tuple(f for f in job.faults if f.layer == "readings" and f.feature == reading_id)
    message = Reason(
        "stop_added", _taken(made), _begins(made, row), _unused(row), stop=reading_id,
        line=made.stop.line_id, level=row["sound_level"], unit=row["sound_unit"],
        where="unknown" if at_m is None else "at", at_m=at_m, route_m=length_m,
    )  # fmt: skip
    taken = dict(made.taken)
    return AddedStop(row, at_m, length_m, taken, message, units, faults)


def _place_along(job: Job, row: Mapping[str, Any]) -> tuple[float | None, float | None]:
    """Return the chainage of a stop and the length of its line: by tape, or else by position."""
    lines = lines_of(job, ROUTE_SD_M.number)
    line = lines.index_of([row["line_id"]])
    at = float(floats(pd.DataFrame([dict(row)]), "tape_m")[0])
    if line[0] < 0:
        return None, None
    if not np.isfinite(at) and row["geometry"] is not None:
        at = float(lines.routes.locate(np.array([row["geometry"]], dtype=object), line)[0][0])
    return (at if np.isfinite(at) else None), float(lines.length_m[line[0]])


def _taken(made: StopRow) -> Reason | None:
    if not made.taken:
        return None
    each = [Reason(f"taken_{column}", value=value) for column, value in made.taken.items()]
    return Reason("stop_taken", **{"from": made.taken_from}, taken=each)


def _begins(made: StopRow, row: Mapping[str, Any]) -> Reason | None:
    return Reason("stop_begins_walk", walk=str(row["walk_id"])) if made.begins_walk else None


def _unused(row: Mapping[str, Any]) -> Reason | None:
    reason = row["reason"]
    return Reason("stop_not_used", why=reason) if isinstance(reason, Reason) else None
