"""Page of the parameters: defaults, units and ranges, made from their declarations."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.functions import annotation
from leakgeo.options import CHECK_PARAMETERS, COMMON
from leakgeo.registry import load_steps
from tests.site.markdown import cell, page, span

if TYPE_CHECKING:
    from leakgeo.parameter import Parameter

_INTRO = """A parameter has one name in Python and on the command line, where it is an option with
dashes. Two steps that share a parameter share its value in `leakgeo run`. Every parameter is
declared once; this page is made from the declarations."""


def pages() -> dict[str, str]:
    """Give the page."""
    steps = [f"(parameters-{s.name})=\n## {s.name}\n\n{s.summary}\n\n{_listed(s.parameters)}"
             for s in load_steps().values() if s.parameters]  # fmt: skip
    return {"reference/parameters.md": page(
        "# Parameters", _INTRO, f"## Every job and its output\n\n{_listed(COMMON)}",
        f"## Checks of a job\n\n{_listed(CHECK_PARAMETERS)}", *steps)}  # fmt: skip


def _listed(parameters: tuple[Parameter, ...]) -> str:
    return "\n\n".join(map(_entry, parameters))


def _entry(p: Parameter) -> str:
    default = "" if p.default in (None, "", ()) else f"default `{p.default}`"
    allowed = span(p.minimum, p.maximum)
    facts = [f"`{p.option}`" if p.option else "by its place", f"`{_type(p)}`",
             f"in {p.unit}" if p.unit else "", "required" if p.required else default,
             f"allowed {allowed}" if allowed else ""]  # fmt: skip
    return f"`{p.name}`\n: {', '.join(filter(None, facts))}  \n  {cell(p.help)}"


def _type(p: Parameter) -> str:
    return annotation(p).removesuffix(" | None") if p.required else annotation(p)
