"""``plot`` (matplotlib) and ``explore`` (folium) of jobs and results."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.deliver.map.background import background
from leakgeo.deliver.map.write import make_map
from leakgeo.deliver.views import colours
from leakgeo.deliver.views.top_lines import select_lines
from leakgeo.errors import LeakgeoError, ParameterError
from leakgeo.job.model import Job
from leakgeo.job.placed import job_on_the_ground, on_the_ground
from leakgeo.result import Result
from leakgeo.route.sweeps import swept_beside

if TYPE_CHECKING:
    import folium
    from matplotlib.axes import Axes
    from pyproj import CRS

    from leakgeo.arrays import Floats

# Margin of a plan around its routes, in metres.
_MARGIN_M = 3.0


def plot_result(
    result: Result, line_id: str | None, ax: Axes | None
) -> Axes | np.ndarray[Any, Any]:
    """Draw a plan of all lines, or three charts of one line; see `leakgeo.Result.plot`."""
    result = on_the_ground(result)
    if line_id is None:
        return _plan(result, _axes(ax))
    one = _of_line(result, line_id)
    figure = _pyplot().figure(figsize=(8.0, 9.0), layout="constrained")
    axes = figure.subplots(3, 1, height_ratios=(2, 2, 3))
    axes[1].sharex(axes[0])
    _levels(one, axes[0])
    _density(one, axes[1])
    _plan(one, axes[2])
    figure.suptitle(line_id, parse_math=False)
    return np.asarray(axes)


def plot_job(job: Job, line_id: str | None, ax: Axes | None) -> Axes:
    """Draw a plan of all lines or of one line; see `leakgeo.Job.plot`."""
    some = on_the_ground(Result(job, shown_in=job.shown_in))
    return _plan(some if line_id is None else _of_line(some, line_id), _axes(ax))


def explore(
    shown: Job | Result, line_id: str | None, tiles: str | None, units: Literal["si", "us"] | None
) -> folium.Map:
    """Return the map of a job or a result; see `leakgeo.layers.Layers.explore`."""
    result = on_the_ground(_with_readings(shown) if isinstance(shown, Job) else shown)
    some = result if line_id is None else _of_line(result, line_id)
    return make_map(some, units=units, under=background(some.job, None, tiles))


def _axes(ax: Axes | None) -> Axes:
    if ax is not None:
        return ax
    axes: Axes = _pyplot().figure(layout="constrained").add_subplot()
    return axes


def _pyplot() -> Any:
    try:
        import matplotlib.pyplot as plt
    except ImportError as error:
        raise LeakgeoError(
            "plot needs matplotlib, which is not installed. Call pip install '.[plot]' in the copy "
            "of the repository, or pip install --no-index --find-links wheelhouse 'leakgeo[plot]' "
            "with a wheelhouse."
        ) from error
    return plt


def _of_line(result: Result, line_id: str) -> Result:
    known = {str(name) for name in result.job.routes["line_id"].dropna()}
    lines = result.layers.get("lines")
    known |= set() if lines is None else set(lines["line_id"].astype(str))
    if line_id not in known:
        raise ParameterError(f"line_id: there is no line {line_id}.")
    some = select_lines(result, [line_id])
    readings = some.job.readings
    job = replace(some.job, readings=readings[readings["line_id"] == line_id])
    layers = {name: frame[frame["line_id"] == line_id] if "line_id" in frame else frame
              for name, frame in some.layers.items()}  # fmt: skip
    return replace(some, job=job, layers=layers)


def _with_readings(job: Job) -> Result:
    """Return a result with the readings of a job as they were read, for the map."""
    job = job_on_the_ground(job)
    readings = job.readings.assign(used=job.readings["reason"].isna(), level_comparable_db=np.nan)
    return Result(job, {"readings_on_route": readings})


def _layer(shown: Job | Result, name: str) -> pd.DataFrame:
    return shown[name] if name in shown else pd.DataFrame()


def _levels(one: Result, ax: Axes) -> None:
    """Draw the readings, and the level curve with a band of two standard deviations."""
    along, heard = _layer(one, "profile"), _layer(one, "readings_on_route")
    if len(along):
        level, sd = _floats(along, "level_comparable_db"), _floats(along, "level_comparable_sd_db")
        ax.fill_between(along["chainage_m"], level - 2 * sd, level + 2 * sd,
                        color=colours.LEVELS[-3], alpha=0.3, label="level, 95 %")  # fmt: skip
        ax.plot(along["chainage_m"], level, color=colours.LEVELS[4])
    heard = heard[~swept_beside(heard)]
    if len(heard):
        used = heard["used"].fillna(value=False).astype(bool)
        for rows, style, label in ((used, "k.", "readings"), (~used, "kx", "readings not used")):
            if rows.any():
                ax.plot(heard["chainage_m"][rows], heard["level_comparable_db"][rows], style,
                        label=label)  # fmt: skip
    _finish(one, ax, "level [dB]")


def _density(one: Result, ax: Axes) -> None:
    """Draw the leak density along the line."""
    along = _layer(one, "profile")
    if "leak_density_per_m" in along:
        ax.fill_between(along["chainage_m"], _floats(along, "leak_density_per_m"),
                        color=colours.ZONES[1], label="leak")  # fmt: skip
    ax.set_ylim(bottom=0.0)
    ax.set_xlabel("chainage [m]")
    _finish(one, ax, "leak density [1/m]")


def _finish(one: Result, ax: Axes, what: str) -> None:
    """Add zones, mark, axis label and legend to a chart."""
    for k, zone in enumerate(_layer(one, "search_zones").to_dict("records")):
        ax.axvspan(zone["from_chainage_m"], zone["to_chainage_m"], color=colours.ZONES[2],
                   alpha=0.4, label=None if k else "search zone")  # fmt: skip
    for k, mark in enumerate(_layer(one, "marks").to_dict("records")):
        label = None if k else _mark_label(str(mark["status"]))
        ax.axvline(mark["chainage_m"], color=colours.INK, label=label)
    ax.set_ylabel(what)
    if ax.get_legend_handles_labels()[0]:
        ax.legend(loc="upper right")


def _mark_label(status: str) -> str:
    return "mark" if status == "located" else "likeliest place so far"


def _plan(result: Result, ax: Axes) -> Axes:
    """Draw routes, readings, utilities, zones and marks, if present."""
    job = replace(result.job, shown_in=result.shown_in)
    routes, crs = job["routes"], result.shown_in or job.crs
    for kind, some in _by(job, "utilities", "kind"):
        _draw(some, ax, color=colours.utility_look(kind).colour, linewidth=0.8)
    _draw(routes, ax, color=colours.PIPE, linewidth=2.0)
    _draw(_layer(result, "search_zones"), ax, color=colours.ZONES[1], alpha=0.6)
    _draw(_layer(result, "dig_zones"), ax, facecolor="none", edgecolor=colours.INK)
    placed = _layer(result, "readings_on_route")
    _draw(placed if len(placed) else job["readings"], ax, color=colours.INK, markersize=3.0)
    for status, some in _by(result, "marks", "status"):
        _draw(some, ax, marker="^", edgecolor=colours.SURVEY, linewidth=1.5, zorder=9,
              facecolor=colours.SURVEY if status == "located" else "none",
              label=_mark_label(str(status)))  # fmt: skip
    _frame(ax, routes.total_bounds, crs)
    if ax.get_legend_handles_labels()[0]:
        ax.legend(loc="upper right")
    return ax


def _frame(ax: Axes, bounds: Floats, crs: CRS) -> None:
    """Set the extent to the routes, so that misplaced and distant features are cut off."""
    edge = _MARGIN_M if crs.is_projected else _MARGIN_M / 111_000.0
    if np.isfinite(bounds).all():
        ax.set_xlim(bounds[0] - edge, bounds[2] + edge)
        ax.set_ylim(bounds[1] - edge, bounds[3] + edge)
    if crs.is_projected:
        ax.set_aspect("equal")
    ax.ticklabel_format(useOffset=False, style="plain")
    ax.locator_params(nbins=4)
    if crs.axis_info:
        ax.set_xlabel(f"{crs.name} [{crs.axis_info[0].unit_name}]")


def _by(shown: Job | Result, name: str, column: str) -> list[tuple[str, pd.DataFrame]]:
    layer = _layer(shown, name)
    if column not in layer:
        return []
    return [(str(key), some) for key, some in layer.groupby(column, dropna=False, sort=False)]


def _draw(layer: pd.DataFrame, ax: Axes, **look: Any) -> None:
    if isinstance(layer, gpd.GeoDataFrame):
        there = layer[layer.geometry.notna() & ~layer.geometry.is_empty]
        if len(there):
            there.geometry.plot(ax=ax, aspect=None, **look)


def _floats(frame: pd.DataFrame, name: str) -> Floats:
    return frame[name].to_numpy(dtype=float, na_value=np.nan)
