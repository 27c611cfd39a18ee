"""The catalogues of sentences, one a language, and how a reason is said with them."""

from __future__ import annotations

import logging
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from leakgeo.reason import Reason

if TYPE_CHECKING:
    from fluent.runtime import FluentBundle
    from fluent.runtime.resolver import Pattern

_FOLDER = Path(__file__).parent
_ENGLISH = "en"
_LOG = logging.getLogger("leakgeo")


def languages() -> tuple[str, ...]:
    """Languages that there is a catalogue of; English, which is complete, comes first.

    Examples
    --------
    >>> languages()
    ('en', 'es')
    """
    found = sorted(path.parent.name for path in _FOLDER.glob("*/lines.ftl"))
    return (_ENGLISH, *(name for name in found if name != _ENGLISH))


class Wording:
    """Says reasons in one language and in one kind of units.

    Parameters
    ----------
    units : {"si", "us"}
        Units that people see.
    language : str
        One of `languages`. What its catalogue lacks is said in English.

    Examples
    --------
    >>> Wording("us").say(Reason("dig_depth_unknown"))
    'the depth is not known: expect to need a protective system (29 CFR 1926.652(a)(1))'
    >>> Wording().say(Reason("of_another_package", name="2: DN 150 mm"))
    'of another package (2: DN 150 mm)'
    """

    def __init__(self, units: str = "si", language: str = _ENGLISH) -> None:
        self.units, self.language = units, language
        # Heavy, and what is not written for people needs none of it.
        from leakgeo.wording.bundle import bundle

        names = (language,) if language == _ENGLISH else (language, _ENGLISH)
        self._bundles = [bundle(name, units, self.term) for name in names]
        self.say = lru_cache(maxsize=4096)(self._say)
        self.part = lru_cache(maxsize=4096)(self._part)

    def _say(self, reason: Reason) -> str:
        """Say a reason, and what follows it, as one text."""
        said = self._message(reason, None)
        if said is None:
            said = _plainly(reason, self)
        return " ".join([said, *map(self.say, reason.then)])

    def _part(self, reason: Reason, name: str) -> str:
        """Say a part of a message, such as its ``.short``; ``""`` where it has none."""
        return self._message(reason, name) or ""

    def knows(self, code: str) -> bool:
        """Whether a catalogue has a message of that code."""
        return any(bundle.has_message(code) for bundle in self._bundles)

    def term(self, code: str, kind: str = "") -> str:
        """Say a code of the data contract; one without a message is said as it stands.

        Parameters
        ----------
        code : str
        kind : str
            What comes before it in the name of the message, such as ``"status"``.

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
        from leakgeo.wording.bundle import Several, Text

        if isinstance(value, Reason):
            return Text(self.say(value))
        if isinstance(value, str):
            return Text(value)
        if isinstance(value, tuple):
            return Several(value, tuple(str(self._argument(each)) for each in value))
        if isinstance(value, bool):
            return "yes" if value else "no"
        return Text(self.term("unknown")) if value is None else value


def _formatted(
    bundle: FluentBundle, pattern: Pattern, arguments: dict[str, Any], reason: Reason
) -> str:
    said, errors = bundle.format_pattern(pattern, arguments)
    for error in errors:
        _LOG.warning("The message %s can't be said in full: %s", reason.code, error)
    return str(said)


def _plainly(reason: Reason, wording: Wording) -> str:
    """Say a code that no catalogue has, as another package's step may give it."""
    values = ", ".join(str(wording._argument(value)) for _, value in reason.values)
    said = reason.code.replace("_", " ")
    return f"{said} ({values})" if values else said


@cache
def wording(units: str = "si", language: str = _ENGLISH) -> Wording:
    """Give the wording of a language and a kind of units, made once.

    Examples
    --------
    >>> wording("us") is wording("us")
    True
    """
    return Wording(units, language)
