"""The `ground` step: laws of noise and walks of a job, learned before any line is located."""

from __future__ import annotations

import hashlib
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from leakgeo.arrays import texts
from leakgeo.find.ground.file import noise_law_from, walk_law_from
from leakgeo.find.ground.floor import FloorFit, floor_fit, learned_floor
from leakgeo.find.ground.mixing import mixing_weights
from leakgeo.find.ground.walks import learned_walk_law
from leakgeo.find.levels.readings import readings_by_line, visits_of
from leakgeo.find.levels.step import readings_on_route
from leakgeo.find.posterior.noise import node_evidence, noise_given
from leakgeo.find.posterior.posterior import first_fit
from leakgeo.find.posterior.problem import build_problem
from leakgeo.job.model import without_fault
from leakgeo.job.placed import TAPED
from leakgeo.route.lines import kept_lines_of, lines_of
from leakgeo.route.place import place_on_routes
from leakgeo.sound.constants import load_constants

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from leakgeo.arrays import Floats
    from leakgeo.find.levels.readings import Readings
    from leakgeo.job.model import Job
    from leakgeo.result import Result
    from leakgeo.route.lines import Lines
    from leakgeo.sound.constants import Constants
    from leakgeo.sound.noise_law import NoiseLaw
    from leakgeo.sound.walk_law import WalkLaw

# More lines than this teach no more.
MOST_LINES = 200
#: A line with fewer readings says nothing of their noise.
LEAST_READINGS = 8


def ground(
    result: Result, *, ground: Path | None, route_sd_m: float, reading_sd_m: float,
    tape_sd_m: float, constants: Path | None, trust_declarations: bool, workers: int | None,
) -> Result:  # fmt: skip
    """Learn from a job how readings scatter on its ground, and how its crews walk by satellite.

    All lines of the job are used, selected or not, or `MOST_LINES` of them, chosen by a hash of
    their ``line_id``. So the law is the same for one line of a job and for all. Lines that a tape
    alone describes teach only where no line of the job is drawn.

    Parameters
    ----------
    result : Result
        Only its job is used.
    ground : pathlib.Path or None
        File written by an earlier run, ``ground.toml``; its law is used, and nothing is learned.
    route_sd_m, reading_sd_m, tape_sd_m : float
        Standard deviations where the data give none.
    constants : pathlib.Path or None
        TOML file that overrides the shipped constants of sound.
    trust_declarations : bool
        Whether readings are used though their unit, CRS or tape is probably mis-declared.
    workers : int or None
        Number of lines computed in parallel; the number of processors if None.

    Returns
    -------
    Result
        With ``noise_law`` and ``walk_law``.

    Raises
    ------
    ParameterError
        If a file can't be read, or has no law.
    """
    assumed = load_constants(constants)
    if ground is not None:
        return _with_laws(result, noise_law_from(ground), walk_law_from(ground, assumed.walk_law))
    sample = _sampled(result.job, route_sd_m, reading_sd_m, tape_sd_m)
    if sample.routes.empty:
        return _with_laws(result, assumed.noise_law, assumed.walk_law)
    lines = lines_of(sample, route_sd_m)
    readings, _ = readings_on_route(
        sample, lines, reading_sd_m, tape_sd_m, trust_declarations=trust_declarations
    )
    walks = learned_walk_law(list(visits_of(readings, lines)), assumed.walk_law)
    assumed = replace(assumed, walk_law=walks)
    heard = readings_by_line(readings, lines, assumed)
    law = learned_law(((lines, k, own) for k, own in heard), assumed, workers)
    return _with_laws(result, law, walks)


def _with_laws(result: Result, noise: NoiseLaw, walks: WalkLaw) -> Result:
    return result.adding({"noise_law": noise.table(), "walk_law": walks.table()}, [])


