"""Rivals of a leak on a line: fittings that sound by themselves, and a leak beyond an end."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

import numpy as np

from leakgeo.arrays import floats, texts
from leakgeo.find.weights import load_weights

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from leakgeo.route.lines import Lines

Kind = Literal["fitting", "beyond_start", "beyond_end", "unknown"]


@dataclass(frozen=True)
class SoundingFitting:
    """A fitting on a line that may sound by itself.

    Parameters
    ----------
    contact_id : str
    chainage_m : float
    probability : float
        That it sounds, before listening.
    """

    contact_id: str
    chainage_m: float
    probability: float


@dataclass(frozen=True)
class OpenEnd:
    """An end of a route that joins no other line of the job.

    Parameters
    ----------
    kind : {"beyond_start", "beyond_end"}
        The first or the last vertex.
    chainage_m : float
    """

    kind: Literal["beyond_start", "beyond_end"]
    chainage_m: float


@dataclass(frozen=True)
class Rival:
    """An explanation of the sound of a line without a leak on it, between its ends.

    Parameters
    ----------
    kind : {"fitting", "beyond_start", "beyond_end", "unknown"}
        A fitting that sounds; a leak beyond the first or last vertex of the route; another source
        at an unknown place.
    probability : float
        Probability that there is no leak on the line, and this.
    chainage_m : float
        Of the fitting or of the end; NaN where not known.
    name : str
        ``contact_id`` of the fitting; ``""`` for the others.
    """

    kind: Kind
    probability: float
    chainage_m: float = np.nan
    name: str = ""

    @property
    def key(self) -> str:
        """Unique name among the rivals of one line."""
        return f"{self.kind}:{self.name}"


def sounding_fittings(
    fittings: pd.DataFrame, lines: Lines,
    dry: Mapping[int, Sequence[tuple[float, float]]] = MappingProxyType({}),
) -> dict[int, list[SoundingFitting]]:  # fmt: skip
    """Return the fittings that may sound by themselves, by index of their line.

    Parameters
    ----------
    fittings : pandas.DataFrame
        As `leakgeo.find.survey.fittings.fitting_chainages` returns it.
    lines : Lines
    dry : mapping of int to sequence of (float, float)
        Stretches of each line that a hole showed dry. A hole is dug where it is loud, so that a
        fitting in it probably sounds.

    Returns
    -------
    dict of int to list of SoundingFitting
        In order of chainage.
    """
    weights = load_rival_weights()
    sounds, in_hole = weights["fitting_sounds"], weights["with_leak"]["in_dry_hole"]
    table = fittings[fittings["kind"].isin(list(sounds)) & fittings["chainage_m"].notna()]
    table = table.sort_values(["chainage_m", "contact_id"], kind="stable")
    found: dict[int, list[SoundingFitting]] = {}
    where = lines.index_of(table["line_id"].to_numpy(dtype=object))
    names, kinds = texts(table, "contact_id"), texts(table, "kind")
    rows = zip(where.tolist(), names, floats(table, "chainage_m").tolist(), kinds, strict=True)
    for line, name, chainage_m, kind in rows:
        if line >= 0:
            dug = any(begin <= chainage_m <= end for begin, end in dry.get(line, ()))
            chance = max(sounds[kind], in_hole) if dug else sounds[kind]
            one = SoundingFitting(str(name), chainage_m, chance)
            found.setdefault(line, []).append(one)
    return found


def load_rival_weights() -> Mapping[str, Mapping[str, float]]:
    """Load the prior probabilities; ``rivals.toml`` explains them."""
    return load_weights("leakgeo.find.posterior", "rivals")
