"""Pieces of MyST Markdown that generated pages are made of."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


def cell(text: object) -> str:
    r"""Give a text as it stands in a cell: on one line, and without a mark of its own.

    Examples
    --------
    >>> print(cell("a | b\nc <d> *"))
    a \| b c \<d> \*
    """
    one = " ".join(str(text).split())
    for mark in "\\|<*_[":
        one = one.replace(mark, f"\\{mark}")
    return one


def code(text: object) -> str:
    r"""Give a text as code in a cell; an empty one is empty.

    Examples
    --------
    >>> print(code("a|b"))
    `a\|b`
    >>> code("")
    ''
    """
    return f"`{text}`".replace("|", "\\|") if str(text) else ""


def span(low: float | None, high: float | None) -> str:
    """Give the values that are allowed; an end that is None is open.

    Examples
    --------
    >>> span(1, None), span(0.3, 3.0), span(None, None)
    ('1 or more', '0.3 to 3', '')
    """
    if low is None or high is None:
        return f"{low:g} or more" if low is not None else "" if high is None else f"up to {high:g}"
    return f"{low:g} to {high:g}"


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Give a table; its cells are Markdown.

    Examples
    --------
    >>> print(table(["a", "b"], [["1", ""]]))
    | a | b |
    |---|---|
    | 1 |  |
    """
    lines = [heads, *rows]
    shown = [f"| {' | '.join(cells)} |" for cells in lines]
    return "\n".join([shown[0], f"|{'---|' * len(heads)}", *shown[1:]])


def toctree(entries: Iterable[str], depth: int = 1) -> str:
    """Give the list of pages below a page."""
    listed = "\n".join(entries)
    return f"```{{toctree}}\n:maxdepth: {depth}\n\n{listed}\n```"


def page(*parts: str) -> str:
    """Join the parts of a page with an empty line between them."""
    return "\n\n".join(part for part in parts if part) + "\n"
