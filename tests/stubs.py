"""Types of the package's names: ``python -m tests.stubs`` writes ``leakgeo/__init__.pyi``."""

from __future__ import annotations

import inspect
from importlib import import_module
from pathlib import Path

import leakgeo
from leakgeo.functions import SOURCE, annotation, docstring
from leakgeo.options import CHECK_PARAMETERS
from leakgeo.registry import Step, load_steps

STUB = Path(leakgeo.__file__).with_suffix(".pyi")
HEAD = '''"""{doc}"""

# Written by `python -m tests.stubs` from the declared steps and parameters.

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Literal

import pandas as pd

{imports}
from leakgeo.job.sources import JobSource
from leakgeo.progress import Listener

__version__: str
__all__: list[str]
'''
# They take parameters by keyword that are declared elsewhere.
MORE = {
    "read_job": CHECK_PARAMETERS,
    "run": [p for step in load_steps().values() for p in step.parameters],
}


def stub() -> str:
    """Write the stub of the package."""
    home = {name: module for name, module in leakgeo._HOME.items() if name not in MORE}
    imports = "\n".join(
        f"from {module} import {name} as {name}" for name, module in sorted(
            home.items(), key=lambda pair: (pair[1], pair[0]))
    )  # fmt: skip
    own = [step for step in load_steps().values() if step.name in leakgeo._STEPS]
    functions = [_step(step) for step in own]
    head = HEAD.format(doc=leakgeo.__doc__, imports=imports)
    return "\n".join([head, *map(_keyworded, MORE), *functions]).rstrip() + "\n"


def _step(step: Step) -> str:
    given = [f"    {p.name}: {annotation(p)} = {p.default!r},\n" for p in step.parameters]
    star = "    *,\n" if given else ""
    taken = f"    source: {SOURCE},\n    /,\n{star}{''.join(given)}"
    return f"def {step.name}(\n{taken}) -> Result:\n{_indented(docstring(step))}\n"


def _keyworded(name: str) -> str:
    function = getattr(import_module(leakgeo._HOME[name]), name)
    signature = inspect.signature(function)
    known = signature.parameters
    own = [p for p in known.values() if p.kind is not p.VAR_KEYWORD]
    lines, starred = [], False
    for p in own:
        if p.kind is p.KEYWORD_ONLY and not starred:
            lines.append("    *,\n")
            starred = True
        default = "" if p.default is p.empty else f" = {_shown(p.default)}"
        lines.append(f"    {p.name}: {p.annotation}{default},\n")
    more = {p.name: p for p in MORE[name]}
    lines += [f"    {p.name}: {annotation(p)} = {p.default!r},\n"
              for p in more.values() if p.name not in known]  # fmt: skip
    head = f"def {name}(\n{''.join(lines)}) -> {signature.return_annotation}:"
    return f"{head}\n{_indented(inspect.getdoc(function))}\n"


def _shown(value: object) -> str:
    return "..." if callable(value) else repr(value)


def _indented(text: str) -> str:
    quoted = f'"""{text}\n"""'
    return "\n".join(f"    {line}" if line else "" for line in quoted.splitlines())


if __name__ == "__main__":
    STUB.write_text(stub(), encoding="utf-8")
