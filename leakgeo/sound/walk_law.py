"""Law of walks by satellite: how the errors of fixes hang together, and the steps of crews."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import shares
from leakgeo.errors import ParameterError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.arrays import Floats

# Columns of the nodes of the errors, and of those of the steps.
ERRORS = ("shared_share", "memory_stops", "by_walk", "weight")
STEPS = ("step_m", "weight")


@dataclass(frozen=True)
class WalkLaw:
    """How common each kind of satellite error, and each length of step, is in a job.

    Parameters
    ----------
    errors : ndarray of float, shape (m, 3)
        Share of the variance of a fix that drifts slowly, the stops over which the drift is
        remembered (correlation ``exp(-1)``), and 1 if each walk has a drift of its own, 0 if it
        goes on from one walk of a visit to the next.
    error_weight : ndarray of float, shape (m,)
        Share of the visits at each node; sums to one.
    steps_m : ndarray of float, shape (k,)
        Lengths of a crew's steps, ascending.
    step_weight : ndarray of float, shape (k,)
        Share of the walks at each; sums to one.
    visits, walks : int
        Number of visits and of evenly paced walks that the weights were learned from; 0 for the
        shipped ones.
    """

    errors: Floats
    error_weight: Floats
    steps_m: Floats
    step_weight: Floats
    visits: int = 0
    walks: int = 0

    @classmethod
    def of(
        cls,
        errors: Sequence[Sequence[float]],
        steps: Sequence[Sequence[float]],
        visits: int = 0,
        walks: int = 0,
        where: str = "walk_law",
    ) -> WalkLaw:
        """Return the law with the given rows.

        Parameters
        ----------
        errors : sequence of four floats each
            As `ERRORS`.
        steps : sequence of two floats each
            As `STEPS`.
        visits, walks : int
        where : str
            Name of the rows in messages.

        Raises
        ------
        ParameterError
            If a row has not as many numbers, or a value is out of its range.

        Examples
        --------
        >>> law = WalkLaw.of([[0.5, 30.0, 0.0, 1.0]], [[0.3, 3.0], [1.2, 1.0]])
        >>> law.step_weight.tolist(), law.shared_share
        ([0.75, 0.25], 0.5)
        """
        first = _rows(errors, len(ERRORS), f"{where}.errors")
        second = _rows(steps, len(STEPS), f"{where}.steps")
        share, memory = first[:, 0], first[:, 1]
        if np.any((share < 0.0) | (share >= 1.0) | (memory <= 0.0)) or np.any(second[:, 0] <= 0.0):
            raise ParameterError(f"{where}: shares must be from 0 to below 1, memories and steps "
                                 "above zero.")  # fmt: skip
        second = second[np.argsort(second[:, 0], kind="stable")]
        weights = [shares(table[:, -1]) for table in (first, second)]
        return cls(first[:, :-1], weights[0], second[:, 0], weights[1], visits, walks)

    @property
    def shared_share(self) -> float:
        """Mean share of the variance of a fix that drifts slowly."""
        return float(self.error_weight @ self.errors[:, 0])

    def table(self) -> pd.DataFrame:
        """Return the layer ``walk_law``: a row for each node of either kind."""
        errors = pd.DataFrame(self.errors, columns=list(ERRORS[:-1]))
        steps = pd.DataFrame({STEPS[0]: self.steps_m})
        frame = pd.concat([errors, steps], ignore_index=True)
        weight = np.concatenate([self.error_weight, self.step_weight])
        return frame.assign(weight=weight, visits=self.visits, walks=self.walks)

    @classmethod
    def from_table(cls, table: pd.DataFrame) -> WalkLaw:
        """Return the law of a layer ``walk_law``."""
        step = table[STEPS[0]].to_numpy(dtype=float)
        of_steps, weight = np.isfinite(step), table["weight"].to_numpy(dtype=float)
        errors = table[list(ERRORS[:-1])].to_numpy(dtype=float)[~of_steps]
        counts = int(table["visits"].iloc[0]), int(table["walks"].iloc[0])
        return cls(errors, weight[~of_steps], step[of_steps], weight[of_steps], *counts)


def _rows(rows: Sequence[Sequence[float]], width: int, where: str) -> Floats:
    """Return rows as an array.

    Raises
    ------
    ParameterError
        If they are no table of numbers, or no weight is above zero.
    """
    try:
        table = np.array(rows, dtype=float)
    except (TypeError, ValueError):
        table = np.empty(0)
    if table.ndim != 2 or table.shape[1] != width or not np.isfinite(table).all():
        raise ParameterError(f"{where}: each node needs {width} numbers, the last its weight.")
    if np.any(table[:, -1] < 0.0) or table[:, -1].sum() <= 0.0:
        raise ParameterError(f"{where}: weights must not be below zero, and one must be above.")
    return table
