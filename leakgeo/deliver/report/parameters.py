"""The parameters of a run in words, in the units of the reader."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.provenance import NEUTRAL_PARAMETERS
from leakgeo.registry import load_steps

if TYPE_CHECKING:
    from leakgeo.parameter import Parameter
    from leakgeo.result import Result
    from leakgeo.wording import Wording


def parameters_in_force(result: Result, wording: Wording) -> list[tuple[str, str, str]]:
    """Return the parameters that can change the result: what each is, its value, and its steps.

    Parameters
    ----------
    result : Result
    wording : Wording
        Its units and numbers.
    """
    steps: dict[tuple[str, str], list[str]] = {}
    for step, given in result.parameters.items():
        known = load_steps()[step].parameters if step in load_steps() else ()
        by_name = {parameter.name: parameter for parameter in known}
        for name, value in given.items():
            if name in NEUTRAL_PARAMETERS or value in (None, "", ()):
                continue
            row = (
                _words(name, by_name.get(name), wording),
                _value(value, by_name.get(name), wording),
            )
            steps.setdefault(row, []).append(step)
    return [(words, value, ", ".join(made)) for (words, value), made in steps.items()]


def _words(name: str, parameter: Parameter | None, wording: Wording) -> str:
    """Return what a parameter is: its help up to the first explanation."""
    if parameter is None:
        return name.replace("_", " ")
    return re.split(r"[;:]|\.(?:\s|$)", wording.help(parameter.help), maxsplit=1)[0]


def _value(value: object, parameter: Parameter | None, wording: Wording) -> str:
    unit = None if parameter is None else parameter.unit
    if isinstance(value, bool):
        return wording.term("book_yes" if value else "book_no")
    if isinstance(value, (int, float)):
        return _quantity(value, unit or "", wording)
    if isinstance(value, (list, tuple)):
        return ", ".join(map(str, value))
    return value.name if isinstance(value, Path) else str(value)


def _quantity(value: float, unit: str, wording: Wording) -> str:
    if unit == "m" and wording.units == "us":
        return wording.quantities.length(value)
    if unit == "kPa":
        return wording.quantities.pressure(value)
    return f"{wording.number(f'{value:g}')} {unit}".strip()
