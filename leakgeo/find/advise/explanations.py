"""What may be true of a line, with its probability: where a leak may be, and what else."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, cast, get_args

import numpy as np

from leakgeo.arrays import floats, texts
from leakgeo.find.posterior.rivals import Kind, Rival

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import pandas as pd

    from leakgeo.arrays import Floats


@dataclass(frozen=True, eq=False)
class Explanations:
    """What may be true of a line; the probabilities of all sum to one.

    Parameters
    ----------
    place_m : ndarray of float, shape (k,)
        Possible chainages of a leak on the line, ascending.
    place_probability : ndarray of float, shape (k,)
        Probability of a leak at each.
    rivals : tuple of Rival, length r
        Explanations of the sound without a leak on the line.
    nearby : tuple of (str, float, float), length n
        Each nearby line that may leak instead, the probability of that, and its likeliest chainage.
    silent : float
        Probability that nothing sounds.

    Examples
    --------
    >>> found = Explanations(np.array([2.0, 9.0]), np.array([0.5, 0.2]), (), (), 0.3)
    >>> found.weights().tolist(), round(found.leak_probability, 2)
    ([0.5, 0.2, 0.3], 0.7)
    """

    place_m: Floats
    place_probability: Floats
    rivals: tuple[Rival, ...]
    nearby: tuple[tuple[str, float, float], ...]
    silent: float

    def weights(self) -> Floats:
        """Return all probabilities, shape (k + r + n + 1,): places, rivals, nearby, silence."""
        rivals = [rival.probability for rival in self.rivals]
        nearby = [probability for _, probability, _ in self.nearby]
        return np.concatenate([self.place_probability, rivals, nearby, [self.silent]])

    @property
    def leak_probability(self) -> float:
        """Probability of a leak on the line."""
        return float(self.place_probability.sum())

    def each(self, place: Floats, of_rival: Floats, nearby: float, silent: float) -> Floats:
        """Return a value of each explanation in the order of `weights`.

        Parameters
        ----------
        place : ndarray of float, shape (k,) or ()
        of_rival : ndarray of float, shape (r,) or ()
        nearby, silent : float
        """
        k, r, n = len(self.place_m), len(self.rivals), len(self.nearby)
        found = np.empty(k + r + n + 1)
        found[:k], found[k : k + r], found[k + r : -1], found[-1] = place, of_rival, nearby, silent
        return found

    def levels(self, by_place: Floats) -> Floats:
        """Return the probabilities of levels under each explanation, shape (h, b).

        Parameters
        ----------
        by_place : ndarray of float, shape (k, b) or (k + 1, b)
            For each place, and for silence last where it was considered. Another source is taken
            to be as loud as a leak that is anywhere.
        """
        k = len(self.place_m)
        anywhere = by_place[:k].mean(axis=0, keepdims=True)
        others = np.repeat(anywhere, len(self.rivals) + len(self.nearby), axis=0)
        silent = by_place[k:] if len(by_place) > k else anywhere
        return np.concatenate([by_place[:k], others, silent])


def explanations_by_line(
    table: pd.DataFrame, places: Callable[[str], Floats]
) -> dict[str, Explanations]:
    """Return what may be true of each line.

    Parameters
    ----------
    table : pandas.DataFrame
        Layer ``explanations``.
    places : callable
        Maps the id of a line to equally likely chainages of a leak on it, shape (k,).

    Returns
    -------
    dict of str to Explanations
        By ``line_id``.
    """
    found: dict[str, list[_Row]] = {}
    rows = zip(
        texts(table, "kind"), texts(table, "other_line_id"), texts(table, "contact_id"),
        floats(table, "chainage_m").tolist(), floats(table, "probability").tolist(), strict=True,
    )  # fmt: skip
    for name, row in zip(texts(table, "line_id"), rows, strict=True):
        found.setdefault(str(name), []).append(row)
    return {name: _explanations(own, places(name)) for name, own in found.items()}


_Row = tuple[str, str | None, str | None, float, float]


def _explanations(rows: Sequence[_Row], place_m: Floats) -> Explanations:
    rivals = tuple(
        Rival(cast("Kind", kind), p, at, contact or "")
        for kind, _, contact, at, p in rows
        if kind in get_args(Kind)
    )
    nearby = tuple((str(line), p, at) for kind, line, _, at, p in rows if kind == "nearby_line")
    leak, silent = (
        sum(p for kind, *_, p in rows if kind == wanted) for wanted in ("leak", "silence")
    )
    each = np.full(len(place_m), leak / len(place_m))
    return Explanations(place_m, each, rivals, nearby, silent)
