"""Leaks that were seen in holes and are not repaired: each has a mark of its own."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.find.evidence.digs import load_dig_weights
from leakgeo.find.locate.status import LIKELIER_THAN_NOT
from leakgeo.find.locate.zones import best_mark, highest_density, pieces_of
from leakgeo.find.posterior.posterior import Posterior, cells_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.arrays import Floats
    from leakgeo.find.evidence.digs import SeenLeak
    from leakgeo.find.locate.zones import Mark, Piece


@dataclass(frozen=True, eq=False)
class ConfirmedLeak:
    """A leak seen in one or more holes.

    Parameters
    ----------
    mark : Mark
        Of the leak, given that it is where it was seen.
    probability : float
        Probability that its record is right.
    share : float
        Its part of the probability of the line: the ranks are in descending order of it.
    given_seen : ndarray of float, shape (g,)
        Probability of each cell of the line, given that the leak is where it was seen.
    limited_by : {"sound", "position", "spacing", "shape"}
    """

    mark: Mark
    probability: float
    share: float
    given_seen: Floats
    limited_by: str = "sound"

    @property
    def within_foot(self) -> float:
        """Probability that the record is right and the leak is within one foot of the mark."""
        return self.mark.within_foot_given_leak * self.probability

    def probability_in(self, piece: Piece, cell_m: float) -> float:
        """Return the probability that the record is right and the leak is in a stretch."""
        cells = slice(round(piece.begin_m / cell_m), round(piece.end_m / cell_m))
        return self.probability * float(self.given_seen[cells].sum())


def even_posterior(length_m: float, leak_prior: float) -> Posterior:
    """Return the posterior of a line that nobody listened to: a leak is as likely anywhere."""
    x = cells_of(0.0, length_m)
    return Posterior(x, np.full(len(x), 1.0 / len(x)), leak_prior, (), 0.0, 0.0, 0.0, 0.0)


def confirmed_leaks(
    found: Posterior, without_holes: Posterior, seen: Sequence[SeenLeak]
) -> tuple[ConfirmedLeak, ...]:
    """Return the leaks of a line that were seen in holes and are likelier than a mistake.

    Parameters
    ----------
    found : Posterior
        Of one leak on the line, from all evidence.
    without_holes : Posterior
        The same without the holes.
    seen : sequence of SeenLeak
        Shape (n,).

    Returns
    -------
    tuple of ConfirmedLeak
        By rank; at most n. A leak that nobody saw is not considered beside them.

    Notes
    -----
    Each leak is placed by the posterior given that the leak is where it was seen. Where its place
    was taped in the hole, or a leak is no likelier there without the holes than if it were anywhere
    on the line, so that the sound shows nothing of it, the hole alone places it. The posterior is
    that of one leak, so several share it. The record of a leak is right if the leak is there; or if
    the leak is another that was seen, and the record is no mistake by itself.
    """
    x, mistaken = found.chainage_m, load_dig_weights()["mistaken"]
    right = np.array([leak.is_right(x) for leak in seen]).reshape(len(seen), len(x))
    shares = found.leak_probability * (right @ found.probability)
    any_right = 1.0 - np.prod(1.0 - right, axis=0)
    anyone = found.leak_probability * float(any_right @ found.probability)
    probability = shares + np.maximum(anyone - shares, 0.0) * (1.0 - mistaken)
    leaks = []
    for one, share, sure, own in zip(seen, shares.tolist(), probability, right, strict=True):
        if sure < LIKELIER_THAN_NOT:
            continue
        shown = own @ without_holes.probability >= own.mean()
        by_sound = shown and not one.taped
        given = own * (found.probability if by_sound else np.exp(one.log_likelihood(x)))
        given = given / given.sum()
        mark = best_mark(x, given)
        # Rounded here, so that layers and messages show the same chainage.
        mark = replace(mark, chainage_m=round(mark.chainage_m, 3))
        leaks.append(ConfirmedLeak(mark, float(sure), share, given))
    return tuple(sorted(leaks, key=lambda leak: (-leak.share, leak.mark.chainage_m)))


def shared_posterior(found: Posterior, leaks: Sequence[ConfirmedLeak]) -> Posterior:
    """Return the posterior of a line with several leaks: each has the same part of it."""
    return replace(found, probability=np.mean([leak.given_seen for leak in leaks], axis=0))


def pieces_to_search(found: Posterior, leaks: Sequence[ConfirmedLeak], share: float) -> list[Piece]:
    """Return the stretches that hold each of several leaks with at least the probability `share`.

    Parameters
    ----------
    found : Posterior
        As `shared_posterior` returns it.
    leaks : sequence of ConfirmedLeak
    share : float

    Returns
    -------
    list of Piece
        Likeliest first; their probabilities are parts of that of all leaks together.
    """
    inside = np.any([highest_density(leak.given_seen, share) for leak in leaks], axis=0)
    return pieces_of(2.0 * float(found.chainage_m[0]), found.probability, inside)
