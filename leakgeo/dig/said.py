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

    A semicolon inside a text becomes a comma, so that readers can take the texts apart again.

    Examples
    --------
    >>> joined([([1], ["a"]), ([0, 1], ["b", "c;d"])], 3).tolist()
    ['b', 'a; c,d', '']
    """
    parts: list[list[str]] = [[] for _ in range(n)]
    for where, texts in said:
        for at, text in zip(np.asarray(where), np.asarray(texts, dtype=object), strict=True):
            parts[at].append(text.replace(";", ","))
    return pd.Series([between.join(part) for part in parts], dtype=object)


def say(mask: ArrayLike, text: str) -> Said:
    """Say one text wherever `mask` is true.

    Examples
    --------
    >>> [part.tolist() for part in say([False, True], "wait")]
    [[1], ['wait']]
    """
    where: NDArray[np.intp] = np.flatnonzero(np.asarray(mask, dtype=bool))
    return where, np.full(where.size, text, dtype=object)
