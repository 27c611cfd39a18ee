"""The `improvements` step: ways to improve the result on deep or quiet lines, with their gain."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, median, texts
from leakgeo.conversion import FOOT_M
from leakgeo.find.advise.cramer_rao import Listening, cramer_rao_sd
from leakgeo.find.advise.trickle import known_after_trickle, tap_to_open
from leakgeo.find.levels.readings import tabulate
from leakgeo.find.locate.step import spreading_of
from leakgeo.find.loss.meter_tests import losses
from leakgeo.find.survey.line_fittings import NO_FITTINGS, fittings_by_line
from leakgeo.reason import Reason, columns_of
from leakgeo.route.lines import lines_in
from leakgeo.route.sweeps import along_the_line
from leakgeo.sound.constants import constants_in
from leakgeo.sound.spreading import DB

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.find.survey.line_fittings import LineFittings
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

SOFT = ("soil", "grass", "gravel")
# Limits of the leak's level above the floor, from the profile; the minimum where none was heard.
MIN_EXCESS_DB, _MAX_EXCESS_DB = 3.0, 30.0
# Extent of closer stops on either side.
_CLOSER_M = 1.5
# Number of stops to tape.
_TAPED = 3
# Number of places to average over where the line has no mark.
_PLACES = 7
# An improvement that leaves more than this share of the error is reported as little gain.
MAX_SD_RATIO = 0.9
_COLUMNS = ("line_id", "order", "improvement", "why", "expected_sd_before_m", "expected_sd_after_m",
            "message")  # fmt: skip


def improvements(result: Result, *, rated_kpa: float | None, deep_m: float) -> Result:
    """List ways to improve the result on lines that are deep, or whose leak is not narrowed down.

    Expected errors are Cramér-Rao bounds (`leakgeo.find.advise.cramer_rao`): compare the two to see
    how much an improvement gains. They do not predict the error of the mark.

    Parameters
    ----------
    result : Result
        With ``lines``, ``profile``, ``readings_on_route``, ``marks`` and ``contact_ranking``.
    rated_kpa : float or None
        Pressure that the lines are rated for, in kilopascals.
    deep_m : float
        Cover beyond which a line counts as deep, in metres.

    Returns
    -------
    Result
        With ``improvements``: one row per line and improvement, the most helpful first.
    """
    lines, constants = lines_in(result), constants_in(result)
    rows = [
        (case.line_id, order, improvement, case.why, before, after, message)
        for case in _cases(result, lines, constants, deep_m)
        for order, (improvement, before, after, message) in enumerate(
            _of_line(case, constants, rated_kpa), start=1)
    ]  # fmt: skip
    table = pd.DataFrame(rows, columns=list(_COLUMNS))
    why, message = (columns_of(name, table.pop(name)) for name in ("why", "message"))
    return result.adding({"improvements": table.assign(**why, **message)})


@dataclass(frozen=True)
class _Case:
    """One line that needs help.

    `shift_m` is the error that all its readings share, and `taped_shift_m` that after three of them
    are taped.
    """

    line_id: str
    why: Reason
    leak_m: Floats
    now: Listening
    shift_m: float
    taped_shift_m: float
    pressure_kpa: float
    by_plate: bool
    soft: bool
    fittings: LineFittings = NO_FITTINGS


def _cases(result: Result, lines: Lines, constants: Constants, deep_m: float) -> Iterator[_Case]:
    """Yield the lines that need help, sorted by name."""
    tested = losses(result.job.meter_tests)
    tight = {name for name, loss in tested.items() if loss.verdict == "none_within_resolution"}
    readings = result.layers["readings_on_route"]
    fittings = fittings_by_line(result.layers["contact_ranking"])
    heard = _UsedReadings.of(readings, lines, constants)
    taped = float(result.parameters["profile"]["tape_sd_m"]) / _TAPED**0.5  # type: ignore[arg-type]
    excess, pressure = excess_db(result.layers["profile"]), floats(lines.table, "pressure_kpa")
    marks = result.layers["marks"]
    marked_m = floats(marks, "chainage_m")
    mark = {name: marked_m[own] for name, own in marks.groupby("line_id").indices.items()}
    table = result.layers["lines"].sort_values("line_id")
    names, statuses = texts(table, "line_id"), texts(table, "status")
    for name, line, status in zip(names, lines.index_of(names).tolist(), statuses, strict=True):
        settled = status == "located" or (name not in mark and name in tight)
        deep = line >= 0 and float(lines.depth_m[line]) > deep_m
        own = heard.of_line(line)
        if status == "rejected" or len(own.chainage_m) == 0 or (settled and not deep):
            continue
        louder = excess[name] if name in mark else MIN_EXCESS_DB
        now = _listening(own, lines, line, constants, louder)
        why = _help_reason(
            status, name in mark, deep, lines.material[line] in _PLASTIC, _more_than_half(own.grass)
        )
        places = _leak_places(mark.get(name), now.length_m)
        yield _Case(name, why, places, now, own.shift(), taped, float(pressure[line]),
                    not _more_than_half(own.pushed), _more_than_half(own.soft),
                    fittings.get(str(name), NO_FITTINGS))  # fmt: skip


_PLASTIC = ("pvc", "pe", "pex")


@dataclass(frozen=True)
class _UsedReadings:
    """Used readings of all lines, sorted by line, or of one line."""

    line: Ints
    chainage_m: Floats
    sd_m: Floats
    shift_sd_m: Floats
    common_sd_m: Floats
    run: Ints
    smear_m: Floats
    grass: Bools
    soft: Bools
    pushed: Bools

    @classmethod
    def of(cls, readings: pd.DataFrame, lines: Lines, constants: Constants) -> _UsedReadings:
        used = readings[along_the_line(readings)]
        line = lines.index_of(texts(used, "line_id"))
        order = np.argsort(line, kind="stable")
        place, sd, shift, common, run = _by_walks(readings, lines, constants)
        surface = pd.Series(texts(used, "surface")[order]).fillna("unknown")
        sensor = pd.Series(texts(used, "sensor")[order])
        return cls(
            line[order],
            place[order],
            sd[order],
            shift[order],
            common[order],
            run[order],
            np.array(surface.map(constants.smear_m), dtype=float),
            np.asarray(surface == "grass"),
            np.asarray(surface.isin(SOFT)),
            np.asarray(sensor.isin(("contact_probe", "ground_spike"))),
        )

    def shift(self) -> float:
        """Return the least error that the readings share, if sound aligns the walks exactly."""
        _, first = np.unique(self.run, return_index=True)
        if len(first) == 0 or (self.run < 0).any():
            return 0.0
        common = float(self.common_sd_m[first].min()) ** 2
        own = np.maximum(self.shift_sd_m[first] ** 2 - common, 1e-6)
        return float((1.0 / np.sum(1.0 / own) + common) ** 0.5)

    def of_line(self, line: int) -> _UsedReadings:
        """Return the readings of one line."""
        own = slice(*np.searchsorted(self.line, [line, line + 1]))
        return _UsedReadings(*(getattr(self, f.name)[own] for f in fields(self)))


def _by_walks(
    readings: pd.DataFrame, lines: Lines, constants: Constants
) -> tuple[Floats, Floats, Floats, Floats, Ints]:
    """Return place, own, shared and common error, and run of each used reading; -1 without."""
    used = along_the_line(readings)
    table = tabulate(readings, lines, constants)
    paced = table.codes["run"] >= 0
    rows = table.row[paced]
    columns = np.zeros((4, len(readings)))
    columns[0], columns[1] = floats(readings, "chainage_m"), floats(readings, "chainage_sd_m")
    for column, name in zip(columns, _OF_WALKS, strict=True):
        column[rows] = table.numbers[name][paced]
    run = np.full(len(readings), -1)
    run[rows] = table.codes["run"][paced]
    place, sd, shift, common = columns[:, used]
    return place, sd, shift, common, run[used]


_OF_WALKS = ("chainage_m", "paced_sd_m", "shift_sd_m", "common_sd_m")


def _more_than_half(which: Bools) -> bool:
    """Return whether more than half of the flags are set."""
    return bool(np.mean(which) > 0.5)


def _help_reason(status: str, heard: bool, deep: bool, plastic: bool, grass: bool) -> Reason:
    because = {
        "because_deep": deep, "because_plastic": plastic, "because_grass": grass,
        "because_quiet": not heard, "because_wide": heard and status != "located",
    }  # fmt: skip
    return Reason("needs_help", because=[Reason(code) for code, holds in because.items() if holds])


def excess_db(profile: pd.DataFrame) -> dict[str, float]:
    """Return the level of each leak above the floor, the 10 % quantile of the profile."""
    level = profile.groupby("line_id")["level_comparable_db"]
    seen = (level.max() - level.quantile(0.1)).clip(MIN_EXCESS_DB, _MAX_EXCESS_DB)
    return dict(zip(seen.index, seen.tolist(), strict=True))


def _leak_places(marks_m: Floats | None, length_m: float) -> Floats:
    if marks_m is not None:
        return np.asarray(marks_m, dtype=float)
    return (np.arange(_PLACES) + 0.5) * (length_m / _PLACES)


def _listening(
    own: _UsedReadings, lines: Lines, line: int, constants: Constants, excess_db: float
) -> Listening:
    return Listening(
        own.chainage_m,
        own.sd_m,
        own.smear_m,
        replace(spreading_of(lines, line, constants), floor=10.0 ** (-excess_db / 10.0)),
        float(lines.length_m[line]),
        bool(np.isfinite(lines.depth_m[line])),
    )


_Improvement = tuple[str, float, float, Reason]


def _of_line(case: _Case, constants: Constants, rated_kpa: float | None) -> list[_Improvement]:
    """Return the improvements of a line, the most helpful first, those without a figure last."""
    before = _expected(case, case.now, constants)
    night, probe = constants.improvements["night_db"], constants.improvements["probe_floor_db"]
    rows = [
        _improvement("night", case, before, _quieter(case.now, night), constants, quieter_db=night)
    ]
    if case.by_plate and case.soft:
        times = constants.improvements["probe_coupling_times"]
        held = replace(_quieter(case.now, probe), coupling_factor=times)
        rows.append(_improvement("probe", case, before, held, constants))
    if case.shift_m > case.taped_shift_m:
        pinned = replace(case, shift_m=case.taped_shift_m)
        rows.append(_improvement("position", pinned, before, case.now, constants))
    if (tap := tap_to_open(case.fittings, case.now, case.leak_m)) is not None:
        rows.append(_by_trickle(case, before, constants, tap))
    closer = _closer(case)
    if len(closer.chainage_m) > len(case.now.chainage_m):
        marked = len(case.leak_m) < _PLACES
        rows.append(_improvement("spacing", case, before, closer, constants, marked=marked))
    rows += _by_pressure(case, before, constants, rated_kpa)
    return sorted(rows, key=lambda row: (np.isnan(row[2]), row[2]))


def _by_trickle(case: _Case, before: float, constants: Constants, tap: int) -> _Improvement:
    """Return what a walk beside a tap that runs at a trickle improves."""
    known = known_after_trickle(case.now, float(case.fittings.chainage_m[tap]), constants)
    return _improvement("trickle", case, before, case.now, constants, known,
                        fitting=case.fittings.name(tap))  # fmt: skip


def _expected(
    case: _Case, listening: Listening, constants: Constants,
    known_sd: Mapping[str, float] = MappingProxyType({}),
) -> float:  # fmt: skip
    variance = cramer_rao_sd(listening, case.leak_m, constants, known_sd) ** 2
    return float(np.hypot(np.sqrt(np.mean(variance)), case.shift_m))


def _improvement(
    improvement: str,
    case: _Case,
    before: float,
    then: Listening,
    constants: Constants,
    known_sd: Mapping[str, float] = MappingProxyType({}),
    **values: object,
) -> _Improvement:
    after = _expected(case, then, constants, known_sd)
    if after >= MAX_SD_RATIO * before:
        effect = Reason("effect_little", before_m=before)
    else:
        effect = Reason("effect_less", before_m=before, after_m=after)
    return improvement, before, after, Reason(f"improvement_{improvement}", effect=effect, **values)


def _quieter(now: Listening, decibels: float) -> Listening:
    floor = now.spreading.floor * np.exp(-decibels / DB)
    return replace(now, spreading=replace(now.spreading, floor=float(floor)))


def _closer(case: _Case) -> Listening:
    """Add stops at one-foot spacing around each place, where there is none yet."""
    now, few = case.now, round(_CLOSER_M / FOOT_M)
    steps = FOOT_M * np.arange(-few, few + 1)
    stops = np.unique(np.add.outer(case.leak_m, steps).ravel().clip(0.0, now.length_m))
    away = np.abs(stops[:, None] - now.chainage_m).min(axis=1)
    new = stops[away > FOOT_M / 2]
    return replace(
        now,
        chainage_m=np.append(now.chainage_m, new),
        position_sd_m=np.append(now.position_sd_m, np.full(len(new), median(now.position_sd_m))),
        smear_m=np.append(now.smear_m, np.full(len(new), median(now.smear_m))),
    )


def _by_pressure(
    case: _Case, before: float, constants: Constants, rated_kpa: float | None
) -> list[_Improvement]:
    pressure = case.pressure_kpa
    if rated_kpa is None or not pressure > 0:
        lacks = "pressure" if rated_kpa is not None else "rating"
        return [("pressure", before, np.nan, Reason("improvement_pressure_unknown", lacks=lacks))]
    if pressure >= rated_kpa:
        return []
    power = constants.improvements["power_per_pressure"]
    louder = _quieter(case.now, 10.0 * power * float(np.log10(rated_kpa / pressure)))
    return [
        _improvement(
            "pressure", case, before, louder, constants, from_kpa=pressure, to_kpa=rated_kpa
        )
    ]
