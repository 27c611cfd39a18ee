"""Catalogues of sentences, one for each language, and the text of a reason."""

from __future__ import annotations

import logging
import re
from contextvars import ContextVar
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any
from zlib import crc32

from leakgeo.reason import Reason
from leakgeo.wording.locales import ENGLISH, language_of, local_day, local_number

if TYPE_CHECKING:
    from collections.abc import Callable

    from fluent.runtime import FluentBundle
    from fluent.runtime.resolver import Pattern

_TEXTS = 32768
_NO_WORD = re.compile(r"[^a-z0-9]+")
_MOST_SLUG = 50
_LOG = logging.getLogger("leakgeo")


class Wording:
    """Formats reasons in one language and in SI or US units.

    Parameters
    ----------
    units : {"si", "us"}
        Units of the texts.
    language : str
        One of `locales`. Messages that its catalogue lacks are in English.

    Examples
    --------
    >>> Wording("us").text(Reason("dig_depth_unknown"))
    'the depth is not known: expect to need a protective system (29 CFR 1926.652(a)(1))'
    >>> Wording().text(Reason("of_another_package", name="2: DN 150 mm"))
    'of another package (2: DN 150 mm)'
    """

    def __init__(self, units: str = "si", language: str = ENGLISH) -> None:
        self.units, self.language = units, language
        # A slow import, which only texts for people need.
        from leakgeo.wording.bundle import bundle
        from leakgeo.wording.quantities import Quantities

        names = dict.fromkeys((language_of(language), ENGLISH))
        self.term = lru_cache(maxsize=4096)(self._term)
        self.quantities = Quantities(units, self.term, language)
        self._bundles = [bundle(name, self.quantities) for name in names]
        # A job of thousands of lines asks for tens of thousands of texts in the same order, of
        # which a smaller cache would keep none until they are asked for again.
        self.text = lru_cache(maxsize=_TEXTS)(self._text_of)
        self.part = lru_cache(maxsize=_TEXTS)(self._part)

    def __reduce__(self) -> tuple[Callable[..., Wording], tuple[str, str]]:
        """Name the wording, which another process makes once."""
        return wording, (self.units, self.language)

    def _text_of(self, reason: Reason) -> str:
        """Return the text of a reason and of the reasons that follow it."""
        first = self._message(reason, None)
        if first is None:
            first = _without_message(reason, self)
        return " ".join([first, *map(self.text, reason.then)])

    def _part(self, reason: Reason, name: str) -> str:
        """Return an attribute of a message, such as ``short``; ``""`` if it has none."""
        return self._message(reason, name) or ""

    def title(self, english: str) -> str:
        """Return a title of the schemas in the language, or as it is if no message has it.

        Examples
        --------
        >>> Wording(language="es").title("Pipe routes"), Wording(language="es").title("Own")
        ('Trazados de tubería', 'Own')
        """
        return self._phrase(f"titled_{slug(english)}", english)

    def help(self, english: str) -> str:
        """Return a help text of the code, or the description of a layer, as `title` does.

        Examples
        --------
        >>> Wording(language="es").help("Pixel size."), Wording(language="es").help("Own help.")
        ('Tamaño del píxel.', 'Own help.')
        """
        return self._phrase(f"help_{slug(english)}", english)

    def choice(self, column: str, english: str) -> str:
        """Return a choice of a column in a form; `english` if no message has it.

        Examples
        --------
        >>> Wording(language="es").choice("side", "utility")
        'empresa'
        """
        return self._phrase(f"choice_{column}_{slug(english)}", english)

    def _phrase(self, code: str, english: str) -> str:
        return self.term(code) if english and self.knows(code) else english

    def number(self, text: str) -> str:
        """Return the text of a number, as Python formats it, with the signs of the language."""
        return local_number(text, self.language)

    def day(self, text: str) -> str:
        """Return a day in ISO 8601, with or without its clock, as people write it."""
        return local_day(text, self.language)

    def english(self) -> Wording | None:
        """Return the wording in English, or None if this one is; for what must not be misread."""
        return None if language_of(self.language) == ENGLISH else wording(self.units, ENGLISH)

    def knows(self, code: str) -> bool:
        """Return whether a catalogue has a message with this code."""
        return any(bundle.has_message(code) for bundle in self._bundles)

    def _term(self, code: str, kind: str = "") -> str:
        """Return the text of a code of the data contract, or the code if it has no message.

        Parameters
        ----------
        code : str
        kind : str
            Prefix of the message id, such as ``"status"``.

        Examples
        --------
        >>> Wording().term("located", "status"), Wording().term("half_done", "status")
        ('Mark set', 'half done')
        """
        found = self._message(Reason(f"{kind}_{code}" if kind else code), None)
        return code.replace("_", " ") if found is None else found

    def _message(self, reason: Reason, attribute: str | None) -> str | None:
        for bundle in self._bundles:
            if not bundle.has_message(reason.code):
                continue
            message = bundle.get_message(reason.code)
            pattern = message.attributes.get(attribute) if attribute else message.value
            if pattern is not None:
                return _formatted(bundle, pattern, self._arguments(reason), reason)
        return None

    def _arguments(self, reason: Reason) -> dict[str, Any]:
        return {name: self._argument(value) for name, value in reason.values}

    def _argument(self, value: object) -> Any:
        from leakgeo.wording.bundle import Text, Values

        if isinstance(value, Reason):
            return Text(self.text(value))
        if isinstance(value, str):
            return Text(value)
        if isinstance(value, tuple):
            return Values(value, tuple(str(self._argument(each)) for each in value))
        if isinstance(value, bool):
            return "yes" if value else "no"
        return Text(self.term("unknown")) if value is None else value


