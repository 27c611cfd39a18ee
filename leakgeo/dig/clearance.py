"""The `clearance` step: dig zones and what must be cleared before each dig. It clears no dig."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from leakgeo.arrays import texts
from leakgeo.dig.alternative_sites import alternative_sites
from leakgeo.dig.cautions import cautions_table
from leakgeo.dig.conflicts import find_conflicts
from leakgeo.dig.depth import cover_m, excavation_depth_m, pipe_of_line
from leakgeo.dig.facilities import facility_faults, layer_hold, prepare_facilities
from leakgeo.dig.headline import headlines
from leakgeo.dig.holds import COLUMNS as HOLD_COLUMNS
from leakgeo.dig.holds import holds_table
from leakgeo.dig.order import HOLD, NO_HOLD, dig_order, hole_probability
from leakgeo.dig.rules import assumptions, pick_rule
from leakgeo.dig.site_cautions import site_of
from leakgeo.dig.tickets import ticket_rule
from leakgeo.dig.ties import ties
from leakgeo.dig.zone import hole_polygons, white_lines
from leakgeo.job.north import from_grid_north
from leakgeo.job.placed import traces_of

if TYPE_CHECKING:
    from leakgeo.job.model import Job
    from leakgeo.result import Result

ZONE_COLUMNS = ("line_id", "mark_rank", "depth_m", "depth_source", "length_m", "width_m", "area_m2",
                "conflicts", "dig_status", "holds", "worst_hold_code", "worst_hold_values",
                "rule")  # fmt: skip
CONFLICT_COLUMNS = ("line_id", "mark_rank", "utility_id", "kind", "owner", "clearance_m",
                    "severity", "action_code", "action_values", "response", "rule", "rule_case",
                    "tolerance_m", "error_95_m", "in_caution_zone", "depth_m", "depth_gap_m",
                    "quality_level", "private", "notified", "ticket", "notified_time",
                    "response_time")  # fmt: skip

# Columns of the card, which the marks have as well.
CARD_COLUMNS = ("held_by_code", "held_by_values", "next_action_code", "next_action_values", "code",
                "values", "evidence_code", "evidence_values")  # fmt: skip


def clearance(
    result: Result,
    *,
    rule: str,
    working_width_m: float,
    longest_hole_m: float,
    dig_date: str | None,
    notice_days: int | None,
    validity_days: int | None,
    holidays: str | None,
    time_zone: str | None,
    isolated: tuple[str, ...],
) -> Result:
    """Draw the hole at each mark, and list what must be cleared before digging there.

    Parameters
    ----------
    result : Result
        With the layers ``marks`` and ``lines``, ``profile`` for alternative sites, and
        ``readings_on_route`` for the ground cover. The other layers come from its job.
    rule : str
        Name of a tolerance rule, or ``FILE.toml#NAME``. Local law governs.
    working_width_m : float
        Working space on every side of the mark's error ellipse, in metres.
    longest_hole_m : float
        Longest hole drawn, in metres. A mark with a longer error gets a hold: it is a stretch to
        search, not a spot to dig.
    dig_date : str or None
        Local day on which digging begins, as an ISO date.
    notice_days, validity_days : int or None
        Full working days of notice before the dig, and calendar days that a ticket is valid, by
        local law.
    holidays : str or None
        Country and subdivision whose public holidays are not working days, such as ``US-MI``.
    time_zone : str or None
        IANA name of the local time zone. Without it, every date is read in the stricter way.
    isolated : tuple of str
        ``line_id`` of each line that someone has seen shut off and vented. On every other line,
        pressure and injected air put a hold on the dig.

    Returns
    -------
    Result
        With ``dig_zones``, ``holds``, ``cautions``, ``conflicts``, ``locate_requests``, ``ties``
        and ``dig_alternatives`` added, and ``conflicts``, ``dig_status``, ``held_by`` and
        ``next_action`` of ``lines`` filled in, and the order of the digs. ``marks`` get the card of
        their line; where it has several, what holds the dig and what to do next are those of the
        mark.
        ``dig_status`` is ``hold`` wherever anything is missing, and on a line without a mark.
        A line that is not located, or not placed on the ground, has no hole.

    Raises
    ------
    ParameterError
        If the rule, the country or the time zone is unknown, or the date is not an ISO date.
    """
    picked, assumed, job = pick_rule(rule), assumptions(), result.job
    ticket = ticket_rule(dig_date, notice_days, validity_days, holidays, time_zone)
    digs, zones = _digs(result, working_width_m, longest_hole_m)
    digs = digs.join(site_of(job, result.layers.get("readings_on_route"), digs, zones))
    utilities = job.routes.iloc[:0] if job.utilities is None else job.utilities
    facilities = prepare_facilities(utilities, picked, assumed)
    pairs = find_conflicts(zones, digs["depth_m"].to_numpy(), facilities, picked, assumed)
    digs = digs.assign(isolated=digs["line_id"].isin(isolated), rule=picked.name)
    holds = holds_table(digs, pairs, layer_hold(job, facilities), picked, ticket)
    digs = _with_status(digs, pairs, holds)
    blocked = np.isin(np.arange(len(digs)), pairs.loc[pairs["margin_m"] <= 0, "zone"])
    profile = result.layers.get("profile")
    digs["hole_probability"] = hole_probability(profile, digs, digs["leak_probability"])
    lines = _lines_layer(result.layers["lines"], digs, holds, pairs)
    layers = {
        "dig_zones": gpd.GeoDataFrame(digs[list(ZONE_COLUMNS)], geometry=zones, crs=job.crs),
        "holds": holds[list(HOLD_COLUMNS)],
        "cautions": cautions_table(digs, pairs, picked, ticket),
        "conflicts": _conflicts_layer(pairs, digs, result),
        "lines": lines,
        "marks": _with_card(gpd.GeoDataFrame(result.layers["marks"]), lines, digs, holds, pairs),
        "locate_requests": white_lines(digs, zones, job.crs),
        "ties": ties(job, _located_marks(result, digs)),
        "dig_alternatives": alternative_sites(profile, digs, zones, blocked, facilities),
    }
    return result.adding(layers, facility_faults(facilities))


def _with_status(digs: pd.DataFrame, pairs: pd.DataFrame, holds: pd.DataFrame) -> pd.DataFrame:
    """Add the number of holds, the worst hold and the status of each dig."""
    every = np.arange(len(digs))
    count = holds.groupby("zone").size().reindex(every, fill_value=0).to_numpy()
    worst = holds.drop_duplicates("zone").set_index("zone").reindex(every)
    return digs.assign(
        holds=count,
        worst_hold_code=worst["code"].to_numpy(dtype=object),
        worst_hold_values=worst["values"].to_numpy(dtype=object),
        dig_status=np.where(count == 0, NO_HOLD, HOLD),
        conflicts=np.bincount(pairs["zone"], minlength=len(digs)),
    )


def _digs(
    result: Result, working_width_m: float, longest_m: float
) -> tuple[pd.DataFrame, np.ndarray[tuple[int], np.dtype[np.object_]]]:
    """Return one row per mark (its columns, hole size, pipe attributes), and the hole polygons."""
    job, marks = result.job, result.layers["marks"]
    lines = result.layers["lines"].drop_duplicates("line_id").set_index("line_id")
    digs = pd.DataFrame(marks.drop(columns=marks.geometry.name)).reset_index(drop=True)
    digs = digs.rename(columns={"rank": "mark_rank"})
    pipe = pipe_of_line(job.routes, digs["line_id"])
    spots = np.array(marks.geometry.array, dtype=object)
    cover, source, by_ground = cover_m(job, pipe, spots)
    grid = from_grid_north(
        _numbers(digs, "azimuth_deg"), job.crs, shapely.get_x(spots), shapely.get_y(spots)
    )
    digs = _with_hole_size(digs, working_width_m, longest_m).assign(
        grid_azimuth_deg=grid,
        azimuth_known=np.isfinite(grid),
        located=_is_located(digs, lines["status"]),
        trace=traces_of(job.routes, texts(digs, "line_id")),
        leak_probability=digs["line_id"].map(_numbers(lines, "leak_probability")),
        cover_m=cover,
        cover_by_ground_m=by_ground,
        depth_source=source,
        depth_m=excavation_depth_m(cover, pipe["diameter_mm"]),
        pressure_kpa=pipe["pressure_kpa"],
        air_on=digs["line_id"].isin(_lines_with_air(job)),
    )
    zones = hole_polygons(
        spots,
        digs["hole_along_m"],
        digs["hole_across_m"],
        digs["grid_azimuth_deg"],
        working_width_m,
    )
    zones[~digs["located"].to_numpy()] = None
    drawn = ~shapely.is_missing(zones)
    digs.loc[~drawn, ["length_m", "width_m"]] = np.nan
    digs["cut_short"] &= drawn
    return digs.assign(drawn=drawn, area_m2=shapely.area(zones)), zones


def _is_located(digs: pd.DataFrame, status: pd.Series) -> pd.Series:
    """Flag the marks whose line, and own ``status`` if given, is ``located``."""
    by_line = digs["line_id"].map(status) == "located"
    return by_line & (digs["status"] == "located") if "status" in digs else by_line


def _lines_with_air(job: Job) -> pd.Series:
    """Return the lines into which air was injected while listening."""
    readings = pd.DataFrame(job.readings).reindex(columns=["line_id", "air"])
    return readings.loc[readings["air"] == "on", "line_id"].dropna()


def _with_hole_size(digs: pd.DataFrame, working_width_m: float, longest_m: float) -> pd.DataFrame:
    """Add the size of each hole: error ellipse and working space, limited to the longest hole."""
    most = max(longest_m / 2 - working_width_m, 0.0)
    along, across = _numbers(digs, "along_95_m"), _numbers(digs, "across_95_m")
    hole_along, hole_across = along.clip(upper=most), across.clip(upper=most)
    return digs.assign(
        working_width_m=working_width_m,
        hole_along_m=hole_along,
        hole_across_m=hole_across,
        length_m=2 * (hole_along + working_width_m),
        width_m=2 * (hole_across + working_width_m),
        cut_short=(along > most) | (across > most),
    )


def _numbers(digs: pd.DataFrame, column: str) -> pd.Series:
    """Return a column as floats; NaN where it is missing or not a number."""
    given = digs.get(column, pd.Series(np.nan, index=digs.index))
    return pd.to_numeric(given, errors="coerce").astype(float)


def _conflicts_layer(pairs: pd.DataFrame, digs: pd.DataFrame, result: Result) -> gpd.GeoDataFrame:
    """Return the pairs as the contract's ``conflicts`` layer."""
    zone = pairs["zone"].to_numpy()
    named = pairs.assign(
        line_id=digs["line_id"].to_numpy()[zone], mark_rank=digs["mark_rank"].to_numpy()[zone]
    )
    return gpd.GeoDataFrame(
        named[list(CONFLICT_COLUMNS)], geometry=pairs["geometry"].to_numpy(), crs=result.job.crs
    )


