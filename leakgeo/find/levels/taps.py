"""Readings while a tap was open: how far it is louder than the line without it, and its level.

They are no evidence of a leak. The leak and the ambient noise sound besides, so a reading is used
only where the tap dominates what the same sensor hears there without it, and that is subtracted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.faults import Fault
from leakgeo.find.levels.readings import tabulate_rows
from leakgeo.find.weights import load_weights
from leakgeo.job.model import NOT_SELECTED
from leakgeo.reason import Reason
from leakgeo.route.sweeps import apart
from leakgeo.route.taps import tapped
from leakgeo.sound.spreading import DB

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.arrays import Bools, Floats, Objects
    from leakgeo.find.levels.readings import Table
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

# Only readings alike in these are compared; without known gains only those of one walk.
#: Code of the reason of a reading that is used.
TEACHES = "tap_teaches"
_ALIKE = ("line_id", "sensor", "band", "air", "sound_unit")


def load_tap_weights() -> Mapping[str, Mapping[str, float]]:
    """Load the assumed weights; ``taps.toml`` explains them."""
    return load_weights("leakgeo.find.levels", "taps")


def over_quiet_db(readings: pd.DataFrame, good: Bools) -> Floats:
    """Return how far each reading with an open tap is louder than the line there without it.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``, or its columns before ``used``.
    good : ndarray of bool, shape (n,)
        Readings that are placed and have a level.

    Returns
    -------
    ndarray of float, shape (n,)
        Decibels; NaN for other readings, and where no comparable reading without it is near.
    """
    over, open_ = np.full(len(readings), np.nan), tapped(readings)
    if not (open_ & good).any():
        return over
    taps = open_ & good & np.isfinite(floats(readings, "tap_m"))
    x, level = floats(readings, "chainage_m"), floats(readings, "level_db")
    quiet = good & ~apart(readings) & np.isfinite(x) & np.isfinite(level)
    alike = _alike(readings)
    for group in np.unique(alike[taps]):
        heard = np.flatnonzero(quiet & (alike == group))
        rows = np.flatnonzero(taps & (alike == group))
        over[rows] = level[rows] - _level_at(x[rows], x[heard], level[heard])
    return over


def _alike(readings: pd.DataFrame) -> Floats:
    """Return a code of the readings that may be compared with one another."""
    known = np.asarray(readings["gain_known"], dtype=bool)
    columns = {c: pd.Series(texts(readings, c)).fillna("") for c in _ALIKE}
    columns["walk_id"] = pd.Series(texts(readings, "walk_id")).fillna("").where(~known, "")
    table = pd.DataFrame({**columns, "gain_known": known})
    return np.asarray(table.groupby(list(table), sort=True).ngroup())


def _level_at(at_m: Floats, x: Floats, level: Floats) -> Floats:
    """Interpolate a level between readings; NaN where none is near."""
    if len(x) == 0:
        return np.full(len(at_m), np.nan)
    place, code = np.unique(x, return_inverse=True)
    mean = np.bincount(code, level) / np.bincount(code)
    near = np.abs(at_m[:, None] - place).min(axis=1) <= load_tap_weights()["quiet"]["near_m"]
    return np.where(near, np.interp(at_m, place, mean), np.nan)


def tap_reasons(readings: pd.DataFrame, good: Bools) -> Objects:
    """Return for each usable reading with an open tap what it is used for, or why it is not.

    Parameters
    ----------
    readings, good
        As for `over_quiet_db`.

    Returns
    -------
    ndarray of Reason or None, shape (n,)
        ``tap_teaches`` for readings that are used, ``tap_not_louder`` or ``tap_not_compared`` for
        those that are not; None for readings without an open tap.
    """
    over, reasons = over_quiet_db(readings, good), np.full(len(readings), None, dtype=object)
    least, named = load_tap_weights()["quiet"]["least_db"], texts(readings, "tap_open")
    at = floats(readings, "tap_m")
    for k in np.flatnonzero(good & tapped(readings)):
        contact = str(named[k])
        if np.isnan(over[k]):
            reasons[k] = Reason("tap_not_compared", contact=contact)
        elif over[k] < least:
            reasons[k] = Reason("tap_not_louder", contact=contact, least_db=least)
        else:
            reasons[k] = Reason(TEACHES, contact=contact, chainage_m=float(at[k]))
    return reasons


def tap_faults(readings: pd.DataFrame) -> list[tuple[str, Fault]]:
    """Return a note for each line and open tap that its readings teach from, with the line.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``.
    """
    faults: list[tuple[str, Fault]] = []
    own = readings[np.asarray(readings["used"], dtype=bool) & tapped(readings)]
    if own.empty:
        return faults
    for (line, contact), group in own.groupby(["line_id", "tap_open"], sort=False):
        reason = Reason("taps_used", contact=str(contact), readings=len(group))
        faults.append((str(line), Fault("readings", reason, str(line), "tap_open", effect="noted")))
    return faults


def tap_table(readings: pd.DataFrame, lines: Lines, constants: Constants) -> Table:
    """Return the readings of all lines in which an open tap dominates, at the level of the tap.

    Readings of lines that are not selected are included, as their neighbours use them.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``.
    lines : Lines
    constants : Constants

    Returns
    -------
    Table
        Levels are without what is heard when the tap is shut; their rounding error includes that
        of the subtraction.
    """
    other = texts(readings, "reason_code") == NOT_SELECTED.code
    good = np.asarray(readings["used"], dtype=bool) | other
    good &= np.isfinite(floats(readings, "chainage_m")) & np.isfinite(floats(readings, "level_db"))
    over = over_quiet_db(readings, good)
    used = np.flatnonzero(over >= load_tap_weights()["quiet"]["least_db"])
    rest = np.exp(-over[used] / DB)
    level, rounding = floats(readings, "level_db"), floats(readings, "rounding_sd_db")
    level, rounding = level.copy(), rounding.copy()
    level[used] += DB * np.log1p(-rest)
    scatter = rest * 2.0**0.5 * constants.noise["reading_db"]
    rounding[used] = np.hypot(rounding[used], scatter) / (1.0 - rest)
    alone = readings.assign(level_db=level, rounding_sd_db=rounding)
    return tabulate_rows(alone, used, lines, constants)
