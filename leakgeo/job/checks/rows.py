"""Checks of rows by their columns: identifiers, sound levels, tests, implausible values."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.arrays import floats
from leakgeo.job.checks.registry import check
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from leakgeo.job.checks.collector import IssueCollector
    from leakgeo.job.checks.layer import CheckedLayer
    from leakgeo.job.schema import LayerSchema


#: Larger absolute values are placeholders such as -9999, not levels in decibels.
MAX_DB = 250.0
# Levels of a walk are not in decibels if at least this share of them, with this many distinct
# values, is too large; a single value is a placeholder.
MIN_WRONG_SHARE, MIN_WRONG_VALUES = 0.2, 3


@check("readings", stage="read", order=11)
def set_aside(table: pd.DataFrame, issues: IssueCollector) -> None:
    """Reject readings that the crew set aside."""
    aside = table["set_aside"].to_numpy(dtype=bool)
    issues.report(aside, Reason("set_aside"), column="set_aside")


@check("readings", "contacts", stage="read", order=10)
def levels(table: pd.DataFrame, issues: IssueCollector) -> None:
    """Check sound levels against their unit."""
    level, unit = table["sound_level"].to_numpy(), table["sound_unit"].to_numpy()
    with np.errstate(invalid="ignore"):
        negative = (unit == "scale") & (level < 0)
        filler = (unit == "db") & (np.abs(level) > MAX_DB)
    issues.report(negative, Reason("level_negative"), column="sound_level", values=level)
    issues.report(filler, Reason("level_not_decibels"), column="sound_level", values=level)
    issues.report(
        _in_walks_without_decibels(table, filler), Reason("walk_not_decibels"), column="sound_unit"
    )


@check("contacts", stage="read", order=9)
def levels_of_fittings(table: pd.DataFrame, issues: IssueCollector) -> None:
    """Reject levels of fittings without their unit; a fitting without both was not listened to."""
    for column, other in (("sound_unit", "sound_level"), ("sound_level", "sound_unit")):
        lacks = (table[column].isna() & table[other].notna()).to_numpy()
        issues.report(lacks, Reason("value_missing", column=column), column=column)


def _in_walks_without_decibels(table: pd.DataFrame, wrong: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the other readings of walks in which many levels can't be in decibels."""
    if "walk_id" not in table:
        return np.zeros(len(table), dtype=bool)
    level = table["sound_level"].where(wrong)
    keys = [table["line_id"].fillna(""), table["walk_id"].fillna("")]
    share = pd.Series(wrong, index=table.index).groupby(keys).transform("mean")
    kinds = level.groupby(keys).transform("nunique")
    many = (share >= MIN_WRONG_SHARE) & (kinds >= MIN_WRONG_VALUES)
    return (many & (table["sound_unit"] == "db") & ~wrong).to_numpy()


# Units by measure of an isolation test.
_UNITS = {
    "meter": ("l", "m3", "gal", "ft3"), "flow": ("l_per_min", "m3_per_h", "gal_per_min"),
    "pressure": ("kpa", "bar", "psi"),
}  # fmt: skip


@check("isolation_tests", stage="read", order=10)
def isolation_tests(table: pd.DataFrame, issues: IssueCollector) -> None:
    """Check times, units and meter readings of isolation tests."""
    _check_time_order(table, issues)
    for measure, units in _UNITS.items():
        own = table["measure"] == measure
        issues.report(
            (own & table["unit"].notna() & ~table["unit"].isin(units)).to_numpy(),
            Reason("unit_not_of_measure", measure=measure, units=units),
            column="unit", values=table["unit"],
        )  # fmt: skip
    issues.report(
        ((table["measure"] == "meter") & (table["after"] < table["before"])).to_numpy(),
        Reason("after_less_than_before"),
        column="after", values=table["after"],
    )  # fmt: skip
    _note_tests_without_effect(table, issues)


#: A gauge may rise by this share of the pressure though nothing flows, and a flow, which use
#: changes, by this share of the flow.
RISES_SHARE, FLOW_RISES_SHARE = 0.05, 0.25


def _note_tests_without_effect(table: pd.DataFrame, issues: IssueCollector) -> None:
    """Note tests that show nothing: not settled, no pressure before, or a value that rose."""
    settled = table["settled"].astype("boolean").fillna(value=False).to_numpy(dtype=bool)
    issues.report(issues.good & ~settled, Reason("isolation_not_settled"), column="settled",
                  rejects=False)  # fmt: skip
    before, after = floats(table, "before"), floats(table, "after")
    gauged = issues.good & settled & (table["measure"] == "pressure").to_numpy(dtype=bool)
    issues.report(gauged & (before <= 0.0), Reason("isolation_without_pressure"), column="before",
                  values=table["before"], rejects=False)  # fmt: skip
    rose = gauged & (before > 0.0) & (after > (1.0 + RISES_SHARE) * before)
    issues.report(rose, Reason("isolated_pressure_rises"), column="after", values=table["after"],
                  rejects=False)  # fmt: skip
    flows = issues.good & settled & (table["measure"] == "flow").to_numpy(dtype=bool)
    more = flows & (after > (1.0 + FLOW_RISES_SHARE) * before)
    issues.report(more, Reason("isolated_flow_rises"), column="after", values=table["after"],
                  rejects=False)  # fmt: skip


@check("meter_tests", stage="read", order=10)
def meter_tests(table: pd.DataFrame, issues: IssueCollector) -> None:
    """Check times and meter readings of meter tests."""
    _check_time_order(table, issues)
    issues.report(
        (table["end_reading"] < table["start_reading"]).to_numpy(), Reason("meter_reading_falls"),
        column="end_reading", values=table["end_reading"],
    )  # fmt: skip


