"""One simulated line with the survey on it: what the crew would hand in, and the hidden truth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from leakgeo.simulate.constants import Conditions
from leakgeo.simulate.noise import coupling_from, display, draw_outliers, draw_shared
from leakgeo.simulate.positions import Route, draw_fix_errors, draw_pipe, draw_trace
from leakgeo.simulate.truth import Truth, draw, draw_truth

if TYPE_CHECKING:
    from leakgeo.simulate.spread import Floats

_SENSORS = ("ground_plate", "ground_spike", "contact_probe")


@dataclass(frozen=True)
class Survey:
    """True circumstances of the survey: the instrument, and errors of position.

    Parameters
    ----------
    gain_db : tuple of float
        Gain of each walk.
    sensor_offset_db : float
        Offset of the sensor.
    full_db : float
        Level that fills a linear display.
    position_sd_m : float
        True standard deviation of a chainage (tape) or of each axis of a fix (satellite).
    common_share, common_readings : float
        Share of a fix's variance that drifts with the walk, and over how many stops.
    outlier : ndarray of int, shape (stops,)
        1 for a burst, -1 for a bad contact, 0 for neither.
    """

    gain_db: tuple[float, ...]
    sensor_offset_db: float
    full_db: float
    position_sd_m: float
    common_share: float
    common_readings: float
    outlier: NDArray[np.intp]


@dataclass(frozen=True)
class Field:
    """A line, its record, the readings (arrays of one length, a row a reading), and the truth.

    Parameters
    ----------
    material, depth_m, position_sd_m
        What the record says: material or ``unknown``; cover or nan; 1-sigma of the trace.
    diameter_mm, pressure_kpa, length_m : float
    taped : bool
        Whether stops were taped; otherwise they are satellite fixes.
    trace_xy : ndarray, shape (vertices, 2)
        The trace, in a local plane in metres; chainage starts at its first vertex.
    stop : ndarray of int, shape (n,)
        Stop of each reading; readings in several bands share one.
    walk, seq : ndarray of int, shape (n,)
        Walk, 0 the coarse and 1 the fine one; order within it.
    chainage_m, chainage_sd_m : ndarray, shape (n,)
        Taped chainage or that of the fix's nearest point on the trace, with the claimed 1-sigma.
    xy, fix_sd_m : ndarray, shape (n, 2) and (n,)
        Satellite fix and its claimed 1-sigma (rough where stops were taped).
    level : ndarray, shape (n,)
        As displayed.
    unit : str
        ``db`` or ``scale``.
    gain_db : ndarray, shape (n,)
        Gain on the record, nan where untold.
    band, surface : ndarray of str, shape (n,)
        ``wide``, ``low`` or ``high``; surface underfoot.
    sensor : str
    true_chainage_m : ndarray, shape (n,)
        Where the stops truly were, on the true pipe. Hidden from a locator.
    leak_chainage_m : float or None
        The leak's chainage in the frame that a mark is made in: the tape's, or the trace's.
        Hidden from a locator.
    leak_xy : ndarray, shape (2,), or None
        The leak's true place. Hidden from a locator.
    truth, survey : Truth, Survey
        All true constants. Hidden from a locator.
    """

    material: str
    depth_m: float
    position_sd_m: float
    diameter_mm: float
    pressure_kpa: float
    length_m: float
    taped: bool
    trace_xy: Floats
    stop: NDArray[np.intp]
    walk: NDArray[np.intp]
    seq: NDArray[np.intp]
    chainage_m: Floats
    chainage_sd_m: Floats
    xy: Floats
    fix_sd_m: Floats
    level: Floats
    unit: str
    gain_db: Floats
    band: NDArray[np.str_]
    surface: NDArray[np.str_]
    sensor: str
    true_chainage_m: Floats
    leak_chainage_m: float | None
    leak_xy: Floats | None
    truth: Truth
    survey: Survey

    @property
    def leaks(self) -> bool:
        """Whether there is a leak on the line."""
        return self.leak_chainage_m is not None


def simulate_field(
    rng: np.random.Generator,
    conditions: Conditions | None = None,
    pipe_xy: Floats | None = None,
) -> Field:
    """Draw a line and a survey of the usual practice on it.

    A walk of coarse steps along the whole line, then fine steps around the loudest stop.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all randomness: the same seed gives the same field.
    conditions : Conditions, optional
        Shares, ranges and practice; defaults as `Conditions` says.
    pipe_xy : ndarray, shape (vertices, 2), optional
        The true pipe, in a local plane in metres; drawn if not given.

    Returns
    -------
    Field

    Examples
    --------
    >>> field = simulate_field(np.random.default_rng(1))
    >>> 20 < field.level.size < 75
    True
    """
    conditions = conditions or Conditions()
    sensor = str(rng.choice(_SENSORS, p=(0.65, 0.25, 0.10)))
    pipe = draw_pipe(rng, conditions) if pipe_xy is None else np.asarray(pipe_xy, dtype=float)
    route = draw_trace(rng, conditions, pipe)
    truth = draw_truth(rng, conditions, sensor, route.length_m)
    heard = _listen(rng, conditions, truth)
    return _record(rng, conditions, _Walked(truth, route, heard, sensor))


@dataclass(frozen=True)
class _Heard:
    """Stops in the order of listening, and the levels behind the display at each in each band."""

    stop_m: Floats
    walk: NDArray[np.intp]
    level_db: Floats
    outlier: NDArray[np.intp]


def _listen(rng: np.random.Generator, conditions: Conditions, truth: Truth) -> _Heard:
    """Walk the line in coarse steps, then in fine steps around the loudest of them."""
    length = truth.ground.length_m
    coarse = np.arange(0.0, length, conditions.coarse_step_m)
    reach = int(rng.integers(conditions.fine_steps[0], conditions.fine_steps[1] + 1))
    fine = conditions.fine_step_m * np.arange(-reach, reach + 1)
    walk = np.repeat([0, 1], [coarse.size, fine.size])
    stride = draw(rng, conditions.constants.stride_sd_m) * rng.standard_normal(walk.size)
    coarse = np.clip(coarse + stride[walk == 0], 0.0, length)
    spoil = _Spoil.draw(rng, truth, walk.size)
    loudest = coarse[np.argmax(spoil.levels(truth, coarse)[:, 0])]
    stops = np.concatenate([coarse, loudest + fine + stride[walk == 1]])
    on = (stops >= 0.0) & (stops <= length)
    levels = spoil.levels(truth, np.clip(stops, 0.0, length))
    return _Heard(stops[on], walk[on], levels[on], spoil.outlier[on])


@dataclass(frozen=True)
class _Spoil:
    """All that spoils the readings of a survey, drawn before the crew sets out."""

    coupling: Floats
    shift_db: Floats
    outlier: NDArray[np.intp]

    @classmethod
    def draw(cls, rng: np.random.Generator, truth: Truth, stops: int) -> _Spoil:
        noise, shape = truth.noise, (stops, len(truth.bands))
        coupling = draw_shared(rng, shape, noise.coupling_shared_by_bands)
        own = noise.reading_sd_db * draw_shared(rng, shape, noise.reading_shared_by_bands)
        shift, outlier = draw_outliers(rng, stops, noise, shape[1])
        return cls(coupling, own + shift, outlier)

    def levels(self, truth: Truth, stop_m: Floats) -> Floats:
        """Give spoilt levels at the first stops, shape (stops, bands)."""
        n = stop_m.size
        clean = np.column_stack(
            [truth.level_db(k, stop_m, truth.leak_chainage_m) for k in range(len(truth.bands))]
        )
        jitter = 1e-6 * np.arange(n)  # Clipped stops may coincide, and the root needs them apart.
        coupling = coupling_from(self.coupling[:n], stop_m + jitter, truth.noise)
        return clean + coupling + self.shift_db[:n]


@dataclass(frozen=True)
class _Walked:
    """A line, and what was heard on it."""

    truth: Truth
    route: Route
    heard: _Heard
    sensor: str


def _record(rng: np.random.Generator, conditions: Conditions, walked: _Walked) -> Field:
    """Write down what was heard as the crew would."""
    truth, route, heard = walked.truth, walked.route, walked.heard
    ground, bands = truth.ground, truth.bands
    taped = conditions.fix_sd_m is None and rng.random() < conditions.tape_share
    level, unit, told_db, survey = _displayed(rng, conditions, heard)
    places = _placed(rng, conditions, route, heard, taped)
    survey = replace(
        survey,
        position_sd_m=places.true_sd_m,
        common_share=places.common_share,
        common_readings=places.common_readings,
    )
    rows = np.repeat(np.arange(heard.stop_m.size), len(bands))
    leak = truth.leak_chainage_m
    leak_xy = None if leak is None else route.true_points(np.array([leak]))[0]
    if leak_xy is not None and not taped:
        leak = float(route.chainage_on_trace(leak_xy[None])[0])
    surfaces = np.array(ground.surfaces)[ground.stretch(heard.stop_m)]
    unknown = rng.random(2) < (conditions.material_unknown_share, conditions.depth_unknown_share)
    error = draw(rng, conditions.constants.depth_known_ratio_sd) * rng.standard_normal()
    return Field(
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
        gain_db=np.asarray(told_db)[heard.walk[rows]],
        band=np.tile(np.array(bands), heard.stop_m.size),
        surface=surfaces[rows],
        sensor=walked.sensor,
        true_chainage_m=heard.stop_m[rows],
        leak_chainage_m=leak,
        leak_xy=leak_xy,
        truth=truth,
        survey=survey,
    )


def _order(walk: NDArray[np.intp]) -> NDArray[np.intp]:
    """Count stops from 1 within each walk."""
    return np.arange(walk.size) - np.searchsorted(walk, walk) + 1


def _displayed(
    rng: np.random.Generator, conditions: Conditions, heard: _Heard
) -> tuple[Floats, str, tuple[float, float], Survey]:
    """Set the gain and read the display; tell the gain on the record, or don't."""
    c = conditions.constants
    unit = "scale" if rng.random() < conditions.scale_share else "db"
    start = float(rng.choice([10.0, 15.0, 20.0, 25.0]))
    change = float(np.rint(draw(rng, c.gain_change_db))) * float(rng.choice([-1.0, 1.0]))
    kind = float(rng.random())
    untold = kind < conditions.unknown_gain_share
    told = not untold and kind < conditions.unknown_gain_share + conditions.known_gain_share
    gain = (start, start + (change if untold or told else 0.0))
    offset = draw(rng, c.sensor_offset_sd_db) * float(rng.standard_normal())
    level = heard.level_db + offset + np.asarray(gain)[heard.walk][:, None]
    full = float(level.max()) + draw(rng, c.display_full_db)
    shown = display(level, unit, full)
    record = (np.nan, np.nan) if untold else gain
    return shown, unit, record, Survey(gain, offset, full, 0.0, 0.0, 1.0, heard.outlier)


@dataclass(frozen=True)
class _Places:
    """Positions on the record, a row a stop, and the true constants of their errors."""

    chainage_m: Floats
    claimed_sd_m: float
    xy: Floats
    claimed_fix_sd_m: float
    true_sd_m: float
    common_share: float
    common_readings: float


def _placed(
    rng: np.random.Generator, conditions: Conditions, route: Route, heard: _Heard, taped: bool
) -> _Places:
    """Tape the stops, or take satellite fixes of them."""
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
