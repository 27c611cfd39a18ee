"""A situation: its name, what it is, how to draw its job, and what would be accepted."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.situations.jobs import Case
    from tests.situations.verdicts import Acceptance

    Builder = Callable[[np.random.Generator], Case]

SITUATIONS: dict[str, Situation] = {}


@dataclass(frozen=True)
class Situation:
    """A situation of the trade.

    Parameters
    ----------
    name : str
    about : str
        In one line.
    build : callable
        Draws a job.
    wanted : dict of str to Acceptance
        For each line that is judged.
    control : bool
        Whether it is a plain leak that must be located.
    """

    name: str
    about: str
    build: Builder
    wanted: dict[str, Acceptance]
    control: bool = False

    def draw(self, number: int) -> Case:
        """Draw a job; other situations and draws leave it as it is."""
        return self.build(np.random.default_rng([zlib.crc32(self.name.encode()), number]))


def situation(
    about: str, *, control: bool = False, **wanted: Acceptance
) -> Callable[[Builder], Builder]:
    """Declare a builder as a situation; `S_1` and further names give what each line accepts."""

    def declare(build: Builder) -> Builder:
        name = build.__name__
        lines = {line.replace("_", "-"): acceptance for line, acceptance in wanted.items()}
        SITUATIONS[name] = Situation(name, about, build, lines, control)
        return build

    return declare