def _check_time_order(table: pd.DataFrame, issues: IssueCollector) -> None:
    issues.report(
        (table["end_time"] <= table["start_time"]).to_numpy(), Reason("end_not_after_start"),
        column="end_time", values=table["end_time"],
    )  # fmt: skip


@check(stage="read", order=20)
def identifiers(table: pd.DataFrame, issues: IssueCollector, schema: LayerSchema) -> None:
    """Keep the first of identical rows; reject all rows that share an identifier and differ.

    Only rows that are good so far are compared.
    """
    for field in (f for f in schema.fields if f.unique):
        good = issues.good & table[field.name].notna().to_numpy()
        shared = np.zeros(len(table), dtype=bool)
        shared[good] = table.loc[good, field.name].duplicated(keep=False)
        if not shared.any():
            continue
        content = _content(table[shared])
        again = np.zeros(len(table), dtype=bool)
        again[shared] = content.duplicated(keep="first")
        versions = content[~content.duplicated()].groupby(field.name).size()
        differs = shared & table[field.name].isin(versions.index[versions > 1]).to_numpy()
        shared_by = Reason("identifier_shared", column=field.name)
        issues.report(differs, shared_by, column=field.name, values=table[field.name])
        issues.report(again & ~differs, identical_row(field.name), column=field.name)


def identical_row(field: str) -> Reason:
    """Return the reason of a row that is identical with an earlier one.

    Examples
    --------
    >>> identical_row("line_id")
    Reason('identical_row', column='line_id')
    """
    return Reason("identical_row", column=field)


def _content(rows: pd.DataFrame) -> pd.DataFrame:
    """Return rows with geometry as WKB, so that equal rows compare equal."""
    if not isinstance(rows, gpd.GeoDataFrame):
        return rows
    shapes = rows.geometry.to_wkb()
    plain = pd.DataFrame(rows.drop(columns=rows.geometry.name))
    return plain.assign(_shape=shapes)


# Water lines lie below frost, which reaches two to three metres where winters are hardest (common
# practice). A greater depth is reported, and so is a greater median of at least MIN_ROWS depths.
DEEP_M, DEEP_MEDIAN_M, MIN_ROWS = 4.5, 3.0, 3
# Least pressure of mains, 20 psi, and least diameter of services, half an inch: common practice.
MIN_MEDIANS = (
    ("pressure_kpa", 138.0, "pressures_implausible", "median_kpa"),
    ("diameter_mm", 12.0, "diameters_implausible", "median_mm"),
)
_MAX_NAMED = 3


@check("routes", stage="read", order=30)
def implausible_depths(table: pd.DataFrame, issues: IssueCollector) -> None:
    """Report depths that are likely in feet or inches."""
    depth = table["depth_m"].to_numpy(dtype=float)
    with np.errstate(invalid="ignore"):
        deep = depth > DEEP_M
    issues.report(deep, Reason("depth_implausible"), column="depth_m", values=depth, rejects=False)
    known = depth[np.isfinite(depth)]
    if len(known) >= MIN_ROWS and np.median(known) > DEEP_MEDIAN_M:
        reason = Reason("depths_implausible", median_m=np.median(known))
        issues.report_layer(reason, column="depth_m")


# Least depth that is likely in feet, where the depths of a job are.
MIN_FEET = 1.0


def depths_in_doubt(routes: CheckedLayer) -> CheckedLayer:
    """Add ``depth_in_doubt``: whether a depth is likely in feet or inches, and not in metres.

    Parameters
    ----------
    routes : CheckedLayer
        As checked by `implausible_depths`, which reports these depths.
    """
    depth = floats(routes.table, "depth_m")
    known = depth[np.isfinite(depth)]
    all_deep = len(known) >= MIN_ROWS and np.median(known) > DEEP_MEDIAN_M
    with np.errstate(invalid="ignore"):
        doubted = depth >= MIN_FEET if all_deep else depth > DEEP_M
    return replace(routes, table=routes.table.assign(depth_in_doubt=doubted))


@check("routes", stage="read", order=31)
def implausibly_small_values(table: pd.DataFrame, issues: IssueCollector) -> None:
    """Report columns whose median is too small for their unit."""
    for column, least, code, value in MIN_MEDIANS:
        known = table[column].dropna().to_numpy(dtype=float)
        if len(known) >= MIN_ROWS and np.median(known) < least:
            issues.report_layer(Reason(code, **{value: np.median(known)}), column=column)


@check("readings", stage="read", order=30)
def times_going_back(table: pd.DataFrame, issues: IssueCollector) -> None:
    """Report walks whose times decrease while seq increases."""
    keys = ["line_id", "walk_id"]
    own = pd.DataFrame(table)[[*keys, "seq", "time"]]
    own = own[issues.good & own.notna().all(axis=1).to_numpy()].sort_values([*keys, "seq"])
    step = own["time"].diff().dt.total_seconds().to_numpy()
    on = _same_as_previous(own, keys) & (own["seq"].diff() > 0).to_numpy()
    back = own[on & (np.nan_to_num(step) < 0)]
    walks = list(dict.fromkeys(str(w)[:60] for w in back["walk_id"]))
    if not walks:
        return
    named, more = walks[:_MAX_NAMED], len(walks[_MAX_NAMED:])
    reason = Reason("times_go_back", times=len(back), walks=named, more=more)
    issues.report_layer(reason, column="time")


def _same_as_previous(table: pd.DataFrame, keys: list[str]) -> NDArray[np.bool_]:
    """Return whether the keys of each row equal those of the row before."""
    same: Any = (table[keys] == table[keys].shift()).all(axis=1)
    return np.asarray(same, dtype=bool)
