"""The `confirm` step: whether the sound changes with the air at the mark, and not at controls."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.find.evidence.air import air_places
from leakgeo.find.evidence.air_cautions import during_air
from leakgeo.find.evidence.air_odds import CONFIRMED, MIN_CONTROL_M, AirVerdict, air_verdict
from leakgeo.find.locate.step import spreading_of
from leakgeo.reason import Reason, columns_of
from leakgeo.route.lines import lines_in
from leakgeo.sound.constants import constants_in

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.arrays import Floats
    from leakgeo.find.evidence.air import AirPlaces
    from leakgeo.result import Result
    from leakgeo.sound.constants import Constants
    from leakgeo.sound.spreading import Spreading

# A place this close to the mark, or within its error, is at the mark.
AT_MARK_M = 1.0
_COLUMNS = (
    "line_id", "role", "chainage_m", "pairs", "level_on_db", "level_off_db", "difference_db",
    "difference_sd_db", "control_chainage_m", "control_difference_db", "odds", "verdict",
    "more_pairs", "air_kpa", "message",
)  # fmt: skip


def confirm(result: Result, *, most_over_kpa: float) -> Result:
    """Return the verdict for each place with readings with compressed air on and off.

    A place is ``confirmed`` if the changes at it and at control points are 20 times likelier with
    a leak there than without, and a control changes clearly less. It is ``not_this`` if they are 10
    times less likely. Otherwise, and with fewer than two pairs at the place or at all controls, it
    is ``inconclusive``.

    Parameters
    ----------
    result : Result
        With ``readings_on_route``, ``lines`` and ``marks``.
    most_over_kpa : float
        Readings with air at more than this above the line's own pressure are rejected.

    Returns
    -------
    Result
        With ``air_tests``.
    """
    lines, constants = lines_in(result), constants_in(result)
    places, faults = air_places(result, constants, most_over_kpa)
    marks = result.layers["marks"].groupby("line_id")["chainage_m"].apply(np.asarray).to_dict()
    rows = [
        row
        for line_id, own in places.items()
        for row in _rows(line_id, own, marks.get(line_id), spreading_of(
            lines, int(lines.index_of([line_id])[0]), constants), constants)
    ]  # fmt: skip
    frame = pd.DataFrame(rows, columns=list(_COLUMNS))
    at = lines.index_of(frame["line_id"])
    frame = frame.assign(
        **columns_of("message", frame.pop("message")),
        **columns_of("cautions", [during_air(lines.material[k]) for k in at.tolist()]),
    )
    points = lines.routes.points(at, frame["chainage_m"].to_numpy(dtype=float))
    layer = gpd.GeoDataFrame(frame, geometry=points, crs=result.job.crs)
    return result.adding({"air_tests": layer}, faults)


def _rows(
    line_id: str, places: AirPlaces, marks_m: Floats | None, spreading: Spreading,
    constants: Constants,
) -> Iterator[tuple[object, ...]]:  # fmt: skip
    """Yield the rows of the layer for the places of one line."""
    change, sd = places.change_db, places.noise(constants)[0] / np.sqrt(places.pairs)
    for k, role in enumerate(_roles(places, marks_m)):
        found = air_verdict(places, k, spreading, constants)
        control = _controls(places, found)
        yield (
            line_id, role, places.chainage_m[k], places.pairs[k], places.on_db[k],
            places.off_db[k], change[k], sd[k], *control, found.odds, found.verdict,
            found.more_pairs, places.air_kpa[k], _message(places, k, found, control),
        )  # fmt: skip


def _controls(places: AirPlaces, found: AirVerdict) -> tuple[float, float]:
    """Return chainage of the control with most pairs, and mean change over all controls."""
    if not len(found.controls):
        return np.nan, np.nan
    most = found.controls[np.argmax(places.pairs[found.controls])]
    pairs = places.pairs[found.controls]
    change = float(np.average(places.change_db[found.controls], weights=pairs))
    return float(places.chainage_m[most]), change


def _roles(places: AirPlaces, marks_m: Floats | None) -> list[str]:
    """Return ``mark`` for places at a mark, else ``control``; ``place`` if none is at a mark."""
    if marks_m is None:
        return ["place"] * len(places.pairs)
    away = np.abs(places.chainage_m - marks_m[:, None]).min(axis=0)
    near = away <= np.maximum(AT_MARK_M, 2.0 * places.error_m)
    return [("mark" if n else "control") if near.any() else "place" for n in near]


def _message(
    places: AirPlaces, here: int, found: AirVerdict, control: tuple[float, float]
) -> Reason:
    """Return the message of a place: change, Bayes factor, verdict, next action if undecided."""
    heard: dict[str, object] = {"change_db": places.change_db[here], "pairs": places.pairs[here]}
    compared = np.isfinite(control[0])
    undecided = found.verdict == "inconclusive"
    return Reason(
        "air_change_with_control" if compared else "air_change",
        _odds(found.odds),
        Reason(f"air_{found.verdict}"),
        _next(found) if undecided else None,
        **heard,
        **({"control_db": control[1]} if compared else {}),
    )


def _odds(odds: float) -> Reason:
    times = float(f"{max(odds, 1.0 / odds):.2g}")
    if times < 1.5:
        return Reason("air_as_likely")
    return Reason("air_likelier" if odds > 1.0 else "air_less_likely", times=times)


def _next(found: AirVerdict) -> Reason:
    if not len(found.controls):
        return Reason("air_no_control", control_m=MIN_CONTROL_M)
    if found.odds >= CONFIRMED:
        return Reason("air_control_changes")
    if found.more_pairs is None:
        return Reason("air_more_do_not_help")
    return Reason("air_more_pairs", pairs=found.more_pairs)
