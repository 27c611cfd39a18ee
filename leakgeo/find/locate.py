"""The step that says where: posterior, zones, mark and status of every line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats
from leakgeo.find.layers import density_on_profile, lines_table, marks_layer, zones_layer
from leakgeo.find.positions import split_error
from leakgeo.find.posterior import Posterior, posterior
from leakgeo.find.prior import Readings, pose
from leakgeo.find.steps import steps_of
from leakgeo.find.zones import Mark, Piece, best_mark, highest_density_pieces
from leakgeo.route.lines import lines_in
from leakgeo.sound.constants import load_constants

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Ints
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants


# A reading whose tape weighs less than this stands where the satellite says.
SATELLITE = 0.5


@dataclass(frozen=True)
class Finding:
    """What was found on one line.

    Parameters
    ----------
    line : int
        Place of the line among the measurable ones.
    posterior : Posterior
    mark : Mark
    pieces : tuple of Piece
    limited_by : {"sound", "position", "spacing"}
    taped : float
        Mean share of the tape in the positions, 0 to 1.
    """

    line: int
    posterior: Posterior
    mark: Mark
    pieces: tuple[Piece, ...]
    limited_by: str
    taped: float


def locate(result: Result, *, leak_prior: float, zone_probability: float) -> Result:
    """Find the leak along every line that has usable readings.

    Parameters
    ----------
    result : Result
        With ``readings_on_route`` and ``profile``.
    leak_prior : float
        Probability of a leak on a line before listening.
    zone_probability : float
        Probability that the zones of a line hold together.

    Returns
    -------
    Result
        With ``search_zones``, ``marks``, ``lines``, and the density filled into ``profile``.
    """
    lines, constants = lines_in(result), load_constants()
    readings = result.layers["readings_on_route"]
    used = readings[readings["used"]]
    findings = [
        find(lines, line, used.loc[rows], constants, leak_prior, zone_probability)
        for line, rows in _by_line(used, lines)
    ]
    layers = {
        "profile": density_on_profile(result.job, result.layers["profile"], lines, findings),
        "search_zones": zones_layer(result.job, lines, findings),
        "marks": marks_layer(result.job, lines, findings),
        "lines": lines_table(result.job, lines, findings, readings),
    }
    return result.adding(layers)


def _by_line(used: pd.DataFrame, lines: Lines) -> list[tuple[int, pd.Index[int]]]:
    groups = used.groupby("line_id").groups
    place = lines.index_of(pd.Series(list(groups), dtype=object))
    return sorted(zip(place.tolist(), groups.values(), strict=True), key=lambda pair: pair[0])


def find(
    lines: Lines, line: int, used: pd.DataFrame, constants: Constants, leak_prior: float,
    zone_probability: float,
) -> Finding:  # fmt: skip
    """Find the leak on one line from its usable readings."""
    row = lines.table.iloc[line]
    readings = arrays_of(used, constants)
    material = constants.materials[row["material"] or "unknown"]
    problem = pose(readings, material, float(row["depth_m"]), constants)
    found = posterior(problem, float(lines.routes.length_m[line]), constants, leak_prior)
    cell = 2.0 * float(found.chainage_m[0])
    mark = best_mark(found.chainage_m, found.probability)
    # What is claimed of a mark is that there is a leak, and that it is there.
    mark = replace(mark, within_foot=mark.within_foot * found.leak_probability)
    pieces = highest_density_pieces(cell, found.probability, zone_probability)
    return Finding(
        line,
        found,
        mark,
        tuple(pieces),
        limited_by(mark, readings),
        float(used["tape_weight"].mean()),
    )


def arrays_of(used: pd.DataFrame, constants: Constants) -> Readings:
    """Usable readings of one line as arrays in order of chainage."""
    own = _by_stop(used)
    steps = steps_of(own)
    position, shift = _position_errors(own, steps.walk)
    surface = own["surface"].fillna("unknown")
    return Readings(
        chainage_m=floats(own, "chainage_m"),
        level_db=floats(own, "level_db"),
        rounding_sd_db=floats(own, "rounding_sd_db"),
        position_sd_m=position,
        stop=pd.factorize(own["stop"])[0].astype(np.int64),
        steps=steps,
        surface=pd.factorize(surface, sort=True)[0].astype(np.int64),
        smear_m=np.array(surface.map(constants.smear_m), dtype=float),
        shift_sd_m=shift,
    )


def _by_stop(used: pd.DataFrame) -> pd.DataFrame:
    """Readings in order of chainage, those of one stop together and at one place."""
    alone = "reading " + used["reading_id"].astype(str)
    stop = alone.where(used["stop_id"].isna(), "stop " + used["stop_id"].astype(str))
    place = used["chainage_m"].groupby(stop).transform("mean")
    own = used.assign(stop=stop, chainage_m=place)
    return own.sort_values(["chainage_m", "stop", "reading_id"], kind="stable")


def _position_errors(own: pd.DataFrame, walk: Ints) -> tuple[Floats, Floats]:
    """Own and shared errors along the pipe; a tape's are each reading's own."""
    error = floats(own, "chainage_sd_m")
    satellite = floats(own, "tape_weight") < SATELLITE
    alone, shift = split_error(floats(own, "offset_m"), error, walk)
    shared = np.bincount(walk, satellite) / np.bincount(walk)
    return np.where(satellite, alone, error), shift * shared


def limited_by(mark: Mark, readings: Readings) -> str:
    """What keeps the mark from being better: positions, spacing of the readings, or the sound."""
    near = np.argsort(np.abs(readings.chainage_m - mark.chainage_m), kind="stable")[:6]
    position = float(np.median(readings.position_sd_m[near]))
    around = np.sort(readings.chainage_m[near])
    gap = float(np.max(np.diff(around), initial=0.0)) if len(around) > 1 else np.inf
    # A uniform error within a gap has a deviation of its width over sqrt(12).
    if position > 0.1 and position > 0.5 * mark.sd_m and position >= gap / 12**0.5:
        return "position"
    return "spacing" if gap > 0.75 and gap / 12**0.5 > 0.5 * mark.sd_m else "sound"
