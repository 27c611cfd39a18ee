"""Locate leaks in buried water lines, with probabilities, and list what holds each dig."""

# Written by `python -m tests.stubs` from the declared steps and parameters.

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Literal

import pandas as pd

from leakgeo.answer.warm_job import ask as ask
from leakgeo.deliver.add_stop import add_stop as add_stop
from leakgeo.deliver.folder.record import show_versions as show_versions
from leakgeo.deliver.folder.write import write_result as write_result
from leakgeo.deliver.postgis.write import write_postgis as write_postgis
from leakgeo.deliver.records.close import close_line as close_line
from leakgeo.deliver.round.plan import plan_round as plan_round
from leakgeo.errors import JobError as JobError
from leakgeo.errors import LeakgeoError as LeakgeoError
from leakgeo.errors import OutputError as OutputError
from leakgeo.errors import ParameterError as ParameterError
from leakgeo.faults import Fault as Fault
from leakgeo.job.mapping import draft_mapping as draft_mapping
from leakgeo.job.model import Job as Job
from leakgeo.job.results.read_back import read_result as read_result
from leakgeo.result import Result as Result
from leakgeo.runner.watch import watch as watch
from leakgeo.job.sources import JobSource
from leakgeo.progress import Listener

__version__: str
__all__: list[str]

def read_job(
    source: JobSource,
    *,
    lines: str | Sequence[str] | None = None,
    where: str | None = None,
    mapping: str | Path | None = None,
    route_sd_m: float = 0.3,
    reading_sd_m: float = 1.5,
    tape_sd_m: float = 0.05,
) -> Job:
    """Read and check a job.

    Parameters
    ----------
    source : str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A local GeoPackage, another vector file with several layers, a folder of files named after
        the layers, the URL of a PostgreSQL database (``postgresql://...``), or GeoDataFrames by
        layer name (DataFrames for tables without geometry). The source is only read; nothing is
        written to it or next to it.
    lines : str or sequence of str, optional
        Identifiers of the lines to read, all if None. Rows of other lines are kept, with
        the reason that they are not selected, so that readings without line_id can still be
        assigned to a line by position.
    where : str, optional
        SQL condition on the layer of routes, with its own column names, such as
        ``"district = 7"``. It selects lines as `lines` does, and only their window is read: the
        routes near them, and the rows around these, or of these. Faults of other rows are not
        reported. The network of pipes is read as a whole if the job has valves or isolation tests.
    mapping : str or pathlib.Path, optional
        TOML file that maps layers, columns, codes and units of the source to those of the data
        contract.
    **parameters
        Parameters of the checks: ``route_sd_m``, ``reading_sd_m`` and ``tape_sd_m``, the 1-sigma
        errors in metres of routes, readings and taped chainages that state none. Pass the same
        values to the steps.

    Returns
    -------
    Job
        Every layer in one local metre CRS, with every row, and the column ``reason``.

    Raises
    ------
    JobError
        If the job can't be run at all; it carries every fault found.
    ParameterError
        If `mapping` is not a path, a parameter is unknown or its value is not allowed, or the
        source refuses the condition or no line meets it.

    Examples
    --------
    >>> import leakgeo
    >>> job = leakgeo.read_job("examples/two_walks/job.gpkg")
    >>> len(job.routes), len(job.readings)
    (1, 39)
    >>> try:
    ...     leakgeo.read_job("nowhere.gpkg")
    ... except leakgeo.JobError as error:
    ...     print(error)
    nowhere.gpkg: There is no such file or folder. Check the path of the job.
    """

