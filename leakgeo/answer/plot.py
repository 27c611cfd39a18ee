"""What the plot of a line shows, and what it says of the place under the pointer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from leakgeo.arrays import floats, texts
from leakgeo.conversion import FOOT_M
from leakgeo.deliver.views.profiles import COLUMNS, profiles_by_line
from leakgeo.deliver.views.rows import beside_in_sweep, flag, number, text
from leakgeo.deliver.views.sentences import from_fitting
from leakgeo.reason import Reason
from leakgeo.route.lines import lines_of
from leakgeo.route.place import place_on_routes
from leakgeo.wording.quantities import axis_unit, is_known

if TYPE_CHECKING:
    from collections.abc import Collection

    from leakgeo.arrays import Floats
    from leakgeo.deliver.views.line_view import LineView
    from leakgeo.job.model import Job
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines

Plain = dict[str, Any]
Row = dict[str, object]
USED, NOT_USED, ASIDE = "used", "not_used", "aside"
# A written tape with one of these has its unit.
_HAS_UNIT = frozenset("'\"\u2032\u2033abcdefghijklmnopqrstuvwxyz")
# Points of a curve, and places that something is said of, at most; the latter at this distance.
_MOST_POINTS, _HOVER_M = 480, 0.1


def plot_data(view: LineView, result: Result, units: str, aside: Collection[str] = ()) -> Plain:
    """Return levels, odds, zones, mark, fittings and next stops along a line, with their texts.

    Parameters
    ----------
    view : LineView
        With its texts.
    result : Result
        Result of this line, in its job's metre CRS.
    units : {"si", "us"}
        Units of the texts and of the axis.
    aside : collection of str
        Readings that are left out in this answer alone.

    Returns
    -------
    dict
        JSON values. Every ``x`` is a distance along the pipe in metres.
    """
    settings = result.parameters["profile"]
    lines = lines_of(result.job, float(str(settings["route_sd_m"])))
    at = int(lines.index_of([view.line_id])[0])
    name, metres = axis_unit(units)
    return {
        "unit": {"name": name, "metres": metres},
        "length": float(lines.length_m[at]) if at >= 0 else None,
        "route": _route(lines, at, result.job) if at >= 0 and view.placed else None,
        "readings": _readings(view, _displayed_m(view, lines, result), result.job, aside),
        "odds": _odds(view, result, metres),
        "here": _here(view, result, float(lines.length_m[at])) if at >= 0 else None,
        "zones": [_zone(row, view) for row in reversed(view.zones)],
        "marks": [_mark(one) for one in view.by_mark if one.mark],
        "fittings": [_fitting(row, view) for row in view.rows("contact_ranking")
                     if number(row, "chainage_m") is not None],
        "next": [_next(row, view) for row in view.rows("next_readings")],
    }  # fmt: skip


def _route(lines: Lines, at: int, job: Job) -> Plain:
    """Return the vertices of a line in the CRS of the results, and their distances along it."""
    import geopandas as gpd

    shape = lines.routes.lines[at]
    coordinates = shapely.get_coordinates(shape)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(coordinates, axis=0).T))])
    shown = gpd.GeoSeries([shape], crs=job.crs).to_crs(job.output_crs).iloc[0]
    authority = job.output_crs.to_authority()
    return {
        "at": shapely.get_coordinates(shown).tolist(),
        "x": (along / along[-1] * lines.length_m[at]).tolist(),
        "crs": ":".join(authority) if authority else "",
        "wkt": job.output_crs.to_wkt(),
    }


def _displayed_m(view: LineView, lines: Lines, result: Result) -> dict[str, float]:
    """Return where readings that are left out would be, by their names."""
    job, settings = result.job, result.parameters["profile"]
    placed = {text(row, "reading_id"): number(row, "chainage_m")
              for row in view.rows("readings_on_route")}  # fmt: skip
    names = texts(job.readings, "reading_id")
    lost = np.array([placed.get(str(name), 0.0) is None for name in names], dtype=bool)
    placeable = ~shapely.is_missing(job.readings.geometry.to_numpy())
    rows = job.readings[lost & placeable].reset_index(drop=True)
    if rows.empty or lines.index_of([view.line_id])[0] < 0:
        return {}
    errors = {n: float(str(settings[n])) for n in ("reading_sd_m", "tape_sd_m")}
    found = place_on_routes(rows.assign(reason=None, line_id=view.line_id), lines, **errors)
    at = zip(texts(rows, "reading_id"), floats(found, "chainage_m").tolist(), strict=True)
    return {str(name): x for name, x in at if is_known(x)}


def _readings(
    view: LineView, displayed_m: dict[str, float], job: Job, aside: Collection[str]
) -> list[Plain]:
    """Return the stops with state, place, level and texts, along the line."""
    stored = job.readings
    row_of = {str(n): k for k, n in reversed(list(enumerate(texts(stored, "reading_id"))))}
    found = []
    for row in view.rows("readings_on_route"):
        name, level = text(row, "reading_id"), number(row, "level_comparable_db")
        x, shown = number(row, "chainage_m"), number(row, "level_db")
        x = displayed_m.get(name) if x is None else x
        state = USED if flag(row, "used") else NOT_USED
        if name in aside or text(row, "reason_code") == "set_aside":
            state = ASIDE
        level = shown if level is None else level
        taped = _taped(stored.iloc[row_of[name]].to_dict()) if name in row_of else None
        found.append({
            "id": name, "x": None if beside_in_sweep(row) else x, "db": level, "state": state,
            "says": _stop_texts(view, row, x, level, taped, here=name in aside),
        })  # fmt: skip
    return sorted(found, key=lambda each: (each["x"] is None, each["x"] or 0.0))


def _stop_texts(
    view: LineView, row: Row, x: float | None, level: float | None, taped: Reason | None, *,
    here: bool,
) -> list[str]:  # fmt: skip
    name, why = text(row, "reading_id"), text(row, "reason")
    first = Reason("panel_stop_without_level", reading=name)
    if level is not None:
        first = Reason("panel_stop", reading=name, level_db=level)
    state = Reason("panel_used")
    if here:
        state = Reason("panel_aside_here")
    elif not flag(row, "used") or why:
        state = Reason("panel_not_used", why=why)
    # A reading of a sweep is used, and its reason says how.
    said = why if flag(row, "used") and why and not here else view.wording.text(state)
    at = [] if x is None else [Reason("panel_at", chainage_m=x)]
    return [
        *(view.wording.text(one) for one in (first, *at, taped or Reason("panel_by_position"))),
        said,
    ]


def _taped(row: Row) -> Reason | None:
    """Return the taped distance of a stored reading, as it was typed; None without one."""
    tape, chainage = text(row, "tape"), number(row, "chainage_m")
    if tape and not _HAS_UNIT & set(tape.casefold()):
        tape = f"{tape} {text(row, 'tape_unit')}".strip()
    if not tape and chainage is None:
        return None
    tape = tape or f"{chainage:g} m"
    fitting, toward = text(row, "chainage_from"), text(row, "chainage_toward")
    if fitting and toward:
        return Reason("panel_taped_toward", tape=tape, fitting=fitting, toward=toward)
    return Reason("panel_taped_from", tape=tape, fitting=fitting) if fitting else Reason(
        "panel_taped", tape=tape)  # fmt: skip


def _odds(view: LineView, result: Result, metres: float) -> Plain:
    """Return level and odds along the line."""
    profile = profiles_by_line(result.layers["profile"], _MOST_POINTS).get(view.line_id)
    if profile is None:
        return {"x": [], "db": [], "sd": [], "density": []}
    leak = number(view.row, "leak_probability") or 0.0
    return {
        "x": _listed(profile.chainage_m), "db": _listed(profile.level_comparable_db),
        "sd": _listed(profile.level_comparable_sd_db),
        # For each foot or metre, of a leak on this line.
        "density": _listed(leak * metres * profile.leak_density_per_m),
    }  # fmt: skip


def _here(view: LineView, result: Result, length_m: float) -> Plain:
    """Return what is said of places at equal distances along the line."""
    layer = result.layers["profile"]
    count = min(_MOST_POINTS, round(length_m / _HOVER_M)) + 1
    at = np.linspace(0.0, length_m, count)
    if layer.empty:
        return {"step": length_m / (count - 1), "says": []}
    full = layer.sort_values("chainage_m")
    x, db, sd, density = (floats(full, name) for name in COLUMNS)
    leak = number(view.row, "leak_probability") or 0.0
    near = (leak * within(x, density, at)).tolist()
    levels = zip(np.interp(at, x, db).tolist(), np.interp(at, x, sd).tolist(), strict=True)
    says = []
    for place, probability, (level, error) in zip(at.tolist(), near, levels, strict=True):
        said = [Reason("panel_at", chainage_m=place)]
        if is_known(probability):
            said.append(Reason("panel_near", probability=probability))
        if is_known(level):
            said.append(Reason("panel_level_here", level_db=level, sd_db=error))
        says.append([view.wording.text(one) for one in said])
    return {"step": length_m / (count - 1), "says": says}


def within(chainage_m: Floats, density_per_m: Floats, at_m: Floats) -> Floats:
    """Return the probability within one foot of places, from the density along a line.

    Parameters
    ----------
    chainage_m, density_per_m : ndarray of float, shape (n,)
        In order of chainage.
    at_m : ndarray of float, shape (k,)

    Returns
    -------
    ndarray of float, shape (k,)
        NaN where the density is not known.

    Examples
    --------
    >>> within(np.array([0.0, 10.0]), np.array([0.1, 0.1]), np.array([0.0, 5.0])).round(4).tolist()
    [0.0305, 0.061]
    """
    if not np.isfinite(density_per_m).all():
        return np.full(len(at_m), np.nan)
    parts = np.diff(chainage_m) * (density_per_m[1:] + density_per_m[:-1]) / 2.0
    total = np.concatenate([[0.0], np.cumsum(parts)])
    low, high = (np.interp(at_m + side, chainage_m, total) for side in (-FOOT_M, FOOT_M))
    return np.asarray(np.clip(high - low, 0.0, 1.0))


def _listed(values: Floats) -> list[float | None]:
    return [round(float(value), 6) if is_known(value) else None for value in values]


def _zone(row: Row, view: LineView) -> Plain:
    ends = number(row, "from_chainage_m") or 0.0, number(row, "to_chainage_m") or 0.0
    share = number(row, "probability_leak_here")
    reason = Reason("panel_zone", probability=share, from_m=ends[0], to_m=ends[1])
    return {"x": ends, "rank": int(number(row, "rank") or 99), "says": [view.wording.text(reason)]}


def _mark(one: LineView) -> Plain:
    x = number(one.mark or {}, "chainage_m")
    code = Reason("panel_mark" if one.located else "panel_likeliest", chainage_m=x)
    return {"x": x, "located": one.located, "says": [one.wording.text(code)]}


def _fitting(row: Row, view: LineView) -> Plain:
    what = view.wording.text(
        Reason("fitting", kind=text(row, "kind") or "fitting", contact=text(row, "contact_id"))
    )
    x = number(row, "chainage_m")
    reason = Reason("panel_fitting", what=what, chainage_m=x)
    return {"x": x, "name": text(row, "contact_id"), "says": [view.wording.text(reason)]}


def _next(row: Row, view: LineView) -> Plain:
    x, order = number(row, "chainage_m"), int(number(row, "order") or 0)
    taped, why = from_fitting(row, view.wording), text(row, "reason")
    first = Reason("panel_next", order=order, chainage_m=x)
    if taped:
        first = Reason("panel_next_taped", order=order, chainage_m=x, taped=taped)
    says = [view.wording.text(first), *([why] if why else [])]
    return {"x": x, "order": order, "at": view.wording.quantities.length(x), "says": says}
