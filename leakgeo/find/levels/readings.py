"""Usable readings as arrays: sorted once for all lines, then selected line by line."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary, ref

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.find.levels.air_tests import of_air_tests
from leakgeo.find.levels.level_offsets import (
    PRIORS,
    LevelOffsets,
    level_offsets_of,
    passes,
    rank_by_count,
)
from leakgeo.find.levels.positions import split_error
from leakgeo.find.levels.walks import SATELLITE, Visit, seconds, visits, walk_positions
from leakgeo.job.model import NOT_SELECTED
from leakgeo.route.sweeps import along_the_line, apart
from leakgeo.route.taps import tapped

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants


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
    run : ndarray of int, shape (n,)
        Codes from 0 of the runs of stops whose errors of position hang together: a walk by
        satellite from one turn of the crew to the next, or a walk of comparable levels.
    shift_sd_m, spacing_sd_m : ndarray of float, shape (runs,)
        Errors that the readings of a run share: of its position and of the spacing of its stops.
    common_shift_sd_m : ndarray of float, shape (runs,)
        Part of the shift that all runs of the line share.
    stops_from_middle : ndarray of float, shape (n,)
        Number of stops from the middle of a run of paced stops; else 0.
    tape_share : float
        Mean weight of taped chainages in the positions, 0 to 1.
    noise_sd_db : float
        Assumed standard deviation of a reading besides its rounding.
    row : ndarray of int, shape (n,)
        Row of each reading in ``readings_on_route``.
    visit : ndarray of int, shape (n,)
        Number of the walk of each reading in order of time, or -1 where the order is not known.
    """

    chainage_m: Floats
    level_db: Floats
    rounding_sd_db: Floats
    position_sd_m: Floats
    stop: Ints
    surface: Ints
    offsets: LevelOffsets
    smear_m: Floats
    run: Ints
    shift_sd_m: Floats
    spacing_sd_m: Floats
    common_shift_sd_m: Floats
    stops_from_middle: Floats
    tape_share: float
    noise_sd_db: float
    row: Ints
    visit: Ints


@dataclass(frozen=True)
class Table:
    """Usable readings of all lines, sorted by line, chainage and stop; one array a column.

    `notes` are those of `leakgeo.find.levels.walks.WalkPositions`; `kept` are readings of lines
    that were asked for, by the constants that they depend on.
    """

    line: Ints
    numbers: dict[str, Floats]
    codes: dict[str, Ints]
    gain_known: Bools
    bands: tuple[str, ...]
    row: Ints
    notes: tuple[tuple[int, str, str, int], ...] = ()
    kept: dict[tuple[float, ...], dict[int, Readings]] = field(default_factory=dict)

    def by_line(self, constants: Constants) -> Iterator[tuple[int, Readings]]:
        """Yield the index and the readings of each line."""
        which, first = np.unique(self.line, return_index=True)
        ends = np.append(first, len(self.line))[1:].tolist()
        # Of the constants, readings depend on these alone.
        key = (*(constants.spread[name] for name in PRIORS), constants.noise["reading_db"])
        known = self.kept.setdefault(key, {})
        for line, begin, end in zip(which.tolist(), first.tolist(), ends, strict=True):
            if line not in known:
                known[line] = self.cut(slice(begin, end), constants)
            yield line, known[line]

    def rows(self, line: int, begin_m: float = -np.inf, end_m: float = np.inf) -> Ints:
        """Return the rows of one line, or of a stretch of it."""
        first, last = np.searchsorted(self.line, [line, line + 1])
        place = self.numbers["chainage_m"][first:last]
        return np.asarray(first + np.flatnonzero((place >= begin_m) & (place <= end_m)))

    def cut(self, rows: Ints | slice, constants: Constants, *, one_line: bool = True) -> Readings:
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
    yield from tabulate(readings, lines, constants).by_line(constants)