def run(
    source: JobSource,
    out: str | Path,
    *,
    lines: str | Sequence[str] = (),
    where: str | None = None,
    units: str | None = None,
    language: str = 'en',
    overwrite: bool = False,
    keep_earlier: bool = False,
    mapping: str | Path | None = None,
    to_postgis: str | None = None,
    schema: str = 'leakgeo',
    upsert: bool = False,
    chunk_lines: int = 1000,
    resume: bool = False,
    update: bool = False,
    relearn: bool = False,
    scheduler: str | None = None,
    metrics: str | Path | None = None,
    tell: Listener = ...,
    price_per_m3: float | None = None,
    currency: str = '',
    other_pressure_kpa: float | None = None,
    n1: float = 0.5,
    discharge: float = 0.63,
    inlets: str | Sequence[str] = '',
    boundary: str | Sequence[str] = '',
    use_l_per_min: float = 0.0,
    route_sd_m: float = 0.3,
    join_gap_m: float = 0.3,
    constants: str | Path | None = None,
    priors: str | Sequence[str] = 'all',
    ground: str | Path | None = None,
    reading_sd_m: float = 1.5,
    tape_sd_m: float = 0.05,
    trust_declarations: bool = False,
    workers: int | None = None,
    step_m: float = 0.5,
    leak_prior: float = 0.9,
    zone_probability: float = 0.9,
    calibration: str | Path | None = None,
    most_over_kpa: float = 68.95,
    rated_kpa: float | None = None,
    deep_m: float = 2.4384,
    how_many: int = 5,
    short_zone_m: float = 0.6,
    least_bits: float = 0.06,
    walk_m_per_bit: float = 200.0,
    coarse_step_m: float = 3.0,
    first_walks: Literal['supported', 'all'] = 'supported',
    costs: str | Path | None = None,
    without: str | Sequence[str] = '',
    rule: str = 'generic',
    working_width_m: float = 0.6,
    longest_hole_m: float = 4.0,
    dig_date: str | date | None = None,
    notice_days: int | None = None,
    validity_days: int | None = None,
    holidays: str | None = None,
    time_zone: str | None = None,
    isolated: str | Sequence[str] = (),
    results: str | Path | None = None,
    least_cases: int = 30,
    top: int | None = None,
    status: str | Sequence[str] = '',
    near: str | Sequence[str] = '',
    map_lines: int | None = None,
    orthophoto: str | Path | None = None,
    tiles: str | None = None,
    report_lines: int | None = None,
    format: str | Sequence[str] | None = None,
    density: bool = True,
    density_lines: int | None = None,
    density_pixel_m: float = 0.1,
) -> Result:
    """Run a job through every step, and write all results.

    Where a result is replaced, ``changes.csv`` and the record say what changed since: lines, marks,
    holds.

    Parameters
    ----------
    source : str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        The job, as for `leakgeo.read_job`.
    out : str or pathlib.Path
        Folder for the results; created if missing.
    lines : str or sequence of str
        Only this line or these lines; all if empty.
    where : str, optional
        SQL condition on the routes that selects lines instead; see `leakgeo.read_job`. The rest of
        the job is not read, and rows of other lines are not in the result. Ranks, and the loss
        expected where no meter measured one, are then of these lines alone; not with `update`.
    units : {"si", "us"}, optional
        Units in texts, maps and reports; "us" for a job in a foot CRS, else "si", if None.
    language : str
        Language of the messages, one of `leakgeo.wording.languages`.
    overwrite : bool
        Replace results that exist in the folder or the schema.
    keep_earlier : bool
        Keep the files of a result that is replaced, by `overwrite` or `update`, in
        ``superseded/TIME-RUN`` inside `out`, with a notice that it was superseded, by which run and
        when. Tables of a database are not kept.
    mapping : str or pathlib.Path, optional
        File that maps the source to the data contract; see `leakgeo.read_job`.
    to_postgis : str, optional
        URL of a PostGIS database to write the results to as well, in one transaction.
    schema : str
        Schema of that database.
    upsert : bool
        Replace the rows of the lines of this result there, and keep those of other lines; ranks,
        and the loss expected where no meter measured one, are then of all lines; see
        `leakgeo.write_postgis`.
    chunk_lines : int
        Lines of a chunk. A job of more lines is run in chunks, in several processes; the results
        are the same.
    resume : bool
        Resume a run in chunks that was stopped.
    update : bool
        Take over from the folder what an earlier update worked out of each line whose inputs have
        not changed, and work out the others. The result is that of a run of all lines with
        ``ground.toml`` of the folder, and replaces the one there: the law of noise stays the one
        learned first, until `relearn`, or until the digs change, more than a fifth of the lines is
        new, or the file is changed. ``result.kept`` tells what was worked out.
    relearn : bool
        Learn the law of noise again in an update, so that all lines are worked out.
    scheduler : str, optional
        Address of a Dask scheduler, such as ``tcp://10.0.0.5:8786``. Its workers run the chunks of
        a job of any size; they read the job themselves, from shared storage or a database.
    metrics : str or pathlib.Path, optional
        File to write for a monitoring system, in the text format of OpenMetrics, at the end of the
        run; also where the run fails.
    tell : callable
        Called with a `leakgeo.progress.Progress` when a step begins, and when a part of it is done.
    **given
        Parameters of the steps by name, such as ``leak_prior`` or ``dig_date``.

    Returns
    -------
    Result
        With the layers of every step.

    Raises
    ------
    JobError
        If the job can't be run at all.
    OutputError
        If the folder or the database can't be written, or holds results and `overwrite` is false.
    ParameterError
        If no step has a parameter of that name, or its value is not allowed.

    Examples
    --------
    It takes some seconds:

    >>> import leakgeo
    >>> result = leakgeo.run("examples/town/job.gpkg", "out", lines=["H-117"])  # doctest: +SKIP
    >>> result["lines"][["line_id", "status"]].to_string(index=False)  # doctest: +SKIP
    """

def meter(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    price_per_m3: float | None = None,
    currency: str = '',
    other_pressure_kpa: float | None = None,
    n1: float = 0.5,
    discharge: float = 0.63,
) -> Result:
    """Compute from meter tests how much water each line loses, its cost, and the hole size.

    Each row of meter_tests is a meter read before and after a time with every outlet
    closed. The tests of a line are combined; a change within the meter's own resolution is
    no loss. The pressure of the route, where it is given, yields the size of the equivalent
    hole.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job, or its layers by name. Missing layers that the
        step needs are made first, with default parameters.
    price_per_m3 : float, default None
        Price of a cubic metre of water. Allowed: from 0.
    currency : str, default ''
        Currency of the price.
    other_pressure_kpa : float [kPa], default None
        Second pressure to state the loss at, besides the line's own. Allowed: from 0.
    n1 : float, default 0.5
        Exponent of pressure: 0.5 for a hole of fixed size; 0.36 to 2.95 in field tests.
        Allowed: from 0.3 to 3.
    discharge : float, default 0.63
        Discharge coefficient of the equivalent hole. Allowed: from 0.3 to 1.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``meter_results`` (table without geometry; made): Combined result of the meter
          tests of each line: loss, error of the loss, cost, and size of the equivalent
          hole.
          Columns: line_id, verdict, tests, valid_tests, duration_h [h], loss_l_per_day
          [l/d], loss_sd_l_per_day [l/d], loss_low_l_per_day [l/d], loss_high_l_per_day
          [l/d], least_l_per_day [l/d], loss_l_per_year [l/a], cost_per_year, currency,
          pressure_kpa [kPa], hole_mm [mm], other_pressure_kpa [kPa],
          loss_at_other_l_per_day [l/d], n1, message, code, values.

    Raises
    ------
    ParameterError
        If a parameter is unknown or a value is not allowed.
    JobError
        If `source` is the path of a job that can't be run at all.

    Examples
    --------
    >>> import leakgeo
    >>> job = leakgeo.read_job("examples/town/job.gpkg", lines=["H-101"])
    >>> result = leakgeo.meter(job, price_per_m3=2.10, currency="USD")
    >>> result["meter_results"]["verdict"].tolist()
    ['loss_shown']
    """

