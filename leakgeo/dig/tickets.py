"""Notice period and validity of locate tickets, in working days and local dates."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import holidays as public_holidays
import numpy as np
import pandas as pd

from leakgeo.errors import ParameterError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Dates = NDArray[np.datetime64]

# Local dates are earliest at UTC-12 and latest at UTC+14.
_EARLIEST, _LATEST = pd.Timedelta(hours=-12), pd.Timedelta(hours=14)


@dataclass(frozen=True)
class TicketRule:
    """Requirements of local law on a locate ticket, and the day of the dig.

    Parameters
    ----------
    dig_date : datetime.date or None
        Local day on which digging begins.
    notice_days : int or None
        Full working days between the day of notice and the day of the dig.
    validity_days : int or None
        Calendar days from the day of notice during which the ticket is valid.
    zone : zoneinfo.ZoneInfo or None
        Time zone of the dig; if None, every date is read in the stricter way.
    weekmask : str
        Working days of the week, from Monday.
    holidays : tuple of datetime.date
        Holidays of the dig's year and the year before; None if not given.
    """

    dig_date: date | None = None
    notice_days: int | None = None
    validity_days: int | None = None
    zone: ZoneInfo | None = None
    weekmask: str = "1111100"
    holidays: tuple[date, ...] | None = field(default=None, repr=False)

    @property
    def missing(self) -> tuple[str, ...]:
        """Names of the parameters that were not given."""
        given = {
            "dig_date": self.dig_date,
            "notice_days": self.notice_days,
            "validity_days": self.validity_days,
            "holidays": () if self.notice_days == 0 else self.holidays,
        }
        return tuple(name for name, value in given.items() if value is None)

    @property
    def missing_in_emergency(self) -> tuple[str, ...]:
        """Names of the parameters that were not given and that an emergency ticket needs too."""
        return tuple(n for n in self.missing if n not in ("notice_days", "holidays"))


def ticket_rule(
    dig_date: str | None = None,
    notice_days: int | None = None,
    validity_days: int | None = None,
    holidays: str | None = None,
    time_zone: str | None = None,
) -> TicketRule:
    """Parse the parameters of the ticket checks.

    Parameters
    ----------
    dig_date : str, optional
        ISO date.
    notice_days, validity_days : int, optional
    holidays : str, optional
        Country, with its subdivision after a hyphen, as the `holidays` package names them.
    time_zone : str, optional
        IANA name.

    Returns
    -------
    TicketRule

    Raises
    ------
    ParameterError
        If a value can't be parsed, or the country or time zone is unknown.

    Examples
    --------
    >>> rule = ticket_rule("2026-07-06", 2, 28, "US-HI", "Pacific/Honolulu")
    >>> date(2026, 7, 3) in rule.holidays, rule.missing  # Independence Day, observed
    (True, ())
    >>> ticket_rule().missing
    ('dig_date', 'notice_days', 'validity_days', 'holidays')
    """
    day = _day(dig_date)
    weekmask, days = holidays_of(holidays, day) if holidays else ("1111100", None)
    return TicketRule(day, notice_days, validity_days, time_zone_of(time_zone), weekmask, days)


def _day(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError as error:
        raise ParameterError.of(
            "dig_date", f"{text!r} is not a date; give it as 2026-03-31."
        ) from error


def time_zone_of(name: str | None) -> ZoneInfo | None:
    """Return the time zone with an IANA name.

    Raises
    ------
    ParameterError
        If there is no such time zone.
    """
    try:
        return ZoneInfo(name) if name else None
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ParameterError.of(
            "time_zone", f"{name!r} is not known; give a name such as America/Detroit."
        ) from error


@lru_cache(maxsize=64)
def holidays_of(name: str, day: date | None = None) -> tuple[str, tuple[date, ...] | None]:
    """Return the working days of the week, and the holidays of the dig's year and the one before.

    Raises
    ------
    ParameterError
        If the country or its subdivision is unknown.
    """
    country, _, part = name.partition("-")
    # No day after the dig counts, and a notice older than the year before is never short.
    years = () if day is None else (day.year - 1, day.year)
    try:
        found = public_holidays.country_holidays(country, subdiv=part or None, years=years)
    except NotImplementedError as error:
        raise ParameterError.of(
            "holidays", f"{name!r} is not known; give a country and subdivision such as US-MI."
        ) from error
    mask = "".join("0" if day_of_week in found.weekend else "1" for day_of_week in range(7))
    return mask, tuple(sorted(found)) if day is not None else None


def local_dates(times: pd.Series, zone: ZoneInfo | None) -> tuple[Dates, Dates]:
    """Return the earliest and the latest possible local date of each time; NaT for NaT.

    Parameters
    ----------
    times : (n,) pandas.Series of UTC times
    zone : zoneinfo.ZoneInfo or None
        If None, the two dates span all time zones of the earth.

    Examples
    --------
    >>> when = pd.Series(pd.to_datetime(["2026-03-02T05:00Z"]))
    >>> [str(d[0]) for d in local_dates(when, ZoneInfo("Pacific/Honolulu"))]
    ['2026-03-01', '2026-03-01']
    >>> [str(d[0]) for d in local_dates(when, None)]
    ['2026-03-01', '2026-03-02']
    """
    utc = pd.to_datetime(times, utc=True)
    if zone is not None:
        local = _as_days(utc.dt.tz_convert(zone).dt.tz_localize(None))
        return local, local
    plain = utc.dt.tz_localize(None)
    return _as_days(plain + _EARLIEST), _as_days(plain + _LATEST)


def _as_days(times: pd.Series) -> Dates:
    return np.asarray(times.to_numpy(dtype="datetime64[ns]").astype("datetime64[D]"))


def notice_is_short(notified: pd.Series, rule: TicketRule) -> NDArray[np.bool_]:
    """Flag tickets with fewer full working days between notice and dig than the law requires.

    Neither the day of the notice nor the day of the dig counts. False where unknown.
    """
    short = np.zeros(len(notified), dtype=bool)
    if rule.dig_date is None or not rule.notice_days:
        return short
    _, latest = local_dates(notified, rule.zone)
    known = ~np.isnat(latest)
    off = np.array(rule.holidays or (), dtype="datetime64[D]")
    between = np.busday_count(
        latest[known] + np.timedelta64(1, "D"), np.datetime64(rule.dig_date, "D"),
        weekmask=rule.weekmask, holidays=off,
    )  # fmt: skip
    short[known] = between < rule.notice_days
    return short


def is_expired(notified: pd.Series, rule: TicketRule) -> NDArray[np.bool_]:
    """Flag tickets that expire before the day of the dig; False where unknown."""
    if rule.dig_date is None or rule.validity_days is None:
        return np.zeros(len(notified), dtype=bool)
    earliest, _ = local_dates(notified, rule.zone)
    last = earliest + np.timedelta64(rule.validity_days, "D")
    return np.asarray(~np.isnat(earliest) & (last < np.datetime64(rule.dig_date, "D")))


def is_after_dig(times: pd.Series, rule: TicketRule) -> NDArray[np.bool_]:
    """Flag times after the day of the dig; False where unknown."""
    if rule.dig_date is None:
        return np.zeros(len(times), dtype=bool)
    earliest, _ = local_dates(times, rule.zone)
    return np.asarray(~np.isnat(earliest) & (earliest > np.datetime64(rule.dig_date, "D")))


def last_days(notified: pd.Series, rule: TicketRule) -> list[str]:
    """Return the last valid day of each ticket as an ISO date; ``[]`` if validity is unknown.

    Examples
    --------
    >>> notice = pd.Series(pd.to_datetime(["2026-03-02T18:00Z"]))
    >>> last_days(notice, ticket_rule(validity_days=28, time_zone="Pacific/Honolulu"))
    ['2026-03-30']
    """
    if rule.validity_days is None:
        return []
    earliest, _ = local_dates(notified, rule.zone)
    return [str(day) for day in earliest + np.timedelta64(rule.validity_days, "D")]
