"""What was found on one line, and the evidence that was weighed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from leakgeo.find.locate.zones import Mark, Piece
    from leakgeo.find.posterior.posterior import Posterior
    from leakgeo.reason import Reason


@dataclass(frozen=True)
class Weighed:
    """A piece of evidence: its log Bayes factor of a leak against none, and what was observed."""

    kind: str
    log_bf: float
    reason: Reason | None = None


@dataclass(frozen=True)
class Finding:
    """Result of one line.

    Parameters
    ----------
    line : int
        Index of the line among the measurable ones.
    posterior : Posterior
    mark : Mark
    pieces : tuple of Piece
        Stretches to search, likeliest first.
    limited_by : {"sound", "position", "spacing", "shape", "trace"}
    tape_share : float
        Mean weight of taped chainages in the positions, 0 to 1.
    levels_log_bf : float
        Log Bayes factor of a leak against none, from the levels alone.
    leak_prior : float
        Probability of a leak on the line before listening.
    on_nearby_lines : tuple of (str, float, float)
        Each nearby line's id, the probability that the leak is there instead, and its likeliest
        chainage.
    further : tuple of Weighed
        Evidence other than the levels, in the order in which it was weighed.
    over_trace : float
        Probability that the pipe is within one foot of its trace at the mark, by the sweeps across.
    """

    line: int
    posterior: Posterior
    mark: Mark
    pieces: tuple[Piece, ...]
    limited_by: str
    tape_share: float
    levels_log_bf: float
    leak_prior: float
    on_nearby_lines: tuple[tuple[str, float, float], ...] = ()
    further: tuple[Weighed, ...] = ()
    over_trace: float = 1.0

    def probability_in(self, piece: Piece) -> float:
        """Return the probability that the line has a leak and the leak is in `piece`."""
        return piece.probability * self.posterior.leak_probability

    @property
    def within_foot(self) -> float:
        """Probability that the line has a leak and the leak is within one foot of the mark."""
        along = self.mark.within_foot_given_leak * self.posterior.leak_probability
        return along * self.over_trace
