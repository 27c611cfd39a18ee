"""Levels declared as decibels that are likely values of a linear display, such as 0 to 100."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import expit, logit

from leakgeo.arrays import floats
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.job.checks.layer import CheckedLayer

# Least range of a line, as values that are nearly equal are no evidence for either unit; and least
# number of readings between two others of their walk.
MIN_RANGE, MIN_READINGS = 20.0, 8
# Farther apart along the line, the two differ from it by the sound itself: sparse stops about a
# leak scatter most where it is loudest, as on a linear display.
MAX_SPAN_M = 4.0
# Scatter of a reading about its neighbours, in decibels: median and standard deviation of its
# logarithm. Its tails are those of Student's t with so many degrees of freedom.
SCATTER_DB, SCATTER_LOG_SD, FREEDOM = 1.8, 0.5, 4.0
_SCATTERS_DB = np.geomspace(0.3, 12.0, 25)
# A reading's difference from the mean of its two neighbours has 1.5 times the variance of rounding.
_ROUNDING = 1.5 / 12.0
# Share of lines with a wrong unit among those of a sensor, as a beta prior of this mean and this
# weight in lines.
WRONG_SHARE, WRONG_LINES = 0.02, 5.0
# Probability of a wrong unit from which a line is suspect.
SUSPECT = 0.8
# A unit is declared for a sensor as a whole: where this share of at least so many of its lines is
# suspect, all are.
_MOST, _LEAST_LINES = 0.75, 5
_STEPS = 30


def displays_in_doubt(readings: CheckedLayer) -> CheckedLayer:
    """Add ``unit_in_doubt``: whether a level in decibels is likely one of a linear display.

    Parameters
    ----------
    readings : CheckedLayer

    Returns
    -------
    CheckedLayer
        With a note of how many there are.

    Notes
    -----
    Noise multiplies amplitudes. So the scatter of a reading about its neighbours is the same at all
    levels in decibels, and in proportion to the value on a linear display: the choice between
    a variable and its logarithm of Box and Cox (1964), by the likelihood of each line. The share of
    lines with a wrong unit is estimated for each sensor (empirical Bayes), so that a column
    declared wrong as a whole shows on lines that alone show little.
    """
    table = readings.table
    doubted, suspect = np.zeros(len(table), dtype=bool), np.zeros(0, dtype=bool)
    shown = floats(table, "sound_level")
    at = np.flatnonzero((table["reason"].isna() & (table["sound_unit"] == "db")).to_numpy())
    if at.size:
        own = table.iloc[at]
        # Readings without a line are judged by walk.
        names = own["line_id"].fillna("walk " + own["walk_id"].fillna("").astype(str))
        line, lines = pd.factorize(names)
        sensor = pd.factorize(own["sensor"].fillna(""))[0]
        group = np.zeros(len(lines), dtype=np.int64)
        group[line] = sensor
        place = np.nan_to_num(floats(own, "chainage_m"))
        log_factor = _log_bayes_factors(_in_order(own, line), shown[at], line, place)
        suspect = _suspects(log_factor, group)
        doubted[at] = suspect[line]
    issues = readings.issues()
    if doubted.any():
        reason = Reason("decibels_like_display", readings=doubted.sum(), lines=suspect.sum())
        issues.report_layer(reason, column="sound_unit")
    return replace(readings, table=table.assign(unit_in_doubt=doubted)).with_issues(issues)


def _in_order(own: pd.DataFrame, line: Ints) -> tuple[Ints, Ints]:
    """Return walks, and the rows of their readings along the line, or else as listened.

    Stops that were chosen one by one are not near in place to those before them. Air
    tests are left out: they go to and fro between a loud place and a quiet one.
    """
    keys = [own[c].fillna("").astype(str) for c in ("walk_id", "band")]
    walk = own.groupby([line, *keys]).ngroup().to_numpy()
    place, seq = (np.nan_to_num(floats(own, c)) for c in ("chainage_m", "seq"))
    order = np.lexsort((seq, place, walk))
    order = order[own["air"].isna().to_numpy()[order]]
    return np.asarray(walk[order], dtype=np.int64), np.asarray(order, dtype=np.int64)


def _log_bayes_factors(
    walks: tuple[Ints, Ints], shown: Floats, line: Ints, place_m: Floats
) -> Floats:
    """Return of each line the log Bayes factor of a linear display against decibels.

    It is minus infinity for a line with fractions or negative values, which no such display shows,
    and NaN for one with too few readings, or too small a range.
    """
    walk, order = walks
    value, count = shown[order], int(line.max()) + 1
    inner = np.flatnonzero((walk[1:-1] == walk[:-2]) & (walk[1:-1] == walk[2:])) + 1
    along = place_m[order]
    inner = inner[along[inner + 1] - along[inner - 1] <= MAX_SPAN_M]
    of_line = line[order][inner]
    floor = np.maximum(value, 0.5)
    linear: Floats = np.zeros(count)
    in_db: Floats = np.zeros(count)
    if inner.size:
        slope = 20.0 / np.log(10.0) / floor[inner]
        linear = _log_evidence(_from_neighbours(20.0 * np.log10(floor), inner),
                               _ROUNDING * slope**2, of_line, count)  # fmt: skip
        linear += np.bincount(of_line, np.log(slope), minlength=count)
        in_db = _log_evidence(_from_neighbours(value, inner), np.full(len(inner), _ROUNDING),
                              of_line, count)  # fmt: skip
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, line, shown)
    np.maximum.at(high, line, shown)
    whole = np.bincount(line, shown != np.rint(shown), minlength=count) == 0
    judged = np.bincount(of_line, minlength=count) >= MIN_READINGS
    judged &= high - low >= MIN_RANGE
    return np.where(whole & (low >= 0.0), np.where(judged, linear - in_db, np.nan), -np.inf)


def _from_neighbours(level: Floats, inner: Ints) -> Floats:
    return np.asarray(level[inner] - (level[inner - 1] + level[inner + 1]) / 2.0)


def _log_evidence(residual: Floats, rounding: Floats, line: Ints, count: int) -> Floats:
    """Return the log marginal likelihood of each line's residuals, over the scatter, shape (l,)."""
    prior = -0.5 * (np.log(_SCATTERS_DB / SCATTER_DB) / SCATTER_LOG_SD) ** 2
    terms = np.empty((len(_SCATTERS_DB), count))
    for k, scatter in enumerate(_SCATTERS_DB):
        variance = scatter**2 + rounding
        log_density = -0.5 * (FREEDOM + 1.0) * np.log1p(residual**2 / (FREEDOM * variance))
        terms[k] = np.bincount(line, log_density - 0.5 * np.log(variance), minlength=count)
    weighted = terms + (prior - np.log(np.exp(prior).sum()))[:, None]
    return np.asarray(np.logaddexp.reduce(weighted, axis=0))


