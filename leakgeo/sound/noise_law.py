"""Law of the noise of readings: nodes of coupling and reading noise with weights; ambient floor."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import shares
from leakgeo.errors import ParameterError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from leakgeo.arrays import Floats

# Columns of a node in the layer ``noise_law``, and of the ambient floor there.
COLUMNS = ("coupling_db", "coupling_length_m", "reading_db", "weight")
FLOOR = ("floor_below_db", "floor_db", "trend_db")


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
    floor_below_db, floor_db, trend_db : float
        The constants of the ambient floor in ``constants.toml`` of the same names, as learned; NaN
        for the shipped ones.
    """

    nodes: Floats
    weight: Floats
    lines: int = 0
    floor_below_db: float = math.nan
    floor_db: float = math.nan
    trend_db: float = math.nan

    @property
    def floor(self) -> dict[str, float]:
        """Constants of the ambient floor that were learned, by name."""
        known = {name: float(getattr(self, name)) for name in FLOOR}
        return {name: value for name, value in known.items() if math.isfinite(value)}

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
        if table.ndim != 2 or table.shape[1] != len(COLUMNS) or not np.isfinite(table).all():
            raise ParameterError(f"{where}: each node needs four numbers: coupling in dB, its "
                                 "length in metres, reading noise in dB, and weight.")  # fmt: skip
        weight = table[:, -1]
        if np.any(table[:, :-1] <= 0.0) or np.any(weight < 0.0) or weight.sum() <= 0.0:
            raise ParameterError(f"{where}: coupling, length and reading noise must be above zero, "
                                 "weights must not be below, and one must be above.")  # fmt: skip
        return cls(table[:, :-1], shares(weight), lines)

    def common(self, least: float) -> NoiseLaw:
        """Return the law without the nodes whose weight is below `least`."""
        kept = self.weight >= min(least, self.weight.max())
        return replace(self, nodes=self.nodes[kept], weight=self.weight[kept])

    def centre(self) -> Floats:
        """Return the geometric mean of the nodes by their weights, shape (3,)."""
        return np.asarray(np.exp(self.weight @ np.log(self.nodes)))

    def table(self) -> pd.DataFrame:
        """Return the layer ``noise_law``: a row for each node."""
        columns = dict(zip(COLUMNS, np.column_stack([self.nodes, self.weight]).T, strict=True))
        floor = {name: float(getattr(self, name)) for name in FLOOR}
        return pd.DataFrame({**columns, "lines": self.lines, **floor})

    def with_floor(self, floor: Mapping[str, float]) -> NoiseLaw:
        """Return the law with constants of the ambient floor, by the names in `FLOOR`."""
        return replace(self, **{name: floor.get(name, math.nan) for name in FLOOR})  # type: ignore[arg-type]

    @classmethod
    def from_table(cls, table: pd.DataFrame) -> NoiseLaw:
        """Return the law of a layer ``noise_law``."""
        rows = table[list(COLUMNS)].to_numpy(dtype=float)
        floor = [float(table[name].iloc[0]) for name in FLOOR]
        return cls(rows[:, :-1], rows[:, -1], int(table["lines"].iloc[0]), *floor)
