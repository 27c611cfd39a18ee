"""What a notebook shows of an object: a small table, with everything from data escaped."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

# Of many faults a notebook shows the first.
_MOST = 20


def table(title: str, heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Give an HTML table under a title.

    Examples
    --------
    >>> table("A & B", ["layer"], [["<b>"]])
    '<p><b>A &amp; B</b></p><table><tr><th>layer</th></tr><tr><td>&lt;b&gt;</td></tr></table>'
    """
    head = "".join(f"<th>{escape(name)}</th>" for name in heads)
    body = "".join(
        f"<tr>{''.join(f'<td>{escape(str(cell))}</td>' for cell in row)}</tr>" for row in rows
    )
    return f"<p><b>{escape(title)}</b></p><table><tr>{head}</tr>{body}</table>"


def collapsible(title: str, lines: Sequence[object]) -> str:
    """Give sentences that a click unfolds; nothing where there are none.

    Examples
    --------
    >>> collapsible("Faults", [])
    ''
    """
    if not lines:
        return ""
    told = "".join(f"<li>{escape(str(line))}</li>" for line in lines[:_MOST])
    more = f"<li>... and {len(lines) - _MOST} more</li>" if len(lines) > _MOST else ""
    return f"<details><summary>{escape(title)}</summary><ul>{told}{more}</ul></details>"
