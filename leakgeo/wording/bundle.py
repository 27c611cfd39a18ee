"""A catalogue as Fluent formats it, and values in the types that it takes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from fluent.runtime import FluentBundle, FluentResource
from fluent.runtime.types import FluentType

from leakgeo.wording.quantities import UNKNOWN, Quantities

if TYPE_CHECKING:
    from collections.abc import Callable

FOLDER = Path(__file__).parent


class Text(str, FluentType):
    """A text of any length; Fluent refuses plain ones of over 2500 characters."""

    __slots__ = ()

    def format(self, locale: object, currency: object = None) -> str:  # type: ignore[override]
        """Give it as it stands."""
        return self


class Several(FluentType):
    """Values of a list: texts that a message joins with ``JOIN``, or the ends of a range."""

    def __init__(self, values: tuple[object, ...], texts: tuple[str, ...]) -> None:
        self.values, self.texts = values, texts

    def format(self, locale: object, currency: object = None) -> str:
        """Join them by commas."""
        return Text(", ".join(self.texts))


def bundle(language: str, units: str, term: Callable[[str, str], str]) -> FluentBundle:
    """Read the catalogue of a language; `term` says a code of some kind."""
    functions: dict[str, Any] = {
        name: _of_any_length(function, term)
        for name, function in Quantities(units, term).functions().items()
    }
    # Names go through unchanged: no marks of direction are put around them.
    made = FluentBundle([f"{language}-US"], functions=functions, use_isolating=False)
    for path in sorted((FOLDER / language).glob("*.ftl")):
        made.add_resource(FluentResource(path.read_text("utf-8")))
    return made


def _of_any_length(
    function: Callable[..., str], term: Callable[[str, str], str]
) -> Callable[..., Text]:
    def said(*values: Any, **options: Any) -> Text:
        text = function(*values, **options)
        return Text(term(UNKNOWN, "") if text == UNKNOWN else text)

    return said
