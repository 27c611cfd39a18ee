"""What would help on a deep or quiet line, and by how much the model expects it to."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import floats, texts
from leakgeo.conversion import FOOT_M
from leakgeo.find.advise.cramer_rao import Listening, least_sd
from leakgeo.find.locate.step import spreading_of
from leakgeo.find.loss.meter_tests import losses
from leakgeo.reason import Reason, columns_of
from leakgeo.route.lines import lines_in
from leakgeo.sound.constants import constants_in
from leakgeo.sound.spreading import DB

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leakgeo.arrays import Bools, Floats, Ints
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants

SOFT = ("soil", "grass", "gravel")
# The leak's level above the floor, in decibels: as the profile shows it, within these; the least
# where none was heard.
_LEAST_EXCESS_DB, _MOST_EXCESS_DB = 3.0, 30.0
# Closer stops go so far to either side.
_CLOSER_M = 1.5
# Places to look at where nobody knows where the leak would be.
_PLACES = 7
# An improvement that leaves more than this share of the error is not worth its while.
WORTHWHILE = 0.9
_COLUMNS = ("line_id", "order", "improvement", "why", "expected_sd_before_m", "expected_sd_after_m",
            "message")  # fmt: skip


def improvements(result: Result, *, rated_kpa: float | None, deep_m: float) -> Result:
    """Say what would help on each line that is deep, or whose leak isn't narrowed down.

    Expected errors are Cramér-Rao bounds (`leakgeo.find.advise.cramer_rao.least_sd`): compare the
    two to see how much an improvement gains. They do not predict the error of the mark.

    Parameters
    ----------
    result : Result
        With ``lines``, ``profile``, ``readings_on_route`` and ``marks``.
    rated_kpa : float or None
        Pressure that the lines are rated for.
    deep_m : float
        Cover beyond which a line counts as deep.

    Returns
    -------
    Result
        With ``improvements``: a row for each line and improvement, the most helpful first.
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
    """One line that needs help."""

    line_id: str
    why: Reason
    leak_m: Floats
    now: Listening
    pressure_kpa: float
    by_plate: bool
    soft: bool


def _cases(result: Result, lines: Lines, constants: Constants, deep_m: float) -> Iterator[_Case]:
    """Give the lines that need help, in the order of their names."""
    told = losses(result.job.meter_tests)
    tight = {name for name, loss in told.items() if loss.verdict == "none_within_resolution"}
    heard = _Heard.of(result.layers["readings_on_route"], lines, constants)
    excess, pressure = _excess_db(result.layers["profile"]), floats(lines.table, "pressure_kpa")
    marks = result.layers["marks"]
    mark = dict(zip(marks["line_id"], floats(marks, "chainage_m").tolist(), strict=True))
    table = result.layers["lines"].sort_values("line_id")
    names, statuses = texts(table, "line_id"), texts(table, "status")
    for name, line, status in zip(names, lines.index_of(names).tolist(), statuses, strict=True):
        settled = status == "located" or (name not in mark and name in tight)
        deep = line >= 0 and float(lines.depth_m[line]) > deep_m
        own = heard.of_line(line)
        if status == "rejected" or len(own.chainage_m) == 0 or (settled and not deep):
            continue
        louder = excess[name] if name in mark else _LEAST_EXCESS_DB
        now = _now(own, lines, line, constants, louder)
        why = _why(status, name in mark, deep, lines.material[line] in _PLASTIC, _mostly(own.grass))
        yield _Case(name, why, _where(mark.get(name), now.length_m), now, float(pressure[line]),
                    not _mostly(own.pushed), _mostly(own.soft))  # fmt: skip


_PLASTIC = ("pvc", "pe", "pex")


@dataclass(frozen=True)
class _Heard:
    """Usable readings of all lines, by line, or of one."""

    line: Ints
    chainage_m: Floats
    sd_m: Floats
    smear_m: Floats
    grass: Bools
    soft: Bools
    pushed: Bools

    @classmethod
    def of(cls, readings: pd.DataFrame, lines: Lines, constants: Constants) -> _Heard:
        used = readings[np.asarray(readings["used"], dtype=bool)]
        line = lines.index_of(texts(used, "line_id"))
        order = np.argsort(line, kind="stable")
        surface = pd.Series(texts(used, "surface")[order]).fillna("unknown")
        sensor = pd.Series(texts(used, "sensor")[order])
        return cls(
            line[order],
            floats(used, "chainage_m")[order],
            floats(used, "chainage_sd_m")[order],
            np.array(surface.map(constants.smear_m), dtype=float),
            np.asarray(surface == "grass"),
            np.asarray(surface.isin(SOFT)),
            np.asarray(sensor.isin(("contact_probe", "ground_spike"))),
        )

    def of_line(self, line: int) -> _Heard:
        """Those of one line."""
        own = slice(*np.searchsorted(self.line, [line, line + 1]))
        return _Heard(*(getattr(self, f.name)[own] for f in fields(self)))


