"""Texts of lines kept from an earlier run, as writing thousands of sentences takes seconds."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.kept_pieces import Shelf
from leakgeo.wording.layers import message_texts, texts_of, with_columns, with_texts

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from leakgeo.kept_pieces import Kept
    from leakgeo.wording.catalogue import Wording

# Texts of a line, by layer and column, of columns that have any.
_Texts = dict[str, dict[str, list[str | None]]]


class _Layer:
    """The text columns of a layer, filled line by line."""

    def __init__(self, frame: pd.DataFrame) -> None:
        self.frame = frame
        self.texts = {name: np.full(len(frame), None, object) for name in texts_of(frame)}
        self._codes, names = pd.factorize(frame["line_id"])
        order = np.argsort(self._codes, kind="stable")[int((self._codes < 0).sum()) :]
        ends = np.flatnonzero(np.diff(self._codes[order])) + 1
        parts = np.split(order, ends) if len(names) else []
        self.rows = dict(zip(map(str, names), parts, strict=True))

    def fits(self, line_id: str, texts: Mapping[str, list[str | None]]) -> bool:
        """Return whether a line has as many rows as kept texts."""
        count = len(self.rows.get(line_id, ()))
        return all(name in self.texts and len(own) == count for name, own in texts.items())

    def take_over(self, line_id: str, texts: Mapping[str, list[str | None]]) -> None:
        """Take over the texts of a line."""
        for name, own in texts.items():
            self.texts[name][self.rows[line_id]] = own

    def write(self, fresh: Collection[str], wording: Wording) -> None:
        """Write the texts of the rows of some lines, and of those of no line."""
        own = np.array([name in fresh for name in self.rows] + [True])  # the code of none is -1
        rows = own[self._codes]
        for name, texts in self.texts.items() if rows.any() else ():
            texts[rows] = message_texts(self.frame.loc[rows], name, wording)

    def of_line(self, line_id: str) -> dict[str, list[str | None]]:
        """Return the texts of a line."""
        if line_id not in self.rows:
            return {}
        rows = self.rows[line_id]
        found = {name: texts[rows].tolist() for name, texts in self.texts.items()}
        return {name: own for name, own in found.items() if any(t is not None for t in own)}


def with_kept_texts(
    layers: Mapping[str, pd.DataFrame], wording: Wording, kept: Kept
) -> dict[str, pd.DataFrame]:
    """Return layers with their text columns; those of unchanged lines are taken over.

    Parameters
    ----------
    layers : mapping of str to pandas.DataFrame
        Each has all rows of the lines that it has.
    wording : Wording
    kept : Kept
    """
    ours = {n: _Layer(f) for n, f in layers.items() if "line_id" in f and texts_of(f)}
    columns = {name: sorted(one.texts) for name, one in sorted(ours.items())}
    shelf = Shelf(kept, "texts", [wording.units, wording.language, columns])
    fresh: list[str] = []
    for line_id in dict.fromkeys(name for one in ours.values() for name in one.rows):
        stored = shelf.get(line_id)
        found: _Texts = {} if stored is None else json.loads(stored)
        if stored is None or not all(ours[n].fits(line_id, own) for n, own in found.items()):
            fresh.append(line_id)
            continue
        for name, own in found.items():
            ours[name].take_over(line_id, own)
    for one in ours.values():
        one.write(set(fresh), wording)
    for line_id in fresh:
        texts = {name: own for name, one in ours.items() if (own := one.of_line(line_id))}
        shelf.put(line_id, json.dumps(texts, separators=(",", ":")).encode("ascii"))
    others = {n: with_texts(frame, wording) for n, frame in layers.items() if n not in ours}
    return {
        name: with_columns(frame, ours[name].texts) if name in ours else others[name]
        for name, frame in layers.items()
    }
