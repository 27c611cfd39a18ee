"""The order of digs, by the water that each is expected to stop; another one of held digs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.wording.quantities import two_figures

if TYPE_CHECKING:
    from leakgeo.arrays import Floats

HOLD, NO_HOLD = "hold", "no_hold_recorded"
#: Columns of ``lines`` that `dig_order` reads. It needs the rows of all lines, and nothing else.
ORDERED_BY = ("status", "dig_status", "leak_probability", "loss_l_per_day", "hole_probability",
              "probability_within_1ft", "priority")  # fmt: skip
#: Columns of ``lines`` that it returns, each of which depends on all lines.
ORDER = ("expected_loss_l_per_day", "expected_loss_from", "dig_water_l_per_day", "dig_rank",
         "hold_rank")  # fmt: skip
#: Columns of ``lines`` that depend on all lines.
RANKS = ("priority", *ORDER)
# With fewer metered losses than this their median says little about the other lines.
FEWEST_LOSSES = 5
_LEAKING = 0.5  # a leak is likelier than not


def hole_probability(
    profile: pd.DataFrame | None, digs: pd.DataFrame, leak_probability: pd.Series
) -> Floats:
    """Return the probability that the hole at each mark shows the leak.

    Parameters
    ----------
    profile : pandas.DataFrame or None
        ``line_id``, ``chainage_m`` and ``leak_density_per_m``, as `locate` returns them.
    digs : (n,) pandas.DataFrame
        ``line_id``, ``chainage_m`` of the mark, and ``hole_along_m`` and ``working_width_m``, whose
        sum is half the length of the hole, in metres.
    leak_probability : (n,) pandas.Series
        That there is a leak on the line of each dig.

    Returns
    -------
    (n,) ndarray of float
        NaN on a line without a profile. Of several marks of a line each has its share.

    Examples
    --------
    A leak that is certain, and as likely in each of ten metres; the hole opens two of them.

    >>> even = pd.DataFrame({
    ...     "line_id": "A", "chainage_m": [0.0, 10.0], "leak_density_per_m": [0.1, 0.1]})
    >>> dig = pd.DataFrame({"line_id": ["A"], "chainage_m": [4.0], "hole_along_m": [0.4],
    ...                     "working_width_m": [0.6]})
    >>> hole_probability(even, dig, pd.Series([1.0])).round(6).tolist()
    [0.2]
    """
    found = np.full(len(digs), np.nan)
    if profile is None or digs.empty:
        return found
    own = profile.loc[profile["line_id"].isin(digs["line_id"])]
    names = ["chainage_m", "leak_density_per_m"]
    columns = [own[name].to_numpy(dtype=float) for name in names]
    rows = own.groupby("line_id").indices
    at = digs["chainage_m"].to_numpy(dtype=float)
    half = (digs["hole_along_m"] + digs["working_width_m"]).to_numpy(dtype=float)
    for k, line in enumerate(digs["line_id"]):
        if line in rows:
            place, density = (column[rows[line]] for column in columns)
            found[k] = _share_within(place, density, at[k], half[k])
    return np.asarray(found * leak_probability.to_numpy(dtype=float))


def _share_within(place: Floats, density: Floats, at: float, half: float) -> float:
    """Return the share of a density along a line that is within `half` of a place."""
    known = np.isfinite(density)
    order = np.argsort(place[known], kind="stable")
    place, density = place[known][order], density[known][order]
    along = np.append(0.0, np.cumsum(np.diff(place) * (density[1:] + density[:-1]) / 2))
    if not len(place) or not along[-1] > 0.0:
        return np.nan
    begin, end = np.interp([at - half, at + half], place, along)
    return float((end - begin) / along[-1])


def dig_order(lines: pd.DataFrame) -> dict[str, pd.Series]:
    """Return the columns of ``lines`` that depend on all lines: water of each dig, and ranks.

    A dig is expected to stop the loss of its line, times the probability that the hole shows the
    leak. To two figures, as it is shown; among equals the surest mark comes first, then `priority`.

    Parameters
    ----------
    lines : pandas.DataFrame
        All lines of the job, with the columns `ORDERED_BY`.

    Returns
    -------
    dict of str to pandas.Series
        ``expected_loss_l_per_day``, ``expected_loss_from`` and ``dig_water_l_per_day`` of located
        lines, ``dig_rank`` of those whose dig no hold is recorded for, and ``hold_rank`` of those
        that are held; null for all others.

    Examples
    --------
    >>> lines = pd.DataFrame({
    ...     "status": "located", "dig_status": [NO_HOLD, NO_HOLD, HOLD], "leak_probability": 0.9,
    ...     "loss_l_per_day": [400.0, np.nan, 9000.0], "hole_probability": [0.9, 0.8, 0.9],
    ...     "probability_within_1ft": 0.7, "priority": [2, 3, 1]})
    >>> found = dig_order(lines)
    >>> found["dig_water_l_per_day"].tolist(), found["expected_loss_from"].tolist()
    ([360.0, 1200.0, 8100.0], ['meter', 'assumed', 'meter'])
    >>> found["dig_rank"].tolist(), found["hold_rank"].tolist()
    ([2.0, 1.0, nan], [nan, nan, 1.0])
    """
    lines = lines.reindex(columns=list(ORDERED_BY))
    located = lines["status"].eq("located")
    metered = lines["loss_l_per_day"].astype(float)
    typical, source = _typical_loss(lines)
    loss = metered.fillna(typical).where(located)
    origin = pd.Series(np.where(metered.notna(), "meter", source), index=lines.index, dtype=object)
    water = loss * lines["hole_probability"].astype(float)
    free = located & lines["dig_status"].eq(NO_HOLD)
    keys = pd.DataFrame({
        "water": -water.map(two_figures, "ignore"),
        "odds": -lines["probability_within_1ft"].astype(float), "priority": lines["priority"],
    })  # fmt: skip
    return {
        "expected_loss_l_per_day": loss,
        "expected_loss_from": origin.where(located, None),
        "dig_water_l_per_day": water,
        "dig_rank": _rank(keys[free], lines.index),
        "hold_rank": _rank(keys[located & ~free], lines.index),
    }


def ranks_of(lines: pd.DataFrame) -> dict[str, pd.Series]:
    """Return all columns of ``lines`` that depend on all lines: `RANKS`.

    Parameters
    ----------
    lines : pandas.DataFrame
        All lines, with the columns `ORDERED_BY` but ``priority``; those that are alike are ranked
        in the order of the rows.

    Examples
    --------
    >>> ranks = ranks_of(pd.DataFrame({"line_id": ["A", "B"], "status": "located",
    ...     "dig_status": NO_HOLD, "leak_probability": [0.7, 0.9], "loss_l_per_day": [None, None],
    ...     "hole_probability": [0.6, 0.8]}))
    >>> ranks["priority"].tolist(), ranks["dig_rank"].tolist()
    ([2, 1], [2.0, 1.0])
    """
    from leakgeo.find.locate.layers import priority  # slow to import

    lines = lines.reindex(columns=["line_id", *ORDERED_BY])
    first = priority(lines)
    return {"priority": first, **dig_order(lines.assign(priority=first))}


def _typical_loss(lines: pd.DataFrame) -> tuple[float, str]:
    """Return the loss expected of a line that leaks and has no meter test, and where it is from."""
    leaking = lines["leak_probability"].astype(float) >= _LEAKING
    losses = lines.loc[leaking & (lines["loss_l_per_day"].astype(float) > 0.0), "loss_l_per_day"]
    if len(losses) >= FEWEST_LOSSES:
        return float(losses.median()), "median"
    from leakgeo.find.evidence.meter import load_meter_weights  # slow to import

    return float(load_meter_weights()["leak"]["median_l_per_day"]), "assumed"


def _rank(keys: pd.DataFrame, index: pd.Index) -> pd.Series:
    """Return ranks from 1 on in the order of the keys; NaN for rows of the index that have none."""
    ordered = keys.sort_values(["water", "odds", "priority"], kind="stable").index
    return pd.Series(np.arange(1.0, len(keys) + 1), index=ordered).reindex(index)


def in_dig_order(lines: pd.DataFrame) -> pd.DataFrame:
    """Return lines sorted: digs without a recorded hold, then held ones, then all others.

    Parameters
    ----------
    lines : pandas.DataFrame
        With ``dig_rank`` and ``hold_rank`` if clearance has run, and ``priority``.

    Examples
    --------
    >>> in_dig_order(pd.DataFrame({"line_id": ["A", "B", "C", "D"], "priority": [1, 2, 3, 4],
    ...     "dig_rank": [np.nan, np.nan, np.nan, 1], "hold_rank": [np.nan, 2, 1, np.nan]})
    ...     )["line_id"].tolist()
    ['D', 'C', 'B', 'A']
    """
    names = [n for n in ("dig_rank", "hold_rank", "priority") if n in lines]
    keys = pd.DataFrame({n: pd.to_numeric(lines[n], errors="coerce").astype(float) for n in names})
    return lines.iloc[np.lexsort([keys[n].fillna(np.inf) for n in reversed(names)])]