def slug(english: str) -> str:
    """Return what ends the code of an English text: its words, with a digest if they are many.

    Another text has another code, so that no translation outlives the text that it is of.

    Examples
    --------
    >>> slug("Pipe routes"), slug("File to write; without it, the draft is printed to stdout.")
    ('pipe_routes', 'file_to_write_without_it_the_draft_is_printed_to_s_53e5bde4')
    """
    words = _NO_WORD.sub("_", english.lower()).strip("_")
    if len(words) <= _MOST_SLUG:
        return words
    return f"{words[:_MOST_SLUG]}_{crc32(english.encode()):08x}"


def _formatted(
    bundle: FluentBundle, pattern: Pattern, arguments: dict[str, Any], reason: Reason
) -> str:
    formatted, errors = bundle.format_pattern(pattern, arguments)
    for error in errors:
        _LOG.warning("The message %s is incomplete: %s", reason.code, error)
    return str(formatted)


def _without_message(reason: Reason, wording: Wording) -> str:
    """Return a code and its values; other packages may use codes without a message."""
    values = ", ".join(str(wording._argument(value)) for _, value in reason.values)
    code = reason.code.replace("_", " ")
    return f"{code} ({values})" if values else code


@cache
def wording(units: str = "si", language: str = ENGLISH) -> Wording:
    """Return the cached wording of a language and units.

    Examples
    --------
    >>> wording("us") is wording("us")
    True
    """
    return Wording(units, language)


_ACTIVE: ContextVar[tuple[str, str]] = ContextVar("leakgeo_locale", default=("si", ENGLISH))


def active_wording() -> Wording:
    """Return the wording of errors and faults: English and SI, unless `set_locale` was called.

    Examples
    --------
    >>> active_wording().units, active_wording().language
    ('si', 'en')
    """
    return wording(*_ACTIVE.get())


def set_locale(units: str = "si", language: str = ENGLISH) -> None:
    """Set units and language of errors and faults in this context (thread or task).

    Parameters
    ----------
    units : {"si", "us"}
        Units of lengths, pressures and flows in texts.
    language : str
        One of `locales`.

    Examples
    --------
    >>> from leakgeo.wording import active_wording, set_locale
    >>> set_locale("us")
    >>> active_wording().units
    'us'
    >>> set_locale()
    """
    _ACTIVE.set((units, language))
