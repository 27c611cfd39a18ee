"""Help texts of commands, parameters and layers, as messages: ``python -m tests.wording.phrases``.

Their English stands in the code. It is copied into the English catalogue, with codes made of the
texts; the file of each other language gets their order, and loses what no text has any more. What
is not translated is listed. Write it in, and run it again.
"""

from __future__ import annotations

import io
import re
import sys
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from leakgeo.commands import describe
from leakgeo.job.schema import drawn_layers
from leakgeo.wording import languages
from leakgeo.wording.catalogue import slug
from leakgeo.wording.locales import FOLDER

if TYPE_CHECKING:
    from collections.abc import Mapping

NAME = "help.ftl"
_MESSAGE = re.compile(r"^((?:help|choice)_\w+) = (.*)$", re.MULTILINE)


@cache
def helps() -> Mapping[str, str]:
    """Return the English help texts of the catalog of commands, and choices, by their codes."""
    catalog = describe()
    commands = [*catalog["steps"], *catalog["tools"]]
    texts = [text for command in commands for text in (command["summary"], command["help"])]
    texts += [parameter["help"] for command in commands for parameter in command["parameters"]]
    texts += [layer["description"] for role in ("input", "output")
              for layer in catalog[f"{role}_layers"]]  # fmt: skip
    return {f"help_{slug(text)}": text for text in texts} | choices()


def choices() -> dict[str, str]:
    """Return the words of the codes that a form offers."""
    fields = [field for schema in drawn_layers().values() for field in schema.fields]
    return {f"choice_{field.name}_{slug(field.words(code))}": field.words(code)
            for field in fields for code in field.codes}  # fmt: skip


def titles() -> set[str]:
    """Return headings and labels of pages of help and of forms, and names of commands."""
    from leakgeo.deliver.field_project import forms, project
    from leakgeo.desktop.help_pages import label

    catalog = describe()
    commands = [*catalog["steps"], *catalog["tools"]]
    parameters = [parameter for command in commands for parameter in command["parameters"]]
    return {
        *(layer["title"] for role in ("input", "output") for layer in catalog[f"{role}_layers"]),
        *(command[key] for command in commands for key in ("title", "group")),
        *(parameter["group"] for parameter in parameters), *map(label, parameters),
        *(title for title, _ in forms.FIRST.values()), *forms._REST.values(), forms._MORE,
        forms._HELP, *(title for box in forms._BOXES.values() for title in box),
        *project._TREE, "Other", "Dark ground", "Day", "Night", "Leak survey", "Data",
    }  # fmt: skip


def written(texts: Mapping[str, str], head: str) -> str:
    """Return the file of the messages; braces would begin a variable."""
    lines = (f"{code} = {re.sub('[{}]', _quoted, text)}" for code, text in texts.items())
    return "\n".join([head, "", *lines, ""])


def _quoted(brace: re.Match[str]) -> str:
    return f'{{"{brace[0]}"}}'


def _renew(path: Path) -> list[str]:
    """Bring the file of a language up to date; return what is not translated."""
    text = path.read_text("utf-8")
    known = dict(_MESSAGE.findall(text))
    lines = [f"{code} = {known[code]}" for code in helps() if code in known]
    path.write_text("\n".join([text.splitlines()[0], "", *lines, ""]), "utf-8")
    return [f"{code} = {text}" for code, text in helps().items() if code not in known]


def compiled(texts: Path) -> bytes:
    """Return the texts of click in a language as gettext reads them."""
    out = io.BytesIO()
    write_mo(out, read_po(io.BytesIO(texts.read_bytes())))
    return out.getvalue()


def main() -> None:
    """Write the English file, renew the others, and compile the texts of click."""
    for texts in sorted(FOLDER.glob("*/LC_MESSAGES/*.po")):
        texts.with_suffix(".mo").write_bytes(compiled(texts))
    english, *others = languages()
    head = "# Help texts as in the code: python -m tests.wording.phrases writes this file."
    (FOLDER / english / NAME).write_text(written(helps(), head), "utf-8")
    for language in others:
        for line in _renew(FOLDER / language / NAME):
            sys.stdout.write(f"{language}: not translated: {line}\n")


if __name__ == "__main__":
    main()