def tabulate(
    readings: pd.DataFrame, lines: Lines, constants: Constants, *, neighbours: bool = False
) -> Table:
    """Sort the usable readings by line and chainage.

    The result does not depend on the order of the rows. It is the same object for the same layer
    and lines, as several steps need it.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``.
    lines : Lines
    constants : Constants
    neighbours : bool
        Include readings of unselected lines, which are used on selected lines near them.

    Returns
    -------
    Table
    """
    taken = along_the_line(readings)
    if neighbours:
        placed, levelled = floats(readings, "chainage_m"), floats(readings, "level_db")
        good = np.isfinite(placed) & np.isfinite(levelled)
        good &= ~apart(readings)
        taken = taken | (good & (texts(readings, "reason_code") == NOT_SELECTED.code))
    taken = taken & ~of_air_tests(readings, taken)
    used = np.flatnonzero(taken)
    tables = _TABLES.setdefault(lines, [])
    for known in tables:
        if known.is_of(readings, used, constants):
            return known.table
    found = tabulate_rows(readings, used, lines, constants)
    # Of other layers of these lines nothing is asked again.
    tables[:] = [known for known in tables if known.readings() is readings]
    tables.append(_KeptTable(ref(readings), used, constants, found))
    return found


@dataclass(frozen=True, eq=False)
class _KeptTable:
    """A table, and what it was made from."""

    readings: Callable[[], pd.DataFrame | None]
    used: Ints
    constants: Constants
    table: Table

    def is_of(self, readings: pd.DataFrame, used: Ints, constants: Constants) -> bool:
        """Return whether the table is that of some rows of a layer."""
        law, own = constants.walk_law, self.constants.walk_law
        same = self.readings() is readings and np.array_equal(self.used, used)
        same = same and self.constants.smear_m == constants.smear_m
        return same and all(
            np.array_equal(getattr(law, part), getattr(own, part))
            for part in ("errors", "error_weight", "steps_m", "step_weight")
        )


# Tables of the lines that steps work on.
_TABLES: WeakKeyDictionary[Lines, list[_KeptTable]] = WeakKeyDictionary()


def tabulate_rows(readings: pd.DataFrame, used: Ints, lines: Lines, constants: Constants) -> Table:
    """Sort some readings by line and chainage; see `tabulate`.

    Parameters
    ----------
    readings : pandas.DataFrame
        ``readings_on_route``.
    used : ndarray of int, shape (m,)
        Rows to take.
    lines : Lines
    constants : Constants

    Returns
    -------
    Table
    """
    own, rows, line, stop = _sorted(readings, used, lines)
    paced = walk_positions(own, line, stop, lines, constants.walk_law)
    place = np.bincount(stop, paced.chainage_m) / np.maximum(np.bincount(stop), 1)
    order = np.lexsort((stop, place[stop], line))
    surface = pd.Series(texts(own, "surface")).fillna("unknown")
    band, bands = pd.factorize(pd.Series(texts(own, "band")).fillna("wide"), sort=True)
    same = ["sensor", "air", "sound_unit"]
    kind = own.groupby(same, dropna=False, sort=True).ngroup()
    named = own.groupby(["walk_id", *same, "gain_known"], dropna=False, sort=True).ngroup()
    walk = np.asarray(own["walk"], dtype=np.int64)
    numbers = {
        "chainage_m": _on_line(place[stop], paced.run, lines.length_m[line]),
        "paced_sd_m": paced.own_sd_m,
        "shift_sd_m": paced.shift_sd_m,
        "spacing_sd_m": paced.spacing_sd_m,
        "common_sd_m": paced.common_sd_m,
        "stops_from_middle": paced.stops_from_middle,
        "smear_m": np.array(surface.map(constants.smear_m), dtype=float),
        **{c: floats(own, c) for c in ("level_db", "rounding_sd_db", "chainage_sd_m",
                                       "offset_m", "tape_weight")},
    }  # fmt: skip
    codes = {
        "stop": stop, "band": band, "kind": kind.to_numpy(),
        "pass": passes(walk, stop, np.asarray(band), kind.to_numpy()), "walk": walk,
        "named_walk": named.to_numpy(), "run": paced.run,
        "surface": pd.factorize(surface, sort=True)[0], "visit": _visits_in_time(own, line, walk),
    }  # fmt: skip
    return Table(
        line[order],
        {key: value[order] for key, value in numbers.items()},
        {key: np.asarray(value, dtype=np.int64)[order] for key, value in codes.items()},
        np.asarray(own["gain_known"], dtype=bool)[order],
        tuple(bands),
        rows[order],
        tuple(paced.notes),
    )


