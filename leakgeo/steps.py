"""The processing steps, each declared once; the API, the command line and toolboxes read these."""

from __future__ import annotations

from leakgeo.deliver.formats.names import format_names
from leakgeo.options import (
    DISCHARGE,
    JOIN_GAP_M,
    LANGUAGE,
    MOST_OVER_KPA,
    N1,
    OUT,
    READING_SD_M,
    ROUTE_SD_M,
    TAPE_SD_M,
    UNITS,
    WORKERS,
)  # fmt: skip
from leakgeo.parameter import Parameter
from leakgeo.registry import Step
from leakgeo.step_words import ABOUT, CALLS, EXAMPLES

_CONSTANTS = Parameter(
    "constants",
    "file",
    None,
    "TOML file with your own assumptions of materials, surfaces and noise.",
    check_with="leakgeo.sound.constants:load_constants",
)
PRIORS = Parameter(
    "priors",
    "text",
    "all",
    "What makes a place likelier before listening: all, none, or some of fittings, past_leaks, "
    "repairs, excavations, age, with commas between.",
    listed=True,
    check_with="leakgeo.find.posterior.place_prior:chosen",
)

METER = Step(
    name="meter",
    order=10,
    function="leakgeo.find.loss.meter:meter",
    summary="Tell from meter tests what each line loses, what it costs, and through what hole.",
    group="Find",
    makes=("meter_results",),
    parameters=(
        Parameter("price_per_m3", "number", None, "Price of a cubic metre of water.", minimum=0.0),
        Parameter("currency", "text", "", "Name of the money that the price is in."),
        Parameter("other_pressure_kpa", "number", None,
                  "Pressure to tell the loss at, besides the line's own.", unit="kPa", minimum=0.0),
        N1,
        DISCHARGE,
    ),
    about=ABOUT["meter"],
    examples=EXAMPLES["meter"],
    example=CALLS["meter"],
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

PROFILE = Step(
    name="profile",
    order=30,
    function="leakgeo.find.levels.profile:profile",
    summary="Put the readings on their pipe, make their levels comparable, interpolate between.",
    group="Find",
    makes=("readings_on_route", "profile"),
    by_line=True,
    parameters=(
        ROUTE_SD_M,
        READING_SD_M,
        TAPE_SD_M,
        _CONSTANTS,
        Parameter("step_m", "number", 0.5, "Spacing of the interpolated profile.",
                  unit="m", minimum=0.05),
    ),
    about=ABOUT["profile"],
    examples=EXAMPLES["profile"],
    example=CALLS["profile"],
)  # fmt: skip

LOCATE = Step(
    name="locate",
    order=40,
    function="leakgeo.find.locate.step:locate",
    summary="Work out where along each line the leak is, with odds, zones to search and a mark.",
    group="Find",
    needs=("readings_on_route", "profile"),
    changes=("profile",),
    makes=("search_zones", "marks", "lines", "evidence"),
    by_line=True,
    parameters=(
        Parameter("leak_prior", "number", 0.9,
                  "Probability, before listening, that a line walked has a leak.",
                  minimum=0.01, maximum=0.99),
        Parameter("zone_probability", "number", 0.9, "Probability that the zones hold together.",
                  minimum=0.5, maximum=0.99),
        JOIN_GAP_M,
        PRIORS,
        Parameter("calibration", "file", None,
                  "File that learn wrote from digs: it widens or narrows zones and odds.",
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
    summary="List ways to improve the result on deep or quiet lines, with the expected gain.",
    group="Find",
    needs=("lines", "profile", "readings_on_route", "marks"),
    makes=("improvements",),
    by_line=True,
    parameters=(
        Parameter("rated_kpa", "number", None,
                  "Pressure that the lines are rated for; no advice raises the pressure beyond it.",
                  unit="kPa", minimum=0.0),
        Parameter("deep_m", "number", 2.4384, "Cover beyond which a line counts as deep.",
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
    summary="Say where to listen next, what each reading is expected to tell, and when to stop.",
    group="Find",
    needs=("contact_ranking", "survey_bracket", "lines", "profile", "marks", "improvements"),
    uses=("search_zones", "readings_on_route"),
    changes=("lines",),
    makes=("next_readings",),
    by_line=True,
    parameters=(
        Parameter("how_many", "integer", 5,
                  "Readings to propose for each line; a first walk is proposed whole.",
                  minimum=1, maximum=50),
        Parameter("short_zone_m", "number", 0.6,
                  "Zones that are together no longer than this need no more readings.",
                  unit="m", minimum=0.1),
        Parameter("least_bits", "number", 0.016,
                  "A reading that is expected to tell less about the place isn't proposed; less "
                  "will do where a zone is nearly short enough.",
                  unit="bit", minimum=0.001, maximum=1.0),
        Parameter("walk_m_per_bit", "number", 200.0,
                  "Metres of walking that one bit is worth.", unit="m", minimum=1.0),
        Parameter("coarse_step_m", "number", 4.0,
                  "Longest step of the first walk along a line.", unit="m", minimum=0.3),
        Parameter("first_walks", "choice", "supported",
                  "Lines without a reading to propose a walk on: those that a fitting or a loss of "
                  "water speaks for, or all.", choices=("supported", "all")),
    ),
    about=ABOUT["advise"],
    examples=EXAMPLES["advise"],
    example=CALLS["advise"],
)  # fmt: skip

CONFIRM = Step(
    name="confirm",
    order=70,
    function="leakgeo.find.evidence.confirm:confirm",
    summary="Compare levels with compressed air on and off, to tell whether the leak sounds.",
    group="Prove",
    needs=("lines", "marks", "readings_on_route"),
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
    summary="Draw the dig zone, and list the utilities and answers that still hold the dig.",
    group="Dig",
    needs=("marks", "lines"),
    uses=("profile",),
    changes=("lines",),
    makes=("dig_zones", "holds", "cautions", "conflicts", "locate_requests", "ties",
           "dig_alternatives"),
    by_line=True,
    parameters=(
        Parameter("rule", "text", "generic",
                  "Tolerance rule by its name, or FILE.toml#NAME for one of your own; local law "
                  "governs.", check_with="leakgeo.dig.rules:pick_rule"),
        Parameter("working_width_m", "number", 0.6,
                  "Working room on every side of the mark's error ellipse.",
                  unit="m", minimum=0.1),
        Parameter("longest_hole_m", "number", 4.0,
                  "Longest hole; a longer error is a stretch to search, and holds.",
                  unit="m", minimum=1.0),
        Parameter("dig_date", "date", None, "Local day on which digging begins, as 2026-03-31."),
        Parameter("notice_days", "integer", None,
                  "Full working days of notice before the dig, by local law.", minimum=0),
        Parameter("validity_days", "integer", None,
                  "Calendar days from the notice that a ticket is valid for, by local law.",
                  minimum=1),
        Parameter("holidays", "text", None,
                  "Country and subdivision whose holidays are no working days, such as US-MI.",
                  check_with="leakgeo.dig.tickets:holidays_of"),
        Parameter("time_zone", "text", None,
                  "Local time zone, such as America/Detroit; else dates are taken the strict way.",
                  check_with="leakgeo.dig.tickets:time_zone_of"),
        Parameter("isolated", "text", (),
                  "Someone has seen the line of this line_id shut off and vented; pressure and air "
                  "hold the digs of all others.", many=True,
                  names_lines=True),
    ),
    about=ABOUT["clearance"],
    examples=EXAMPLES["clearance"],
    example=CALLS["clearance"],
)  # fmt: skip

LEARN = Step(
    name="learn",
    order=90,
    function="leakgeo.deliver.learned:learn",
    summary="Hold marks against what digs found: hit rates, odds come true, and a calibration.",
    group="Prove",
    uses=("marks", "lines", "profile", "readings_on_route"),
    makes=("learned", "learned_odds", "learned_cases"),
    parameters=(
        Parameter("results", "file", None,
                  "The result.gpkg that was dug by, or its folder; else the job is located now."),
        Parameter("least_cases", "integer", 30,
                  "With fewer digs that count nothing is calibrated.", minimum=10),
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
    summary="Write one HTML map that opens with no network.",
    group="Deliver",
    needs=("readings_on_route", "search_zones", "next_readings", "dig_zones", "contact_ranking",
           "improvements", "air_tests", "meter_results"),
    makes=("map.html",),
    parameters=(
        OUT,
        UNITS,
        LANGUAGE,
        Parameter("map_lines", "integer", None,
                  "Lines on the map at the most, the first by priority; all, if not given.",
                  minimum=1),
        Parameter("orthophoto", "file", None,
                  "Aerial photo of yours to lay under the map, such as a GeoTIFF; it goes into "
                  "the file."),
        Parameter("tiles", "text", None,
                  "Address of your own background tiles, as https://HOST/{z}/{x}/{y}.png; the "
                  "open map then asks that host, and no other.",
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
        Parameter("report_lines", "integer", None,
                  "Pages for so many lines only, the most urgent first.", minimum=1),
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
    summary="Write styles, a raster of the leak's density, and the layers in other formats.",
    group="Deliver",
    needs=("readings_on_route", "search_zones", "next_readings", "dig_zones", "contact_ranking"),
    makes=("styles", "leak_density.tif", "exported"),
    parameters=(
        OUT,
        UNITS,
        LANGUAGE,
        Parameter("format", "text", None,
                  f"Other formats to write, with commas between: {', '.join(format_names())}, "
                  "or all; what each loses is told.",
                  listed=True, check_with="leakgeo.deliver.formats.formats:chosen"),
        Parameter("density", "boolean", True, "Write leak_density.tif."),
        Parameter("density_lines", "integer", None,
                  "Show so many lines on it, the most urgent first.", minimum=1),
        Parameter("density_pixel_m", "number", 0.1, "Side of its pixels.",
                  unit="m", minimum=0.02, maximum=5.0),
    ),
    takes_results=True,
    about=ABOUT["export"],
    examples=EXAMPLES["export"],
    example=CALLS["export"],
)  # fmt: skip
