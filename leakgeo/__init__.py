"""Put leak listening on the pipe: where the leak is, with what odds, and what holds the dig."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from leakgeo.deliver.postgis.write import write_postgis as write_postgis
    from leakgeo.deliver.write import write_result as write_result
    from leakgeo.errors import JobError as JobError
    from leakgeo.errors import LeakgeoError as LeakgeoError
    from leakgeo.errors import OutputError as OutputError
    from leakgeo.errors import ParameterError as ParameterError
    from leakgeo.faults import Fault as Fault
    from leakgeo.job.mapping import draft_mapping as draft_mapping
    from leakgeo.job.model import Job as Job
    from leakgeo.job.read import read_job as read_job
    from leakgeo.job.results.read_back import read_result as read_result
    from leakgeo.registry import Step
    from leakgeo.result import Result as Result
    from leakgeo.runner.chain import run as run

    meter: Step
    survey: Step
    profile: Step
    locate: Step
    advise: Step
    levers: Step
    confirm: Step
    clearance: Step
    learn: Step
    map: Step  # noqa: A001
    report: Step
    export: Step

__version__ = "0.1.0"

_HOME = {
    "Fault": "leakgeo.faults",
    "Job": "leakgeo.job.model",
    "JobError": "leakgeo.errors",
    "LeakgeoError": "leakgeo.errors",
    "OutputError": "leakgeo.errors",
    "ParameterError": "leakgeo.errors",
    "Result": "leakgeo.result",
    "draft_mapping": "leakgeo.job.mapping",
    "read_job": "leakgeo.job.read",
    "read_result": "leakgeo.job.results.read_back",
    "run": "leakgeo.runner.chain",
    "write_postgis": "leakgeo.deliver.postgis.write",
    "write_result": "leakgeo.deliver.write",
}


def __getattr__(name: str) -> object:
    """Import a name when it is first asked for, so that `import leakgeo` stays quick."""
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    if not name.startswith("_"):
        from leakgeo.registry import load_steps

        if name in load_steps():
            return load_steps()[name]
    raise AttributeError(f"module 'leakgeo' has no attribute {name!r}")


def __dir__() -> list[str]:
    from leakgeo.registry import load_steps

    return sorted(["__version__", *_HOME, *load_steps()])