def _located_marks(result: Result, digs: pd.DataFrame) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(result.layers["marks"].loc[digs["located"].to_numpy()])


def _with_card(
    marks: gpd.GeoDataFrame, lines: pd.DataFrame, digs: pd.DataFrame, holds: pd.DataFrame,
    pairs: pd.DataFrame,
) -> gpd.GeoDataFrame:  # fmt: skip
    """Copy the card of each line onto its marks, for whoever opens only the marks in a GIS.

    What holds the dig and what to do next are those of the mark.
    """
    card = lines.drop_duplicates("line_id").set_index("line_id").reindex(columns=CARD_COLUMNS)
    marks = marks.assign(**{name: marks["line_id"].map(card[name]) for name in CARD_COLUMNS})
    several = digs["line_id"].duplicated(keep=False).to_numpy()
    if not several.any():
        return marks
    advice = lines.set_index("line_id").reindex(columns=["advice_code", "advice_values"])
    table = digs.assign(zone=range(len(digs))).join(advice, on="line_id")
    own = headlines(table, holds, _clearances(pairs["zone"], pairs), "zone")
    return marks.assign(
        **{name: np.where(several, column, marks[name]) for name, column in own.items()}
    )


def _clearances(names: pd.Series, pairs: pd.DataFrame) -> dict[tuple[object, str], float]:
    """Return the least clearance of each utility from the holes of each name."""
    found: dict[tuple[object, str], float] = {}
    for name, utility, away in zip(
        names, pairs["utility_id"], pairs["clearance_m"].tolist(), strict=True
    ):
        found[name, utility] = min(away, found.get((name, utility), away))
    return found


def _lines_layer(
    lines: pd.DataFrame, digs: pd.DataFrame, holds: pd.DataFrame, pairs: pd.DataFrame
) -> pd.DataFrame:
    """Fill counts, status and headlines into the lines; a line without a mark is on hold."""
    by_line = digs.groupby("line_id")
    count = lines["line_id"].map(by_line["conflicts"].sum()).fillna(0).astype(int)
    held = (digs["dig_status"] != NO_HOLD).groupby(digs["line_id"].to_numpy()).any()
    ready = lines["line_id"].map(~held).eq(True)
    first = digs.drop_duplicates("line_id").set_index("line_id")  # marks are by rank
    hole = first["hole_probability"].where(first["located"])
    lines = lines.assign(
        conflicts=count, dig_status=np.where(ready, NO_HOLD, HOLD),
        probability_within_1ft=lines["line_id"].map(_numbers(first, "probability_within_1ft")),
        hole_probability=lines["line_id"].map(hole),
    )  # fmt: skip
    lines = lines.assign(**dig_order(lines))
    names = digs["line_id"].iloc[pairs["zone"].to_numpy()]
    return lines.assign(**headlines(lines, holds, _clearances(names, pairs)))
