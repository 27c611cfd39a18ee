"""The errors that leakgeo raises: one small tree, each with a message a person can act on."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.faults import Fault


class LeakgeoError(Exception):
    """Root of every error that leakgeo raises on purpose."""


class JobError(LeakgeoError):
    """The job can't be run at all; `faults` holds everything that was found wrong with it.

    Parameters
    ----------
    message : str
        What stops the job, and what to do.
    faults : sequence of Fault, optional
        All faults found before giving up, in the order found.
    """

    def __init__(self, message: str, faults: Sequence[Fault] = ()) -> None:
        super().__init__(message)
        self.faults = tuple(faults)


class ParameterError(LeakgeoError):
    """A parameter of a step is unknown, of the wrong type, or out of its range."""


class OutputError(LeakgeoError):
    """The output can't be written where it was asked for."""


class ContractError(LeakgeoError):
    """Code and data contract (``data_schemas/``) differ: an error of a program, never of a job."""
