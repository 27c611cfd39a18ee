"""What a crew reports after a dig, as rows of the job; every fault of it at once."""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.arrays import texts
from leakgeo.errors import JobError
from leakgeo.faults import Fault
from leakgeo.job.schema import load_schema
from leakgeo.options import ROUTE_SD_M
from leakgeo.reason import Reason
from leakgeo.route.lines import lines_of
from leakgeo.route.typed_place import chainages, point_along, unknown_line
from leakgeo.wording import active_wording

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.job.model import Job
    from leakgeo.wording import Wording

# A leak is in the exposed pipe but for the error of two tapes.
_EDGE_M = 0.05
# Clocks differ.
_AHEAD = timedelta(minutes=10)


@dataclass(frozen=True)
class MeterAfter:
    """The meter read twice after the dig, with no water used.

    Parameters
    ----------
    start, end : str, optional
        Register as read; its decimals are its smallest step.
    minutes : float, optional
    unit : str, optional
        A code of ``volume_unit``.
    contact_id : str, optional
        Meter of a line that has several.
    """

    start: str | None = None
    end: str | None = None
    minutes: float | None = None
    unit: str | None = None
    contact_id: str | None = None

    @property
    def given(self) -> dict[str, object]:
        """Values by name, None where one is missing."""
        return {"start": self.start, "end": self.end, "minutes": self.minutes, "unit": self.unit}


@dataclass(frozen=True)
class Closing:
    """What a crew reports after a dig.

    Parameters
    ----------
    line_id : str
    found : {"leak", "dry", "pipe_not_reached"}
    at : str, optional
        Place of the leak, or of the hole; see `leakgeo.route.typed_place.parse_place`.
    exposed : tuple of (str, str), optional
        Both ends of the pipe that was seen.
    repaired : bool
    time : datetime.datetime, optional
        Of the repair, with its zone; by default now, or when the meter was read first.
    meter : MeterAfter
    photos : tuple of pathlib.Path
    cause, crew, note, supersedes : str, optional
    """

    line_id: str
    found: str
    at: str | None = None
    exposed: tuple[str, str] | None = None
    repaired: bool = False
    time: datetime | None = None
    meter: MeterAfter = MeterAfter()
    photos: tuple[Path, ...] = ()
    cause: str | None = None
    crew: str | None = None
    note: str | None = None
    supersedes: str | None = None


def closing_rows(
    job: Job,
    closing: Closing,
    folder: Path,
    now: datetime | None = None,
    say: Wording | None = None,
) -> dict[str, pd.DataFrame]:
    """Return the rows of ``dig_outcomes`` and ``meter_tests`` that a closing adds to its job.

    Parameters
    ----------
    job : Job
    closing : Closing
    folder : pathlib.Path
        Folder of the job, from which paths of photos begin.
    now : datetime.datetime, optional
        The present time.
    say : Wording, optional
        Language and units of the message. In feet, a length needs its unit.

    Returns
    -------
    dict of str to pandas.DataFrame
        Rows by layer.

    Raises
    ------
    JobError
        With every fault of the closing.
    """
    # The name of a record has the day of those who dug, not that of UTC.
    now, say = now or datetime.now(UTC).astimezone(), say or active_wording()
    found = _Checked(job, closing, folder, now, say.units)
    if found.faults:
        causes = " ".join(dict.fromkeys(" ".join(fault.texts(say)) for fault in found.faults))
        raise JobError(f"Nothing was written. {causes}", found.faults, complete=True)
    rows: dict[str, pd.DataFrame] = {"dig_outcomes": found.dig()}
    if any(value is not None for value in closing.meter.given.values()):
        rows["meter_tests"] = found.test()
    return rows


