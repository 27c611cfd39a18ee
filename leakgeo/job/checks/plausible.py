"""Values that are allowed and hardly right: told, so that a slip of units or order is seen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.job.checks.registry import check

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from leakgeo.job.checks.collector import Findings

# Water lines lie below frost, which reaches two to three metres where winters are hardest (common
# practice). One deeper than this is told; so are all where the middle one is deeper than that.
DEEP_M, MIDDLE_M, FEWEST = 4.5, 3.0, 3
# The least that mains are kept at, 20 psi, and the thinnest service, half an inch: common practice.
LEAST = (
    ("pressure_kpa", 138.0, "pressures", "kPa", "mains are kept at", "psi or bar"),
    ("diameter_mm", 12.0, "diameters", "mm", "water lines are", "inches"),
)
_NAMED = 3


@check("routes", stage="read", order=30)
def deep(table: pd.DataFrame, findings: Findings) -> None:
    """Tell of depths that are likely in feet or inches."""
    depth = table["depth_m"].to_numpy(dtype=float)
    with np.errstate(invalid="ignore"):
        deep = depth > DEEP_M
    findings.tell(
        deep, "depth_m is {value}: deeper than water lines lie, unless it is in feet or inches.",
        "Check its unit; a mapping brings it to metres.", column="depth_m", values=depth,
        rejects=False,
    )  # fmt: skip
    known = depth[np.isfinite(depth)]
    if len(known) >= FEWEST and np.median(known) > MIDDLE_M:
        findings.tell_layer(
            f"Half of the depths are more than {np.median(known):g} m, deeper than most water "
            "lines lie: they may be in feet or inches.",
            "Check the unit of depth_m; a mapping brings it to metres.", "depth_m",
        )  # fmt: skip


@check("routes", stage="read", order=31)
def small(table: pd.DataFrame, findings: Findings) -> None:
    """Tell of columns whose middle value is too small for its unit."""
    for column, least, many, unit, than, other in LEAST:
        known = table[column].dropna().to_numpy(dtype=float)
        if len(known) >= FEWEST and np.median(known) < least:
            findings.tell_layer(
                f"Half of the {many} are {np.median(known):.3g} {unit} or less, less than {than}: "
                f"they may be in {other}.",
                f"Check the unit of {column}; a mapping brings it to {unit}.", column,
            )  # fmt: skip


@check("readings", stage="read", order=30)
def against_the_clock(table: pd.DataFrame, findings: Findings) -> None:
    """Tell of walks whose times go back while seq goes on."""
    keys = ["line_id", "walk_id"]
    own = pd.DataFrame(table)[[*keys, "seq", "time"]]
    own = own[findings.good & own.notna().all(axis=1).to_numpy()].sort_values([*keys, "seq"])
    step = own["time"].diff().dt.total_seconds().to_numpy()
    on = _same(own, keys) & (own["seq"].diff() > 0).to_numpy()
    back = own[on & (np.nan_to_num(step) < 0)]
    walks = list(dict.fromkeys(str(w)[:60] for w in back["walk_id"]))
    if not walks:
        return
    more = f" and {len(walks) - _NAMED} more" if len(walks) > _NAMED else ""
    findings.tell_layer(
        f"Times go back while seq goes on, {len(back)} times, in walk "
        f"{', '.join(walks[:_NAMED])}{more}.",
        "Check seq and time: the order of a walk is taken from seq.", "time",
    )  # fmt: skip


def _same(table: pd.DataFrame, keys: list[str]) -> NDArray[np.bool_]:
    """Tell rows whose keys are those of the row before."""
    same: Any = (table[keys] == table[keys].shift()).all(axis=1)
    return np.asarray(same, dtype=bool)