def _wrong_share_posterior(log_factor: Floats, group: Ints) -> Floats:
    """Return the probability of a linear display of each line, given the other lines of its group.

    A line that could not be judged, with NaN, has that of its group.

    Examples
    --------
    >>> alone = _wrong_share_posterior(np.array([3.0]), np.array([0]))
    >>> many = _wrong_share_posterior(np.array([3.0, 9.0, 9.0, 9.0]), np.zeros(4, dtype=int))
    >>> bool(alone[0] < 0.5), bool(many[0] > 0.9)
    (True, True)
    """
    judged, factor = np.isfinite(log_factor), np.nan_to_num(log_factor, nan=0.0, neginf=-np.inf)
    others = np.bincount(group, judged)[group] - judged
    probability = np.zeros(len(factor))
    for _ in range(_STEPS):
        # A line is no evidence for the share that it is judged by.
        wrong = judged * probability
        wrong = np.bincount(group, wrong)[group] - wrong
        share = (WRONG_SHARE * WRONG_LINES + wrong) / (WRONG_LINES + others)
        probability = np.asarray(expit(factor + logit(share)))
    return probability


def _suspects(log_factor: Floats, group: Ints) -> Bools:
    """Return which lines are suspect; all of a group where most are, but those that can't be.

    Examples
    --------
    >>> _suspects(np.array([9.0, 9.0, 9.0, 9.0, -5.0]), np.zeros(5, dtype=int)).tolist()
    [True, True, True, True, True]
    """
    probability = _wrong_share_posterior(log_factor, group)
    judged = np.isfinite(log_factor)
    lines = np.maximum(np.bincount(group, judged), _LEAST_LINES)
    most = np.bincount(group, judged * probability) >= _MOST * lines
    return np.asarray((probability > SUSPECT) | (most[group] & ~np.isneginf(log_factor)))
