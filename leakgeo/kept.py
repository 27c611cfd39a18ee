"""What products keep of each line from one run to the next, so that unchanged lines cost little."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, MutableMapping

    from leakgeo.faults import Fault


@dataclass(frozen=True, eq=False)
class Kept:
    """Digests of the inputs of each line, and pieces of products that earlier runs stored.

    Parameters
    ----------
    digests : mapping of str to str
        Digest of all inputs of each line, by ``line_id``: its rows in the job, what lies near it,
        the parameters, the CRS and the version. While it is the same, all rows of the line in the
        job's routes and in every result layer are equal to the last bit, except ``priority`` and
        ``dig_rank`` of ``lines``. A line without a digest is worked out.
    pieces : mutable mapping of str to bytes
        Pieces by key, which outlive the run. A writer reads and stores them; a key that a run
        neither reads nor stores may be deleted after it.
    worked_out : tuple of str
        ``line_id`` of the lines that this run worked out; the others were taken over.
    notes : tuple of Fault
        What was kept but could not be used, and which law of noise holds. They are of the run, not
        of the job, so they are not in its files.
    """

    digests: Mapping[str, str]
    pieces: MutableMapping[str, bytes] = field(default_factory=dict)
    worked_out: tuple[str, ...] = ()
    notes: tuple[Fault, ...] = ()
