"""Fluent bundle of a catalogue, and the types of its values."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fluent.runtime import FluentBundle, FluentResource
from fluent.runtime.types import FluentType

from leakgeo.wording.locales import signed_locale
from leakgeo.wording.quantities import UNKNOWN

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from fluent.runtime.resolver import Message

    from leakgeo.wording.quantities import Quantities

FOLDER = Path(__file__).parent
# A message begins at the start of a line; one that it refers to is named with its attribute.
_BEGIN = re.compile(r"^(?=([A-Za-z][\w-]*) *=)", re.MULTILINE)
_REFERENCE = re.compile(r"\{ *([A-Za-z][\w-]*)(?:\.[\w-]+)? *\}")


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


class Catalogue(FluentBundle):
    """Messages of a language; each is parsed when it is first asked for, as most never are."""

    def __init__(self, language: str, functions: dict[str, Any], locale: str) -> None:
        # Isolation would add direction marks around names.
        super().__init__([language], functions=functions, use_isolating=False)
        # Plurals are those of the language, numbers those of the reader.
        self._babel_locale = signed_locale(locale)
        self._texts = _texts(language)

    def has_message(self, message_id: str) -> bool:
        """Return whether there is a message; it and those it refers to are parsed."""
        if not super().has_message(message_id) and message_id in self._texts:
            text = self._texts[message_id]
            self.add_resource(_parsed(text))
            for other in _REFERENCE.findall(text):
                self.has_message(other)
        return super().has_message(message_id)

    def get_message(self, message_id: str) -> Message:
        """Return a message, parsed."""
        self.has_message(message_id)
        return super().get_message(message_id)


@cache
def _texts(language: str) -> Mapping[str, str]:
    """Return the source of each message by its id."""
    files = [path.read_text("utf-8") for path in sorted((FOLDER / language).glob("*.ftl"))]
    # What stands before the first message is followed by id and text, in turn.
    parts = [part for text in files for part in _BEGIN.split(text)[1:]]
    return dict(zip(parts[::2], parts[1::2], strict=True))


_parsed = cache(FluentResource)


def bundle(language: str, quantities: Quantities) -> FluentBundle:
    """Read the catalogue of a language, whose messages call the functions of `quantities`."""
    functions: dict[str, Any] = {
        name: _of_any_length(function, quantities.term)
        for name, function in quantities.functions().items()
    }
    return Catalogue(language, functions, quantities.locale)


def _of_any_length(
    function: Callable[..., str], term: Callable[[str, str], str]
) -> Callable[..., Text]:
    def call(*values: Any, **options: Any) -> Text:
        text = function(*values, **options)
        return Text(term(UNKNOWN, "") if text == UNKNOWN else text)

    return call
