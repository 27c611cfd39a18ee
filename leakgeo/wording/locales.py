"""Languages of the catalogues, with the numbers and dates of regions, and that of the system."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

    from babel import Locale

FOLDER = Path(__file__).parent
ENGLISH = "en"
# Regions whose numbers differ from those of the language itself, by the Unicode CLDR.
_REGIONS = {"es": ("es-419",)}
# Of most weight first, as POSIX orders them.
_VARIABLES = ("LC_ALL", "LC_MESSAGES", "LANG")
# Between thousands where the comma is decimal: a point there would be read as one, too.
_THIN = "\u00a0"


@cache
def languages() -> tuple[str, ...]:
    """Return the languages with a catalogue; English comes first.

    Examples
    --------
    >>> from leakgeo.wording import languages
    >>> languages()
    ('en', 'es')
    """
    found = sorted(path.parent.name for path in FOLDER.glob("*/lines.ftl"))
    return (ENGLISH, *(name for name in found if name != ENGLISH))


@cache
def locales() -> tuple[str, ...]:
    """Return the values of the parameter ``language``: languages, and regions with own numbers.

    Examples
    --------
    >>> locales()
    ('en', 'es', 'es-419')
    """
    return tuple(each for name in languages() for each in (name, *_REGIONS.get(name, ())))


def language_of(locale: str) -> str:
    """Return the language of one of `locales`, which names its catalogue.

    Examples
    --------
    >>> language_of("es-419")
    'es'
    """
    return locale.partition("-")[0]


@cache
def matched(name: str) -> str | None:
    """Return the one of `locales` that has the language and the numbers of a locale, or None.

    Parameters
    ----------
    name : str
        As in ``LANG`` or in HTML; what follows a dot or an at sign is left out.

    Examples
    --------
    >>> matched("es_MX.UTF-8"), matched("es-AR"), matched("en_GB"), matched("es")
    ('es-419', 'es', 'en', 'es')
    >>> matched("C.UTF-8"), matched("pt_BR.UTF-8"), matched("")
    (None, None, None)
    """
    plain = name.split(".", maxsplit=1)[0].split("@", maxsplit=1)[0].replace("_", "-")
    if plain.lower() in (known := {each.lower(): each for each in locales()}):
        return known[plain.lower()]
    language = language_of(plain).lower()
    if language not in languages():
        return None
    try:
        decimal = _symbols(plain)[0]
    except ValueError:  # an unknown region, or no locale at all
        return language
    same = (each for each in (language, *_REGIONS.get(language, ())))
    return next((each for each in same if _symbols(each)[0] == decimal), language)


def system_language(environment: Mapping[str, str] = os.environ) -> str:
    """Return the one of `locales` that the environment asks for; English if it asks for another.

    Parameters
    ----------
    environment : mapping of str to str
        ``LC_ALL``, ``LC_MESSAGES`` and ``LANG``: the first that is not empty counts.

    Examples
    --------
    >>> system_language({"LANG": "es_MX.UTF-8"}), system_language({"LANG": "fr_FR.UTF-8"})
    ('es-419', 'en')
    >>> system_language({"LANG": "es_ES.UTF-8", "LC_ALL": "C"}), system_language({})
    ('en', 'en')
    """
    given = next((environment[name] for name in _VARIABLES if environment.get(name)), "")
    return matched(given) or ENGLISH


def locale_of(name: str) -> Locale:
    """Return Babel's locale of one of `locales`."""
    from babel import Locale  # a slow import

    return Locale.parse(name, sep="-")


@cache
def signed_locale(name: str) -> Locale:
    """Return Babel's locale of one of `locales`, with the signs that `local_number` gives."""
    from babel import Locale  # a slow import

    decimal, thousands = _symbols(name)

    class Signed(Locale):
        @property
        def number_symbols(self) -> Any:
            """Signs of numbers in each system of digits."""
            signs = {"decimal": decimal, "group": thousands}
            return {system: {**own, **signs} for system, own in super().number_symbols.items()}

    known = locale_of(name)
    return Signed(known.language, known.territory, known.script, known.variant)


@cache
def _symbols(name: str) -> tuple[str, str]:
    """Return the decimal sign of a locale, and what separates thousands."""
    if language_of(name) == ENGLISH:
        return ".", ","
    from babel import Locale, UnknownLocaleError

    try:
        symbols = Locale.parse(name, sep="-").number_symbols["latn"]
    except UnknownLocaleError as error:
        raise ValueError(name) from error
    return (",", _THIN) if symbols["decimal"] == "," else (".", ",")


def local_number(text: str, locale: str) -> str:
    r"""Return the text of a number, as Python formats it, with the signs of a locale.

    Parameters
    ----------
    text : str
        A number, which may have its unit, but no other text.
    locale : str
        One of `locales`.

    Examples
    --------
    >>> local_number("1,234.50 m", "es"), local_number("1,234.50 m", "es-419")
    ('1\xa0234,50 m', '1,234.50 m')
    """
    return text.translate(_signs(locale)) if _signs(locale) else text


@cache
def _signs(locale: str) -> dict[int, str]:
    decimal, thousands = _symbols(locale)
    return {} if decimal == "." else {ord("."): decimal, ord(","): thousands}


@cache
def local_day(day: str, locale: str) -> str:
    """Return a day as people write it; the text itself if it is no day.

    The month is in letters, as figures alone are read in two orders. English keeps the order of
    ISO 8601, which has one.

    Parameters
    ----------
    day : str
        Such as ``2026-11-30``, or ``2026-11-30 14:05``, of which the clock is kept.
    locale : str
        One of `locales`.

    Examples
    --------
    >>> local_day("2026-11-30", "es"), local_day("2026-11-30 14:05", "es"), local_day("soon", "es")
    ('30 nov 2026', '30 nov 2026 14:05', 'soon')
    """
    if language_of(locale) == ENGLISH:
        return day
    from datetime import date

    from babel.dates import format_date

    plain, _, clock = day.partition(" ")
    try:
        found = date.fromisoformat(plain)
    except ValueError:
        return day
    text = format_date(found, "d MMM y", locale_of(locale)).replace(".", "")
    return f"{text} {clock}" if clock else text
