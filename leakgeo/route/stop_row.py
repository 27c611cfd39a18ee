"""One stop as a crew reports it, as a row of the job; every fault of it at once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.faults import Fault
from leakgeo.job.checks import FARTHEST_M
from leakgeo.job.crs import transformer
from leakgeo.job.walk_values import KEPT, WALK_H
from leakgeo.options import ROUTE_SD_M
from leakgeo.reason import Reason
from leakgeo.route.lines import lines_of
from leakgeo.route.typed_place import (
    chainages,
    known_place,
    length_of,
    unknown_fitting,
    unknown_line,
    with_unit,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.job.model import Job

# Clocks differ.
_AHEAD = timedelta(minutes=10)
# Longer than any line.
_ANY_M = 1e6


@dataclass(frozen=True)
class Stop:
    """A stop as a crew reports it.

    Parameters
    ----------
    line_id : str
    at : str, optional
        Place on the line; see `leakgeo.route.typed_place.parse_place`. A length without a fitting
        begins where the last tape on the line did.
    xy : tuple of float, optional
        Position, in `crs`.
    crs : pyproj.CRS or any value that its constructor takes, optional
        CRS of the position; by default that of the routes.
    time : datetime.datetime, optional
        With its zone; by default now.
    columns : mapping of str to object
        Further columns of ``readings`` that were given.
    """

    line_id: str
    at: str | None
    xy: tuple[float, float] | None
    crs: object
    time: datetime | None
    columns: Mapping[str, object]


class StopRow:
    """The row of ``readings`` for a stop, and what is wrong with it.

    Parameters
    ----------
    job : Job
    stop : Stop
    now : datetime.datetime
        The present time, with its zone.
    plain_m : bool
        Whether a length without a unit is in metres; else it is refused.

    Attributes
    ----------
    faults : list of Fault
    taken : dict of str to object
        Columns that were not given, with the values of `taken_from`.
    taken_from : str
        Stop before this one: the last on its line, or else of the job; ``""`` without one.
    begins_walk : bool
    """

    def __init__(self, job: Job, stop: Stop, now: datetime, *, plain_m: bool) -> None:
        self.job, self.stop, self.plain_m = job, stop, plain_m
        self.time = stop.time or now.replace(microsecond=now.microsecond // 1000 * 1000)
        self.faults: list[Fault] = []
        self.taken: dict[str, object] = {}
        self.begins_walk = False
        self._last = self._row_before()
        self.taken_from = "" if self._last is None else str(self._last["reading_id"])
        if stop.time is not None and stop.time > now + _AHEAD:
            self._report("time", Reason("time_in_future", time=f"{stop.time:%Y-%m-%d %H:%M}"))
        tap = stop.columns.get("tap_open")
        if tap is not None and (unknown := unknown_fitting(job, str(tap))) is not None:
            self._report("tap_open", unknown, tap)
        self.point = self._position()
        self._tape = self._taped()

    def _report(self, column: str, reason: Reason, value: object = "") -> None:
        self.faults.append(
            Fault("readings", reason, self.stop.line_id, column, str(value), "stops")
        )

    def _row_before(self) -> pd.Series[Any] | None:
        """Return the last stop of the walk that was named, of the line, or else of the job."""
        rows, walk = pd.DataFrame(self.job.readings), self.stop.columns.get("walk_id")
        of_walk = rows[rows["walk_id"] == walk] if walk is not None else rows[:0]
        of_line = rows[rows["line_id"] == self.stop.line_id]
        found = next((some for some in (of_walk, of_line, rows) if len(some)), None)
        if found is None:
            return None
        return found.sort_values("time", kind="stable", na_position="first").iloc[-1]

    def _position(self) -> shapely.Point | None:
        """Return the position in the local CRS, which must be near the line."""
        if self.stop.xy is None:
            return None
        crs = self.job.output_crs
        if self.stop.crs is not None:
            try:
                crs = pyproj.CRS.from_user_input(self.stop.crs)
            except pyproj.exceptions.CRSError:
                reason = Reason("stop_position_without_crs", value=str(self.stop.crs))
                self._report("geometry", reason, self.stop.crs)
                return None
        to_local = transformer(crs, self.job.crs)
        x, y = to_local.transform(*self.stop.xy)
        return shapely.Point(x, y)

    def _taped(self) -> dict[str, object]:
        """Return the columns of the tape; check the line, and the places along it."""
        lines, name = lines_of(self.job, ROUTE_SD_M.number), self.stop.line_id
        line = int(lines.index_of([name])[0])
        if line < 0:
            reason = unknown_line(name, [str(each) for each in lines.table.index])
            self._report("line_id", reason, name)
        elif self.point is not None:
            away = float(shapely.distance(self.point, lines.routes.lines[line]))
            if not away <= FARTHEST_M:
                far = away if np.isfinite(away) else None
                self._report("geometry", Reason("stop_far_from_line", away_m=far, line=name))
        if self.stop.at is None:
            if self.stop.xy is None:
                self._report("tape", Reason("stop_place_missing"))
            return {}
        length = float(lines.length_m[line]) if line >= 0 else np.inf
        return self._along(self._whole_place(self.stop.at), length)

    def _whole_place(self, at: str) -> str:
        """Return a place with the fittings of the last tape on the line, if it names none."""
        rows = pd.DataFrame(self.job.readings)
        own = rows[(rows["line_id"] == self.stop.line_id) & rows["chainage_m"].notna()]
        if length_of(at) != at or own.empty:
            return at
        last = own.sort_values("time", kind="stable", na_position="first").iloc[-1]
        ends = {c: str(last[c]) for c in ("chainage_from", "chainage_toward") if pd.notna(last[c])}
        self.taken |= ends
        if not ends:
            return at
        toward = f" toward {ends['chainage_toward']}" if "chainage_toward" in ends else ""
        return f"{at} from {ends.get('chainage_from', 'start')}{toward}"

    def _along(self, at: str, length_m: float) -> dict[str, object]:
        """Return the tape, and the fittings that it ran between."""
        name = self.stop.line_id
        (along,), wrong = chainages(self.job, name, length_m, [at], plain_m=self.plain_m)
        for reason in wrong:
            self._report("tape", reason, at)
        place = known_place(self.job, at, plain_m=self.plain_m)
        if place is None or wrong:
            return {}
        toward = place.toward
        if place.backward and place.origin is not None:
            toward = self._first_fitting(place.origin, along)
            if toward is None:
                self._report("chainage_toward", Reason("stop_toward_start"), at)
        # A plain length is in metres here.
        tape = with_unit(length_of(at).strip(), "m")
        return {"tape": tape, "chainage_from": place.origin, "chainage_toward": toward}

    def _first_fitting(self, origin: str, along_m: float) -> str | None:
        """Return the fitting of the line that is nearest its start, if `origin` is another."""
        rows = self.job.contacts
        if rows is None:
            return None
        own = texts(rows[rows["line_id"] == self.stop.line_id], "contact_id")
        found: dict[float, str] = {}
        for name in own:
            (at,), wrong = chainages(self.job, self.stop.line_id, _ANY_M, [f"0 m from {name}"])
            if not wrong and np.isfinite(at):
                found[at] = str(name)
        nearest = found[min(found)] if found else None
        return None if nearest in (None, origin) or min(found) > along_m else nearest

    def table(self) -> gpd.GeoDataFrame:
        """Return the row, with what it takes from the stop before."""
        given = {name: value for name, value in self.stop.columns.items() if value is not None}
        row = {"reading_id": self._name(), "line_id": self.stop.line_id,
               "time": self.time.isoformat(), **self._tape, **given}  # fmt: skip
        kept = [c for c in KEPT["readings"] if c != "position_sd_m" or self.point is not None]
        for column in kept:
            value = None if self._last is None else self._last[column]
            if column not in given and pd.notna(value):
                row[column] = self.taken[column] = value
        if "walk_id" not in given:
            row["walk_id"] = self._walk()
        row["seq"] = self._order(str(row["walk_id"]))
        place = np.array([self.point], dtype=object)
        known = {name: [value] for name, value in row.items() if value is not None}
        return gpd.GeoDataFrame(known, geometry=place, crs=self.job.crs)

    def _name(self) -> str:
        """Return a name that no reading of the job has, as forms give it."""
        known = set(texts(self.job.readings, "reading_id"))
        utc = self.time.astimezone(UTC)
        stamp = f"{utc:%Y%m%d-%H%M%S}-{utc.microsecond // 1000:03d}"
        names = (stamp, *(f"{stamp}-{k}" for k in range(2, len(known) + 3)))
        return next(name for name in names if name not in known)

    def _walk(self) -> str:
        """Return the walk of the stop before; a new one if that is over."""
        last = self._last
        if last is not None and pd.notna(last["time"]) and pd.notna(last["walk_id"]):
            age = self.time - last["time"].to_pydatetime()
            if abs(age) <= timedelta(hours=WALK_H):
                self.taken["walk_id"] = last["walk_id"]
                return str(last["walk_id"])
        self.begins_walk = True
        known = set(texts(self.job.readings, "walk_id"))
        stamp = f"W{self.time.astimezone(UTC):%Y%m%d-%H%M}"
        names = (stamp, *(f"{stamp}-{k}" for k in range(2, len(known) + 3)))
        return next(name for name in names if name not in known)

    def _order(self, walk: str) -> int | None:
        """Return the next number in a walk whose stops are numbered."""
        rows = pd.DataFrame(self.job.readings)
        order = floats(rows[rows["walk_id"] == walk], "seq")
        order = order[np.isfinite(order)]
        return int(order.max()) + 1 if len(order) else None
