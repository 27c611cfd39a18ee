"""The language of click's own errors and headings: gettext, which reads compiled texts."""

from __future__ import annotations

import gettext
import os
from contextlib import contextmanager
from typing import TYPE_CHECKING

from leakgeo.wording.locales import ENGLISH, FOLDER, language_of, matched, system_language

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

#: Name of the compiled texts, in the folder ``LC_MESSAGES`` of each language.
DOMAIN = "click"
_OPTION = "--language"
# What gettext asks first.
_VARIABLE = "LANGUAGE"


def called_language(arguments: Sequence[str]) -> str:
    """Return the language of a call before it is parsed: that of ``--language``, or the system's.

    Examples
    --------
    >>> called_language(["list", "out", "--language", "es_MX"]), called_language(["--language=es"])
    ('es', 'es')
    """
    after = dict(zip(arguments, [*arguments[1:], ""], strict=False))
    joined = [each.partition("=")[2] for each in arguments if each.startswith(f"{_OPTION}=")]
    given = [after[_OPTION]] if _OPTION in after else joined
    return language_of(matched(given[0]) or ENGLISH if given else system_language())


@contextmanager
def click_language(arguments: Sequence[str]) -> Iterator[None]:
    """Let click speak the language of a call until the end."""
    before, domain = os.environ.get(_VARIABLE), gettext.textdomain()
    gettext.bindtextdomain(DOMAIN, str(FOLDER))
    gettext.textdomain(DOMAIN)
    os.environ[_VARIABLE] = called_language(arguments)
    try:
        yield
    finally:
        gettext.textdomain(domain)
        if before is None:
            del os.environ[_VARIABLE]
        else:
            os.environ[_VARIABLE] = before
