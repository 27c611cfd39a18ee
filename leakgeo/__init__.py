"""Locate leaks in buried water lines, with probabilities, and list what holds each dig."""

from __future__ import annotations

import logging
from importlib import import_module

__version__ = "0.1.0"

_HOME = {
    "Fault": "leakgeo.faults",
    "Job": "leakgeo.job.model",
    "JobError": "leakgeo.errors",
    "LeakgeoError": "leakgeo.errors",
    "OutputError": "leakgeo.errors",
    "ParameterError": "leakgeo.errors",
    "Result": "leakgeo.result",
    "add_stop": "leakgeo.deliver.add_stop",
    "ask": "leakgeo.answer.warm_job",
    "close_line": "leakgeo.deliver.records.close",
    "draft_mapping": "leakgeo.job.mapping",
    "plan_round": "leakgeo.deliver.round.plan",
    "read_job": "leakgeo.job.read",
    "read_result": "leakgeo.job.results.read_back",
    "run": "leakgeo.runner.chain",
    "show_versions": "leakgeo.deliver.folder.record",
    "watch": "leakgeo.runner.watch",
    "write_postgis": "leakgeo.deliver.postgis.write",
    "write_result": "leakgeo.deliver.folder.write",
}

_STEPS = ("meter", "steptest", "survey", "ground", "profile", "locate", "improvements", "advise",
          "confirm", "clearance", "learn", "map", "report", "export")  # fmt: skip
# ``__init__.pyi`` has the types of all these names.
__all__ = ["__version__", *_HOME, *_STEPS]  # noqa: PLE0604, RUF100
# As in other libraries, nothing is printed unless the program adds a handler.
logging.getLogger("leakgeo").addHandler(logging.NullHandler())


def __getattr__(name: str) -> object:
    """Import a name on first use, to keep ``import leakgeo`` fast."""
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    if not name.startswith("_"):
        from leakgeo.functions import function_of
        from leakgeo.registry import load_steps

        if name in load_steps():
            return function_of(name)
    raise AttributeError(f"module 'leakgeo' has no attribute {name!r}")


def __dir__() -> list[str]:
    from leakgeo.registry import load_steps

    return sorted(["__version__", *_HOME, *load_steps()])
