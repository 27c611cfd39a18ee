"""Parameters that commands share: the job, where results go, and how a large job is run."""

from __future__ import annotations

from leakgeo.parameter import Parameter

_JOB, _OUTPUT, _LARGE = "The job", "Output", "Large jobs"

JOB = Parameter("job", "job", None, "A file of many layers, a folder of files, or the URL of a "
                "PostGIS database.", required=True, group=_JOB)  # fmt: skip
MAPPING = Parameter("mapping", "file", None, "TOML file that tells what your layers, columns, "
                    "codes and units are.", group=_JOB)  # fmt: skip
LINES = Parameter("lines", "text", (), "Only the line of this line_id; may be given several "
                  "times.", many=True, flag="line", group=_JOB)  # fmt: skip
OUT = Parameter("out", "folder", None, "Folder to write into; made if it is not there.",
                required=True, group=_OUTPUT)  # fmt: skip
UNITS = Parameter("units", "choice", "si", "Units that people see; layers stay in SI.",
                  choices=("si", "us"), group=_OUTPUT)  # fmt: skip
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

#: Of every command that reads a job and writes results, in the order that help lists them.
COMMON = (JOB, MAPPING, LINES, OUT, UNITS, OVERWRITE, TO_POSTGIS, SCHEMA)
