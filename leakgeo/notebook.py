"""HTML for notebooks: small tables and lists, with all data escaped."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

# Longest list that is shown in full.
_MOST = 20


def table(title: str, heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return an HTML table with a title.

    Parameters
    ----------
    title : str
        Text above the table.
    heads : sequence of str
        Names of the columns.
    rows : iterable of sequence
        Cells of each row, of any type.

    Returns
    -------
    str
        HTML without styles.

    Examples
    --------
    >>> from leakgeo.notebook import table
    >>> table("A & B", ["layer"], [["<b>"]])
    '<p><b>A &amp; B</b></p><table><tr><th>layer</th></tr><tr><td>&lt;b&gt;</td></tr></table>'
    """
    head = "".join(f"<th>{escape(name)}</th>" for name in heads)
    body = "".join(
        f"<tr>{''.join(f'<td>{escape(str(cell))}</td>' for cell in row)}</tr>" for row in rows
    )
    return f"<p><b>{escape(title)}</b></p><table><tr>{head}</tr>{body}</table>"


def collapsible(title: str, lines: Sequence[object]) -> str:
    """Return a list that opens on a click, as HTML; empty without lines.

    Parameters
    ----------
    title : str
        Text that is always shown.
    lines : sequence
        Lines of any type; the first twenty are shown.

    Returns
    -------
    str
        HTML without styles.

    Examples
    --------
    >>> from leakgeo.notebook import collapsible
    >>> collapsible("Faults", [])
    ''
    """
    if not lines:
        return ""
    items = "".join(f"<li>{escape(str(line))}</li>" for line in lines[:_MOST])
    more = f"<li>... and {len(lines) - _MOST} more</li>" if len(lines) > _MOST else ""
    return f"<details><summary>{escape(title)}</summary><ul>{items}{more}</ul></details>"