def steptest(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    inlets: str | Sequence[str] = '',
    boundary: str | Sequence[str] = '',
    use_l_per_min: float = 0.0,
    route_sd_m: float = 0.3,
    join_gap_m: float = 0.3,
) -> Result:
    """Plan a step test: valves of a district to shut next, and which segment loses water.

    All water enters a district by night through measured inlets. Valves are shut, and the
    flow at the inlets is read before and after: isolation_tests with their closed_valves,
    with measure flow. Readings at several inlets with the same valves shut at the same time
    are summed. From the tests so far the step chooses the closure that is expected to tell
    the most, until one segment between valves holds the loss with 90 %; then walk its
    pipes. A valve may pass water when it is shut: the step allows for one. It assumes one
    loss in the district. If a valve can't be shut, set its leaks_by, and another is chosen.
    Where most parts are supplied from several sides, name valves that open loops in
    boundary too. Only the owner's people operate a valve. Without inlets both layers are
    empty.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job, or its layers by name. Missing layers that the
        step needs are made first, with default parameters.
    inlets : str or sequence of str, default ''
        Fittings or valves at which all water enters the district and is measured, by
        contact_id or valve_id, separated by commas.
    boundary : str or sequence of str, default ''
        Valves that stay closed around the district, or in it, by valve_id, separated by
        commas.
    use_l_per_min : float [l/min], default 0.0
        Flow into the district that is plain use at the hour of the tests. Allowed: from 0.
    route_sd_m : float [m], default 0.3
        Trace error of routes without one (1-sigma). Allowed: from 0.
    join_gap_m : float [m], default 0.3
        Largest gap between routes that meet, beyond twice their trace errors. Allowed: from
        0 to 3.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``district_segments`` (LineString; made): Stretches of pipe of each segment of a
          district, the part between its valves, and the probability that it loses water,
          after the step test so far. Without rows where no inlets were given.
          Columns: segment, line_id, from_chainage_m [m], to_chainage_m [m], length_m [m],
          probability, likely.

        - ``district_steps`` (table without geometry; made): The next closure of the step
          test of a district: valves to shut, and what to read; at the end, the segments
          that are left. Without rows where no inlets were given.
          Columns: order, valves, expected_gain_bits [bit], minutes [min], closures_made,
          message, code, values.

    Raises
    ------
    ParameterError
        If a parameter is unknown or a value is not allowed.
    JobError
        If `source` is the path of a job that can't be run at all.

    Examples
    --------
    >>> import leakgeo
    >>> job = leakgeo.read_job("examples/town/job.gpkg", lines=["A-201"])
    >>> result = leakgeo.steptest(job, inlets=["A-201/meter"])
    >>> result["district_steps"]["valves"].tolist()
    ['A-201/curb_stop']
    """

def survey(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    route_sd_m: float = 0.3,
    join_gap_m: float = 0.3,
    constants: str | Path | None = None,
    priors: str | Sequence[str] = 'all',
) -> Result:
    """Rank the fittings listened to, and bracket the leak between the loudest.

    Contacts are the fittings listened to in the first survey: hydrants, hose bibs, valves.
    Routes that meet are joined into a network first. If nothing indicates a leak, the
    result says so before it lists stretches.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job, or its layers by name. Missing layers that the
        step needs are made first, with default parameters.
    route_sd_m : float [m], default 0.3
        Trace error of routes without one (1-sigma). Allowed: from 0.
    join_gap_m : float [m], default 0.3
        Largest gap between routes that meet, beyond twice their trace errors. Allowed: from
        0 to 3.
    constants : str or pathlib.Path, default None
        TOML file with your own assumptions about materials, surfaces and noise.
    priors : str or sequence of str, default 'all'
        Records that make a place likelier before listening: all, none, or some of fittings,
        past_leaks, repairs, excavations and age, separated by commas.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``contact_ranking`` (Point; made): Fittings of the first survey, ranked by level
          on each connected part of the pipe network.
          Columns: contact_id, line_id, kind, network_part, rank, rank_on_line, level_db
          [dB], chainage_m [m], offset_m [m], used, reason, reason_code, reason_values.

        - ``survey_bracket`` (LineString or MultiLineString; made): Stretches of pipe to
          walk after the first survey: between the loudest fittings, beside the loudest one,
          and others where the levels allow a leak.
          Columns: line_id, network_part, area, rank, order, from_contact, to_contact,
          from_chainage_m [m], to_chainage_m [m], length_m [m], probability, on_path,
          message, code, values.

    Raises
    ------
    ParameterError
        If a parameter is unknown or a value is not allowed.
    JobError
        If `source` is the path of a job that can't be run at all.

    Examples
    --------
    >>> import leakgeo
    >>> job = leakgeo.read_job("examples/town/job.gpkg", lines=["H-101"])
    >>> result = leakgeo.survey(job, priors=["age", "fittings"])
    >>> result["contact_ranking"].query("used")["line_id"].unique().tolist()
    ['H-101']
    """

def ground(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    ground: str | Path | None = None,
    route_sd_m: float = 0.3,
    reading_sd_m: float = 1.5,
    tape_sd_m: float = 0.05,
    constants: str | Path | None = None,
    trust_declarations: bool = False,
    workers: int | None = None,
) -> Result:
    """Learn from all lines of the job how readings scatter, and how crews walk.

    Sensor and ground couple differently at each stop, and on rough ground more than on
    smooth. How much decides how narrow a zone may be. The step learns from up to 200 lines
    of the job how common each kind of ground is; with few lines the shipped figures count.
    Of walks by satellite it learns how the errors of the positions hang together, and how
    long the crews' steps are. A run writes what it learned to ground.toml, for the next job
    of the same crew.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job, or its layers by name. Missing layers that the
        step needs are made first, with default parameters.
    ground : str or pathlib.Path, default None
        File ground.toml of an earlier run, used instead of learning from this job.
    route_sd_m : float [m], default 0.3
        Trace error of routes without one (1-sigma). Allowed: from 0.
    reading_sd_m : float [m], default 1.5
        Satellite position error of readings without one (1-sigma). Allowed: from 0.001.
    tape_sd_m : float [m], default 0.05
        Error of taped distances without one (1-sigma). Allowed: from 0.001.
    constants : str or pathlib.Path, default None
        TOML file with your own assumptions about materials, surfaces and noise.
    trust_declarations : bool, default False
        Use readings as declared though their unit, CRS or tape looks wrong. If the
        declaration is wrong after all, such as db for a display from 0 to 100, a mark may
        come out that looks surer than it is, at a wrong place.
    workers : int, default None
        Lines, chunks of a large job, or pages of a long report, made at the same time; by
        default one for each processor. Allowed: from 1.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``noise_law`` (table without geometry; made): How common each kind of ground is
          among the lines of the job: how readings scatter on it.
          Columns: coupling_db [dB], coupling_length_m [m], reading_db [dB], weight, lines,
          floor_below_db [dB], floor_db [dB], trend_db [dB].

        - ``walk_law`` (table without geometry; made): How the errors of satellite fixes
          hang together, and how long the steps of crews are, among the visits of the job. A
          row is of one kind or the other.
          Columns: shared_share, memory_stops, by_walk, step_m [m], weight, visits, walks.

    Raises
    ------
    ParameterError
        If a parameter is unknown or a value is not allowed.
    JobError
        If `source` is the path of a job that can't be run at all.

    Examples
    --------
    >>> import leakgeo
    >>> job = leakgeo.read_job("examples/town/job.gpkg", lines=["H-101"])
    >>> result = leakgeo.ground(job)
    >>> bool(abs(result["noise_law"]["weight"].sum() - 1.0) < 1e-9)
    True
    """

