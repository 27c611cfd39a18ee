"""Pages of the messages and their codes, made from the English catalogue."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from fluent.syntax import FluentParser
from fluent.syntax import ast as ftl

import leakgeo
from tests.site.markdown import cell, page, toctree

FOLDER = Path(leakgeo.__file__).parent / "wording" / "en"
#: Catalogues whose messages stand in a layer or a file of a result with their code, and a title.
WITH_CODES = {
    "checks": "Faults of rows and layers", "faults": "Faults of lines, walks and whole layers",
    "sources": "Faults of files and mappings", "typed": "Faults of typed sheets",
    "stops": "Stops that are added", "closing": "Lines that are closed",
    "lines": "Results of a line", "card": "The card of a line", "dig": "Digs and their holds",
    "terms": "Words of codes",
}  # fmt: skip
_INTRO = """Programs read the code of a message, people its text: layers and `faults.csv` store
both. A code has no language and no units. `leakgeo --language` chooses the language of texts. A
fault has one of three effects: *noted* (nothing is lost), *rejected* (the row, layer or line is
not used), *stops* (the job can't be run)."""
_NOTATION = """## How these pages are written

| you see | it means |
|---|---|
| `{line}` | the value of that name stands here; lengths are in the units of the reader |
| `{1 ft}` | a fixed length, in the units of the reader |
| `[yes] ... [no] ...` | one of these texts, by a value; the code before each is that value |
| *What to do:* | what the person who reads it can do |
| *short:*, *brief:*, other words in italics | another wording, for less room or elsewhere |

Where a text differs by a number alone, the form for several is shown."""
_COUNTS = {"zero", "one", "two", "few", "many", "other"}


def pages() -> dict[str, str]:
    """Give the page of all messages, and one of each catalogue."""
    index = page("# Messages and their codes", _INTRO, _NOTATION, toctree(WITH_CODES))
    return {"reference/messages/index.md": index} | {
        f"reference/messages/{name}.md": _page(name) for name in WITH_CODES
    }


@cache
def messages(name: str) -> dict[str, ftl.Message]:
    """Give the messages of a catalogue by their codes."""
    body = FluentParser(with_spans=False).parse((FOLDER / f"{name}.ftl").read_text("utf-8")).body
    return {e.id.name: e for e in body if isinstance(e, ftl.Message)}


def _page(name: str) -> str:
    found = [_entry(code, message) for code, message in sorted(messages(name).items())]
    return page(f"(messages-{name})=\n# {WITH_CODES[name]}", f"{len(found)} messages.",
                "```{glossary}\n" + "\n\n".join(found) + "\n```")  # fmt: skip


def _entry(code: str, message: ftl.Message) -> str:
    parts = {a.id.name: plain(a.value) for a in message.attributes}
    text = cell(plain(message.value)) if message.value else ""
    shown = [text, *(f"*What to do:* {cell(t)}" if n == "remedy" else f"*{n}:* {cell(t)}"
                     for n, t in parts.items())]  # fmt: skip
    return f"{code}\n  {' '.join(filter(None, shown))}"


def plain(pattern: ftl.Pattern) -> str:
    """Give a pattern as one line, with the names of its values.

    Examples
    --------
    >>> plain(messages("checks")["not_number"].value)
    '{column} is not a finite number: {value}.'
    """
    return "".join(
        e.value if isinstance(e, ftl.TextElement) else _shown(e.expression)
        for e in pattern.elements
    )


def _shown(expression: ftl.Expression) -> str:
    if isinstance(expression, ftl.Placeable):
        return _shown(expression.expression)
    if isinstance(expression, ftl.StringLiteral):
        return str(expression.parse()["value"])
    if isinstance(expression, ftl.SelectExpression):
        return _choice(expression)
    if isinstance(expression, ftl.FunctionReference):
        given = expression.arguments.positional
        return ", ".join(_shown(each) for each in given) if given else "{1 ft}"
    return f"{{{expression.id.name}}}" if hasattr(expression, "id") else f"{{{expression.value}}}"


def _choice(select: ftl.SelectExpression) -> str:
    """Give the general variant where numbers are told apart, else all of them."""
    keys = [getattr(v.key, "name", None) or v.key.value for v in select.variants]
    last = next(plain(v.value) for v in select.variants if v.default)
    if all(key in _COUNTS or key.isdigit() or key == "unknown" for key in keys):
        return last
    told = [f"[{key}] {plain(v.value)}" for key, v in zip(keys, select.variants, strict=True)]
    return " ".join(told)
