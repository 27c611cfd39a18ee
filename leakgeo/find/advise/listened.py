"""Lines that were listened to at a quiet hour, or with a probe: neither need be proposed again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import texts
from leakgeo.job.crs import transformer
from leakgeo.route.sweeps import along_the_line

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.arrays import Floats, Objects
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines

_PROBES = ("contact_probe", "ground_spike")
# So many readings are a walk.
_LEAST = 3
_DEGREES_AN_HOUR = 15.0


def listened_how(result: Result, lines: Lines, night: Mapping[str, float]) -> dict[str, set[str]]:
    """Return which lines were listened to at night, and which with a probe.

    Parameters
    ----------
    result : Result
        With ``readings_on_route``.
    lines : Lines
    night : mapping of str to float
        ``from_hour`` and ``to_hour`` of the sun.

    Returns
    -------
    dict of str to set of str
        By ``line_id``: ``night``, ``probe`` or both.
    """
    readings = result.layers["readings_on_route"]
    used = readings[along_the_line(readings)]
    names = texts(used, "line_id")
    hour = hours_of_sun(used["time"], longitude(result, lines, names))
    after, before = hour >= night["from_hour"], hour < night["to_hour"]
    late = after | before if night["from_hour"] > night["to_hour"] else after & before
    probed = np.isin(texts(used, "sensor").astype(str), _PROBES)
    found: dict[str, set[str]] = {}
    for how, which in (("night", late), ("probe", probed)):
        count = pd.Series(names[which]).value_counts()
        for name in count.index[count >= _LEAST]:
            found.setdefault(str(name), set()).add(how)
    return found


def longitude(result: Result, lines: Lines, names: Objects) -> Floats:
    """Return the longitude, in degrees, of the first vertex of each line of some names."""
    first = shapely.get_point(lines.routes.lines, 0)
    to_degrees = transformer(result.job.crs, 4326)
    degrees, _ = to_degrees.transform(shapely.get_x(first), shapely.get_y(first))
    return np.append(degrees, np.nan)[lines.index_of(names)]


def hours_of_sun(time: pd.Series[pd.Timestamp], longitude_deg: Floats) -> Floats:
    """Return the hour of the mean sun at each time, 0 to 24; NaN where there is no time.

    Examples
    --------
    Noon in Greenwich is six in the morning at 90 degrees west.

    >>> noon = pd.Series(pd.to_datetime(["2031-06-01T12:00Z", None]))
    >>> hours_of_sun(noon, np.array([-90.0, 0.0])).tolist()
    [6.0, nan]
    """
    utc = pd.to_datetime(time, utc=True)
    hour = utc.dt.hour + utc.dt.minute / 60.0
    return np.asarray((hour + longitude_deg / _DEGREES_AN_HOUR) % 24.0, dtype=float)
