"""Bayesian model average over one shared leak on nearby lines and a leak on each."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit, logit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.find.posterior.posterior import Posterior

# Probabilities are clipped to this distance from 0 and 1 before their log odds are taken.
_MIN_PROBABILITY = 1e-15


def average_models(
    joint: Posterior,
    alone: Posterior,
    others: Sequence[Posterior],
    separate_prior: float,
    leak_prior: float,
) -> Posterior:
    """Average the posterior of a line over two models of the nearby lines around it.

    In the first, one leak on any of the lines explains all readings. In the second, the readings
    of each line depend on that line alone. Both explain the same readings, so their evidence
    compares them: Bayesian model averaging (Hoeting and others, Statistical Science 14, 1999).

    Parameters
    ----------
    joint : Posterior
        Of the line under the first model, with all readings.
    alone : Posterior
        Of the line under the second model, with its own readings; or that of an average over
        other nearby lines, with theirs too.
    others : sequence of Posterior
        Of each nearby line under the second model, with its readings among those of `joint`.
    separate_prior : float
        Probability of the second model before listening.
    leak_prior : float
        Probability of a leak before listening.

    Returns
    -------
    Posterior
    """
    log_bf = alone.log_evidence + sum(o.log_evidence for o in others) - joint.log_evidence
    separate = float(expit(np.clip(log_bf + logit(separate_prior), -700, 700)))
    shares = np.array(
        [(1.0 - separate) * joint.leak_probability, separate * alone.leak_probability]
    )
    here = float(shares.sum())
    mix = shares / here if here > 0.0 else np.array([1.0 - separate, separate])
    elsewhere = tuple((line, (1.0 - separate) * p, at) for line, p, at in joint.on_nearby_lines)
    elsewhere += tuple((line, separate * p, at) for line, p, at in alone.on_nearby_lines)
    weights = np.array([1.0 - separate, separate])
    rivals = tuple(
        replace(one, probability=float(weights @ [one.probability, other.probability]))
        for one, other in zip(joint.rivals, alone.rivals, strict=True)
    )
    anywhere = here + sum(p for _, p, _ in elsewhere)
    log_odds = logit(np.clip(anywhere, _MIN_PROBABILITY, 1.0 - _MIN_PROBABILITY))
    return replace(
        joint,
        probability=mix[0] * joint.probability + mix[1] * alone.probability,
        leak_probability=here,
        on_nearby_lines=elsewhere,
        other_source_probability=float(
            mix @ [joint.other_source_probability, alone.other_source_probability]
        ),
        rivals=rivals,
        sound_log_bf=max(joint.sound_log_bf, alone.sound_log_bf),
        leak_log_bf=float(log_odds - logit(leak_prior)),
        log_evidence=joint.log_evidence
        + float(np.logaddexp(np.log1p(-separate_prior), np.log(separate_prior) + log_bf)),
    )
