"""Page of the parameters: defaults, units and ranges, made from their declarations."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.functions import annotation
from leakgeo.options import CHECK_PARAMETERS, COMMON
from leakgeo.registry import load_steps
from tests.site.markdown import cell, code, page, span, table

if TYPE_CHECKING:
    from leakgeo.parameter import Parameter

_HEADS = ("parameter", "option", "type", "default", "unit", "allowed", "meaning")
_INTRO = """A parameter has one name in Python and on the command line, where it is an option with
dashes. Two steps that share a parameter share its value in `leakgeo run`. Every parameter is
declared once; this page is made from the declarations."""


def pages() -> dict[str, str]:
    """Give the page."""
    steps = [f"(parameters-{s.name})=\n## {s.name}\n\n{s.summary}\n\n{_table(s.parameters)}"
             for s in load_steps().values() if s.parameters]  # fmt: skip
    return {"reference/parameters.md": page(
        "# Parameters", _INTRO, f"## Every job and its output\n\n{_table(COMMON)}",
        f"## Checks of a job\n\n{_table(CHECK_PARAMETERS)}", *steps)}  # fmt: skip


def _table(parameters: tuple[Parameter, ...]) -> str:
    return table(_HEADS, map(_row, parameters))


def _row(p: Parameter) -> list[str]:
    return [code(p.name), code(p.option or p.name.upper()), code(annotation(p)),
            code("" if p.default in (None, "", ()) else p.default), p.unit or "",
            span(p.minimum, p.maximum), cell(p.help)]  # fmt: skip
