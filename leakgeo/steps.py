"""Declarations of the processing steps, for the API, the command line and the QGIS plugin."""

from __future__ import annotations

from leakgeo.deliver.formats.registry import format_names
from leakgeo.options import (
    DISCHARGE,
    JOIN_GAP_M,
    LANGUAGE,
    MOST_OVER_KPA,
    N1,
    OUT,
    READING_SD_M,
    ROUTE_SD_M,
    SELECTION,
    TAPE_SD_M,
    UNITS,
    WORKERS,
)  # fmt: skip
from leakgeo.parameter import Parameter
from leakgeo.registry import Step
from leakgeo.step_help import ABOUT, CALLS, EXAMPLES

_CONSTANTS = Parameter(
    "constants",
    "file",
    None,
    "TOML file with your own assumptions about materials, surfaces and noise.",
    check_with="leakgeo.sound.constants:load_constants",
)
PRIORS = Parameter(
    "priors",
    "text",
    "all",
    "Records that make a place likelier before listening: all, none, or some of fittings, "
    "past_leaks, repairs, excavations and age, separated by commas.",
    listed=True,
    check_with="leakgeo.find.posterior.place_prior:parse_priors",
)

_TRUST_DECLARATIONS = Parameter(
    "trust_declarations",
    "boolean",
    False,
    "Use readings as declared though their unit, CRS or tape looks wrong. If the declaration is "
    "wrong after all, such as db for a display from 0 to 100, a mark may come out that looks "
    "surer than it is, at a wrong place.",
)

METER = Step(
    name="meter",
    order=10,
    function="leakgeo.find.loss.meter:meter",
    summary="Compute from meter tests how much water each line loses, its cost, and the hole size.",
    group="Find",
    makes=("meter_results",),
    parameters=(
        Parameter("price_per_m3", "number", None, "Price of a cubic metre of water.", minimum=0.0),
        Parameter("currency", "text", "", "Currency of the price."),
        Parameter("other_pressure_kpa", "number", None,
                  "Second pressure to state the loss at, besides the line's own.",
                  unit="kPa", minimum=0.0),
        N1,
        DISCHARGE,
    ),
    about=ABOUT["meter"],
    examples=EXAMPLES["meter"],
    example=CALLS["meter"],
)  # fmt: skip

STEPTEST = Step(
    name="steptest",
    title="Step test",
    order=15,
    function="leakgeo.find.advise.district_step:steptest",
    summary="Plan a step test: valves of a district to shut next, and which segment loses water.",
    group="Find",
    makes=("district_segments", "district_steps"),
    parameters=(
        Parameter("inlets", "text", "",
                  "Fittings or valves at which all water enters the district and is measured, by "
                  "contact_id or valve_id, separated by commas.", listed=True),
        Parameter("boundary", "text", "",
                  "Valves that stay closed around the district, or in it, by valve_id, separated "
                  "by commas.",
                  listed=True),
        Parameter("use_l_per_min", "number", 0.0,
                  "Flow into the district that is plain use at the hour of the tests.",
                  unit="l/min", minimum=0.0),
        ROUTE_SD_M,
        JOIN_GAP_M,
    ),
    about=ABOUT["steptest"],
    examples=EXAMPLES["steptest"],
    example=CALLS["steptest"],
)  # fmt: skip

SURVEY = Step(
    name="survey",
    order=20,
    function="leakgeo.find.survey.step:survey",
    summary="Rank the fittings listened to, and bracket the leak between the loudest.",
    group="Find",
    makes=("contact_ranking", "survey_bracket"),
    parameters=(ROUTE_SD_M, JOIN_GAP_M, _CONSTANTS, PRIORS),
    about=ABOUT["survey"],
    examples=EXAMPLES["survey"],
    example=CALLS["survey"],
)