def _visits_in_time(own: pd.DataFrame, line: Ints, walk: Ints) -> Ints:
    """Return the number of the walk of each reading on its line, in order of their first times."""
    table = pd.DataFrame({"line": line, "walk": walk, "time_s": seconds(own)})
    first = table.groupby(["line", "walk"])["time_s"].transform("min")
    number = first.groupby(table["line"]).rank(method="dense") - 1
    # Walks that begin together, as of two crews, have no order.
    named = table.groupby("line")["walk"].transform("nunique")
    unclear = first.isna().groupby(table["line"]).transform("any")
    unclear |= first.groupby(table["line"]).transform("nunique") < named
    return np.asarray(number.where(~unclear, -1), dtype=np.int64)


def visits_of(readings: pd.DataFrame, lines: Lines) -> Iterator[Visit]:
    """Yield the visits by satellite to the lines of ``readings_on_route``."""
    used = np.flatnonzero(np.asarray(readings["used"], dtype=bool) & ~tapped(readings))
    own, _, line, stop = _sorted(readings, used, lines)
    yield from visits(own, line, stop, lines)


def _sorted(
    readings: pd.DataFrame, used: Ints, lines: Lines
) -> tuple[pd.DataFrame, Ints, Ints, Ints]:
    """Return the used readings, their rows, lines and stops.

    They are sorted by id, so that sums do not depend on the order of the rows to the last bit.
    """
    used = used[np.argsort(texts(readings, "reading_id")[used].astype(str), kind="stable")]
    own = readings.iloc[used]
    line = lines.index_of(texts(own, "line_id"))
    return own, used, line, _stops(own, line)


def _on_line(chainage_m: Floats, run: Ints, length_m: Floats) -> Floats:
    """Clip chainages to the line; not those of paced runs, whose common shift is not known yet."""
    return np.where(run < 0, np.clip(chainage_m, 0.0, length_m), chainage_m)


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
    position = _position_errors(number, code["run"], offsets.walk)
    return Readings(
        chainage_m=number["chainage_m"],
        level_db=number["level_db"],
        rounding_sd_db=number["rounding_sd_db"],
        position_sd_m=position.own_sd_m,
        stop=code["stop"],
        surface=rank_by_count(code["surface"])[0],
        offsets=offsets,
        smear_m=number["smear_m"],
        run=position.run,
        shift_sd_m=position.shift_sd_m,
        spacing_sd_m=position.spacing_sd_m,
        common_shift_sd_m=position.common_sd_m,
        stops_from_middle=number["stops_from_middle"],
        tape_share=float(number["tape_weight"].mean()),
        noise_sd_db=constants.noise["reading_db"],
        row=row,
        visit=code["visit"],
    )


@dataclass(frozen=True)
class _PositionErrors:
    """Errors along the pipe, as in `Readings`."""

    own_sd_m: Floats
    run: Ints
    shift_sd_m: Floats
    spacing_sd_m: Floats
    common_sd_m: Floats


def _position_errors(number: dict[str, Floats], run: Ints, walk: Ints) -> _PositionErrors:
    """Return errors along the pipe; those of a tape are independent.

    Where a walk by satellite has places of its own, `run` is its code; elsewhere the walk counts.
    """
    error, good = number["chainage_sd_m"], number["tape_weight"] < SATELLITE
    walks = int(walk.max()) + 1
    paced = run >= 0
    good = good & ~paced
    if good.any():
        independent, shift = split_error(number["offset_m"], error, walk)
        shift *= np.bincount(walk, good) / np.bincount(walk)
        error = np.where(good, independent, error)
    else:
        shift = np.zeros(walks)
    if not paced.any():
        none = np.zeros(walks)
        return _PositionErrors(error, walk, shift, none, none)
    code, first, run = np.unique(np.where(paced, walks + run, walk), True, True)
    paced = code >= walks
    shift = np.where(paced, number["shift_sd_m"][first], shift[np.minimum(code, walks - 1)])
    return _PositionErrors(
        np.where(paced[run], number["paced_sd_m"], error), run, shift,
        number["spacing_sd_m"][first], number["common_sd_m"][first],
    )  # fmt: skip