def profile(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    route_sd_m: float = 0.3,
    reading_sd_m: float = 1.5,
    tape_sd_m: float = 0.05,
    constants: str | Path | None = None,
    step_m: float = 0.5,
    trust_declarations: bool = False,
) -> Result:
    """Place the readings on their pipes, make levels comparable, and interpolate them.

    Every reading is placed on its line by its line_id or its position; taped distance and
    satellite position are combined with weights from their errors. Levels are compared
    within one walk; known gains are subtracted. Each reading that is not used has its
    reason.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job, or its layers by name. Missing layers that the
        step needs are made first, with default parameters.
    route_sd_m : float [m], default 0.3
        Trace error of routes without one (1-sigma). Allowed: from 0.
    reading_sd_m : float [m], default 1.5
        Satellite position error of readings without one (1-sigma). Allowed: from 0.001.
    tape_sd_m : float [m], default 0.05
        Error of taped distances without one (1-sigma). Allowed: from 0.001.
    constants : str or pathlib.Path, default None
        TOML file with your own assumptions about materials, surfaces and noise.
    step_m : float [m], default 0.5
        Spacing of the interpolated profile. Allowed: from 0.05.
    trust_declarations : bool, default False
        Use readings as declared though their unit, CRS or tape looks wrong. If the
        declaration is wrong after all, such as db for a display from 0 to 100, a mark may
        come out that looks surer than it is, at a wrong place.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``readings_on_route`` (Point; made): Every reading of the job, placed on its
          route, with its level made comparable along the line.
          Columns: reading_id, line_id, walk_id, seq, time, band, air, surface, chainage_m
          [m], chainage_sd_m [m], offset_m [m], sweep_m [m], tap_open, tap_m [m],
          level_comparable_db [dB], used, reason, reason_code, reason_values, stop_id,
          sensor, sound_unit, level_db [dB], rounding_sd_db [dB], gain_known, walk,
          tape_weight.

        - ``profile`` (Point or LineString or MultiLineString; made): Level interpolated
          along each line, and the probability density of the leak. Points that straight
          lines between the others give are left out: level and its error within half of
          that error, the density within 2 % of its maximum on the line, the probability
          from the start of the line up to any point within 0.02, the place within 0.1 m.
          The ends of each line and the maxima of level and density are exact.
          Columns: line_id, chainage_m [m], level_comparable_db [dB], level_comparable_sd_db
          [dB], leak_density_per_m [1/m].

    Raises
    ------
    ParameterError
        If a parameter is unknown or a value is not allowed.
    JobError
        If `source` is the path of a job that can't be run at all.

    Examples
    --------
    >>> import leakgeo
    >>> job = leakgeo.read_job("examples/town/job.gpkg", lines=["H-101"])
    >>> result = leakgeo.profile(job, step_m=1.0)
    >>> result["profile"]["chainage_m"].head(3).round().tolist()
    [0.0, 1.0, 2.0]
    """