GROUND = Step(
    name="ground",
    order=25,
    function="leakgeo.find.ground.step:ground",
    summary="Learn from all lines of the job how readings scatter, and how crews walk.",
    group="Find",
    makes=("noise_law", "walk_law"),
    parameters=(
        Parameter("ground", "file", None,
                  "File ground.toml of an earlier run, used instead of learning from this job.",
                  check_with="leakgeo.find.ground.file:noise_law_from"),
        ROUTE_SD_M, READING_SD_M, TAPE_SD_M, _CONSTANTS, _TRUST_DECLARATIONS, WORKERS,
    ),
    about=ABOUT["ground"],
    examples=EXAMPLES["ground"],
    example=CALLS["ground"],
)  # fmt: skip

PROFILE = Step(
    name="profile",
    order=30,
    function="leakgeo.find.levels.step:profile",
    summary="Place the readings on their pipes, make levels comparable, and interpolate them.",
    group="Find",
    uses=("walk_law",),
    makes=("readings_on_route", "profile"),
    by_line=True,
    parameters=(
        ROUTE_SD_M,
        READING_SD_M,
        TAPE_SD_M,
        _CONSTANTS,
        Parameter("step_m", "number", 0.5, "Spacing of the interpolated profile.",
                  unit="m", minimum=0.05),
        _TRUST_DECLARATIONS,
    ),
    about=ABOUT["profile"],
    examples=EXAMPLES["profile"],
    example=CALLS["profile"],
)  # fmt: skip

LOCATE = Step(
    name="locate",
    order=40,
    function="leakgeo.find.locate.step:locate",
    summary="Compute where along each line the leak is: probabilities, search zones and a mark.",
    group="Find",
    needs=("readings_on_route", "profile", "noise_law", "walk_law"),
    changes=("profile",),
    makes=("search_zones", "marks", "lines", "evidence", "explanations"),
    by_line=True,
    parameters=(
        Parameter("leak_prior", "number", 0.9,
                  "Probability, before listening, that a walked line has a leak.",
                  minimum=0.01, maximum=0.99),
        Parameter("zone_probability", "number", 0.9, "Probability that the zones hold in total.",
                  minimum=0.5, maximum=0.99),
        JOIN_GAP_M,
        PRIORS,
        Parameter("calibration", "file", None,
                  "File written by learn from excavation results; it changes zones and odds.",
                  check_with="leakgeo.find.learn.calibration:calibration_from"),
        MOST_OVER_KPA,
        WORKERS,
    ),
    about=ABOUT["locate"],
    examples=EXAMPLES["locate"],
    example=CALLS["locate"],
)  # fmt: skip

IMPROVEMENTS = Step(
    name="improvements",
    order=50,
    function="leakgeo.find.advise.improvements:improvements",
    summary="List ways to improve on deep or quiet lines, with the error expected of each.",
    group="Find",
    needs=("contact_ranking", "lines", "profile", "readings_on_route", "marks"),
    uses=("noise_law", "walk_law"),
    makes=("improvements",),
    by_line=True,
    parameters=(
        Parameter("rated_kpa", "number", None,
                  "Pressure rating of the lines; no advice goes beyond it.",
                  unit="kPa", minimum=0.0),
        Parameter("deep_m", "number", 2.4384, "Cover above which a line counts as deep.",
                  unit="m", minimum=0.1),
    ),
    about=ABOUT["improvements"],
    examples=EXAMPLES["improvements"],
    example=CALLS["improvements"],
)  # fmt: skip

