"""What was found on one line, and the evidence that was weighed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from leakgeo.find.locate.confirmed import ConfirmedLeak
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
        Of several the one of rank 1.
    pieces : tuple of Piece
        Stretches to search, likeliest first.
    limited_by : {"sound", "position", "spacing", "shape", "trace"}
        Main limit of the accuracy of the mark; of several that of the poorest.
    tape_share : float
        Mean weight of taped chainages in the positions, 0 to 1.
    levels_log_bf : float
        Log Bayes factor of a leak against none, from the levels alone; NaN without readings.
    leak_prior : float
        Probability of a leak on the line before listening.
    on_nearby_lines : tuple of (str, float, float)
        Each nearby line's id, the probability that the leak is there instead, and its likeliest
        chainage.
    further : tuple of Weighed
        Evidence other than the levels, in the order in which it was weighed.
    over_trace : float
        Probability that the pipe is within one foot of its trace at the mark, by the sweeps across.
    confirmed : tuple of ConfirmedLeak
        Leaks seen in holes and not repaired, in the order of their ranks. Each has a mark.
    read_with : tuple of str
        Id of each nearby line whose readings were weighed with those of this line.
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
    confirmed: tuple[ConfirmedLeak, ...] = ()
    read_with: tuple[str, ...] = ()

    def probability_in(self, piece: Piece) -> float:
        """Return the probability that the line has a leak and the leak is in `piece`."""
        if len(self.confirmed) > 1:
            cell_m = 2.0 * float(self.posterior.chainage_m[0])
            return min(sum(leak.probability_in(piece, cell_m) for leak in self.confirmed), 1.0)
        return piece.probability * self.posterior.leak_probability

    @property
    def marks(self) -> tuple[tuple[Mark, float, str], ...]:
        """Each mark, the probability of a leak within one foot of it, and what limits it."""
        if self.confirmed:
            return tuple((one.mark, one.within_foot, one.limited_by) for one in self.confirmed)
        near = self.mark.within_foot_given_leak * self.posterior.leak_probability
        return ((self.mark, near * self.over_trace, self.limited_by),)

    @property
    def within_foot(self) -> float:
        """Probability of a leak within one foot of the mark; of several marks the least."""
        return min(near for _, near, _ in self.marks)

    @property
    def other_pieces(self) -> tuple[Piece, ...]:
        """Stretches to search that have no mark."""
        if len(self.confirmed) < 2:
            return self.pieces[1:]
        marks = [mark.chainage_m for mark, _, _ in self.marks]
        return tuple(p for p in self.pieces if not any(p.begin_m <= at <= p.end_m for at in marks))
