"""One leak for all lines that meet, or leaks of each line's own: both, by what speaks for them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit, logit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.find.posterior.posterior import Posterior

# Nearer to nought or one than this the odds of a probability are not told.
_LEAST = 1e-15


def averaged(
    one: Posterior, own: Posterior, others: Sequence[Posterior], on_each: float, leak_prior: float
) -> Posterior:
    """Average a line's posterior over whether the lines that meet it share one leak.

    Either all readings are of one leak, on this line or another, or each line's readings speak of
    that line alone. Both account for the same readings, so their evidence compares them; the
    average is that of Bayesian model averaging (Hoeting and others, Statistical Science 14, 1999).

    Parameters
    ----------
    one : Posterior
        Of the line with its neighbours, where there is one leak.
    own : Posterior
        Of the line by itself, from its own readings.
    others : sequence of Posterior
        Of each neighbour by itself, from the readings that `one` has of it.
    on_each : float
        Probability, before listening, that each line has its own.
    leak_prior : float
        Probability of a leak before listening.

    Returns
    -------
    Posterior
    """
    apart = own.log_evidence + sum(o.log_evidence for o in others) - one.log_evidence
    each = float(expit(np.clip(apart + logit(on_each), -700, 700)))
    shares = np.array([(1.0 - each) * one.leak_probability, each * own.leak_probability])
    here = float(shares.sum())
    mix = shares / here if here > 0.0 else np.array([1.0 - each, each])
    elsewhere = tuple((line, (1.0 - each) * p, at) for line, p, at in one.elsewhere)
    anywhere = here + sum(p for _, p, _ in elsewhere)
    nats = logit(np.clip(anywhere, _LEAST, 1.0 - _LEAST)) - logit(leak_prior)
    return replace(
        one,
        probability=mix[0] * one.probability + mix[1] * own.probability,
        leak_probability=here,
        elsewhere=elsewhere,
        second_probability=float(mix @ [one.second_probability, own.second_probability]),
        heard_nats=max(one.heard_nats, own.heard_nats),
        leak_nats=float(nats),
        log_evidence=one.log_evidence
        + float(np.logaddexp(np.log1p(-on_each), np.log(on_each) + apart)),
    )
