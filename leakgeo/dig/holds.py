"""What still holds a dig, and what to mind: sentences, from data that is there or missing.

A dig is never cleared here. Every test reads "hold unless it is known that": what is missing, blank
or not understood holds.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.dig.conflicts import INSIDE
from leakgeo.dig.words import metres, names_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike, NDArray

    from leakgeo.dig.rules import Rule

# 29 CFR 1926.652(a)(1)(ii): less than 5 feet (1.52 m); 1926.651(j)(2): 2 feet (.61 m).
PROTECTION_FROM_M, SPOIL_BACK_M = 1.52, 0.61
ANSWERS = ("marked", "clear", "not_present")
MARK_FIELDS = ("chainage_m", "along_sd_m", "along_95_m", "across_95_m", "probability_within_1ft",
               "limited_by")  # fmt: skip
_NOBODY = ("no utility is on record near the hole, and no owner has answered for it: no record "
           "does not mean that nothing is there (put each owner's answer into "
           "utilities)")  # fmt: skip
Said = tuple["ArrayLike", "ArrayLike"]  # positions of the digs, and what is said of each


def utility_holds(pairs: pd.DataFrame) -> list[Said]:
    """Say what each utility near a dig still holds it for.

    Parameters
    ----------
    pairs : pandas.DataFrame
        As `leakgeo.dig.conflicts.find_conflicts` gives.

    Returns
    -------
    list of (positions, texts)
        One text a utility, all its holds in it; positions are of the dig zones.
    """
    answer = pairs["response"].fillna("none")
    answered = answer.isin(ANSWERS)
    lost = pairs["level"].isin(["", "D"])
    tests: list[tuple[pd.Series, str]] = [
        (pairs["reason"].notna(), "its record was rejected and has to be corrected"),
        (pairs["utility_id"].isna(), "it has no utility_id"),
        (pairs["kind"].isna() | (pairs["kind"] == "unknown"), "its kind is not known"),
        (pairs["owner"].isna(), "its owner is not known"),
        (pairs["width_unknown"], "its width is not known"),
        (pairs["repaired"], "its shape was invalid and has to be corrected"),
        (pairs["level"] == "", "its quality level is not known"),
        (lost, "its position is not known (have it located or exposed)"),
        (~pairs["notified"], "its owner was not notified"),
        (answer == "none", "its owner has not answered"),
        (~answered & (answer != "none"), "its owner's answer is not understood"),
        (answered & pairs["response_time"].isna(), "the time of the answer is not known"),
        ((pairs["severity"] == INSIDE) & (answer == "marked"),
         "the hole is inside its tolerance zone (hand dig or vacuum only, and expose it first)"),
        ((pairs["severity"] == INSIDE) & (answer != "marked"),
         "the hole is inside its tolerance zone by the records (ask its owner again)"),
    ]  # fmt: skip
    said = joined([_say(test.to_numpy(dtype=bool), text) for test, text in tests], len(pairs), ", ")
    held = (said != "").to_numpy()
    texts = [f"{n}: {text}" for n, text in zip(names_of(pairs)[held], said[held], strict=True)]
    return [(pairs["zone"].to_numpy()[held], texts)]


def dig_holds(digs: pd.DataFrame, neighbours: NDArray[np.int64], layer: str | None) -> list[Said]:
    """Say what holds each dig apart from a single utility.

    Parameters
    ----------
    digs : pandas.DataFrame
        One row a mark: the mark's columns, ``drawn`` (the hole could be drawn), depth_m, status.
    neighbours : (n,) numpy.ndarray
        Utilities that have a say in each dig.
    layer : str or None
        What is wrong with the utilities layer as a whole, which holds every dig.

    Returns
    -------
    list of (positions, texts)
    """
    n = len(digs)
    tests: list[tuple[ArrayLike, str]] = [
        (~digs["drawn"], "the mark's place or error is not known, so no hole could be drawn"),
        (digs["status"] != "located", "the leak is not located on this line (narrow it first)"),
        (digs["depth_m"].isna(), "the cover over the pipe is not known (measure its depth_m)"),
        (np.full(n, layer is not None), layer or ""),
        ((neighbours == 0) & (layer is None), _NOBODY),
    ]  # fmt: skip
    for field in MARK_FIELDS:
        missing = digs[field].isna() if field in digs else np.full(n, True)
        tests.append((missing, f"the mark has no {field}"))
    return [_say(np.asarray(test, dtype=bool), text) for test, text in tests]


def cautions(digs: pd.DataFrame, pairs: pd.DataFrame, rule: Rule) -> list[Said]:
    """Say what to mind at each dig, whether or not anything holds it.

    Parameters
    ----------
    digs : pandas.DataFrame
        With depth_m (of the excavation), pressure_kpa, air_on and azimuth_known.
    pairs : pandas.DataFrame
        As `leakgeo.dig.conflicts.find_conflicts` gives.
    rule : Rule

    Returns
    -------
    list of (positions, texts)
    """
    pressure = digs["pressure_kpa"]
    return [
        *_depth_cautions(digs["depth_m"].to_numpy()),
        _say(np.full(len(digs), True),
             f"keep spoil {SPOIL_BACK_M} m (2 ft) or more from the edge (29 CFR 1926.651(j)(2))"),
        _say((pressure > 0).to_numpy(), "the line is under pressure"),
        _say(pressure.isna().to_numpy(),
             "the pressure in the line is not known: take it as under pressure"),
        _say(digs["air_on"].to_numpy(), "air was injected into the line while listening: vent it"),
        _say(~digs["azimuth_known"].to_numpy(),
             "the direction of the pipe is not known: the hole is drawn round"),
        *_answer_cautions(pairs, rule),
        _say(np.full(len(digs), True),
             f"tolerance rule {rule.name} ({rule.source}): local law and the one-call centre "
             "govern, and this list never clears a dig"),
    ]  # fmt: skip


def _depth_cautions(depth_m: NDArray[np.float64]) -> list[Said]:
    deep, shallow = depth_m >= PROTECTION_FROM_M, depth_m < PROTECTION_FROM_M
    at = np.flatnonzero
    return [
        (at(deep), [f"{metres(d)} deep: at 1.52 m (5 ft) or more 29 CFR 1926.652(a)(1) asks for a "
                    "protective system, unless the hole is all in stable rock"
                    for d in depth_m[deep]]),
        (at(shallow), [f"{metres(d)} deep: under 1.52 m (5 ft) a competent person looks at the "
                       "ground, and a protective system is asked for on any sign of a cave-in "
                       "(29 CFR 1926.652(a)(1))" for d in depth_m[shallow]]),
        _say(np.isnan(depth_m), "the depth is not known: expect to need a protective system "
             "(29 CFR 1926.652(a)(1))"),
    ]  # fmt: skip


def _answer_cautions(pairs: pd.DataFrame, rule: Rule) -> list[Said]:
    oldest = pairs.dropna(subset=["response_time"]).groupby("zone")["response_time"].min()
    dates = oldest.dt.strftime("%Y-%m-%d")
    caught = pairs.loc[pairs["in_caution_zone"]].groupby("zone").size()
    caught = caught if rule.caution_m else caught.iloc[:0]
    return [
        (dates.index.to_numpy(), [f"the oldest answer is of {d}: check that the ticket is still "
                                  "valid" for d in dates]),
        (caught.index.to_numpy(), [f"{n} utilities within the caution zone of "
                                   f"{metres(rule.caution_m)}" for n in caught]),
    ]  # fmt: skip


def joined(said: Iterable[Said], n: int, between: str = "; ") -> pd.Series:
    """Join what is said of each of n digs to one text; empty where nothing is said.

    A semicolon inside a text becomes a comma, so that readers can take the texts apart again.

    Examples
    --------
    >>> joined([([1], ["a"]), ([0, 1], ["b", "c;d"])], 3).tolist()
    ['b', 'a; c,d', '']
    """
    parts = [(np.asarray(where, dtype=int), list(np.asarray(text, object))) for where, text in said]
    where = np.concatenate([np.empty(0, dtype=int), *(w for w, _ in parts)])
    texts = pd.Series([t.replace(";", ",") for _, text in parts for t in text], dtype=object)
    together = texts.groupby(where, sort=False).agg(between.join)
    return together.reindex(range(n)).fillna("").astype(object)


def _say(mask: NDArray[np.bool_], text: str) -> Said:
    where = np.flatnonzero(mask)
    return where, np.full(where.size, text, dtype=object)
