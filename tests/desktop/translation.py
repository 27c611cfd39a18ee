"""The translations of the plugin: texts of its sources, in .ts files, and in compiled ones.

Texts of the catalog of commands are those of leakgeo's own catalogues of messages.
``python -m tests.desktop.translation`` brings every .ts file up to date and compiles it. It needs
``lrelease`` of Qt, which users do not: the compiled files are part of the package.
"""

from __future__ import annotations

import ast
import re
import runpy
import shutil
import struct
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

from leakgeo.commands import describe
from leakgeo.wording import wording

PLUGIN = Path(__file__).parents[2] / "leakgeo" / "desktop" / "plugin"
FOLDER = PLUGIN / "i18n"
CONTEXT = "leakgeo"
CATALOG = "catalog_words.py"
# Three words are a sentence, or a part of one.
_WORDS = re.compile(r"\b[A-Za-z][a-z]+ [a-z]+ [a-z]+\b")
# Marks of the parts of a compiled file, and of the fields of its messages.
_MESSAGES, _END, _TRANSLATION, _SOURCE, _IN_CONTEXT, _COMMENT = 0x69, 1, 3, 6, 7, 8


def texts() -> dict[str, str]:
    """Return texts that sources pass to `tr`, and those of the catalog, each with a module."""
    found: dict[str, str] = {}
    for path in sorted(PLUGIN.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "tr":
                found.setdefault(_literal(node, path), path.name)
    words = runpy.run_path(str(PLUGIN / CATALOG))
    for text in words["catalog_texts"](describe()):
        found.setdefault(text, CATALOG)
    return found


def untranslated() -> list[str]:
    """Return the sentences of the sources that are not passed to `tr`."""
    found = []
    for path in sorted(PLUGIN.glob("*.py")):
        nodes = list(ast.walk(ast.parse(path.read_text("utf-8"))))
        passed = {id(part) for node in nodes for part in _passed(node)}
        found += [f"{path.name}: {node.value}" for node in nodes
                  if isinstance(node, ast.Constant) and id(node) not in passed
                  and isinstance(node.value, str) and _WORDS.search(node.value)]  # fmt: skip
    return found


def _passed(node: ast.AST) -> list[ast.AST]:
    """Return the texts in a call of `tr`, or in the docstring of this node."""
    if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "tr":
        return list(ast.walk(node))
    return [node.value] if isinstance(node, ast.Expr) else []


def _literal(call: ast.Call, path: Path) -> str:
    (text,) = call.args
    if not (isinstance(text, ast.Constant) and isinstance(text.value, str)):
        raise TypeError(f"{path.name}, line {call.lineno}: tr() needs a literal.")
    return text.value


def read_ts(path: Path) -> dict[str, str]:
    """Return the translations of a .ts file by their source; an unfinished one is empty."""
    messages = ET.parse(path).getroot().iterfind("context/message")
    return {m.findtext("source", ""): m.findtext("translation", "") for m in messages}


def read_qm(path: Path) -> dict[str, str]:
    """Return the translations of a compiled file by their source."""
    content, at = path.read_bytes()[16:], 0
    while at < len(content):
        kind, length = struct.unpack_from(">BI", content, at)
        at += 5
        if kind == _MESSAGES:
            return _messages(content[at : at + length])
        at += length
    raise ValueError(f"{path} has no messages.")


def _messages(block: bytes) -> dict[str, str]:
    found, fields, at = {}, {}, 0
    while at < len(block):
        tag = block[at]
        at += 1
        if tag == _END:
            source = fields[_SOURCE].decode()
            found[source] = fields[_TRANSLATION].decode("utf-16-be")
            fields = {}
        elif tag in (_TRANSLATION, _SOURCE, _IN_CONTEXT, _COMMENT):
            (length,) = struct.unpack_from(">I", block, at)
            fields[tag] = block[at + 4 : at + 4 + length]
            at += 4 + length
        else:
            raise ValueError(f"Unknown tag {tag}.")
    return found


def write_ts(path: Path) -> list[str]:
    """Bring a .ts file up to date with the sources, and return what is not translated."""
    known = read_ts(path) if path.exists() else {}
    language = path.stem.rpartition("_")[2]
    words = wording(language=language)
    root = ET.Element("TS", version="2.1", language=language, sourcelanguage="en")
    context = ET.SubElement(root, "context")
    ET.SubElement(context, "name").text = CONTEXT
    for source, module in texts().items():
        message = ET.SubElement(context, "message")
        ET.SubElement(message, "location", filename=f"../{module}")
        ET.SubElement(message, "source").text = source
        translation = ET.SubElement(message, "translation")
        said = words.help(words.title(source)) if module == CATALOG else source
        translation.text = known.get(source, "") if said == source else said
        if not translation.text:
            translation.set("type", "unfinished")
    ET.indent(root, "    ")
    head = '<?xml version="1.0" encoding="utf-8"?>\n<!DOCTYPE TS>\n'
    path.write_text(f"{head}{ET.tostring(root, 'unicode')}\n", "utf-8")
    return [source for source, text in read_ts(path).items() if not text]


def main() -> None:
    """Bring every .ts file up to date, and compile it."""
    program = shutil.which("lrelease")
    for path in sorted(FOLDER.glob("*.ts")):
        for source in write_ts(path):
            sys.stdout.write(f"{path.name}: not translated: {source}\n")
        if program:
            command = [program, "-silent", str(path), "-qm", str(path.with_suffix(".qm"))]
            subprocess.run(command, check=True)
    if not program:
        sys.exit("lrelease is missing: apt-get install qttools5-dev-tools")


if __name__ == "__main__":
    main()