def locate(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    leak_prior: float = 0.9,
    zone_probability: float = 0.9,
    join_gap_m: float = 0.3,
    priors: str | Sequence[str] = 'all',
    calibration: str | Path | None = None,
    most_over_kpa: float = 68.95,
    workers: int | None = None,
) -> Result:
    """Compute where along each line the leak is: probabilities, search zones and a mark.

    For each line, every place is weighed by how well a leak there explains the readings,
    compared with no leak, with a fitting or another source that sounds, and with a leak
    beyond an end. Meter tests, air tests, sweeps across the line and holes count as
    evidence too. The result is a set of search zones that together hold the leak with the
    probability requested, and one mark with its error.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job, or its layers by name. Missing layers that the
        step needs are made first, with default parameters.
    leak_prior : float, default 0.9
        Probability, before listening, that a walked line has a leak. Allowed: from 0.01 to
        0.99.
    zone_probability : float, default 0.9
        Probability that the zones hold in total. Allowed: from 0.5 to 0.99.
    join_gap_m : float [m], default 0.3
        Largest gap between routes that meet, beyond twice their trace errors. Allowed: from
        0 to 3.
    priors : str or sequence of str, default 'all'
        Records that make a place likelier before listening: all, none, or some of fittings,
        past_leaks, repairs, excavations and age, separated by commas.
    calibration : str or pathlib.Path, default None
        File written by learn from excavation results; it changes zones and odds.
    most_over_kpa : float [kPa], default 68.95
        Reject readings with air at more than this above the line's own pressure. Allowed:
        from 0 to 103.45.
    workers : int, default None
        Lines, chunks of a large job, or pages of a long report, made at the same time; by
        default one for each processor. Allowed: from 1.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``search_zones`` (Polygon or MultiPolygon; made): Stretches of a line that
          together contain the leak with the chosen probability, given that there is one on
          the line, as areas on the ground.
          Columns: line_id, rank, probability, probability_leak_here,
          cumulative_probability, from_chainage_m [m], to_chainage_m [m], length_m [m],
          half_width_m [m].

        - ``marks`` (Point; made): Most likely place of the leak, one for each line on which
          a leak was heard or seen; on a line with several leaks seen in holes and not
          repaired, one for each of them. It clears no dig.
          Columns: line_id, rank, chainage_m [m], from_fitting, from_fitting_code,
          from_fitting_values, from_fitting_m [m], toward_fitting, toward_fitting_code,
          toward_fitting_values, along_sd_m [m], along_95_m [m], across_95_m [m],
          probability_within_1ft, limited_by, status, azimuth_deg [deg], message, code,
          values, evidence, evidence_code, evidence_values. Added by clearance: held_by,
          held_by_code, held_by_values, next_action, next_action_code, next_action_values.
          In files also run_id.

        - ``lines`` (table without geometry; made): One row for each line: its status, its
          priority, and the first hold on its dig.
          Columns: line_id, status, leak_probability, chainage_m [m], trace, loss_l_per_day
          [l/d], priority, conflicts, dig_status, message, code, values, evidence,
          evidence_code, evidence_values, read_with, prior, prior_code, prior_values,
          calibration_exponent. Added by clearance: probability_within_1ft,
          hole_probability, expected_loss_l_per_day [l/d], expected_loss_from,
          dig_water_l_per_day [l/d], dig_rank, hold_rank, held_by, held_by_code,
          held_by_values, next_action, next_action_code, next_action_values. Added by
          advise: advice, advice_code, advice_values. In files also run_id.

        - ``evidence`` (table without geometry; made): Evidence for and against a leak on
          each line, and its strength.
          Columns: line_id, kind, hypothesis, log10_bayes_factor, code, values, message.

        - ``explanations`` (table without geometry; made): What may be true of each line
          that was listened to, with its probability: a leak on the line, the other
          explanations of what was heard, and silence. The probabilities of a line sum to 1.
          Columns: line_id, kind, other_line_id, contact_id, chainage_m [m], probability.

        - ``profile`` (Point or LineString or MultiLineString; filled in further): Level
          interpolated along each line, and the probability density of the leak. Points that
          straight lines between the others give are left out: level and its error within
          half of that error, the density within 2 % of its maximum on the line, the
          probability from the start of the line up to any point within 0.02, the place
          within 0.1 m. The ends of each line and the maxima of level and density are exact.
          Columns: line_id, chainage_m [m], level_comparable_db [dB], level_comparable_sd_db
          [dB], leak_density_per_m [1/m].

    Raises
    ------
    ParameterError
        If a parameter is unknown or a value is not allowed.
    JobError
        If `source` is the path of a job that can't be run at all.

    Examples
    --------
    >>> import leakgeo
    >>> job = leakgeo.read_job("examples/town/job.gpkg", lines=["H-101"])
    >>> result = leakgeo.locate(job, leak_prior=0.5, priors=["age", "fittings"])
    >>> result["marks"].to_crs(job.output_crs)["status"].tolist()
    ['located']
    """

def improvements(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    rated_kpa: float | None = None,
    deep_m: float = 2.4384,
) -> Result:
    """List ways to improve on deep or quiet lines, with the error expected of each.

    For each line that is deep, or whose leak is not narrowed down, it computes how far a
    quieter hour, a probe, closer stops or a higher pressure could lower the smallest
    possible error (Cramér-Rao bound).

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job, or its layers by name. Missing layers that the
        step needs are made first, with default parameters.
    rated_kpa : float [kPa], default None
        Pressure rating of the lines; no advice goes beyond it. Allowed: from 0.
    deep_m : float [m], default 2.4384
        Cover above which a line counts as deep. Allowed: from 0.1.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``improvements`` (table without geometry; made): Ways to improve the result on
          each line that is deep, or whose leak is not narrowed down, with the gain that the
          model expects.
          Columns: line_id, order, improvement, why, why_code, why_values,
          expected_sd_before_m [m], expected_sd_after_m [m], message, code, values.

    Raises
    ------
    ParameterError
        If a parameter is unknown or a value is not allowed.
    JobError
        If `source` is the path of a job that can't be run at all.

    Examples
    --------
    >>> import leakgeo
    >>> job = leakgeo.read_job("examples/town/job.gpkg", lines=["H-101"])
    >>> result = leakgeo.improvements(leakgeo.locate(job), rated_kpa=700.0)
    >>> result["improvements"].columns[:3].tolist()
    ['line_id', 'order', 'improvement']
    """

def advise(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    how_many: int = 5,
    short_zone_m: float = 0.6,
    least_bits: float = 0.06,
    walk_m_per_bit: float = 200.0,
    coarse_step_m: float = 3.0,
    first_walks: Literal['supported', 'all'] = 'supported',
    costs: str | Path | None = None,
    without: str | Sequence[str] = '',
) -> Result:
    """Compare what can be done next on each line, with the gain expected, and when to stop.

    For each line whose leak is not yet narrowed down, it compares what can be done next:
    more stops, a sweep across, the meter with the house valve shut, a closed valve, air, a
    quiet hour, and others. Each has its expected information gain and its minutes; the best
    gain in an hour comes first. It says where to walk on, and when to stop and why. Minutes
    are assumed: give your own with --costs, and --without names what you have not with you.
    For lines without readings it proposes the first walk. The command also writes the map
    and the report.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job, or its layers by name. Missing layers that the
        step needs are made first, with default parameters.
    how_many : int, default 5
        Readings to propose for each line; a first walk is proposed in full. Allowed: from 1
        to 50.
    short_zone_m : float [m], default 0.6
        Total zone length that needs no more readings. Allowed: from 0.1.
    least_bits : float [bit], default 0.06
        Minimum expected information gain of the proposed readings, on the average; lower
        where a zone is nearly short enough. Allowed: from 0.001 to 1.
    walk_m_per_bit : float [m], default 200.0
        Walking distance that one bit of information is worth. Allowed: from 1.
    coarse_step_m : float [m], default 3.0
        Longest distance between stops of a first walk. Allowed: from 0.3.
    first_walks : {'supported', 'all'}, default 'supported'
        Lines without readings to propose a walk on: those where a fitting or a loss of
        water indicates a leak, or all.
    costs : str or pathlib.Path, default None
        TOML file with your own minutes of the actions that are compared.
    without : str or sequence of str, default ''
        Actions that the crew can't do, such as air or probe, separated by commas.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``next_readings`` (Point; made): Places where another reading is expected to give
          the most information, in order; on a line without readings, the stops of the first
          walk.
          Columns: line_id, order, chainage_m [m], expected_gain_bits [bit], expected_zone_m
          [m], reason, reason_code, reason_values, from_fitting, from_fitting_code,
          from_fitting_values, from_fitting_m [m], toward_fitting, toward_fitting_code,
          toward_fitting_values.

        - ``next_actions`` (table without geometry; made): What can be done next on each
          line, the best first: the information that the model expects of it, and the
          minutes that it is assumed to take. A line that needs nothing more has no row; the
          column advice of lines says why.
          Columns: line_id, order, action, chainage_m [m], contact_id, valve_id,
          expected_gain_bits [bit], minutes [min], gain_bits_per_hour [bit/h], then_action,
          basis, message, code, values.

        - ``lines`` (table without geometry; filled in further): One row for each line: its
          status, its priority, and the first hold on its dig.
          Columns added: advice, advice_code, advice_values.

    Raises
    ------
    ParameterError
        If a parameter is unknown or a value is not allowed.
    JobError
        If `source` is the path of a job that can't be run at all.

    Examples
    --------
    >>> import leakgeo
    >>> job = leakgeo.read_job("examples/town/job.gpkg", lines=["H-101"])
    >>> result = leakgeo.advise(leakgeo.locate(job), how_many=3, without="air")
    >>> len(result["next_readings"]) <= 3
    True
    >>> "air" in set(result["next_actions"]["action"])
    False
    """

