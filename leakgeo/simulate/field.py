"""Simulation of a line and a survey of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from leakgeo.simulate.constants import Conditions, draw
from leakgeo.simulate.draw_truth import draw_truth
from leakgeo.simulate.listen import HeardLevels, listen
from leakgeo.simulate.noise import display
from leakgeo.simulate.positions import Route, draw_fix_errors, draw_pipe, draw_trace
from leakgeo.simulate.recorded import Recorded, Survey

if TYPE_CHECKING:
    from leakgeo.simulate.constants import World
    from leakgeo.simulate.spread import Floats
    from leakgeo.simulate.truth import Truth

_SENSORS = ("ground_plate", "ground_spike", "contact_probe")

__all__ = ["Recorded", "Survey", "simulate_field"]


def simulate_field(
    rng: np.random.Generator,
    conditions: Conditions | None = None,
    pipe_xy: Floats | None = None,
) -> Recorded:
    """Simulate a line and a survey with the usual practice.

    The first walk goes along the whole line in coarse steps, the second in fine steps around the
    loudest stop.

    Parameters
    ----------
    rng : numpy.random.Generator
        Random generator; the same seed gives the same line.
    conditions : Conditions, optional
        Shares, ranges and practice; the defaults of `Conditions` if None.
    pipe_xy : ndarray, shape (vertices, 2), optional
        The true pipe, in a local plane in metres; drawn if None.

    Returns
    -------
    Recorded
        The record of the crew, and the truth.

    Examples
    --------
    >>> import numpy as np
    >>> from leakgeo.simulate import simulate_field
    >>> field = simulate_field(np.random.default_rng(1))
    >>> 20 < field.level.size < 75
    True
    """
    conditions = conditions or Conditions()
    line = draw_line(rng, conditions, pipe_xy)
    heard = listen(rng, conditions, line.truth)
    return record(rng, conditions, WalkedLine(line.truth, line.route, heard, line.sensor))


@dataclass(frozen=True)
class Line:
    """A line, and the sensor of its survey."""

    truth: Truth
    route: Route
    sensor: str


def draw_line(
    rng: np.random.Generator, conditions: Conditions, pipe_xy: Floats | None = None
) -> Line:
    """Draw a line without readings; for the parameters see `simulate_field`."""
    sensor, route = draw_route(rng, conditions, pipe_xy)
    return Line(draw_truth(rng, conditions, sensor, route.length_m), route, sensor)


def draw_route(
    rng: np.random.Generator, conditions: Conditions, pipe_xy: Floats | None = None
) -> tuple[str, Route]:
    """Draw the sensor of a survey, and the pipe with its trace; see `simulate_field`."""
    sensor = str(rng.choice(_SENSORS, p=(0.65, 0.25, 0.10)))
    pipe = draw_pipe(rng, conditions) if pipe_xy is None else np.asarray(pipe_xy, dtype=float)
    return sensor, draw_trace(rng, conditions, pipe)


@dataclass(frozen=True)
class WalkedLine:
    """A line and the levels heard on it."""

    truth: Truth
    route: Route
    heard: HeardLevels
    sensor: str


def record(rng: np.random.Generator, conditions: Conditions, walked: WalkedLine) -> Recorded:
    """Return the record of the heard levels as a crew writes it."""
    truth, route, heard = walked.truth, walked.route, walked.heard
    ground, bands = truth.ground, truth.bands
    taped = conditions.fix_sd_m is None and rng.random() < conditions.tape_share
    level, unit, recorded_gain_db, survey = _displayed(rng, conditions, heard)
    places = _placed(rng, conditions, route, heard, taped)
    survey = replace(
        survey,
        position_sd_m=places.true_sd_m,
        common_share=places.common_share,
        common_readings=places.common_readings,
    )
    rows = np.repeat(np.arange(heard.stop_m.size), len(bands))
    leak, leak_xy = _leak_in(truth, route, taped=taped)
    surfaces = np.array(ground.surfaces)[ground.stretch(heard.stop_m)]
    unknown = rng.random(2) < (conditions.material_unknown_share, conditions.depth_unknown_share)
    error = draw(rng, conditions.constants.depth_known_ratio_sd) * rng.standard_normal()
    return Recorded(
        material="unknown" if unknown[0] else ground.material,
        depth_m=np.nan if unknown[1] else round(ground.depth_m * max(1 + error, 0.3), 2),
        position_sd_m=round(route.trace_sd_m, 2),
        diameter_mm=ground.diameter_mm,
        pressure_kpa=round(ground.pressure_kpa, -1),
        length_m=ground.length_m,
        taped=bool(taped),
        trace_xy=route.trace_xy,
        stop=rows,
        walk=heard.walk[rows],
        seq=_order(heard.walk)[rows],
        chainage_m=places.chainage_m[rows],
        chainage_sd_m=np.full(rows.size, places.claimed_sd_m),
        xy=places.xy[rows],
        fix_sd_m=np.full(rows.size, places.claimed_fix_sd_m),
        level=level.ravel(),
        unit=unit,
        gain_db=np.asarray(recorded_gain_db)[heard.walk[rows]],
        band=np.tile(np.array(bands), heard.stop_m.size),
        surface=surfaces[rows],
        sensor=walked.sensor,
        true_chainage_m=heard.stop_m[rows],
        leak_chainage_m=leak,
        leak_xy=leak_xy,
        truth=truth,
        survey=survey,
    )


def _leak_in(
    truth: Truth, route: Route, *, taped: bool
) -> tuple[float | None, NDArray[np.float64] | None]:
    """Return the chainage of the leak as the crew measures it, and its true position."""
    leak = truth.leak_chainage_m
    if leak is None:
        return None, None
    xy = route.true_points(np.array([leak]))[0]
    return leak if taped else float(route.chainage_on_trace(xy[None])[0]), xy


def _order(walk: NDArray[np.intp]) -> NDArray[np.intp]:
    """Number the stops from 1 within each walk."""
    return np.arange(walk.size) - np.searchsorted(walk, walk) + 1


def _displayed(
    rng: np.random.Generator, conditions: Conditions, heard: HeardLevels
) -> tuple[Floats, str, tuple[float, float], Survey]:
    """Set the gain, read the display, and record the gain or not."""
    c = conditions.constants
    unit = "scale" if rng.random() < conditions.scale_share else "db"
    start, change = draw_gain(rng, c)
    kind = float(rng.random())
    unrecorded = kind < conditions.unknown_gain_share
    known = not unrecorded and kind < conditions.unknown_gain_share + conditions.known_gain_share
    gain = (start, start + (change if unrecorded or known else 0.0))
    offset = draw(rng, c.sensor_offset_sd_db) * float(rng.standard_normal())
    level = heard.level_db + offset + np.asarray(gain)[heard.walk][:, None]
    full = float(level.max()) + draw(rng, c.display_full_db)
    shown = display(level, unit, full)
    record = (np.nan, np.nan) if unrecorded else gain
    return (
        shown,
        unit,
        record,
        Survey(
            gain_db=gain,
            sensor_offset_db=offset,
            full_db=full,
            position_sd_m=np.nan,
            common_share=np.nan,
            common_readings=np.nan,
            step_m=(conditions.coarse_step_m, conditions.fine_step_m),
            stride_sd_m=heard.stride_sd_m,
            outlier=heard.outlier,
        ),
    )


def draw_gain(rng: np.random.Generator, c: World) -> tuple[float, float]:
    """Draw the gain of the first walk, and by how much it changes if it does, in decibels."""
    start = float(rng.choice([10.0, 15.0, 20.0, 25.0]))
    return start, float(np.rint(draw(rng, c.gain_change_db))) * float(rng.choice([-1.0, 1.0]))


@dataclass(frozen=True)
class _Places:
    """Recorded positions of the stops, and the true constants of their errors."""

    chainage_m: Floats
    claimed_sd_m: float
    xy: Floats
    claimed_fix_sd_m: float
    true_sd_m: float
    common_share: float
    common_readings: float


def _placed(
    rng: np.random.Generator, conditions: Conditions, route: Route, heard: HeardLevels, taped: bool
) -> _Places:
    """Draw the recorded positions of the stops, taped or from satellite fixes."""
    c = conditions.constants
    drawn = float(rng.choice(c.fix_sd_m)) if conditions.fix_sd_m is None else conditions.fix_sd_m
    tape_sd, share = draw(rng, c.tape_sd_m), min(draw(rng, c.common_share), 1.0)
    fix_sd = draw(rng, c.tagged_fix_sd_m) if taped else drawn
    memory, ratio = draw(rng, c.common_readings), draw(rng, c.claimed_sd_ratio)
    error = draw_fix_errors(rng, heard.walk, fix_sd, share, memory)
    xy = route.true_points(heard.stop_m) + error
    tape = heard.stop_m + tape_sd * rng.standard_normal(heard.stop_m.size)
    sd = tape_sd if taped else fix_sd
    return _Places(
        chainage_m=np.maximum(tape, 0.0).round(2) if taped else route.chainage_on_trace(xy),
        claimed_sd_m=sd * ratio,
        xy=xy,
        claimed_fix_sd_m=fix_sd * ratio,
        true_sd_m=sd,
        common_share=share,
        common_readings=memory,
    )
