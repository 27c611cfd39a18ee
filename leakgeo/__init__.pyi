"""Put leak listening on the pipe: where the leak is, with what odds, and what holds the dig."""

# Written by `python -m tests.stubs` from the declared steps and parameters.

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Literal

import pandas as pd

from leakgeo.deliver.postgis.write import write_postgis as write_postgis
from leakgeo.deliver.record import show_versions as show_versions
from leakgeo.deliver.write import write_result as write_result
from leakgeo.errors import JobError as JobError
from leakgeo.errors import LeakgeoError as LeakgeoError
from leakgeo.errors import OutputError as OutputError
from leakgeo.errors import ParameterError as ParameterError
from leakgeo.faults import Fault as Fault
from leakgeo.job.mapping import draft_mapping as draft_mapping
from leakgeo.job.model import Job as Job
from leakgeo.job.results.read_back import read_result as read_result
from leakgeo.result import Result as Result
from leakgeo.job.sources import JobSource
from leakgeo.progress import Listener

__version__: str
__all__: list[str]

def read_job(
    source: JobSource,
    *,
    lines: str | Sequence[str] | None = None,
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
        `leakgeo.job.model.NOT_SELECTED` as reason, so that readings without line_id can still be
        assigned to a line by position.
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
        If `mapping` is not a path, or a parameter is unknown or its value is not allowed.

    Examples
    --------
    >>> from leakgeo.errors import JobError
    >>> try:
    ...     read_job("nowhere.gpkg")
    ... except JobError as error:
    ...     print(error)
    nowhere.gpkg: There is no such file or folder. Check the path of the job.
    """

def run(
    source: JobSource,
    out: str | Path,
    *,
    lines: str | Sequence[str] = (),
    units: str = 'si',
    language: str = 'en',
    overwrite: bool = False,
    mapping: str | Path | None = None,
    to_postgis: str | None = None,
    schema: str = 'leakgeo',
    chunk_lines: int = 1000,
    resume: bool = False,
    scheduler: str | None = None,
    tell: Listener = ...,
    price_per_m3: float | None = None,
    currency: str = '',
    other_pressure_kpa: float | None = None,
    n1: float = 0.5,
    discharge: float = 0.63,
    route_sd_m: float = 0.3,
    join_gap_m: float = 0.3,
    constants: str | Path | None = None,
    priors: str | Sequence[str] = 'all',
    reading_sd_m: float = 1.5,
    tape_sd_m: float = 0.05,
    step_m: float = 0.5,
    leak_prior: float = 0.9,
    zone_probability: float = 0.9,
    calibration: str | Path | None = None,
    most_over_kpa: float = 68.95,
    workers: int | None = None,
    rated_kpa: float | None = None,
    deep_m: float = 2.4384,
    how_many: int = 5,
    short_zone_m: float = 0.6,
    least_bits: float = 0.016,
    walk_m_per_bit: float = 200.0,
    coarse_step_m: float = 4.0,
    first_walks: Literal['supported', 'all'] = 'supported',
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

    Parameters
    ----------
    source : str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        The job, as for `leakgeo.read_job`.
    out : str or pathlib.Path
        Folder for the results; created if missing.
    lines : str or sequence of str
        Only this line or these lines; all if empty.
    units : {"si", "us"}
        Units in texts, maps and reports.
    language : str
        Language of the messages, one of `leakgeo.wording.languages`.
    overwrite : bool
        Replace results that exist in the folder or the schema.
    mapping : str or pathlib.Path, optional
        File that maps the source to the data contract; see `leakgeo.read_job`.
    to_postgis : str, optional
        URL of a PostGIS database to write the results to as well, in one transaction.
    schema : str
        Schema of that database.
    chunk_lines : int
        Lines of a chunk. A job of more lines is run in chunks, in several processes; the results
        are the same.
    resume : bool
        Resume a run in chunks that was stopped.
    scheduler : str, optional
        Address of a Dask scheduler, such as ``tcp://10.0.0.5:8786``. Its workers run the chunks of
        a job of any size; they read the job themselves, from shared storage or a database.
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
    """Tell from meter tests what each line loses, what it costs, and through what hole.

    Each row of meter_tests is a meter read before and after a time with every outlet
    closed. The tests of a line are weighed together; a change that the meter's own
    resolution could make is no loss. The pressure of the route, if it is there, gives the
    size of the hole.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job or its layers by name. Layers that are needed and
        missing are made first, with defaults.
    price_per_m3 : float, default None
        Price of a cubic metre of water. Allowed: from 0.
    currency : str, default ''
        Name of the money that the price is in.
    other_pressure_kpa : float [kPa], default None
        Pressure to tell the loss at, besides the line's own. Allowed: from 0.
    n1 : float, default 0.5
        Exponent of pressure: 0.5 for a hole of fixed size; 0.36 to 2.95 in the field.
        Allowed: from 0.3 to 3.
    discharge : float, default 0.63
        Coefficient of discharge of the equivalent hole. Allowed: from 0.3 to 1.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``meter_results`` (table without geometry; made): What the meter tests of each
          line tell together: loss, its error, its cost, the hole it comes through.
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

    Contacts are fittings that were listened to in the first survey: hydrants, hose bibs,
    valves. Routes that meet are joined into a network first. Where nothing speaks for a
    leak, that is said before any stretch is.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job or its layers by name. Layers that are needed and
        missing are made first, with defaults.
    route_sd_m : float [m], default 0.3
        Trace error of routes that give none (1-sigma). Allowed: from 0.
    join_gap_m : float [m], default 0.3
        How far apart routes may be drawn and still meet, beyond twice their trace errors.
        Allowed: from 0 to 3.
    constants : str or pathlib.Path, default None
        TOML file with your own assumptions of materials, surfaces and noise.
    priors : str or sequence of str, default 'all'
        What makes a place likelier before listening: all, none, or some of fittings,
        past_leaks, repairs, excavations, age, with commas between.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``contact_ranking`` (Point; made): Fittings of the first survey, loudest first on
          each connected part of the pipe network.
          Columns: contact_id, line_id, kind, network_part, rank, rank_on_line, level_db
          [dB], chainage_m [m], offset_m [m], used, reason, reason_code, reason_values.

        - ``survey_bracket`` (LineString or MultiLineString; made): Stretches of pipe where
          to walk: between the loudest fittings, beside the loudest, and others that the
          levels leave open.
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

def profile(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    route_sd_m: float = 0.3,
    reading_sd_m: float = 1.5,
    tape_sd_m: float = 0.05,
    constants: str | Path | None = None,
    step_m: float = 0.5,
) -> Result:
    """Put the readings on their pipe, make their levels comparable, interpolate between.

    Every reading is put on its line by its line_id or its position, tape and satellite
    fused by their errors. Levels compare within one walk; gains that are known are taken
    out. No reading is dropped without saying why.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job or its layers by name. Layers that are needed and
        missing are made first, with defaults.
    route_sd_m : float [m], default 0.3
        Trace error of routes that give none (1-sigma). Allowed: from 0.
    reading_sd_m : float [m], default 1.5
        Satellite position error of readings that give none (1-sigma). Allowed: from 0.001.
    tape_sd_m : float [m], default 0.05
        Error of taped chainages that give none (1-sigma). Allowed: from 0.001.
    constants : str or pathlib.Path, default None
        TOML file with your own assumptions of materials, surfaces and noise.
    step_m : float [m], default 0.5
        Spacing of the interpolated profile. Allowed: from 0.05.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``readings_on_route`` (Point; made): Every input reading, put on its route, its
          level made comparable.
          Columns: reading_id, line_id, walk_id, seq, band, air, surface, chainage_m [m],
          chainage_sd_m [m], offset_m [m], level_comparable_db [dB], used, reason,
          reason_code, reason_values, stop_id, sensor, sound_unit, level_db [dB],
          rounding_sd_db [dB], gain_known, walk, tape_weight.

        - ``profile`` (Point or LineString or MultiLineString; made): Level interpolated
          along each line, and where the leak is likely.
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
    """Work out where along each line the leak is, with odds, zones to search and a mark.

    For each line, places of a leak are weighed by how well they explain the readings,
    against silence and against another steady source. What comes of it are odds: stretches
    that hold the leak together with the probability asked for, and one mark with its error.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job or its layers by name. Layers that are needed and
        missing are made first, with defaults.
    leak_prior : float, default 0.9
        Probability, before listening, that a line walked has a leak. Allowed: from 0.01 to
        0.99.
    zone_probability : float, default 0.9
        Probability that the zones hold together. Allowed: from 0.5 to 0.99.
    join_gap_m : float [m], default 0.3
        How far apart routes may be drawn and still meet, beyond twice their trace errors.
        Allowed: from 0 to 3.
    priors : str or sequence of str, default 'all'
        What makes a place likelier before listening: all, none, or some of fittings,
        past_leaks, repairs, excavations, age, with commas between.
    calibration : str or pathlib.Path, default None
        File that learn wrote from digs: it widens or narrows zones and odds.
    most_over_kpa : float [kPa], default 68.95
        Refuse readings with air at more than this above the line's own pressure. Allowed:
        from 0 to 103.45.
    workers : int, default None
        Lines, or chunks of a large job, worked out at once; as many as there are
        processors, if not given. Allowed: from 1.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``search_zones`` (Polygon or MultiPolygon; made): Stretches of line that together
          hold the leak with the stated share, given that there is one on the line, as areas
          on the ground.
          Columns: line_id, rank, probability, probability_leak_here,
          cumulative_probability, from_chainage_m [m], to_chainage_m [m], length_m [m],
          half_width_m [m].

        - ``marks`` (Point; made): Best estimate of the leak's place, one for each line on
          which a leak was heard. It is not a statement that digging there is safe.
          Columns: line_id, chainage_m [m], from_fitting, from_fitting_m [m],
          toward_fitting, along_sd_m [m], along_95_m [m], across_95_m [m],
          probability_within_1ft, limited_by, status, azimuth_deg [deg], run_id.

        - ``lines`` (table without geometry; made): One row for each line: what was found,
          and what still holds the dig.
          Columns: line_id, status, leak_probability, chainage_m [m], loss_l_per_day [l/d],
          priority, dig_rank, conflicts, dig_status, message, code, values, advice,
          advice_code, advice_values, prior, calibration_exponent, run_id.

        - ``evidence`` (table without geometry; made): What is evidence for or against a
          leak on each line, and how strong it is.
          Columns: line_id, kind, hypothesis, log10_bayes_factor, code, values, message.

        - ``profile`` (Point or LineString or MultiLineString; filled in further): Level
          interpolated along each line, and where the leak is likely.
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

def levers(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    rated_kpa: float | None = None,
    deep_m: float = 2.4384,
) -> Result:
    """Say what would help on deep or quiet lines, and by how much.

    For each line that is deep, or whose leak is not narrowed down, it works out what a
    change of pressure, sensor, band or surface could gain, by the least error there can be.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job or its layers by name. Layers that are needed and
        missing are made first, with defaults.
    rated_kpa : float [kPa], default None
        Pressure that the lines are rated for; none is told to be raised beyond it. Allowed:
        from 0.
    deep_m : float [m], default 2.4384
        Cover beyond which a line counts as deep. Allowed: from 0.1.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``levers`` (table without geometry; made): What would help on each line that is
          deep, or whose leak is not narrowed down, and by how much the model expects it to.
          Columns: line_id, order, lever, why, why_code, why_values, expected_sd_before_m
          [m], expected_sd_after_m [m], message, code, values.

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
    >>> result = leakgeo.levers(leakgeo.locate(job), rated_kpa=700.0)
    >>> result["levers"].columns[:3].tolist()
    ['line_id', 'order', 'lever']
    """

def advise(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    how_many: int = 5,
    short_zone_m: float = 0.6,
    least_bits: float = 0.016,
    walk_m_per_bit: float = 200.0,
    coarse_step_m: float = 4.0,
    first_walks: Literal['supported', 'all'] = 'supported',
) -> Result:
    """Say where to listen next, what each reading is expected to tell, and when to stop.

    For each line whose zone is still long, it proposes the stops that are expected to tell
    the most, in order, and says when another reading would not help. On lines without a
    reading it proposes the first walk.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job or its layers by name. Layers that are needed and
        missing are made first, with defaults.
    how_many : int, default 5
        Readings to propose for each line; a first walk is proposed whole. Allowed: from 1
        to 50.
    short_zone_m : float [m], default 0.6
        Zones that are together no longer than this need no more readings. Allowed: from
        0.1.
    least_bits : float [bit], default 0.016
        A reading that is expected to tell less about the place isn't proposed; less will do
        where a zone is nearly short enough. Allowed: from 0.001 to 1.
    walk_m_per_bit : float [m], default 200.0
        Metres of walking that one bit is worth. Allowed: from 1.
    coarse_step_m : float [m], default 4.0
        Longest step of the first walk along a line. Allowed: from 0.3.
    first_walks : {'supported', 'all'}, default 'supported'
        Lines without a reading to propose a walk on: those that a fitting or a loss of
        water speaks for, or all.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``next_readings`` (Point; made): Places where another reading would tell the most,
          in order; on a line that nobody has listened to, the first walk.
          Columns: line_id, order, chainage_m [m], expected_gain_bits [bit], expected_zone_m
          [m], reason, reason_code, reason_values, from_fitting, from_fitting_m [m],
          toward_fitting.

        - ``lines`` (table without geometry; filled in further): One row for each line: what
          was found, and what still holds the dig.
          Columns: line_id, status, leak_probability, chainage_m [m], loss_l_per_day [l/d],
          priority, dig_rank, conflicts, dig_status, message, code, values, advice,
          advice_code, advice_values, prior, calibration_exponent, run_id.

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
    >>> result = leakgeo.advise(leakgeo.locate(job), how_many=3)
    >>> len(result["next_readings"]) <= 3
    True
    """

def confirm(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    most_over_kpa: float = 68.95,
) -> Result:
    """Compare levels with compressed air on and off, to tell whether the leak sounds.

    It needs readings at the same place with air both off and on (column air). Pairs near
    the mark are weighed against pairs at control points of the same line.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job or its layers by name. Layers that are needed and
        missing are made first, with defaults.
    most_over_kpa : float [kPa], default 68.95
        Refuse readings with air at more than this above the line's own pressure. Allowed:
        from 0 to 103.45.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``air_tests`` (Point; made): Levels at one place with compressed air off and on,
          in pairs, weighed against control points of the line.
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
    """Draw the dig zone, and list the utilities and answers that still hold the dig.

    The dig zone is the mark's error ellipse and room to work around it. Utilities, their
    errors and tolerances, their tickets and answers are held against it. It lists what
    still holds the dig; it never clears one: local law, the one-call centre and licensed
    people decide.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job or its layers by name. Layers that are needed and
        missing are made first, with defaults.
    rule : str, default 'generic'
        Tolerance rule by its name, or FILE.toml#NAME for one of your own; local law
        governs.
    working_width_m : float [m], default 0.6
        Working room on every side of the mark's error ellipse. Allowed: from 0.1.
    longest_hole_m : float [m], default 4.0
        Longest hole; a longer error is a stretch to search, and holds. Allowed: from 1.
    dig_date : str or date, default None
        Local day on which digging begins, as 2026-03-31.
    notice_days : int, default None
        Full working days of notice before the dig, by local law. Allowed: from 0.
    validity_days : int, default None
        Calendar days from the notice that a ticket is valid for, by local law. Allowed:
        from 1.
    holidays : str, default None
        Country and subdivision whose holidays are no working days, such as US-MI.
    time_zone : str, default None
        Local time zone, such as America/Detroit; else dates are taken the strict way.
    isolated : str or sequence of str, default ()
        Someone has seen the line of this line_id shut off and vented; pressure and air hold
        the digs of all others.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``dig_zones`` (Polygon or MultiPolygon; made): Ground that an excavation at the
          mark would take up; without a shape where the leak is not located, as a stretch to
          search is not a hole. It is not a statement that digging there is safe.
          Columns: line_id, depth_m [m], depth_source, length_m [m], width_m [m], area_m2
          [m2], conflicts, dig_status, holds, worst_hold, worst_hold_code,
          worst_hold_values, rule, run_id.

        - ``holds`` (table without geometry; made): What must be cleared before digging, one
          row each; that a dig has none clears nothing.
          Columns: line_id, order, utility_id, message, code, values, run_id.

        - ``cautions`` (table without geometry; made): What to mind at each dig, whether or
          not anything holds it, one row each.
          Columns: line_id, order, message, code, values, run_id.

        - ``conflicts`` (Polygon or MultiPolygon; made): Other utilities whose tolerance or
          position error reaches the dig zone.
          Columns: line_id, utility_id, kind, owner, clearance_m [m], severity, action,
          action_code, action_values, response, rule, rule_case, tolerance_m [m], error_95_m
          [m], in_caution_zone, depth_m [m], depth_gap_m [m], quality_level, private,
          notified, ticket, notified_time, response_time.

        - ``locate_requests`` (Polygon; made): White-line rectangles around the proposed
          excavations, to ask the one-call centre and private owners to mark.
          Columns: line_id, depth_m [m], length_m [m], width_m [m], area_m2 [m2].

        - ``ties`` (LineString; made): Taped distances from fixed points to the marks, by
          which a mark is set out again after its paint has gone.
          Columns: line_id, order, fixed_point, fixed_kind, distance_m [m], bearing_deg
          [deg], crossing_deg [deg].

        - ``dig_alternatives`` (Polygon; made): Holes inside the 50 % zone that are less in
          the way of utilities than the one at the mark, and what probability they cost.
          They clear nothing.
          Columns: line_id, chainage_m [m], moved_m [m], probability, probability_at_mark,
          probability_lost, inside_tolerance, inside_tolerance_at_mark, margin_m [m],
          margin_at_mark_m [m].

        - ``lines`` (table without geometry; filled in further): One row for each line: what
          was found, and what still holds the dig.
          Columns: line_id, status, leak_probability, chainage_m [m], loss_l_per_day [l/d],
          priority, dig_rank, conflicts, dig_status, message, code, values, advice,
          advice_code, advice_values, prior, calibration_exponent, run_id.

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
    """Hold marks against what digs found: hit rates, odds come true, and a calibration.

    dig_outcomes of the job tell where digs found the leak, or did not. They are held
    against the marks of the result that was dug by. With enough digs it writes
    calibration.toml, which locate takes as its calibration.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job or its layers by name. Layers that are needed and
        missing are made first, with defaults.
    results : str or pathlib.Path, default None
        The result.gpkg that was dug by, or its folder; else the job is located now.
    least_cases : int, default 30
        With fewer digs that count nothing is calibrated. Allowed: from 10.
    out : str or pathlib.Path, default None
        Folder to write into; made if it is not there.

    Returns
    -------
    Result
        With these layers, in the job's local metre CRS:

        - ``learned`` (table without geometry; made): How often marks were right, of all
          digs and by group, with Wilson's 95 % intervals.
          Columns: group, value, cases, stated_1ft, hits_1ft, rate_1ft, low_1ft, high_1ft,
          hits_1m, rate_1m, low_1m, high_1m, exponent, exponent_sd, message, code, values.

        - ``learned_odds`` (table without geometry; made): Odds that were stated, by class,
          against the share that came true.
          Columns: from_probability, to_probability, cases, stated, achieved, low, high,
          message, code, values.

        - ``learned_cases`` (Point; made): Every excavation held against the mark of its
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
    >>> len(result["learned_cases"])  # nobody has dug yet
    0
    """

def map(
    source: Result | Job | str | Path | Mapping[str, pd.DataFrame],
    /,
    *,
    out: str | Path | None = None,
    units: Literal['si', 'us'] = 'si',
    language: Literal['en', 'es'] = 'en',
    map_lines: int | None = None,
    orthophoto: str | Path | None = None,
    tiles: str | None = None,
) -> Result:
    """Write one HTML map that opens with no network.

    Everything is in the file: it opens in a truck and on a phone. It shows marks with their
    errors, zones, readings, next stops, utilities and what holds each dig; a click on a
    line shows its levels. map.html#line=ID opens at a line.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job or its layers by name. Layers that are needed and
        missing are made first, with defaults.
    out : str or pathlib.Path, default None
        Folder to write into; made if it is not there.
    units : {'si', 'us'}, default 'si'
        Units that people see; numbers in layers stay in SI.
    language : {'en', 'es'}, default 'en'
        Language of messages; codes beside them are the same in all.
    map_lines : int, default None
        Lines on the map at the most, the first by priority; all, if not given. Allowed:
        from 1.
    orthophoto : str or pathlib.Path, default None
        Aerial photo of yours to lay under the map, such as a GeoTIFF; it goes into the
        file.
    tiles : str, default None
        Address of your own background tiles, as https://HOST/{z}/{x}/{y}.png; the open map
        then asks that host, and no other.

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
    units: Literal['si', 'us'] = 'si',
    language: Literal['en', 'es'] = 'en',
    report_lines: int | None = None,
) -> Result:
    """Write the PDF report: an overview, then a page for each line.

    For each line: plan, levels, the odds in words, and a sheet to take to the dig with what
    holds it, ties to set the mark out again, and boxes to sign. Paper is A4, or letter
    where units are us.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job or its layers by name. Layers that are needed and
        missing are made first, with defaults.
    out : str or pathlib.Path, default None
        Folder to write into; made if it is not there.
    units : {'si', 'us'}, default 'si'
        Units that people see; numbers in layers stay in SI.
    language : {'en', 'es'}, default 'en'
        Language of messages; codes beside them are the same in all.
    report_lines : int, default None
        Pages for so many lines only, the most urgent first. Allowed: from 1.

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
    units: Literal['si', 'us'] = 'si',
    language: Literal['en', 'es'] = 'en',
    format: str | Sequence[str] | None = None,
    density: bool = True,
    density_lines: int | None = None,
    density_pixel_m: float = 0.1,
) -> Result:
    """Write styles, a raster of the leak's density, and the layers in other formats.

    It takes a job, or the result of an earlier run. QML and SLD styles go to styles/, the
    density to a cloud-optimised GeoTIFF; what each other format loses is told.

    Parameters
    ----------
    source : Result, Job, str, pathlib.Path or mapping of str to geopandas.GeoDataFrame
        A result, a job, the path of a job or its layers by name. Layers that are needed and
        missing are made first, with defaults.
    out : str or pathlib.Path, default None
        Folder to write into; made if it is not there.
    units : {'si', 'us'}, default 'si'
        Units that people see; numbers in layers stay in SI.
    language : {'en', 'es'}, default 'en'
        Language of messages; codes beside them are the same in all.
    format : str or sequence of str, default None
        Other formats to write, with commas between: dxf, flatgeobuf, geojson, geoparquet,
        kml, shapefile, or all; what each loses is told.
    density : bool, default True
        Write leak_density.tif.
    density_lines : int, default None
        Show so many lines on it, the most urgent first. Allowed: from 1.
    density_pixel_m : float [m], default 0.1
        Side of its pixels. Allowed: from 0.02 to 5.

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