def confirm(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    most_over_kpa: float = 68.95,
) -> Result:
    """Compare levels with compressed air on and off, to see if the sound is the leak.

    It needs readings at the same place with air both off and on (column air). Pairs near
    the mark are compared with pairs at control points of the same line.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job, or its layers by name. Missing layers that the
        step needs are made first, with default parameters.
    most_over_kpa : float [kPa], default 68.95
        Reject readings with air at more than this above the line's own pressure. Allowed:
        from 0 to 103.45.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``air_tests`` (Point; made): Places where paired readings were taken with
          compressed air off and on. The change of the level at each place is compared with
          that at control points of the same line.
          Columns: line_id, role, chainage_m [m], pairs, level_on_db [dB], level_off_db
          [dB], difference_db [dB], difference_sd_db [dB], control_chainage_m [m],
          control_difference_db [dB], odds, verdict, more_pairs, air_kpa [kPa], message,
          code, values, cautions, cautions_code, cautions_values.

    Raises
    ------
    ParameterError
        If a parameter is unknown or a value is not allowed.
    JobError
        If `source` is the path of a job that can't be run at all.

    Examples
    --------
    >>> import leakgeo
    >>> job = leakgeo.read_job("examples/town/job.gpkg", lines=["H-101"])
    >>> result = leakgeo.confirm(leakgeo.locate(job))
    >>> "verdict" in result["air_tests"]
    True
    """

def clearance(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    rule: str = 'generic',
    working_width_m: float = 0.6,
    longest_hole_m: float = 4.0,
    dig_date: str | date | None = None,
    notice_days: int | None = None,
    validity_days: int | None = None,
    holidays: str | None = None,
    time_zone: str | None = None,
    isolated: str | Sequence[str] = (),
) -> Result:
    """Draw the dig zone, and list the utilities and answers to clear before digging.

    The dig zone is the mark's error ellipse with working room around it. It is compared
    with utilities, their position errors and tolerance zones, and their tickets and
    answers. The step lists what must be cleared before digging; it never clears a dig:
    local law, the one-call centre and licensed people decide. The command also writes the
    map and the report, with a dig sheet for each mark.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job, or its layers by name. Missing layers that the
        step needs are made first, with default parameters.
    rule : str, default 'generic'
        Name of a tolerance rule, or FILE.toml#NAME for one of your own; local law governs.
    working_width_m : float [m], default 0.6
        Working room on each side of the mark's error ellipse. Allowed: from 0.1.
    longest_hole_m : float [m], default 4.0
        Longest hole; where the mark's error is longer, the dig is held. Allowed: from 1.
    dig_date : str or date, default None
        Local day when digging begins, such as 2026-03-31.
    notice_days : int, default None
        Full working days of notice before the dig that local law requires. Allowed: from 0.
    validity_days : int, default None
        Calendar days from the notice for which local law keeps a ticket valid. Allowed:
        from 1.
    holidays : str, default None
        Country and subdivision of the public holidays, such as US-MI.
    time_zone : str, default None
        Local time zone, such as America/Detroit; without it, the stricter date counts.
    isolated : str or sequence of str, default ()
        Somebody has seen that the line with this line_id is shut off and vented; other
        lines keep their holds for pressure and air.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``dig_zones`` (Polygon or MultiPolygon; made): Area that an excavation at the mark
          takes up; no geometry where the leak is not located, because a stretch to search
          is not a hole. It clears no dig.
          Columns: line_id, mark_rank, depth_m [m], depth_source, length_m [m], width_m [m],
          area_m2 [m2], conflicts, dig_status, holds, worst_hold, worst_hold_code,
          worst_hold_values, rule. In files also run_id.

        - ``holds`` (table without geometry; made): What must be cleared before digging, one
          row each. A dig without rows here is not cleared.
          Columns: line_id, mark_rank, order, utility_id, message, code, values. In files
          also run_id.

        - ``cautions`` (table without geometry; made): Points to observe at each dig,
          whether or not it has a hold; one row each.
          Columns: line_id, mark_rank, order, message, code, values. In files also run_id.

        - ``conflicts`` (Polygon or MultiPolygon; made): Other utilities in or near each dig
          zone, position error included; one row for each dig and facility.
          Columns: line_id, mark_rank, utility_id, kind, owner, clearance_m [m], severity,
          action, action_code, action_values, response, rule, rule_case, tolerance_m [m],
          error_95_m [m], in_caution_zone, depth_m [m], depth_gap_m [m], quality_level,
          private, notified, ticket, notified_time, response_time.

        - ``locate_requests`` (Polygon; made): White-line rectangles around the proposed
          excavations, to request marks from the one-call centre and private owners.
          Columns: line_id, mark_rank, depth_m [m], length_m [m], width_m [m], area_m2 [m2].

        - ``ties`` (LineString; made): Taped distances from fixed points to the marks, to
          set out a mark again after its paint has gone.
          Columns: line_id, mark_rank, order, fixed_point, fixed_point_code,
          fixed_point_values, fixed_kind, distance_m [m], bearing_deg [deg], crossing_deg
          [deg].

        - ``dig_alternatives`` (Polygon; made): Holes inside the 50 % zone that conflict
          with fewer utilities than the hole at the mark, or keep farther from them, with
          the loss of probability. An alternative removes no hold.
          Columns: line_id, mark_rank, chainage_m [m], moved_m [m], probability,
          probability_at_mark, probability_lost, inside_tolerance, inside_tolerance_at_mark,
          margin_m [m], margin_at_mark_m [m].

        - ``lines`` (table without geometry; filled in further): One row for each line: its
          status, its priority, and the first hold on its dig.
          Columns added: probability_within_1ft, hole_probability, expected_loss_l_per_day
          [l/d], expected_loss_from, dig_water_l_per_day [l/d], dig_rank, hold_rank,
          held_by, held_by_code, held_by_values, next_action, next_action_code,
          next_action_values.

        - ``marks`` (Point; filled in further): Most likely place of the leak, one for each
          line on which a leak was heard or seen; on a line with several leaks seen in holes
          and not repaired, one for each of them. It clears no dig.
          Columns added: held_by, held_by_code, held_by_values, next_action,
          next_action_code, next_action_values.

    Raises
    ------
    ParameterError
        If a parameter is unknown or a value is not allowed.
    JobError
        If `source` is the path of a job that can't be run at all.

    Examples
    --------
    >>> import leakgeo
    >>> job = leakgeo.read_job("examples/town/job.gpkg", lines=["H-101"])
    >>> result = leakgeo.clearance(leakgeo.locate(job), dig_date="2026-03-31", notice_days=3)
    >>> result["dig_zones"]["dig_status"].tolist()
    ['hold']
    """

