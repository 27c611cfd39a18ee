"""A source of which some layers are given, and not read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from leakgeo.job.sources.layers import RawLayer


@dataclass(frozen=True, eq=False)
class PartialSource:
    """A source of which some layers are not read, as their rows are given.

    Parameters
    ----------
    source : str or pathlib.Path
    ready : mapping of str to RawLayer
        Rows in place of those of a layer, by its lower-case name.
    """

    source: str | Path
    ready: Mapping[str, RawLayer]

    def __str__(self) -> str:
        return str(self.source)
