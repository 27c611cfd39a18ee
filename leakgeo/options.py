"""Parameters that commands, steps and checks share; each default stands here alone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from leakgeo.parameter import Parameter
from leakgeo.wording import languages

if TYPE_CHECKING:
    from collections.abc import Mapping

_JOB, _OUTPUT, _LARGE = "The job", "Output", "Large jobs"

JOB = Parameter("job", "job", None, "A file of many layers, a folder of files, or the URL of a "
                "PostGIS database.", required=True, group=_JOB)  # fmt: skip
MAPPING = Parameter("mapping", "file", None, "TOML file that tells what your layers, columns, "
                    "codes and units are.", group=_JOB)  # fmt: skip
LINES = Parameter("lines", "text", (), "Only the line of this line_id.", many=True,
                  flag="line", group=_JOB)  # fmt: skip
OUT = Parameter("out", "folder", None, "Folder to write into; made if it is not there.",
                required=True, group=_OUTPUT)  # fmt: skip
UNITS = Parameter("units", "choice", "si", "Units that people see; numbers in layers stay in SI.",
                  choices=("si", "us"), group=_OUTPUT)  # fmt: skip
LANGUAGE = Parameter("language", "choice", "en", "Language of messages; codes beside them are the "
                     "same in all.", choices=languages(), group=_OUTPUT)  # fmt: skip
OVERWRITE = Parameter("overwrite", "boolean", False, "Replace results that are there.",
                      group=_OUTPUT)  # fmt: skip
TO_POSTGIS = Parameter("to_postgis", "text", None, "URL of a PostGIS database that results go to "
                       "as well.", group=_OUTPUT)  # fmt: skip
SCHEMA = Parameter("schema", "text", "leakgeo", "Schema of that database.", group=_OUTPUT)
RESUME = Parameter("resume", "boolean", False, "Go on with a run of a large job that was stopped.",
                   group=_LARGE)  # fmt: skip
WORKERS = Parameter("workers", "integer", None, "Lines, or chunks of a large job, worked out at "
                    "once; as many as there are processors, if not given.", minimum=1,
                    group=_LARGE)  # fmt: skip

SCHEDULER = Parameter("scheduler", "text", None, "Address of a Dask scheduler whose workers do "
                      "it, such as tcp://10.0.0.5:8786; they read the job themselves.",
                      group=_LARGE)  # fmt: skip

ROUTE_SD_M = Parameter("route_sd_m", "number", 0.3, "Trace error of routes that give none "
                       "(1-sigma).", unit="m", minimum=0.0)  # fmt: skip
READING_SD_M = Parameter("reading_sd_m", "number", 1.5, "Satellite position error of readings "
                         "that give none (1-sigma).", unit="m", minimum=0.001)  # fmt: skip
TAPE_SD_M = Parameter("tape_sd_m", "number", 0.05, "Error of taped chainages that give none "
                      "(1-sigma).", unit="m", minimum=0.001)  # fmt: skip
JOIN_GAP_M = Parameter("join_gap_m", "number", 0.3, "How far apart routes may be drawn and still "
                       "meet, beyond twice their trace errors.", unit="m", minimum=0.0,
                       maximum=3.0)  # fmt: skip
N1 = Parameter("n1", "number", 0.5, "Exponent of pressure: 0.5 for a hole of fixed size; 0.36 to "
               "2.95 in the field.", minimum=0.3, maximum=3.0)  # fmt: skip
DISCHARGE = Parameter("discharge", "number", 0.63, "Coefficient of discharge of the equivalent "
                      "hole.", minimum=0.3, maximum=1.0)  # fmt: skip
# Ten psi above the line's own pressure; practice goes to fifteen (common practice).
MOST_OVER_KPA = Parameter("most_over_kpa", "number", 68.95, "Refuse readings with air at more than "
                          "this above the line's own pressure.", unit="kPa", minimum=0.0,
                          maximum=103.45)  # fmt: skip

#: What the checks of a job may ask for; whoever reads a job gives their values.
CHECK_PARAMETERS = (ROUTE_SD_M, READING_SD_M, TAPE_SD_M)
#: Of every command that reads a job and writes results, in the order that help lists them.
COMMON = (JOB, MAPPING, LINES, OUT, UNITS, LANGUAGE, OVERWRITE, TO_POSTGIS, SCHEMA)


def of_checks(settings: Mapping[str, object]) -> dict[str, Any]:
    """Pick what the checks of a job go by out of settings of a command or step.

    Examples
    --------
    >>> of_checks({"route_sd_m": 5.0, "step_m": 0.5})
    {'route_sd_m': 5.0}
    """
    return {p.name: settings[p.name] for p in CHECK_PARAMETERS if p.name in settings}