ADVISE = Step(
    name="advise",
    order=60,
    function="leakgeo.find.advise.step:advise",
    summary="Compare what can be done next on each line, with the gain expected, and when to stop.",
    group="Find",
    needs=(
        "contact_ranking", "survey_bracket", "lines", "profile", "marks", "evidence",
        "explanations", "improvements",
    ),
    uses=("search_zones", "readings_on_route", "noise_law", "walk_law"),
    changes=("lines",),
    makes=("next_readings", "next_actions"),
    by_line=True,
    followed_by=("map", "report"),
    parameters=(
        Parameter("how_many", "integer", 5,
                  "Readings to propose for each line; a first walk is proposed in full.",
                  minimum=1, maximum=50),
        Parameter("short_zone_m", "number", 0.6,
                  "Total zone length that needs no more readings.",
                  unit="m", minimum=0.1),
        Parameter("least_bits", "number", 0.06,
                  "Minimum expected information gain of the proposed readings, on the average; "
                  "lower where a zone is nearly short enough.",
                  unit="bit", minimum=0.001, maximum=1.0),
        Parameter("walk_m_per_bit", "number", 200.0,
                  "Walking distance that one bit of information is worth.", unit="m", minimum=1.0),
        Parameter("coarse_step_m", "number", 3.0,
                  "Longest distance between stops of a first walk.", unit="m", minimum=0.3),
        Parameter("first_walks", "choice", "supported",
                  "Lines without readings to propose a walk on: those where a fitting or a loss of "
                  "water indicates a leak, or all.", choices=("supported", "all")),
        Parameter("costs", "file", None,
                  "TOML file with your own minutes of the actions that are compared.",
                  check_with="leakgeo.find.advise.action_costs:action_costs"),
        Parameter("without", "text", "",
                  "Actions that the crew can't do, such as air or probe, separated by commas.",
                  listed=True, check_with="leakgeo.find.advise.action_costs:parse_without"),
    ),
    about=ABOUT["advise"],
    examples=EXAMPLES["advise"],
    example=CALLS["advise"],
)  # fmt: skip

CONFIRM = Step(
    name="confirm",
    order=70,
    function="leakgeo.find.evidence.confirm:confirm",
    summary="Compare levels with compressed air on and off, to see if the sound is the leak.",
    group="Prove",
    needs=("lines", "marks", "readings_on_route"),
    uses=("noise_law", "walk_law"),
    makes=("air_tests",),
    by_line=True,
    parameters=(MOST_OVER_KPA,),
    about=ABOUT["confirm"],
    examples=EXAMPLES["confirm"],
    example=CALLS["confirm"],
)

CLEARANCE = Step(
    name="clearance",
    order=80,
    function="leakgeo.dig.clearance:clearance",
    summary="Draw the dig zone, and list the utilities and answers to clear before digging.",
    group="Dig",
    needs=("marks", "lines"),
    uses=("profile", "readings_on_route"),
    changes=("lines", "marks"),
    makes=("dig_zones", "holds", "cautions", "conflicts", "locate_requests", "ties",
           "dig_alternatives"),
    by_line=True,
    followed_by=("map", "report"),
    parameters=(
        Parameter("rule", "text", "generic",
                  "Name of a tolerance rule, or FILE.toml#NAME for one of your own; local law "
                  "governs.", check_with="leakgeo.dig.rules:pick_rule"),
        Parameter("working_width_m", "number", 0.6,
                  "Working room on each side of the mark's error ellipse.",
                  unit="m", minimum=0.1),
        Parameter("longest_hole_m", "number", 4.0,
                  "Longest hole; where the mark's error is longer, the dig is held.",
                  unit="m", minimum=1.0),
        Parameter("dig_date", "date", None, "Local day when digging begins, such as 2026-03-31."),
        Parameter("notice_days", "integer", None,
                  "Full working days of notice before the dig that local law requires.", minimum=0),
        Parameter("validity_days", "integer", None,
                  "Calendar days from the notice for which local law keeps a ticket valid.",
                  minimum=1),
        Parameter("holidays", "text", None,
                  "Country and subdivision of the public holidays, such as US-MI.",
                  check_with="leakgeo.dig.tickets:holidays_of"),
        Parameter("time_zone", "text", None,
                  "Local time zone, such as America/Detroit; without it, the stricter date counts.",
                  check_with="leakgeo.dig.tickets:time_zone_of"),
        Parameter("isolated", "text", (),
                  "Somebody has seen that the line with this line_id is shut off and vented; other "
                  "lines keep their holds for pressure and air.", many=True,
                  names_lines=True),
    ),
    about=ABOUT["clearance"],
    examples=EXAMPLES["clearance"],
    example=CALLS["clearance"],
)  # fmt: skip

