"""Weights of a mixing law from many lines, by expectation and maximisation."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from leakgeo.arrays import Floats

# The shipped weights count as those of this many lines.
PRIOR_LINES = 20.0
_ITERATIONS = 200
_TOLERANCE = 1e-6


def mixing_weights(
    log_evidence: Floats, before: Floats, prior_lines: float = PRIOR_LINES
) -> Floats:
    """Return the likeliest weights of the nodes of a mixing law, given lines.

    It is the nonparametric maximum-likelihood mixing law on fixed nodes (Laird, JASA 73, 1978), by
    expectation and maximisation, with a Dirichlet prior about the weights before.

    Parameters
    ----------
    log_evidence : ndarray of float, shape (lines, nodes)
        Log evidence of the readings of each line at each node.
    before : ndarray of float, shape (nodes,)
        Weights without these lines; they sum to one.
    prior_lines : float
        Number of lines that `before` counts as.

    Returns
    -------
    ndarray of float, shape (nodes,)
        They sum to one.

    Examples
    --------
    >>> sure = np.log([[0.999, 0.001]] * 60 + [[0.001, 0.999]] * 20)
    >>> mixing_weights(sure, np.array([0.5, 0.5])).round(2).tolist()
    [0.7, 0.3]
    """
    likelihood = np.exp(log_evidence - log_evidence.max(axis=1, keepdims=True))
    weight = before.copy()
    for _ in range(_ITERATIONS):
        share = weight * likelihood
        share /= share.sum(axis=1, keepdims=True)
        last, weight = weight, prior_lines * before + share.sum(axis=0)
        weight /= weight.sum()
        if np.abs(weight - last).max() < _TOLERANCE:
            break
    return weight