def learned_law(
    heard: Iterable[tuple[Lines, int, Readings]], constants: Constants, workers: int | None = None
) -> NoiseLaw:
    """Return the law of the noise of some lines.

    Parameters
    ----------
    heard : iterable of (Lines, int, Readings)
        Each line, by its index among the lines, with its readings.
    constants : Constants
        Its law counts as `mixing.PRIOR_LINES` lines.
    workers : int or None
        Number of threads.

    Returns
    -------
    NoiseLaw
    """
    law = constants.noise_law
    with ThreadPoolExecutor(workers or os.cpu_count()) as pool:
        rows = list(pool.map(lambda one: line_evidence(one, constants), heard))
    learned = [row for row in rows if row is not None]
    if not learned:
        return law
    weight = mixing_weights(np.array([evidence for evidence, _ in learned]), law.weight)
    floor = learned_floor([fit for _, fit in learned], constants)
    return replace(law, weight=weight, lines=len(learned)).with_floor(floor)


def line_evidence(
    heard: tuple[Lines, int, Readings], constants: Constants
) -> tuple[Floats, FloorFit] | None:
    """Return what one line teaches; None if nothing.

    Parameters
    ----------
    heard : (Lines, int, Readings)
        A line, by its index among the lines, and its readings.
    constants : Constants

    Returns
    -------
    evidence : ndarray of float, shape (m,)
        Log evidence of the readings at each node.
    floor : FloorFit
    """
    lines, line, readings = heard
    if len(readings.level_db) < LEAST_READINGS:
        return None
    material = constants.materials[lines.material[line]]
    problem = build_problem(readings, material, float(lines.depth_m[line]), constants)
    law = constants.noise_law
    try:
        first = first_fit(problem, float(lines.length_m[line]))
        found = node_evidence(first.problem, first.place_m, first.start, law)
        noise = noise_given(found, first.problem, law)
        floor = floor_fit(first._replace(problem=replace(first.problem, noise=noise.centre)))
    # The step `locate` reports a line that can't be computed.
    except (ArithmeticError, ValueError):
        return None
    return (found, floor) if np.isfinite([*found, *floor]).all() else None


def _sampled(job: Job, route_sd_m: float, reading_sd_m: float, tape_sd_m: float) -> Job:
    """Return a job of the sampled lines and their readings, all of them selected."""
    lines = kept_lines_of(job, route_sd_m)
    readings = job.readings[without_fault(job.readings["reason"])]
    of_line = texts(readings, "line_id")
    free = pd.isna(of_line)
    if free.any():
        placed = place_on_routes(
            readings[free].reset_index(drop=True), lines,
            reading_sd_m=reading_sd_m, tape_sd_m=tape_sd_m,
        )  # fmt: skip
        of_line[free] = texts(placed, "line_id")
    count = pd.Series(of_line).value_counts()
    known = _teaching(lines)
    names = sorted(set(count.index[count >= LEAST_READINGS]) & set(known), key=teaching_order)
    taken = names[:MOST_LINES]
    own = np.isin(of_line.astype(str), taken)
    routes = (
        job.routes[without_fault(job.routes["reason"])]
        .drop_duplicates("line_id")
        .set_index("line_id")
    )
    routes = routes.loc[taken].reset_index().assign(reason=None)
    readings = readings.assign(line_id=of_line)[own].assign(reason=None).reset_index(drop=True)
    return replace(job, routes=routes, readings=readings, contacts=None)


def _teaching(lines: Lines) -> pd.Index:
    """Return the lines that teach: those on the ground, if there are any.

    So a taped list beside drawn lines changes nothing of theirs.
    """
    on_the_ground = texts(lines.table, "trace") != TAPED
    return lines.table.index[on_the_ground] if on_the_ground.any() else lines.table.index


def teaching_order(line_id: str) -> bytes:
    """Return the key by which lines are chosen to learn from, whatever job they are in."""
    return hashlib.blake2b(line_id.encode(), digest_size=8).digest()