def learn(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    results: str | Path | None = None,
    least_cases: int = 30,
    out: str | Path | None = None,
) -> Result:
    """Compare marks with excavation results: hit rates, reliability, and a calibration.

    dig_outcomes of the job record where excavations found the leak, or did not. They are
    compared with the marks of the result that was used for the digs. With enough
    excavations it writes calibration.toml, which locate reads as its calibration.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job, or its layers by name. Missing layers that the
        step needs are made first, with default parameters.
    results : str or pathlib.Path, default None
        The result.gpkg used for the digs, or its folder; else the job is located now.
    least_cases : int, default 30
        Fewest excavations that count for a calibration. Allowed: from 10.
    out : str or pathlib.Path, default None
        Folder to write into; created if needed.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``learned`` (table without geometry; made): Share of leaks found near the mark,
          over all digs and by group, with Wilson's 95 % intervals.
          Columns: group, value, cases, stated_1ft, hits_1ft, rate_1ft, low_1ft, high_1ft,
          hits_1m, rate_1m, low_1m, high_1m, exponent, exponent_sd, message, code, values.

        - ``learned_odds`` (table without geometry; made): Stated probabilities within one
          foot, by class, compared with the share of leaks found there.
          Columns: from_probability, to_probability, cases, stated, achieved, low, high,
          message, code, values.

        - ``learned_cases`` (Point; made): Every excavation, compared with the mark of its
          line.
          Columns: line_id, found, counted, reason, reason_code, reason_values, error_m [m],
          within_1ft, within_1m, probability_within_1ft, leak_probability, mark_chainage_m
          [m], hole_chainage_m [m], status, material, surface, crew.

    Raises
    ------
    ParameterError
        If a parameter is unknown or a value is not allowed.
    JobError
        If `source` is the path of a job that can't be run at all.
    OutputError
        If a file can't be written, or the layers do not belong together.

    Examples
    --------
    >>> import leakgeo
    >>> job = leakgeo.read_job("examples/town/job.gpkg", lines=["H-101"])
    >>> result = leakgeo.learn(job, results="out")
    >>> result["learned_cases"]["line_id"].tolist()  # the lines that were dug
    ['A-206', 'A-207', 'A-208']
    """

def map(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    out: str | Path | None = None,
    units: Literal['si', 'us'] | None = None,
    language: Literal['en', 'es', 'es-419'] = 'en',
    lines: str | Sequence[str] = (),
    top: int | None = None,
    status: str | Sequence[str] = '',
    near: str | Sequence[str] = '',
    map_lines: int | None = None,
    orthophoto: str | Path | None = None,
    tiles: str | None = None,
) -> Result:
    """Write one HTML map that opens without a network.

    The file holds everything: it opens in a truck and on a phone. It shows marks with their
    errors, zones, readings, next stops, utilities and what must be cleared before digging;
    a click on a line shows its levels. map.html#line=ID opens at a line.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job, or its layers by name. Missing layers that the
        step needs are made first, with default parameters.
    out : str or pathlib.Path, default None
        Folder to write into; created if needed.
    units : {'si', 'us'}, default None
        Units of texts; by default us for a job in a foot CRS, or in degrees with tapes in
        feet, else si. Numbers in layers stay in SI.
    language : {'en', 'es', 'es-419'}, default 'en'
        Language of what people read, with its numbers and dates; codes, values and names do
        not depend on it.
    lines : str or sequence of str, default ()
        Only the line with this line_id.
    top : int, default None
        Show only so many lines, the first in the order of the digs: those without a
        recorded hold, then held ones, then other lines. Allowed: from 1.
    status : str or sequence of str, default ''
        Show only lines of these statuses, separated by commas: of the line, such as
        located, or of its dig, hold or no_hold_recorded.
    near : str or sequence of str, default ''
        Only lines near a place: X Y, or X Y RADIUS, such as 500100 4684000 300ft; 100 m
        without a radius. X and Y are in the CRS of the routes, or longitude and latitude.
    map_lines : int, default None
        Most lines on the map, the most urgent; by default all. Allowed: from 1.
    orthophoto : str or pathlib.Path, default None
        Aerial photo to show under the map, such as a GeoTIFF; it is stored in the file.
    tiles : str, default None
        Address of background tiles, such as https://HOST/{z}/{x}/{y}.png; an open map then
        connects to that host, and to no other.

    Returns
    -------
    Result
        With map.html written into `out`.

    Raises
    ------
    ParameterError
        If a parameter is unknown or a value is not allowed.
    JobError
        If `source` is the path of a job that can't be run at all.
    OutputError
        If a file can't be written, or the layers do not belong together.

    Examples
    --------
    >>> import leakgeo
    >>> result = leakgeo.read_result("out")
    >>> _ = leakgeo.map(result, out="sheets", map_lines=10)
    """

