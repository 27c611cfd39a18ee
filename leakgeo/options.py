"""Parameters that commands, steps and checks share, with their only defaults."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from leakgeo.parameter import LanguageParameter, Parameter
from leakgeo.wording.locales import locales

if TYPE_CHECKING:
    from collections.abc import Mapping

_JOB, _OUTPUT, _LARGE = "The job", "Output", "Large jobs"

JOB = Parameter("job", "job", None, "A file of many layers, a folder of files, or the URL of a "
                "PostGIS database.", required=True, group=_JOB)  # fmt: skip
MAPPING = Parameter("mapping", "file", None, "TOML file that translates your layers, "
                    "columns, codes and units.", group=_JOB)  # fmt: skip
LINES = Parameter("lines", "text", (), "Only the line with this line_id.", many=True,
                  flag="line", group=_JOB)  # fmt: skip
TOP = Parameter("top", "integer", None, "Show only so many lines, the first in the order of the "
                "digs: those without a recorded hold, then held ones, then other lines.",
                minimum=1)  # fmt: skip
STATUS = Parameter("status", "text", "", "Show only lines of these statuses, separated by commas: "
                   "of the line, such as located, or of its dig, hold or no_hold_recorded.",
                   listed=True, check_with="leakgeo.selection:parse_statuses")  # fmt: skip
NEAR = Parameter("near", "text", "", "Only lines near a place: X Y, or X Y RADIUS, such as "
                 "500100 4684000 300ft; 100 m without a radius. X and Y are in the CRS of the "
                 "routes, or longitude and latitude.", listed=True,
                 check_with="leakgeo.selection:parse_near")  # fmt: skip
WHERE = Parameter("where", "text", None, 'Compute only the lines whose routes meet this SQL '
                  'condition, such as "district = 7"; of the rest only what lies around them is '
                  "read.", group=_JOB)  # fmt: skip
OUT = Parameter("out", "folder", None, "Folder to write into; created if needed.",
                required=True, group=_OUTPUT)  # fmt: skip
UNITS = Parameter("units", "choice", None, "Units of texts; by default us for a job in a foot CRS, "
                  "or in degrees with tapes in feet, else si. Numbers in layers stay in SI.",
                  choices=("si", "us"), group=_OUTPUT)  # fmt: skip
LANGUAGE = LanguageParameter("language", "choice", "en", "Language of what people read, with its "
                             "numbers and dates; codes, values and names do not depend on it.",
                             choices=locales(), group=_OUTPUT)  # fmt: skip
OVERWRITE = Parameter("overwrite", "boolean", False, "Replace earlier results.",
                      group=_OUTPUT)  # fmt: skip
KEEP_EARLIER = Parameter("keep_earlier", "boolean", False, "Keep the results that are replaced, in "
                         "the folder superseded, marked as such.", group=_OUTPUT)  # fmt: skip
TO_POSTGIS = Parameter("to_postgis", "text", None, "URL of a PostGIS database to write results "
                       "to as well.", group=_OUTPUT)  # fmt: skip
SCHEMA = Parameter("schema", "text", "leakgeo", "Schema of that database.", group=_OUTPUT)
METRICS = Parameter("metrics", "text", None, "File to write for a monitoring system, in the text "
                    "format of OpenMetrics; also where the run fails.",
                    group=_OUTPUT)  # fmt: skip
UPSERT = Parameter("upsert", "boolean", False, "In that database, replace the rows of the lines "
                   "of this result; those of other lines stay, but for their ranks, which are "
                   "over all lines there.", group=_OUTPUT)  # fmt: skip
RESUME = Parameter("resume", "boolean", False, "Continue a stopped run of a large job.",
                   group=_LARGE)  # fmt: skip
UPDATE = Parameter("update", "boolean", False, "Work out only the lines whose inputs have changed "
                   "since the last update of the folder, and replace the result there. The law of "
                   "noise stays the one learned first, until it is learned again.",
                   group=_LARGE)  # fmt: skip
RELEARN = Parameter("relearn", "boolean", False, "With an update, learn the law of noise again, "
                    "and so work out all lines.", group=_LARGE)  # fmt: skip
WORKERS = Parameter("workers", "integer", None, "Lines, chunks of a large job, or pages of a long "
                    "report, made at the same time; by default one for each processor.", minimum=1,
                    group=_LARGE)  # fmt: skip

SCHEDULER = Parameter("scheduler", "text", None, "Address of a Dask scheduler whose workers "
                      "compute the job, such as tcp://10.0.0.5:8786; they must be able to read it.",
                      group=_LARGE)  # fmt: skip

ROUTE_SD_M = Parameter("route_sd_m", "number", 0.3, "Trace error of routes without one "
                       "(1-sigma).", unit="m", minimum=0.0)  # fmt: skip
READING_SD_M = Parameter("reading_sd_m", "number", 1.5, "Satellite position error of readings "
                         "without one (1-sigma).", unit="m", minimum=0.001)  # fmt: skip
TAPE_SD_M = Parameter("tape_sd_m", "number", 0.05, "Error of taped distances without one "
                      "(1-sigma).", unit="m", minimum=0.001)  # fmt: skip
JOIN_GAP_M = Parameter("join_gap_m", "number", 0.3, "Largest gap between routes that meet, beyond "
                       "twice their trace errors.", unit="m", minimum=0.0,
                       maximum=3.0)  # fmt: skip
N1 = Parameter("n1", "number", 0.5, "Exponent of pressure: 0.5 for a hole of fixed size; 0.36 to "
               "2.95 in field tests.", minimum=0.3, maximum=3.0)  # fmt: skip
DISCHARGE = Parameter("discharge", "number", 0.63, "Discharge coefficient of the equivalent "
                      "hole.", minimum=0.3, maximum=1.0)  # fmt: skip
# Ten psi above the line's own pressure; common practice allows up to fifteen.
MOST_OVER_KPA = Parameter("most_over_kpa", "number", 68.95, "Reject readings with air at more "
                          "than this above the line's own pressure.", unit="kPa", minimum=0.0,
                          maximum=103.45)  # fmt: skip

#: Parameters that checks of a job may use; every reader of a job passes their values.
CHECK_PARAMETERS = (ROUTE_SD_M, READING_SD_M, TAPE_SD_M)
#: Parameters of every product that shows lines; `leakgeo.selection` has what they mean.
SELECTION = (LINES, TOP, STATUS, NEAR)
#: Their values where a product shows all lines.
ALL_LINES = {p.name: p.default for p in SELECTION}
#: Parameters of every command that reads a job and writes results, in the order of the help.
COMMON = (JOB, MAPPING, LINES, WHERE, OUT, UNITS, LANGUAGE, OVERWRITE, KEEP_EARLIER,
          TO_POSTGIS, SCHEMA, UPSERT)  # fmt: skip


def of_checks(settings: Mapping[str, object]) -> dict[str, Any]:
    """Return the settings of a command or step that checks of a job use.

    Examples
    --------
    >>> of_checks({"route_sd_m": 5.0, "step_m": 0.5})
    {'route_sd_m': 5.0}
    """
    return {p.name: settings[p.name] for p in CHECK_PARAMETERS if p.name in settings}
