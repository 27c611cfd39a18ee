"""Texts said of many digs at once, and how they are joined to one text a dig."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike, NDArray

Said = tuple["ArrayLike", "ArrayLike"]  # positions of the digs, and what is said of each


def joined(said: Iterable[Said], n: int, between: str = "; ") -> pd.Series:
    """Join what is said of each of n digs to one text; empty where nothing is said.

    Examples
    --------
    >>> joined([([1], ["a"]), ([0, 1], ["b", "c"])], 3).tolist()
    ['b', 'a; c', '']
    """
    parts: list[list[str]] = [[] for _ in range(n)]
    for where, texts in said:
        for at, text in zip(np.asarray(where), np.asarray(texts, dtype=object), strict=True):
            parts[at].append(text)
    return pd.Series([between.join(part) for part in parts], dtype=object)


def say(mask: ArrayLike, text: str) -> Said:
    """Say one text wherever `mask` is true.

    A semicolon inside it becomes a comma, so that readers can take the texts apart again.

    Examples
    --------
    >>> [part.tolist() for part in say([False, True], "wait; then dig")]
    [[1], ['wait, then dig']]
    """
    where: NDArray[np.intp] = np.flatnonzero(np.asarray(mask, dtype=bool))
    return where, np.full(where.size, text.replace(";", ","), dtype=object)
