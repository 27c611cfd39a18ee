"""Likelihood of one piece of evidence under each explanation of the sound of a line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

import numpy as np
from scipy.special import logsumexp

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.arrays import Floats
    from leakgeo.find.posterior.posterior import Posterior
    from leakgeo.find.posterior.rivals import Rival
    from leakgeo.reason import Reason

# Probabilities are clipped to this distance from 0 and 1 before their log odds are taken.
_MIN_PROBABILITY = 1e-300


@dataclass(frozen=True)
class Likelihood:
    """Log likelihood of one piece of evidence (natural logarithm) under each explanation.

    Parameters
    ----------
    kind : str
        Code of the evidence in the layer ``evidence``: ``meter``, ``air``, ``dig``, ...
    leak : ndarray of float, shape (g,)
        A leak in each cell of the line.
    none : float
        No leak, and nothing that sounds.
    rivals : ndarray of float, shape (r,)
        Each rival of the posterior; all as `none` if None.
    nearby : float
        A leak on a nearby line; as `none` if None.
    reason : Reason
        What was observed and what it means, as the message of the evidence; None for a general one.
    revealed : float
        Nothing that the levels show sounds, but another source that this evidence alone reveals,
        times its prior probability; it then counts as the unknown rival. None if it can't.
    """

    kind: str
    leak: Floats
    none: float
    rivals: Floats | None = None
    nearby: float | None = None
    reason: Reason | None = None
    revealed: float | None = None


class Evidence(Protocol):
    """A piece of evidence on one line."""

    def likelihood(self, chainage_m: Floats, rivals: Sequence[Rival]) -> Likelihood:
        """Return its likelihood in the cells and for the rivals of a posterior."""


def updated(found: Posterior, evidence: Likelihood) -> Posterior:
    """Return the posterior of a line updated with a piece of evidence.

    Parameters
    ----------
    found : Posterior
    evidence : Likelihood

    Returns
    -------
    Posterior
        With updated probabilities of the places, of a leak, and of the rivals.

    Examples
    --------
    >>> from leakgeo.find.posterior.posterior import Posterior
    >>> before = Posterior(np.array([0.5, 1.5]), np.array([0.8, 0.2]), 0.5, (), 0.0, 2.0, 2.0, 0.0)
    >>> dry = Likelihood("dig", np.log([0.1, 1.0]), 0.0)
    >>> after = updated(before, dry)
    >>> after.probability.round(2).tolist(), round(after.leak_probability, 2)
    ([0.29, 0.71], 0.22)
    """
    rivals = np.array([r.probability for r in found.rivals], dtype=float)
    elsewhere = np.array([p for _, p, _ in found.on_nearby_lines], dtype=float)
    silent = max(1.0 - found.leak_probability - rivals.sum() - elsewhere.sum(), 0.0)
    by_rival = np.full(len(rivals), evidence.none) if evidence.rivals is None else evidence.rivals
    by_nearby = evidence.none if evidence.nearby is None else evidence.nearby
    with np.errstate(divide="ignore"):  # what is impossible stays so
        here = np.log(found.probability) + evidence.leak
        leak_nats = float(logsumexp(here))
        weight = np.log([found.leak_probability, silent, *rivals, *elsewhere])
        unseen = np.log(silent) + (-np.inf if evidence.revealed is None else evidence.revealed)
    weight += [leak_nats, evidence.none, *by_rival, *np.full(len(elsewhere), by_nearby)]
    # Without an unknown rival it is no leak, like silence.
    kinds = ["", "none", *(r.kind for r in found.rivals)]
    other = kinds.index("unknown" if "unknown" in kinds else "none")
    weight[other] = np.logaddexp(weight[other], unseen)
    share = np.exp(weight - logsumexp(weight))
    later = share[2 : 2 + len(rivals)]
    # The Bayes factor is that of a leak here or on a nearby line, as that of the levels.
    after = float(share[0] + share[2 + len(rivals) :].sum())
    gain = _log_odds(after) - _log_odds(found.leak_probability + float(elsewhere.sum()))
    return replace(
        found,
        probability=np.exp(here - leak_nats),
        leak_probability=float(share[0]),
        rivals=tuple(replace(r, probability=float(p))
                     for r, p in zip(found.rivals, later, strict=True)),
        on_nearby_lines=tuple(
            (line, float(p), at)
            for (line, _, at), p in zip(
                found.on_nearby_lines, share[2 + len(rivals) :], strict=True
            )
        ),
        leak_log_bf=found.leak_log_bf + gain,
    )  # fmt: skip


def _log_odds(probability: float) -> float:
    p = np.clip(probability, _MIN_PROBABILITY, 1.0 - 1e-16)
    return float(np.log(p) - np.log1p(-p))
