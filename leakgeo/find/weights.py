"""Weights that are assumed: tables beside the module that uses them."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


@cache
def load_weights(package: str, name: str) -> Mapping[str, Mapping[str, float]]:
    """Load a table of weights once.

    Parameters
    ----------
    package : str
        Package whose folder holds the table.
    name : str
        Name of its TOML file, without the ending; comments of the file explain the weights.

    Returns
    -------
    mapping of str to mapping of str to float

    Examples
    --------
    >>> load_weights("leakgeo.find.evidence", "meter")["meter"]["stuck"]
    0.02
    """
    text = (files(package) / f"{name}.toml").read_text("utf-8")
    weights: Mapping[str, Mapping[str, float]] = tomllib.loads(text)
    return weights
