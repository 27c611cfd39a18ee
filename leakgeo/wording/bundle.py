"""Fluent bundle of a catalogue, and the types of its values."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fluent.runtime import FluentBundle, FluentResource
from fluent.runtime.types import FluentType

from leakgeo.wording.quantities import UNKNOWN, Quantities

if TYPE_CHECKING:
    from collections.abc import Callable

    from fluent.syntax.ast import Resource

FOLDER = Path(__file__).parent


class Text(str, FluentType):
    """A text of any length; Fluent refuses plain strings of over 2500 characters."""

    __slots__ = ()

    def format(self, locale: object, currency: object = None) -> str:  # type: ignore[override]
        """Return the text unchanged."""
        return self


class Values(FluentType):
    """Values of a list, which a message joins with ``JOIN`` or prints as a range."""

    def __init__(self, values: tuple[object, ...], texts: tuple[str, ...]) -> None:
        self.values, self.texts = values, texts

    def format(self, locale: object, currency: object = None) -> str:
        """Return the texts, joined by commas."""
        return Text(", ".join(self.texts))


def bundle(language: str, units: str, term: Callable[[str, str], str]) -> FluentBundle:
    """Read the catalogue of a language; `term` returns the text of a code of a kind."""
    functions: dict[str, Any] = {
        name: _of_any_length(function, term)
        for name, function in Quantities(units, term).functions().items()
    }
    # Isolation would add direction marks around names.
    made = FluentBundle([f"{language}-US"], functions=functions, use_isolating=False)
    for resource in _catalogue(language):
        made.add_resource(resource)
    return made


@cache
def _catalogue(language: str) -> tuple[Resource, ...]:
    """Parse the files of a language once for all units; parsing is slow."""
    paths = sorted((FOLDER / language).glob("*.ftl"))
    return tuple(FluentResource(path.read_text("utf-8")) for path in paths)


def _of_any_length(
    function: Callable[..., str], term: Callable[[str, str], str]
) -> Callable[..., Text]:
    def call(*values: Any, **options: Any) -> Text:
        text = function(*values, **options)
        return Text(term(UNKNOWN, "") if text == UNKNOWN else text)

    return call
