"""Checks that look at more than one column of a row."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.job.checks.registry import check

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from leakgeo.job.checks.collector import Findings

#: Beyond this a decibel value is a filler such as -9999, not a level.
LARGEST_DB = 250.0
# A walk is linear if such a share of its levels are no decibels, with so many values among them:
# one value is a filler.
WRONG_SHARE, WRONG_KINDS = 0.2, 3


@check("readings", stage="read", order=11)
def set_aside(table: pd.DataFrame, findings: Findings) -> None:
    """Reject readings that whoever took them has set aside."""
    findings.tell(
        table["set_aside"].to_numpy(dtype=bool), "It was set aside: set_aside is true.",
        "Nothing, unless it should be used after all.", column="set_aside",
    )  # fmt: skip


@check("readings", "contacts", stage="read", order=10)
def levels(table: pd.DataFrame, findings: Findings) -> None:
    """Check sound levels against their unit."""
    level, unit = table["sound_level"].to_numpy(), table["sound_unit"].to_numpy()
    with np.errstate(invalid="ignore"):
        negative = (unit == "scale") & (level < 0)
        filler = (unit == "db") & (np.abs(level) > LARGEST_DB)
    findings.tell(
        negative, "sound_level is negative on a linear scale: {value}.",
        "Give the number that the display showed, or set sound_unit to db.",
        column="sound_level", values=level,
    )  # fmt: skip
    findings.tell(
        filler, "sound_level can't be decibels: {value}.",
        "Leave it out where nothing was measured, or set sound_unit to scale.",
        column="sound_level", values=level,
    )  # fmt: skip
    findings.tell(
        _as_the_rest(table, filler), "Its level passes for decibels, and others of its walk can't: "
        "all of it is likely linear.", "Set sound_unit to scale in the whole walk.",
        column="sound_unit",
    )  # fmt: skip


def _as_the_rest(table: pd.DataFrame, wrong: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Tell readings of walks in which many levels, and not one filler, can't be decibels."""
    if "walk_id" not in table:
        return np.zeros(len(table), dtype=bool)
    level = table["sound_level"].where(wrong)
    keys = [table["line_id"].fillna(""), table["walk_id"].fillna("")]
    share = pd.Series(wrong, index=table.index).groupby(keys).transform("mean")
    kinds = level.groupby(keys).transform("nunique")
    many = (share >= WRONG_SHARE) & (kinds >= WRONG_KINDS)
    return (many & (table["sound_unit"] == "db") & ~wrong).to_numpy()


@check("meter_tests", stage="read", order=10)
def meter(table: pd.DataFrame, findings: Findings) -> None:
    """Check meter tests against the clock and the dial."""
    findings.tell(
        (table["end_time"] <= table["start_time"]).to_numpy(),
        "end_time is not after start_time.", "Correct the times.",
        column="end_time", values=table["end_time"],
    )  # fmt: skip
    findings.tell(
        (table["end_reading"] < table["start_reading"]).to_numpy(),
        "end_reading is less than start_reading: {value}.",
        "Correct the readings, or add a full turn of the dial if it passed zero.",
        column="end_reading", values=table["end_reading"],
    )  # fmt: skip