class _Checked:
    """A closing and its faults."""

    def __init__(self, job: Job, closing: Closing, folder: Path, now: datetime, units: str) -> None:
        self.job, self.closing, self.folder = job, closing, folder
        self.plain_m = units == "si"
        minutes = closing.meter.minutes or 0.0
        begin = now - timedelta(minutes=minutes if 0 < minutes < 1e6 else 0.0)
        self.time = closing.time or begin.replace(microsecond=0)
        self.faults: list[Fault] = []
        self.at_m, self.exposed_m = np.nan, (np.nan, np.nan)
        self._check_line()
        self._check_result()
        self._check_meter()
        self._check_photos()
        self._check_superseded()
        if closing.time is not None and closing.time > now + _AHEAD:
            self._report("time", Reason("time_in_future", time=f"{closing.time:%Y-%m-%d %H:%M}"))

    def _report(self, column: str, reason: Reason, value: object = "", layer: str = "") -> None:
        layer = layer or "dig_outcomes"
        self.faults.append(Fault(layer, reason, self.closing.line_id, column, str(value), "stops"))

    def _check_line(self) -> None:
        """Check the line, and the places along it."""
        lines, name = lines_of(self.job, ROUTE_SD_M.number), self.closing.line_id
        line = int(lines.index_of([name])[0])
        if line < 0:
            reason = unknown_line(name, [str(each) for each in lines.table.index])
            self._report("line_id", reason, name)
        length = float(lines.length_m[line]) if line >= 0 else np.inf
        typed = [self.closing.at] if self.closing.at is not None else []
        typed_all = [*typed, *(self.closing.exposed or ())]
        found, wrong = chainages(self.job, name, length, typed_all, plain_m=self.plain_m)
        for reason in wrong:
            self._report("leak_chainage_m", reason)
        self.at_m = found[0] if typed else np.nan
        if self.closing.exposed:
            low, high = sorted(found[len(typed) :])
            self.exposed_m = (low, high)
            outside = self.at_m < low - _EDGE_M or self.at_m > high + _EDGE_M
            if self.closing.found == "leak" and outside:
                reason = Reason("closing_leak_outside", at_m=self.at_m, from_m=low, to_m=high)
                self._report("leak_chainage_m", reason)

    def _check_result(self) -> None:
        one = self.closing
        self._check_code("dig_outcomes", "found", one.found)
        if one.repaired and one.found != "leak":
            self._report("repaired", Reason("closing_repair_without_leak"))
        if one.found == "leak" and one.at is None and one.exposed is None:
            self._report("leak_chainage_m", Reason("closing_place_missing"))
        if one.found == "dry" and one.exposed is None:
            self._report("exposed_from_m", Reason("closing_exposed_missing"))

    def _check_code(self, layer: str, column: str, value: str | None) -> None:
        codes = load_schema(layer).field(column).codes
        if value not in codes:
            reason = Reason("unknown_code", column=column, value=value, codes=codes)
            self._report(column, reason, value, layer)

    def _check_meter(self) -> None:
        meter, given = self.closing.meter, self.closing.meter.given
        lacking = [name for name, value in given.items() if value is None]
        if len(lacking) == len(given):
            return
        if lacking:
            reason = Reason("closing_meter_incomplete", lacking=lacking)
            self._report("start_reading", reason, layer="meter_tests")
            return
        self._check_code("meter_tests", "volume_unit", meter.unit)
        if not 0 < float(meter.minutes or 0) < 1e6:
            self._report("end_time", Reason("closing_no_minutes"), layer="meter_tests")
        start, end = (_register(text) for text in (meter.start, meter.end))
        for column, value, text in (("start_reading", start, meter.start),
                                    ("end_reading", end, meter.end)):  # fmt: skip
            if value is None:
                reason = Reason("not_number", column=column, value=text)
                self._report(column, reason, text, "meter_tests")
        if start is not None and end is not None and end < start:
            reason = Reason("meter_reading_falls", value=meter.end)
            self._report("end_reading", reason, meter.end, "meter_tests")

    def _check_photos(self) -> None:
        for photo in self.closing.photos:
            if not photo.is_file():
                self._report("photos", Reason("closing_photo_missing", value=str(photo)), photo)
            elif ";" in str(photo):
                self._report("photos", Reason("closing_photo_name", value=str(photo)), photo)

    def _check_superseded(self) -> None:
        name = self.closing.supersedes
        if name is None:
            return
        digs = self.job.dig_outcomes
        known = {} if digs is None else dict(zip(texts(digs, "dig_id"), texts(digs, "line_id"),
                                                 strict=True))  # fmt: skip
        if name not in known:
            self._report("supersedes", _unknown_record(name, [str(each) for each in known]), name)
        elif known[name] not in (None, self.closing.line_id):
            reason = Reason("closing_record_of_other_line", line=known[name])
            self._report("supersedes", reason, name)

    def dig(self) -> gpd.GeoDataFrame:
        """Return the row of ``dig_outcomes``."""
        one, leak = self.closing, self.closing.found == "leak"
        at = self.at_m if np.isfinite(self.at_m) else sum(self.exposed_m) / 2.0
        places = np.array([point_along(self.job, one.line_id, at)], dtype=object)
        row = {
            "dig_id": self._name(), "line_id": one.line_id, "found": one.found,
            "leak_chainage_m": _rounded(self.at_m) if leak else None,
            "exposed_from_m": _rounded(self.exposed_m[0]),
            "exposed_to_m": _rounded(self.exposed_m[1]),
            "repaired": one.repaired if leak else None, "cause": one.cause, "crew": one.crew,
            "photos": "; ".join(self._stored(photo) for photo in one.photos) or None,
            "time": self.time.isoformat(), "note": one.note, "supersedes": one.supersedes,
        }  # fmt: skip
        return gpd.GeoDataFrame({k: [v] for k, v in row.items()}, geometry=places,
                                crs=self.job.crs)  # fmt: skip

    def _name(self) -> str:
        """Return a name that no record of the job has."""
        digs, day = self.job.dig_outcomes, f"{self.time:%Y%m%d}"
        known = set() if digs is None else set(texts(digs, "dig_id"))
        return next(name for k in range(1, len(known) + 2)
                    if (name := f"D-{day}-{k}") not in known)  # fmt: skip

    def _stored(self, photo: Path) -> str:
        """Return the path of a photo from the folder of the job; absolute on another drive."""
        try:
            return Path(os.path.relpath(photo.resolve(), self.folder.resolve())).as_posix()
        except ValueError:
            return str(photo.resolve())

    def test(self) -> pd.DataFrame:
        """Return the row of ``meter_tests``; it begins when the repair was done."""
        meter = self.closing.meter
        end = self.time + timedelta(minutes=float(meter.minutes or 0.0))
        steps = [len(str(text).partition(".")[2]) for text in (meter.start, meter.end)]
        row = {
            "line_id": self.closing.line_id, "contact_id": meter.contact_id,
            "start_reading": _register(meter.start), "end_reading": _register(meter.end),
            "volume_unit": meter.unit, "start_time": self.time.isoformat(),
            "end_time": end.isoformat(), "water_used": False, "resolution": 10.0 ** -max(steps),
        }  # fmt: skip
        return pd.DataFrame({name: [value] for name, value in row.items()})


def _unknown_record(name: str, known: Sequence[str]) -> Reason:
    near = get_close_matches(name, known, n=3, cutoff=0.4)
    if near:
        return Reason("closing_record_unknown_like", value=name, like=near)
    return Reason("closing_record_unknown", value=name)


def _register(text: object) -> float | None:
    try:
        value = float(str(text).replace(",", "."))
    except ValueError:
        return None
    return value if np.isfinite(value) else None


def _rounded(chainage_m: float) -> float | None:
    return round(float(chainage_m), 3) if np.isfinite(chainage_m) else None
