"""Usable readings as arrays: sorted once for all lines, then selected line by line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.find.levels.level_offsets import LevelOffsets, level_offsets_of, passes, rank_by_count
from leakgeo.find.levels.positions import EvenSpacing, even_spacing, split_error
from leakgeo.job.model import NOT_SELECTED
from leakgeo.route.sweeps import along_the_line, swept_beside

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

# Weight of the tape below which the position of a reading counts as a satellite position.
SATELLITE = 0.5


@dataclass(frozen=True)
class Readings:
    """Readings of one line, in order of chainage.

    Parameters
    ----------
    chainage_m, level_db : ndarray of float, shape (n,)
    rounding_sd_db, position_sd_m : ndarray of float, shape (n,)
        Independent errors of level and chainage of each reading.
    stop, surface : ndarray of int, shape (n,)
        Codes; readings of one stop are adjacent, and surface 0 has no level offset.
    offsets : LevelOffsets
        Walks and bands, and the offsets between them.
    smear_m : ndarray of float, shape (n,)
        Lateral smear of the sound by the surface under each reading.
    shift_sd_m, spacing_sd_m : ndarray of float, shape (walks,)
        Errors that the readings of a walk share: of its position and of the spacing of its stops.
    stops_from_middle : ndarray of float, shape (n,)
        Number of stops from the middle of a walk with evenly spaced stops; else 0.
    tape_share : float
        Mean weight of taped chainages in the positions, 0 to 1.
    noise_sd_db : float
        Assumed standard deviation of a reading besides its rounding.
    row : ndarray of int, shape (n,)
        Row of each reading in ``readings_on_route``.
    """

    chainage_m: Floats
    level_db: Floats
    rounding_sd_db: Floats
    position_sd_m: Floats
    stop: Ints
    surface: Ints
    offsets: LevelOffsets
    smear_m: Floats
    shift_sd_m: Floats
    spacing_sd_m: Floats
    stops_from_middle: Floats
    tape_share: float
    noise_sd_db: float
    row: Ints


@dataclass(frozen=True)
class Table:
    """Usable readings of all lines, sorted by line, chainage and stop; one array a column."""

    line: Ints
    numbers: dict[str, Floats]
    codes: dict[str, Ints]
    gain_known: Bools
    bands: tuple[str, ...]
    row: Ints

    def rows(self, line: int, begin_m: float = -np.inf, end_m: float = np.inf) -> Ints:
        """Return the rows of one line, or of a stretch of it."""
        first, last = np.searchsorted(self.line, [line, line + 1])
        place = self.numbers["chainage_m"][first:last]
        return np.asarray(first + np.flatnonzero((place >= begin_m) & (place <= end_m)))

    def cut(self, rows: Ints, constants: Constants, *, one_line: bool = True) -> Readings:
        """Return the readings of some rows; walks are matched by name unless on `one_line`."""
        number = {key: value[rows] for key, value in self.numbers.items()}
        code = {key: value[rows] for key, value in self.codes.items()}
        passing, walk = ("pass", "walk") if one_line else ("named_walk", "named_walk")
        offsets = level_offsets_of(
            code[passing], code[walk], code["kind"], self.gain_known[rows], code["band"],
            self.bands, constants,
        )  # fmt: skip
        return _readings(number, code, offsets, self.row[rows], constants)


def readings_by_line(
    readings: pd.DataFrame, lines: Lines, constants: Constants
) -> Iterator[tuple[int, Readings]]:
    """Yield the usable readings of each line, in the order of the lines.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``.
    lines : Lines
    constants : Constants

    Yields
    ------
    line : int
        Index of the line in `lines`.
    readings : Readings
    """
    table = tabulate(readings, lines, constants)
    for line in np.unique(table.line):
        yield int(line), table.cut(table.rows(int(line)), constants)


def tabulate(
    readings: pd.DataFrame, lines: Lines, constants: Constants, *, neighbours: bool = False
) -> Table:
    """Sort the usable readings by line and chainage.

    The result does not depend on the order of the rows.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``.
    lines : Lines
    constants : Constants
    neighbours : bool
        Include readings of unselected lines, which are used on selected lines connected to them.

    Returns
    -------
    Table
    """
    taken = along_the_line(readings)
    if neighbours:
        placed, levelled = floats(readings, "chainage_m"), floats(readings, "level_db")
        good = np.isfinite(placed) & np.isfinite(levelled)
        good &= ~swept_beside(readings)
        taken = taken | (good & (texts(readings, "reason_code") == NOT_SELECTED.code))
    used = np.flatnonzero(taken)
    # Sorted by id, so that sums do not depend on the order of the rows to the last bit.
    used = used[np.argsort(texts(readings, "reading_id")[used].astype(str), kind="stable")]
    own = readings.iloc[used]
    line = lines.index_of(texts(own, "line_id"))
    stop = _stops(own, line)
    even = _even_spacing(own)
    place = np.bincount(stop, even.chainage_m) / np.maximum(np.bincount(stop), 1)
    order = np.lexsort((stop, place[stop], line))
    surface = pd.Series(texts(own, "surface")).fillna("unknown")
    band, bands = pd.factorize(pd.Series(texts(own, "band")).fillna("wide"), sort=True)
    same = ["sensor", "air", "sound_unit"]
    kind = own.groupby(same, dropna=False, sort=True).ngroup()
    named = own.groupby(["walk_id", *same, "gain_known"], dropna=False, sort=True).ngroup()
    walk = np.asarray(own["walk"], dtype=np.int64)
    numbers = {
        "chainage_m": np.clip(place[stop], 0.0, lines.length_m[line]),
        "even_sd_m": even.own_sd_m,
        "shared_variance": even.shared_variance,
        "stops_from_middle": even.stops_from_middle,
        "spacing_variance": even.spacing_variance,
        "smear_m": np.array(surface.map(constants.smear_m), dtype=float),
        **{c: floats(own, c) for c in ("level_db", "rounding_sd_db", "chainage_sd_m",
                                       "offset_m", "tape_weight")},
    }  # fmt: skip
    codes = {
        "stop": stop, "band": band, "kind": kind.to_numpy(),
        "pass": passes(walk, stop, np.asarray(band), kind.to_numpy()), "walk": walk,
        "named_walk": named.to_numpy(), "surface": pd.factorize(surface, sort=True)[0],
    }  # fmt: skip
    return Table(
        line[order],
        {key: value[order] for key, value in numbers.items()},
        {key: np.asarray(value, dtype=np.int64)[order] for key, value in codes.items()},
        np.asarray(own["gain_known"], dtype=bool)[order],
        tuple(bands),
        used[order],
    )


def _even_spacing(own: pd.DataFrame) -> EvenSpacing:
    """Put satellite positions on the even spacing of their walks; taped ones are unchanged."""
    satellite = floats(own, "tape_weight") < SATELLITE
    return even_spacing(
        floats(own, "chainage_m"),
        floats(own, "offset_m"),
        floats(own, "chainage_sd_m"),
        np.where(satellite, floats(own, "seq"), np.nan),
        np.asarray(pd.factorize(own["walk"])[0], dtype=np.int64),
    )


def _stops(own: pd.DataFrame, line: Ints) -> Ints:
    """Return codes of stops: one for each line and ``stop_id``, and for each reading without."""
    named = pd.factorize(texts(own, "stop_id"), sort=True)[0]
    alone = named < 0
    rank = pd.factorize(texts(own, "reading_id"), sort=True)[0]
    keys = pd.MultiIndex.from_arrays([line, alone, np.where(alone, rank, named)])
    return np.asarray(pd.factorize(keys, sort=True)[0], dtype=np.int64)


def _readings(
    number: dict[str, Floats],
    code: dict[str, Ints],
    offsets: LevelOffsets,
    row: Ints,
    constants: Constants,
) -> Readings:
    position, shift = _position_errors(number, offsets.walk)
    spacing_variance = np.zeros(len(shift))
    if number["spacing_variance"].any():
        spacing_variance = np.bincount(offsets.walk, number["spacing_variance"]) / np.bincount(
            offsets.walk
        )
    return Readings(
        chainage_m=number["chainage_m"],
        level_db=number["level_db"],
        rounding_sd_db=number["rounding_sd_db"],
        position_sd_m=position,
        stop=code["stop"],
        surface=rank_by_count(code["surface"])[0],
        offsets=offsets,
        smear_m=number["smear_m"],
        shift_sd_m=shift,
        spacing_sd_m=np.sqrt(spacing_variance),
        stops_from_middle=number["stops_from_middle"],
        tape_share=float(number["tape_weight"].mean()),
        noise_sd_db=constants.noise["reading_db"],
        row=row,
    )


def _position_errors(number: dict[str, Floats], walk: Ints) -> tuple[Floats, Floats]:
    """Return independent and shared errors along the pipe; errors of a tape are independent."""
    error, satellite = number["chainage_sd_m"], number["tape_weight"] < SATELLITE
    if not satellite.any():
        return error, np.zeros(int(walk.max()) + 1)
    independent, shift = split_error(number["offset_m"], error, walk)
    count = np.bincount(walk)
    shift *= np.bincount(walk, satellite) / count
    independent = np.where(np.isfinite(number["even_sd_m"]), number["even_sd_m"], independent)
    more = np.bincount(walk, number["shared_variance"]) / count
    return np.where(satellite, independent, error), np.sqrt(shift**2 + more)