LEARN = Step(
    name="learn",
    order=90,
    function="leakgeo.deliver.folder.learn:learn",
    summary="Compare marks with excavation results: hit rates, reliability, and a calibration.",
    group="Prove",
    uses=("marks", "lines", "profile", "readings_on_route"),
    makes=("learned", "learned_odds", "learned_cases"),
    parameters=(
        Parameter("results", "file", None,
                  "The result.gpkg used for the digs, or its folder; else the job is located now."),
        Parameter("least_cases", "integer", 30,
                  "Fewest excavations that count for a calibration.", minimum=10),
        OUT,
    ),
    about=ABOUT["learn"],
    examples=EXAMPLES["learn"],
    example=CALLS["learn"],
)  # fmt: skip

MAP = Step(
    name="map",
    order=910,
    function="leakgeo.deliver.map.write:write_map",
    summary="Write one HTML map that opens without a network.",
    group="Deliver",
    needs=("readings_on_route", "search_zones", "next_readings", "dig_zones", "contact_ranking",
           "improvements", "air_tests", "meter_results"),
    makes=("map.html",),
    parameters=(
        OUT,
        UNITS,
        LANGUAGE,
        *SELECTION,
        Parameter("map_lines", "integer", None,
                  "Most lines on the map, the most urgent; by default all.",
                  minimum=1),
        Parameter("orthophoto", "file", None,
                  "Aerial photo to show under the map, such as a GeoTIFF; it is stored in the "
                  "file."),
        Parameter("tiles", "text", None,
                  "Address of background tiles, such as https://HOST/{z}/{x}/{y}.png; an open map "
                  "then connects to that host, and to no other.",
                  check_with="leakgeo.deliver.map.background:tile_source"),
    ),
    takes_results=True,
    about=ABOUT["map"],
    examples=EXAMPLES["map"],
    example=CALLS["map"],
)  # fmt: skip

REPORT = Step(
    name="report",
    order=920,
    function="leakgeo.deliver.report.write:write_report",
    summary="Write the PDF report: an overview, then a page for each line.",
    group="Deliver",
    needs=("readings_on_route", "search_zones", "next_readings", "dig_zones", "contact_ranking"),
    makes=("report.pdf",),
    parameters=(
        OUT,
        UNITS,
        LANGUAGE,
        *SELECTION,
        Parameter("report_lines", "integer", None,
                  "Most lines with a page, the most urgent; by default all.", minimum=1),
        WORKERS,
    ),
    takes_results=True,
    about=ABOUT["report"],
    examples=EXAMPLES["report"],
    example=CALLS["report"],
)  # fmt: skip

EXPORT = Step(
    name="export",
    order=930,
    function="leakgeo.deliver.formats.export:export",
    summary="Write styles, a raster of the leak density, and the layers in other formats.",
    group="Deliver",
    needs=("readings_on_route", "search_zones", "next_readings", "dig_zones", "contact_ranking"),
    makes=("styles", "leak_density.tif", "exported"),
    parameters=(
        OUT,
        UNITS,
        LANGUAGE,
        *SELECTION,
        Parameter("format", "text", None,
                  f"Other formats to write, separated by commas: {', '.join(format_names())}, "
                  "or all.",
                  listed=True, check_with="leakgeo.deliver.formats.registry:parse_formats"),
        Parameter("density", "boolean", True, "Write leak_density.tif."),
        Parameter("density_lines", "integer", None,
                  "Most lines on it, the most urgent; by default all.", minimum=1),
        Parameter("density_pixel_m", "number", 0.1, "Pixel size.",
                  unit="m", minimum=0.02, maximum=5.0),
    ),
    takes_results=True,
    about=ABOUT["export"],
    examples=EXAMPLES["export"],
    example=CALLS["export"],
)  # fmt: skip
