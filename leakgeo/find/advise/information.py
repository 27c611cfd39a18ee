"""Information that actions with known rates of their outcomes are expected to give."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from leakgeo.arrays import Floats

# Least probability of an outcome, so that none is impossible.
_LEAST = 1e-9


class Outcomes(NamedTuple):
    """What an action may show.

    Parameters
    ----------
    likelihood : ndarray of float, shape (h, o)
        Probability of each outcome under each hypothesis; the last hypothesis is silence.
    odds : ndarray of float, shape (h, o)
        Bayes factor of each outcome, of each hypothesis against silence, as far as it is believed.
    """

    likelihood: Floats
    odds: Floats

    def then(self, after: Outcomes) -> Outcomes:
        """Return this action followed by another; given what is true they are independent."""
        return Outcomes(_pairs(self.likelihood, after.likelihood), _pairs(self.odds, after.odds))


def _pairs(first: Floats, then: Floats) -> Floats:
    return np.asarray((first[:, :, None] * then[:, None, :]).reshape(len(first), -1))


def outcomes_of(likelihood: Floats, against: float = np.inf, most: float = np.inf) -> Outcomes:
    """Return what an action may show.

    Parameters
    ----------
    likelihood : ndarray of float, shape (h, o)
    against, most : float
        Largest Bayes factors, against a hypothesis and for it, that are believed.
    """
    likelihood = np.maximum(likelihood, _LEAST)
    likelihood = likelihood / likelihood.sum(axis=1, keepdims=True)
    odds = np.maximum(likelihood / likelihood[-1], 1.0 / against)
    return Outcomes(likelihood, np.minimum(odds, most))


def yes_or_no(yes: Floats, against: float = np.inf, most: float = np.inf) -> Outcomes:
    """Return an action with two outcomes, from the probability of the first, shape (h,).

    Examples
    --------
    >>> yes_or_no(np.array([0.75, 0.5]), most=1.2).odds.round(3).tolist()
    [[1.2, 0.5], [1.0, 1.0]]
    """
    both = np.empty((len(yes), 2))
    both[:, 0], both[:, 1] = yes, 1.0 - yes
    return outcomes_of(both, against, most)


def expected_gain_bits(weight: Floats, outcomes: Outcomes) -> float:
    r"""Return the information that an action is expected to give about what is true.

    Parameters
    ----------
    weight : ndarray of float, shape (h,)
        Probability of each hypothesis; sums to one.
    outcomes : Outcomes

    Returns
    -------
    float
        In bits.

    Notes
    -----
    The mean of :math:`\log_2 p(h | o) / p(h)`, which is the mutual information (Shannon, A
    Mathematical Theory of Communication, 1948, section 12) if all odds are believed, and less
    where they are bounded.

    Examples
    --------
    A test that is always right halves two equally likely hypotheses; one that is right nine times
    in ten gives about half a bit.

    >>> even = np.array([0.5, 0.5])
    >>> [round(expected_gain_bits(even, yes_or_no(np.array([r, 1 - r]))), 3) for r in (1, 0.9)]
    [1.0, 0.531]
    """
    believed = outcomes.odds / (weight @ outcomes.odds)
    gain = weight @ (outcomes.likelihood * np.log2(believed))
    return max(float(gain.sum()), 0.0)
