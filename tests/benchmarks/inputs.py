"""The random numbers that draw a line, as a vector of unit normals that can be varied."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr, ndtri

if TYPE_CHECKING:
    from collections.abc import Sequence


class Inputs:
    """Stands in for a random generator: gives in turn what the normals of a vector stand for."""

    def __init__(self, normal: np.ndarray) -> None:
        self.normal, self.at = normal, 0

    def standard_normal(self) -> float:
        """Give the next number."""
        self.at += 1
        return float(self.normal[self.at - 1])

    def random(self) -> float:
        """Give a number between 0 and 1."""
        return float(ndtr(self.standard_normal()))

    def uniform(self, low: float, high: float, size: int | None = None):
        """Give a number of a range, or so many."""
        if size is None:
            return low + (high - low) * self.random()
        return np.array([self.uniform(low, high) for _ in range(size)])

    def choice(self, options: Sequence[object]):
        """Give one of the options."""
        return options[int(self.random() * len(options))]

    def integers(self, low: int, high: int) -> int:
        """Give a whole number, less than `high`."""
        return low + int(self.random() * (high - low))


class Tape:
    """A random generator that keeps the normals of what it draws, and the range of each number."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.normals: list[float] = []
        self.spans: list[tuple[float, float] | None] = []

    @property
    def normal(self) -> np.ndarray:
        """The normals so far: with them `Inputs` gives the same numbers."""
        return np.array(self.normals)

    def index_of(self, span: tuple[float, float]) -> int:
        """Return the index of the first number of a range."""
        return self.spans.index(span)

    def _kept(self, share: float, span: tuple[float, float] | None = None) -> None:
        self.normals.append(float(ndtri(np.clip(share, 1e-12, 1 - 1e-12))))
        self.spans.append(span)

    def standard_normal(self) -> float:
        """Draw a unit normal."""
        value = float(self.rng.standard_normal())
        self._kept(float(ndtr(value)))
        self.normals[-1] = value
        return value

    def random(self) -> float:
        """Draw a number between 0 and 1."""
        value = float(self.rng.random())
        self._kept(value)
        return value

    def uniform(self, low: float, high: float, size: int | None = None):
        """Draw a number of a range, or so many."""
        if size is not None:
            return np.array([self.uniform(low, high) for _ in range(size)])
        value = float(self.rng.uniform(low, high))
        self._kept((value - low) / (high - low) if high > low else 0.5, (low, high))
        return value

    def choice(self, options: Sequence[object]):
        """Draw one of the options."""
        value = self.rng.choice(options)
        self._kept((list(options).index(value) + 0.5) / len(options))
        return value

    def integers(self, low: int, high: int) -> int:
        """Draw a whole number, less than `high`."""
        value = int(self.rng.integers(low, high))
        self._kept((value - low + 0.5) / (high - low))
        return value
