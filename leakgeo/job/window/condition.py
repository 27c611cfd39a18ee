"""The condition that selects lines: one expression of SQL, which can't become a statement."""

from __future__ import annotations

import re

from leakgeo.errors import ParameterError

# Quoted texts and names, comments, parentheses, and the end of a statement.
_PARTS = re.compile(r"""'(?:[^']|'')*'|"(?:[^"]|"")*"|--|/\*|\$\w*\$|[();'"\\]""")


def check_condition(condition: object) -> str:
    """Return a condition without spaces around it.

    Parameters
    ----------
    condition : str
        SQL condition on the columns of the layer of routes.

    Raises
    ------
    ParameterError
        If it is empty, no text, or more than one expression.

    Examples
    --------
    >>> check_condition(" district = 7 AND street <> 'A; B' ")
    "district = 7 AND street <> 'A; B'"
    >>> from leakgeo.errors import ParameterError
    >>> for wrong in ("true); DROP TABLE routes", "a) OR (b", "(a", "a -- b", " "):
    ...     try:
    ...         check_condition(wrong)
    ...     except ParameterError as error:
    ...         print(error)
    where: ')' has no '('. Give one condition, such as "district = 7".
    where: ')' has no '('. Give one condition, such as "district = 7".
    where: '(' has no ')'. Give one condition, such as "district = 7".
    where: it has '--'. Give one condition, such as "district = 7".
    where: it is empty. Give one condition, such as "district = 7".
    """
    text = condition.strip() if isinstance(condition, str) else ""
    if not text:
        raise _wrong("it is empty")
    if "\0" in text:
        raise _wrong("it has a character NUL")
    depth = 0
    for part in _PARTS.findall(text):
        if part[0] in "'\"" and len(part) > 1:
            continue
        if part not in "()":
            raise _wrong(f"it has {part!r}")
        depth += 1 if part == "(" else -1
        if depth < 0:
            raise _wrong("')' has no '('")
    if depth:
        raise _wrong("'(' has no ')'")
    return text


def _wrong(what: str) -> ParameterError:
    return ParameterError.of("where", f'{what}. Give one condition, such as "district = 7".')
