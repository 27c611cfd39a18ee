"""How sound is taken to spread on a line, before its readings have said anything."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from leakgeo.sound.spreading import Spreading

if TYPE_CHECKING:
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants


def spreading_of(lines: Lines, line: int, constants: Constants) -> Spreading:
    """Middles of the assumed constants for one line, by its material and cover.

    Parameters
    ----------
    lines : Lines
    line : int
        Place of the line in `lines`.
    constants : Constants

    Returns
    -------
    Spreading
    """
    material, depth = constants.materials[lines.material[line]], float(lines.depth_m[line])
    spread = constants.spread
    return Spreading(
        depth if np.isfinite(depth) and depth > 0 else spread["depth_m"],
        material.pipe_decay_db_per_m,
        material.pipe_share,
        spread["soil_decay_db_per_m"],
        10.0 ** (-spread["floor_below_db"] / 10.0),
    )
