"""Proof by compressed air: whether the sound follows the air at the mark, and not elsewhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.find.evidence.air import air_places
from leakgeo.find.evidence.air_odds import CONFIRMED, CONTROL_M, AirVerdict, judge
from leakgeo.find.locate.spread import spreading_of
from leakgeo.route.lines import lines_in
from leakgeo.sound.constants import constants_in

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.find.evidence.air import AirPlaces
    from leakgeo.result import Result
    from leakgeo.sound.constants import Constants
    from leakgeo.sound.spreading import Spreading

# A place this close to the mark, or within its error, is at the mark.
AT_MARK_M = 1.0
CAUTIONS = (
    "Air no more than the regulator's limit above the line's own pressure; every fixture and the "
    "valves of heaters shut; a backflow device handled by someone licensed; volume low before the "
    "air goes on, ears protected; never listen while the sensor is moved."
)
_COLUMNS = (
    "line_id", "role", "chainage_m", "pairs", "level_on_db", "level_off_db", "difference_db",
    "difference_sd_db", "control_chainage_m", "control_difference_db", "odds", "verdict",
    "more_pairs", "air_kpa", "message", "cautions",
)  # fmt: skip


def confirm(result: Result, *, most_over_kpa: float) -> Result:
    """Judge each place that was listened to with compressed air on and off.

    A place is ``confirmed`` when the changes at it and at control points are 20 times likelier if
    the leak sounds there than if it does not, and a control changes clearly less; ``not_this`` when
    they are 10 times less likely; else, or with fewer than two pairs at the place and at a control,
    ``inconclusive``.

    Parameters
    ----------
    result : Result
        With ``readings_on_route``, ``lines`` and ``marks``.
    most_over_kpa : float
        Readings with air injected at more than this above the line's own pressure are refused.

    Returns
    -------
    Result
        With ``air_tests``.
    """
    lines, constants = lines_in(result), constants_in(result)
    places, faults = air_places(result, constants, most_over_kpa)
    marks = result.layers["marks"].set_index("line_id")["chainage_m"]
    rows = [
        row
        for line_id, own in places.items()
        for row in _rows(line_id, own, marks.get(line_id), spreading_of(
            lines, int(lines.index_of([line_id])[0]), constants), constants)
    ]  # fmt: skip
    frame = pd.DataFrame(rows, columns=list(_COLUMNS))
    points = lines.routes.points(
        lines.index_of(frame["line_id"]), frame["chainage_m"].to_numpy(dtype=float)
    )
    layer = gpd.GeoDataFrame(frame, geometry=points, crs=result.job.crs)
    return result.adding({"air_tests": layer}, faults)


def _rows(
    line_id: str, places: AirPlaces, mark_m: float | None, spreading: Spreading,
    constants: Constants,
) -> Iterator[tuple[object, ...]]:  # fmt: skip
    """Rows of the layer for the places of one line."""
    change, sd = places.change_db, places.noise(constants)[0] / np.sqrt(places.pairs)
    for k, role in enumerate(_roles(places, mark_m)):
        found = judge(places, k, spreading, constants)
        control = _controls(places, found)
        yield (
            line_id, role, places.chainage_m[k], places.pairs[k], places.on_db[k],
            places.off_db[k], change[k], sd[k], *control, found.odds, found.verdict,
            found.more_pairs, places.air_kpa[k], _message(places, k, found, control), CAUTIONS,
        )  # fmt: skip


def _controls(places: AirPlaces, found: AirVerdict) -> tuple[float, float]:
    """Chainage of the control with most pairs, and the mean change over all controls."""
    if not len(found.controls):
        return np.nan, np.nan
    most = found.controls[np.argmax(places.pairs[found.controls])]
    pairs = places.pairs[found.controls]
    change = float(np.average(places.change_db[found.controls], weights=pairs))
    return float(places.chainage_m[most]), change


def _roles(places: AirPlaces, mark_m: float | None) -> list[str]:
    """Which place is the mark; the others are its controls, if one of them is the mark at all."""
    if mark_m is None:
        return ["place"] * len(places.pairs)
    near = np.abs(places.chainage_m - mark_m) <= np.maximum(AT_MARK_M, 2.0 * places.error_m)
    return [("mark" if n else "control") if near.any() else "place" for n in near]


_SAID = {
    "confirmed": "The sound here follows the air, and so comes of this line.",
    "not_this": "The sound here does not follow the air: it is not this leak that sounds here.",
    "inconclusive": "That does not decide it.",
}


def _message(places: AirPlaces, here: int, found: AirVerdict, control: tuple[float, float]) -> str:
    """What was heard at a place, what it says, and what to do if it does not decide."""
    pairs, change = int(places.pairs[here]), float(places.change_db[here])
    heard = f"Air changes the level by {change:+.1f} dB here ({pairs} pair{'s' * (pairs > 1)})"
    if np.isfinite(control[0]):
        heard += f", by {control[1]:+.1f} dB at the control"
    told = [f"{heard}. {_odds(found.odds)}", _SAID[found.verdict]]
    if found.verdict == "inconclusive":
        told.append(_next(places, here, found))
    return " ".join(told)


def _odds(odds: float) -> str:
    times = float(f"{max(odds, 1.0 / odds):.2g}")
    if times < 1.5:
        return "That is as likely if the leak sounds here as if it does not."
    way = "likelier" if odds > 1.0 else "less likely"
    return f"That is {times:,g} times {way} if the leak sounds here than if it does not."


def _next(places: AirPlaces, here: int, found: AirVerdict) -> str:
    if not len(found.controls):
        return (f"Listen at a control point too, {CONTROL_M:.0f} m off or farther, where the sound "
                "is no longer heard.")  # fmt: skip
    if found.odds >= CONFIRMED:
        return "The control changes too: choose one where the leak can no longer be heard."
    if found.more_pairs is None:
        return "More pairs are not expected to decide: choose a control point farther off."
    many = f"{found.more_pairs} more pairs" if found.more_pairs > 1 else "One more pair"
    return f"{many} here and at the control may decide."
