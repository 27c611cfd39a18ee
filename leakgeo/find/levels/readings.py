"""Usable readings as arrays: sorted once for all lines, then cut line by line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.find.levels.level_offsets import Steps, passes, ranked, steps_of
from leakgeo.find.levels.positions import Evened, even_steps, split_error
from leakgeo.job.model import NOT_SELECTED

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

# A reading whose tape weighs less than this stands where the satellite says.
SATELLITE = 0.5


@dataclass(frozen=True)
class Readings:
    """Readings of one line, in order of chainage.

    Parameters
    ----------
    chainage_m, level_db : ndarray of float, shape (n,)
    rounding_sd_db, position_sd_m : ndarray of float, shape (n,)
        Errors of level and chainage that are each reading's own.
    stop, surface : ndarray of int, shape (n,)
        Codes; readings of one stop are adjacent, and surface 0 has no step.
    steps : Steps
        Walks and bands, and the steps between them.
    smear_m : ndarray of float, shape (n,)
        Sideways smear of the surface under each reading.
    shift_sd_m, step_sd_m : ndarray of float, shape (walks,)
        Errors that all readings of a walk share: of its place along the line, and of its steps.
    lever : ndarray of float, shape (n,)
        Steps of each reading from the middle of its walk, where those are even; else 0.
    taped : float
        Mean share of the tape in the positions, 0 to 1.
    noise_sd_db : float
        Assumed deviation of a reading besides its rounding.
    row : ndarray of int, shape (n,)
        Rows of ``readings_on_route`` that these are.
    """

    chainage_m: Floats
    level_db: Floats
    rounding_sd_db: Floats
    position_sd_m: Floats
    stop: Ints
    surface: Ints
    steps: Steps
    smear_m: Floats
    shift_sd_m: Floats
    step_sd_m: Floats
    lever: Floats
    taped: float
    noise_sd_db: float
    row: Ints


@dataclass(frozen=True)
class Table:
    """Usable readings of all lines, by line, chainage and stop; one array a column."""

    line: Ints
    numbers: dict[str, Floats]
    codes: dict[str, Ints]
    gain_known: Bools
    bands: tuple[str, ...]
    row: Ints

    def rows(self, line: int, begin_m: float = -np.inf, end_m: float = np.inf) -> Ints:
        """Rows of one line, or of a stretch of it."""
        first, last = np.searchsorted(self.line, [line, line + 1])
        place = self.numbers["chainage_m"][first:last]
        return np.asarray(first + np.flatnonzero((place >= begin_m) & (place <= end_m)))

    def cut(self, rows: Ints, constants: Constants, *, one_line: bool = True) -> Readings:
        """Take some rows; of several lines, walks of one name are one walk."""
        number = {key: value[rows] for key, value in self.numbers.items()}
        code = {key: value[rows] for key, value in self.codes.items()}
        walk, turned = ("walk", "turned") if one_line else ("named", "named")
        steps = steps_of(
            code[walk], code[turned], code["kind"], self.gain_known[rows], code["band"],
            self.bands, constants,
        )  # fmt: skip
        return _readings(number, code, steps, self.row[rows], constants)


def readings_by_line(
    readings: pd.DataFrame, lines: Lines, constants: Constants
) -> Iterator[tuple[int, Readings]]:
    """Cut the usable readings into lines, in the order of the lines.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``.
    lines : Lines
    constants : Constants

    Yields
    ------
    line : int
        Place of the line in `lines`.
    readings : Readings
    """
    table = tabulate(readings, lines, constants)
    for line in np.unique(table.line):
        yield int(line), table.cut(table.rows(int(line)), constants)


def tabulate(
    readings: pd.DataFrame, lines: Lines, constants: Constants, *, neighbours: bool = False
) -> Table:
    """Sort the usable readings by line and chainage.

    The order of the rows that come in makes no difference.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``.
    lines : Lines
    constants : Constants
    neighbours : bool
        Take in those of lines that were not asked for: they are heard from lines that were.

    Returns
    -------
    Table
    """
    taken = np.asarray(readings["used"], dtype=bool)
    if neighbours:
        placed, levelled = floats(readings, "chainage_m"), floats(readings, "level_db")
        good = np.isfinite(placed) & np.isfinite(levelled)
        taken = taken | (good & (texts(readings, "reason_code") == NOT_SELECTED.code))
    used = np.flatnonzero(taken)
    # By name first: sums must not depend, to the last bit, on the order of the rows.
    used = used[np.argsort(texts(readings, "reading_id")[used].astype(str), kind="stable")]
    own = readings.iloc[used]
    line = lines.index_of(texts(own, "line_id"))
    stop = _stops(own, line)
    evened = _evened(own)
    place = np.bincount(stop, evened.chainage_m) / np.maximum(np.bincount(stop), 1)
    order = np.lexsort((stop, place[stop], line))
    surface = pd.Series(texts(own, "surface")).fillna("unknown")
    band, bands = pd.factorize(pd.Series(texts(own, "band")).fillna("wide"), sort=True)
    alike = ["sensor", "air", "sound_unit"]
    kind = own.groupby(alike, dropna=False, sort=True).ngroup()
    named = own.groupby(["walk_id", *alike, "gain_known"], dropna=False, sort=True).ngroup()
    walk = np.asarray(own["walk"], dtype=np.int64)
    numbers = {
        "chainage_m": np.clip(place[stop], 0.0, lines.length_m[line]),
        "evened_sd_m": evened.own_sd_m,
        "common_variance": evened.common_variance,
        "lever": evened.lever,
        "step_variance": evened.step_variance,
        "smear_m": np.array(surface.map(constants.smear_m), dtype=float),
        **{c: floats(own, c) for c in ("level_db", "rounding_sd_db", "chainage_sd_m",
                                       "offset_m", "tape_weight")},
    }  # fmt: skip
    codes = {
        "stop": stop, "band": band, "kind": kind.to_numpy(),
        "walk": passes(walk, stop, np.asarray(band), kind.to_numpy()), "turned": walk,
        "named": named.to_numpy(), "surface": pd.factorize(surface, sort=True)[0],
    }  # fmt: skip
    return Table(
        line[order],
        {key: value[order] for key, value in numbers.items()},
        {key: np.asarray(value, dtype=np.int64)[order] for key, value in codes.items()},
        np.asarray(own["gain_known"], dtype=bool)[order],
        tuple(bands),
        used[order],
    )


def _evened(own: pd.DataFrame) -> Evened:
    """Satellite positions put on the even steps of their walks; taped ones stand as they are."""
    satellite = floats(own, "tape_weight") < SATELLITE
    return even_steps(
        floats(own, "chainage_m"),
        floats(own, "offset_m"),
        floats(own, "chainage_sd_m"),
        np.where(satellite, floats(own, "seq"), np.nan),
        np.asarray(pd.factorize(own["walk"])[0], dtype=np.int64),
    )


def _stops(own: pd.DataFrame, line: Ints) -> Ints:
    """Code the stops: readings of one line and stop_id are one, any other is one by itself."""
    named = pd.factorize(texts(own, "stop_id"), sort=True)[0]
    alone = named < 0
    rank = pd.factorize(texts(own, "reading_id"), sort=True)[0]
    keys = pd.MultiIndex.from_arrays([line, alone, np.where(alone, rank, named)])
    return np.asarray(pd.factorize(keys, sort=True)[0], dtype=np.int64)


def _readings(
    number: dict[str, Floats], code: dict[str, Ints], steps: Steps, row: Ints, constants: Constants
) -> Readings:
    position, shift = _position_errors(number, steps.walk)
    step_variance = np.zeros(len(shift))
    if number["step_variance"].any():
        step_variance = np.bincount(steps.walk, number["step_variance"]) / np.bincount(steps.walk)
    return Readings(
        chainage_m=number["chainage_m"],
        level_db=number["level_db"],
        rounding_sd_db=number["rounding_sd_db"],
        position_sd_m=position,
        stop=code["stop"],
        surface=ranked(code["surface"])[0],
        steps=steps,
        smear_m=number["smear_m"],
        shift_sd_m=shift,
        step_sd_m=np.sqrt(step_variance),
        lever=number["lever"],
        taped=float(number["tape_weight"].mean()),
        noise_sd_db=constants.noise["reading_db"],
        row=row,
    )


def _position_errors(number: dict[str, Floats], walk: Ints) -> tuple[Floats, Floats]:
    """Own and shared errors along the pipe; a tape's are each reading's own."""
    error, satellite = number["chainage_sd_m"], number["tape_weight"] < SATELLITE
    if not satellite.any():
        return error, np.zeros(int(walk.max()) + 1)
    alone, shift = split_error(number["offset_m"], error, walk)
    count = np.bincount(walk)
    shift *= np.bincount(walk, satellite) / count
    alone = np.where(np.isfinite(number["evened_sd_m"]), number["evened_sd_m"], alone)
    more = np.bincount(walk, number["common_variance"]) / count
    return np.where(satellite, alone, error), np.sqrt(shift**2 + more)
