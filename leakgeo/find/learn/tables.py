"""Tables from digs: hit rates by group, and stated probabilities compared with outcomes."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.reason import Reason, columns_of

if TYPE_CHECKING:
    from leakgeo.find.learn.calibration import Calibration

GROUPS = ("status", "material", "surface", "crew")
#: Edges of the classes of stated probability.
ODDS = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0)
_RATES = ("hits_1ft", "rate_1ft", "low_1ft", "high_1ft", "hits_1m", "rate_1m", "low_1m", "high_1m")
_COLUMNS = ("group", "value", "cases", "stated_1ft", *_RATES, "exponent", "exponent_sd", "message")
_ODDS_COLUMNS = ("from_probability", "to_probability", "cases", "stated", "achieved", "low", "high",
                 "message")  # fmt: skip


def wilson(hits: int, cases: int) -> tuple[float, float]:
    """Return Wilson's 95 % confidence interval of a proportion; NaN without cases.

    Parameters
    ----------
    hits, cases : int

    Returns
    -------
    low, high : float

    Notes
    -----
    Wilson, Journal of the American Statistical Association 22, 1927, as in scipy.

    Examples
    --------
    >>> [round(end, 4) for end in wilson(8, 10)]
    [0.4902, 0.9433]
    """
    if cases == 0:
        return np.nan, np.nan
    from scipy.stats import binomtest  # slow to import, and few jobs have digs

    interval = binomtest(hits, cases).proportion_ci(0.95, method="wilson")
    return float(interval.low), float(interval.high)


#: Fewest digs whose hit rate is compared with what was stated.
FEWEST = 30


def hit_rates(cases: pd.DataFrame, calibration: Calibration | None) -> pd.DataFrame:
    """Return hit rates within one foot and one metre, overall and by group.

    Parameters
    ----------
    cases : pandas.DataFrame
        Of `leakgeo.find.learn.cases.compare_digs`.
    calibration : Calibration or None
        Its exponent is stored in the first row.

    Returns
    -------
    pandas.DataFrame
        ``learned``; empty if no dig counts.
    """
    own = cases[cases["counted"].astype(bool)]
    if own.empty:
        return _with_codes(pd.DataFrame(columns=list(_COLUMNS)))
    fit = (np.nan, np.nan) if calibration is None else (
        calibration.exponent, calibration.exponent_sd)  # fmt: skip
    rows = [("all", "all", *_rates(own), *fit, _hit_rate(own))]
    rows += [
        (group, str(value), *_rates(part), np.nan, np.nan, _hit_rate(part))
        for group in GROUPS
        for value, part in own.groupby(own[group].fillna("unknown"), sort=True)
    ]
    return _with_codes(pd.DataFrame(rows, columns=list(_COLUMNS)))


def _rates(own: pd.DataFrame) -> tuple[float, ...]:
    near, far = (int(own[c].astype(bool).sum()) for c in ("within_1ft", "within_1m"))
    n = len(own)
    stated = float(own["probability_within_1ft"].mean())
    return n, stated, near, near / n, *wilson(near, n), far, far / n, *wilson(far, n)


def _hit_rate(own: pd.DataFrame) -> Reason:
    n, stated, near, rate, low, high, *_ = _rates(own)
    verdict = "as_stated" if low <= stated <= high else "more" if rate > stated else "less"
    if n < FEWEST:
        verdict = "too_few"
    return Reason("hit_rate", near=near, digs=n, low_percent=100 * low, high_percent=100 * high,
                  stated_percent=100 * stated, verdict=verdict)  # fmt: skip


def odds_table(cases: pd.DataFrame) -> pd.DataFrame:
    """Return mean stated probability and achieved hit rate, by class of stated probability.

    Parameters
    ----------
    cases : pandas.DataFrame
        Of `leakgeo.find.learn.cases.compare_digs`.

    Returns
    -------
    pandas.DataFrame
        ``learned_odds``; classes without a case are left out.
    """
    own = cases[cases["counted"].astype(bool) & cases["probability_within_1ft"].notna()]
    stated = own["probability_within_1ft"].to_numpy(dtype=float)
    rows = []
    for low, high in pairwise(ODDS):
        part = own[(stated >= low) & ((stated < high) | (high == 1.0))]
        if len(part):
            n, mean, _, *achieved = _rates(part)[:6]
            rows.append((low, high, n, mean, *achieved, _hit_rate(part)))
    return _with_codes(pd.DataFrame(rows, columns=list(_ODDS_COLUMNS)))


def _with_codes(table: pd.DataFrame) -> pd.DataFrame:
    return table.assign(**columns_of("message", table.pop("message")))