def _mostly(which: Bools) -> bool:
    """Tell whether more than half are so."""
    return bool(np.mean(which) > 0.5)


def _why(status: str, heard: bool, deep: bool, plastic: bool, grass: bool) -> Reason:
    because = {
        "because_deep": deep, "because_plastic": plastic, "because_grass": grass,
        "because_quiet": not heard, "because_wide": heard and status != "located",
    }  # fmt: skip
    return Reason("needs_help", because=[Reason(code) for code, holds in because.items() if holds])


def _excess_db(profile: pd.DataFrame) -> dict[str, float]:
    """How far each leak stands above the floor: what 90 % of the way exceeds is the floor."""
    level = profile.groupby("line_id")["level_comparable_db"]
    seen = (level.max() - level.quantile(0.1)).clip(_LEAST_EXCESS_DB, _MOST_EXCESS_DB)
    return dict(zip(seen.index, seen.tolist(), strict=True))


def _where(mark_m: float | None, length_m: float) -> Floats:
    if mark_m is not None:
        return np.array([mark_m], dtype=float)
    return (np.arange(_PLACES) + 0.5) * (length_m / _PLACES)


def _now(own: _Heard, lines: Lines, line: int, constants: Constants, excess_db: float) -> Listening:
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
    """Improvements of one line, the most helpful first; one that can't be worked out comes last."""
    before = _expected(case, case.now, constants)
    night, probe = constants.improvements["night_db"], constants.improvements["probe_floor_db"]
    rows = [
        _improvement("night", case, before, _quieter(case.now, night), constants, quieter_db=night)
    ]
    if case.by_plate and case.soft:
        times = constants.improvements["probe_coupling_times"]
        held = replace(_quieter(case.now, probe), coupling_times=times)
        rows.append(_improvement("probe", case, before, held, constants))
    closer = _closer(case)
    if len(closer.chainage_m) > len(case.now.chainage_m):
        marked = len(case.leak_m) == 1
        rows.append(_improvement("spacing", case, before, closer, constants, marked=marked))
    rows += _by_pressure(case, before, constants, rated_kpa)
    return sorted(rows, key=lambda row: (np.isnan(row[2]), row[2]))


def _expected(case: _Case, listening: Listening, constants: Constants) -> float:
    return float(np.sqrt(np.mean(least_sd(listening, case.leak_m, constants) ** 2)))


def _improvement(
    improvement: str,
    case: _Case,
    before: float,
    then: Listening,
    constants: Constants,
    **values: object,
) -> _Improvement:
    after = _expected(case, then, constants)
    if after >= WORTHWHILE * before:
        effect = Reason("effect_little", before_m=before)
    else:
        effect = Reason("effect_less", before_m=before, after_m=after)
    return improvement, before, after, Reason(f"improvement_{improvement}", effect=effect, **values)


def _quieter(now: Listening, decibels: float) -> Listening:
    floor = now.spreading.floor * np.exp(-decibels / DB)
    return replace(now, spreading=replace(now.spreading, floor=float(floor)))


def _closer(case: _Case) -> Listening:
    """One-foot steps about every place, where there is no stop yet."""
    now, few = case.now, round(_CLOSER_M / FOOT_M)
    steps = FOOT_M * np.arange(-few, few + 1)
    stops = np.unique(np.add.outer(case.leak_m, steps).ravel().clip(0.0, now.length_m))
    away = np.abs(stops[:, None] - now.chainage_m).min(axis=1)
    new = stops[away > FOOT_M / 2]
    return replace(
        now,
        chainage_m=np.append(now.chainage_m, new),
        position_sd_m=np.append(now.position_sd_m, np.full(len(new), np.median(now.position_sd_m))),
        smear_m=np.append(now.smear_m, np.full(len(new), np.median(now.smear_m))),
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
