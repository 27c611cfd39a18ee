"""Law of the noise of readings: nodes of coupling, its length and reading noise, with weights."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.errors import ParameterError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.arrays import Floats

# Columns of a node.
COUPLING_DB, COUPLING_LENGTH_M, READING_DB, WEIGHT = 0, 1, 2, 3


@dataclass(frozen=True)
class NoiseLaw:
    """A mixing law of the noise: how common each kind of ground is among the lines of a job.

    Parameters
    ----------
    nodes : ndarray of float, shape (m, 3)
        Standard deviation of the coupling of sensor and ground in dB, its correlation length in
        metres, and the standard deviation of a reading in dB.
    weight : ndarray of float, shape (m,)
        Share of the lines at each node; sums to one.
    lines : int
        Number of lines that the weights were learned from; 0 for the shipped ones.
    """

    nodes: Floats
    weight: Floats
    lines: int = 0

    @classmethod
    def of(
        cls, rows: Sequence[Sequence[float]], lines: int = 0, where: str = "noise_law"
    ) -> NoiseLaw:
        """Return the law with the given rows of three values and a weight.

        Parameters
        ----------
        rows : sequence of four floats each
        lines : int
        where : str
            Name of the rows in messages.

        Raises
        ------
        ParameterError
            If a row has not four numbers, a value is not above zero, or no weight is.

        Examples
        --------
        >>> law = NoiseLaw.of([[1.0, 0.8, 1.3, 3.0], [2.0, 0.8, 1.3, 1.0]])
        >>> law.weight.tolist(), law.centre().round(2).tolist()
        ([0.75, 0.25], [1.19, 0.8, 1.3])
        """
        try:
            table = np.array(rows, dtype=float)
        except (TypeError, ValueError):
            table = np.empty(0)
        if table.ndim != 2 or table.shape[1] != WEIGHT + 1 or not np.isfinite(table).all():
            raise ParameterError(f"{where}: each node needs four numbers: coupling in dB, its "
                                 "length in metres, reading noise in dB, and weight.")  # fmt: skip
        weight = table[:, WEIGHT]
        if np.any(table[:, :WEIGHT] <= 0.0) or np.any(weight < 0.0) or weight.sum() <= 0.0:
            raise ParameterError(f"{where}: coupling, length and reading noise must be above zero, "
                                 "weights must not be below, and one must be above.")  # fmt: skip
        return cls(table[:, :WEIGHT], weight / weight.sum(), lines)

    def centre(self) -> Floats:
        """Return the geometric mean of the nodes by their weights, shape (3,)."""
        return np.asarray(np.exp(self.weight @ np.log(self.nodes)))
