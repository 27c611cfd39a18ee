"""Cautions about compressed air in a water line: before a test is proposed, and with its result."""

from __future__ import annotations

from leakgeo.job.schema import load_schema
from leakgeo.reason import Reason


def before_air(material: str) -> Reason:
    """Return what to observe before air is let into a line of a material.

    Parameters
    ----------
    material : str
        Code of the data contract; ``unknown`` may be plastic.

    Examples
    --------
    >>> before_air("copper")
    Reason('before_air')
    >>> before_air("pvc")
    Reason('before_air', Reason('air_in_plastic'))
    """
    return Reason("before_air", pipe_caution(material))


def during_air(material: str) -> Reason:
    """Return the cautions of an air test on a line of a material."""
    return Reason("air_cautions", before_air(material))


def pipe_caution(material: str) -> Reason | None:
    """Return the caution about gas in plastic pipe where the pipe is, or may be, of plastic."""
    if material == "unknown":
        return Reason("air_in_unknown_pipe")
    group = dict(load_schema("routes").field("material").sound_groups).get(material)
    return Reason("air_in_plastic") if group == "plastic" else None