def report(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    out: str | Path | None = None,
    units: Literal['si', 'us'] | None = None,
    language: Literal['en', 'es', 'es-419'] = 'en',
    lines: str | Sequence[str] = (),
    top: int | None = None,
    status: str | Sequence[str] = '',
    near: str | Sequence[str] = '',
    report_lines: int | None = None,
    workers: int | None = None,
) -> Result:
    """Write the PDF report: an overview, then a page for each line.

    For each line: a plan, the levels, the probabilities in words, and a sheet to take to
    the dig with hazards, ties to set the mark out again, and boxes to sign. Paper is A4, or
    letter if units are us.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job, or its layers by name. Missing layers that the
        step needs are made first, with default parameters.
    out : str or pathlib.Path, default None
        Folder to write into; created if needed.
    units : {'si', 'us'}, default None
        Units of texts; by default us for a job in a foot CRS, or in degrees with tapes in
        feet, else si. Numbers in layers stay in SI.
    language : {'en', 'es', 'es-419'}, default 'en'
        Language of what people read, with its numbers and dates; codes, values and names do
        not depend on it.
    lines : str or sequence of str, default ()
        Only the line with this line_id.
    top : int, default None
        Show only so many lines, the first in the order of the digs: those without a
        recorded hold, then held ones, then other lines. Allowed: from 1.
    status : str or sequence of str, default ''
        Show only lines of these statuses, separated by commas: of the line, such as
        located, or of its dig, hold or no_hold_recorded.
    near : str or sequence of str, default ''
        Only lines near a place: X Y, or X Y RADIUS, such as 500100 4684000 300ft; 100 m
        without a radius. X and Y are in the CRS of the routes, or longitude and latitude.
    report_lines : int, default None
        Most lines with a page, the most urgent; by default all. Allowed: from 1.
    workers : int, default None
        Lines, chunks of a large job, or pages of a long report, made at the same time; by
        default one for each processor. Allowed: from 1.

    Returns
    -------
    Result
        With report.pdf written into `out`.

    Raises
    ------
    ParameterError
        If a parameter is unknown or a value is not allowed.
    JobError
        If `source` is the path of a job that can't be run at all.
    OutputError
        If a file can't be written, or the layers do not belong together.

    Examples
    --------
    >>> import leakgeo
    >>> result = leakgeo.read_result("out")
    >>> _ = leakgeo.report(result, out="sheets", units="us", report_lines=2)
    """

def export(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    out: str | Path | None = None,
    units: Literal['si', 'us'] | None = None,
    language: Literal['en', 'es', 'es-419'] = 'en',
    lines: str | Sequence[str] = (),
    top: int | None = None,
    status: str | Sequence[str] = '',
    near: str | Sequence[str] = '',
    format: str | Sequence[str] | None = None,
    density: bool = True,
    density_lines: int | None = None,
    density_pixel_m: float = 0.1,
) -> Result:
    """Write styles, a raster of the leak density, and the layers in other formats.

    It takes a job, or the result of an earlier run. QML and SLD styles go to styles/, the
    leak density to a cloud-optimised GeoTIFF. The faults list what each other format loses.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job, or its layers by name. Missing layers that the
        step needs are made first, with default parameters.
    out : str or pathlib.Path, default None
        Folder to write into; created if needed.
    units : {'si', 'us'}, default None
        Units of texts; by default us for a job in a foot CRS, or in degrees with tapes in
        feet, else si. Numbers in layers stay in SI.
    language : {'en', 'es', 'es-419'}, default 'en'
        Language of what people read, with its numbers and dates; codes, values and names do
        not depend on it.
    lines : str or sequence of str, default ()
        Only the line with this line_id.
    top : int, default None
        Show only so many lines, the first in the order of the digs: those without a
        recorded hold, then held ones, then other lines. Allowed: from 1.
    status : str or sequence of str, default ''
        Show only lines of these statuses, separated by commas: of the line, such as
        located, or of its dig, hold or no_hold_recorded.
    near : str or sequence of str, default ''
        Only lines near a place: X Y, or X Y RADIUS, such as 500100 4684000 300ft; 100 m
        without a radius. X and Y are in the CRS of the routes, or longitude and latitude.
    format : str or sequence of str, default None
        Other formats to write, separated by commas: dxf, flatgeobuf, geojson, geoparquet,
        kml, shapefile, xlsx, or all.
    density : bool, default True
        Write leak_density.tif.
    density_lines : int, default None
        Most lines on it, the most urgent; by default all. Allowed: from 1.
    density_pixel_m : float [m], default 0.1
        Pixel size. Allowed: from 0.02 to 5.

    Returns
    -------
    Result
        With styles, leak_density.tif, exported written into `out`.

    Raises
    ------
    ParameterError
        If a parameter is unknown or a value is not allowed.
    JobError
        If `source` is the path of a job that can't be run at all.
    OutputError
        If a file can't be written, or the layers do not belong together.

    Examples
    --------
    >>> import leakgeo
    >>> result = leakgeo.read_result("out")
    >>> _ = leakgeo.export(result, out="sheets", format=["geojson", "kml"], density=False)
    """
