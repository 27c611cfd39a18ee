"""What an open tap teaches of a line: its trickle is a source at a known place.

The constants of the sound are fitted to the readings in which the tap dominates, with the source at
the fitting, and integrated out by Laplace's approximation. Those of the tap and of a leak differ by
an assumed normal error; so what the tap teaches is a narrower prior of a leak's constants. A prior
keeps no correlation, so the narrowed constants are independent: less is taught, not more.
"""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from leakgeo.arrays import floats
from leakgeo.find.levels.taps import load_tap_weights, tap_table
from leakgeo.find.posterior import kernel
from leakgeo.find.posterior.grid import fit
from leakgeo.find.posterior.problem import build_problem
from leakgeo.route.taps import tapped
from leakgeo.sound.spreading import DB

if TYPE_CHECKING:
    import pandas as pd

    from leakgeo.arrays import Floats, Ints
    from leakgeo.find.levels.readings import Readings
    from leakgeo.find.posterior.problem import Problem, Taught
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants


def taught_by_taps(readings: pd.DataFrame, lines: Lines, constants: Constants) -> dict[int, Taught]:
    """Return what open taps teach of the sound of each line, by index of the line.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``.
    lines : Lines
    constants : Constants

    Returns
    -------
    dict of int to Taught
        Lines without such readings have no entry.
    """
    if not tapped(readings).any():
        return {}
    table, tap = tap_table(readings, lines, constants), floats(readings, "tap_m")
    least = load_tap_weights()["quiet"]["least_readings"]
    taught: dict[int, Taught] = {}
    for line in np.unique(table.line).tolist():
        rows = table.rows(line)
        at = tap[table.row[rows]]
        for place in np.unique(at).tolist():
            own = rows[at == place]
            if len(own) >= least:
                heard, before = table.cut(own, constants), taught.get(line, NOTHING)
                taught[line] = taught_by_tap(heard, place, lines, line, constants, before)
    return taught


#: Of a line without an open tap.
NOTHING: Taught = MappingProxyType({})


def taught_by_tap(
    readings: Readings, tap_m: float, lines: Lines, line: int, constants: Constants,
    before: Taught = NOTHING,
) -> Taught:  # fmt: skip
    """Return what the readings with one tap open teach of a line.

    Parameters
    ----------
    readings : Readings
        At the level of the tap alone.
    tap_m : float
        Chainage of the fitting.
    lines : Lines
    line : int
        Index of the line in `lines`.
    constants : Constants
    before : Taught
        What other taps of the line taught.

    Returns
    -------
    Taught
        That of `before` too; `before` alone where the fit fails.
    """
    material, depth_m = constants.materials[lines.material[line]], float(lines.depth_m[line])
    leak = build_problem(readings, material, depth_m, constants, taught=before)
    names = _names(readings.offsets.bands)
    problem = problem_of_tap(leak, readings.offsets.bands)
    try:
        evidence, fitted, weight = fit(kernel.ONE, tap_m, problem, problem.mean)
        [variance] = kernel.posterior_variances(
            kernel.ONE,
            np.array([tap_m]),
            fitted,
            weight,
            problem.readings,
            problem.codes,
            problem.precision,
            problem.noise,
            np.arange(len(fitted)),
        )
    # A tap that can't be computed must not stop the other lines.
    except (ArithmeticError, ValueError):
        return before
    if not np.isfinite([evidence, *fitted, *variance]).all():
        return before
    return {**before, **{
        name: carried_over(
            Normal(float(leak.mean[at]), float(leak.precision[at]) ** -0.5),
            Normal(float(problem.mean[at]), float(problem.precision[at]) ** -0.5),
            Normal(float(fitted[at]), float(variance[at]) ** 0.5),
        ) for name, (at, _) in names.items()
    }}  # fmt: skip


class Normal(NamedTuple):
    """Mean and standard deviation of a constant."""

    mean: float
    sd: float


def carried_over(leak: Normal, tap: Normal, fitted: Normal) -> Normal:
    """Return the prior of a leak's constant after that of a tap was fitted.

    The tap's constant is the leak's plus an independent normal difference.

    Parameters
    ----------
    leak, tap : Normal
        Prior of the leak's constant, and of the tap's.
    fitted : Normal
        The tap's constant after its readings.

    Returns
    -------
    Normal
        By linear regression of the leak's constant on the tap's, which is exact for normals.

    Examples
    --------
    Without a difference the leak's constant is the tap's; with a large one nothing is learned.

    >>> one = Normal(0.0, 1.0)
    >>> tuple(carried_over(one, one, Normal(0.5, 0.1)))
    (0.5, 0.1)
    >>> round(carried_over(one, Normal(0.0, 1e3), Normal(0.5, 0.1)).sd, 3)
    1.0
    """
    share = (leak.sd / tap.sd) ** 2
    variance = leak.sd**2 * (1.0 - share) + (share * fitted.sd) ** 2
    return Normal(leak.mean + share * (fitted.mean - tap.mean), float(variance**0.5))


def _names(bands: tuple[str, ...]) -> dict[str, tuple[int, float]]:
    """Return for each constant that is carried over its index, and the error of the tap's."""
    apart = load_tap_weights()["difference"]
    names = {
        "depth": (kernel.DEPTH, apart["depth_ln"]),
        "pipe_share": (kernel.PIPED, apart["pipe_share_logit"]),
    }
    for k, band in enumerate(bands):
        first = kernel.BANDS + kernel.PER_BAND * k
        names[f"pipe_decay/{band}"] = first + kernel.DECAY, apart["pipe_decay_ln"]
        names[f"soil_decay/{band}"] = first + kernel.SOIL, apart["soil_decay_ln"]
    return names


def problem_of_tap(problem: Problem, bands: tuple[str, ...]) -> Problem:
    """Return the problem of a tap: constants differ, no floor, and its place has an error.

    Parameters
    ----------
    problem : Problem
        Of a leak, from the readings of the tap.
    bands : tuple of str
        Its filter bands.

    Returns
    -------
    Problem
        With one more constant before the level: the error of the place, which all readings share,
        in the place of the shift of a reference walk.
    """
    apart = load_tap_weights()["difference"]
    mean, variance = problem.mean.copy(), 1.0 / problem.precision
    for at, sd in _names(bands).values():
        variance[at] += sd**2
    mean[kernel.PIPED] += apart["pipe_share_more_logit"]
    floors = _floors(problem.codes)
    mean[floors], variance[floors] = -apart["floor_below_db"] / DB, 1.0
    # The level stays the last constant.
    shift = len(mean) - 1
    codes = problem.codes.copy()
    codes[:, kernel.REFERENCE_AT] = shift
    place = apart["fitting_sd_m"] ** 2 + problem.common_shift_variance
    return replace(
        problem, codes=codes, mean=np.insert(mean, shift, 0.0),
        precision=1.0 / np.insert(variance, shift, place), reference=-1,
    )  # fmt: skip


def _floors(codes: Ints) -> Floats:
    bands = np.arange(int(codes[:, kernel.BAND].max()) + 1)
    return np.asarray(kernel.BANDS + kernel.PER_BAND * bands + kernel.FLOOR)
