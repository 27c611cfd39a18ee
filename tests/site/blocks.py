"""The blocks of code on a page, and how each is run; DEVELOPERS.md has the kinds for writers."""

from __future__ import annotations

import doctest
import json
import os
import re
import shlex
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from markdown_it import MarkdownIt

from tests.test_cli import leakgeo_command

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

ROOT = Path(__file__).parents[2]
_FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
_COMMAND = re.compile(r"^\$ ", re.MULTILINE)


@dataclass(frozen=True)
class Block:
    """A block of code of a page.

    Parameters
    ----------
    kind : str
        First word after the fence, such as ``python``.
    options : dict of str to str
        What follows it, such as ``exit=1``.
    text : str
        Lines of the block.
    line : int
        Line of the page that the fence is on.
    """

    kind: str
    options: dict[str, str]
    text: str
    line: int


def blocks_of(markdown: str, first: int = 1) -> Iterator[Block]:
    r"""Give the fenced blocks of a page in order, also those within a note.

    Examples
    --------
    >>> [(b.kind, b.options) for b in blocks_of("```console exit=1\n$ ls\n```\n")]
    [('console', {'exit': '1'})]
    """
    for token in MarkdownIt().parse(markdown):
        if token.type != "fence":
            continue
        kind, *more = token.info.split() or [""]
        line = first + (token.map or [0])[0]
        if kind.startswith("{") and kind not in ("{toctree}", "{eval-rst}"):
            yield from blocks_of(token.content, line + 1)
        if not kind.startswith("{") or kind == "{code-block}":
            yield Block(kind, dict(each.partition("=")[::2] for each in more), token.content, line)


def run_page(markdown: str, folder: Path, kinds: set[str] | None = None) -> dict[str, object]:
    """Run the blocks of a page in order, in a folder, with one namespace.

    Parameters
    ----------
    markdown : str
        Text of the page.
    folder : pathlib.Path
        Current folder of the blocks.
    kinds : set of str, optional
        Kinds to run, the others are left; all if None.

    Returns
    -------
    dict of str to object
        The names that Python blocks defined.

    Raises
    ------
    AssertionError
        If a block fails, prints something else, or is of no known kind.
    """
    names: dict[str, object] = {"__name__": "__main__"}
    before = Path.cwd()
    os.chdir(folder)
    try:
        for block in blocks_of(markdown):
            if kinds is None or block.kind in kinds:
                _run(block, names)
    finally:
        os.chdir(before)
    return names


def _run(block: Block, names: dict[str, object]) -> None:
    if test := block.options.get("run-by"):
        assert (ROOT / test).exists(), f"line {block.line}: there is no {test} to run the block."
        return
    assert block.kind in _RUN, (
        f"line {block.line}: no test runs a block of the kind {block.kind!r}."
    )
    try:
        _RUN[block.kind](block, names)
    except Exception as error:
        error.add_note(f"in the block of line {block.line}")
        raise
    if file := block.options.get("file"):
        Path(file).write_text(block.text, "utf-8")


def _python(block: Block, names: dict[str, object]) -> None:
    exec(compile(block.text, f"<line {block.line}>", "exec"), names)


def _pycon(block: Block, names: dict[str, object]) -> None:
    test = doctest.DocTestParser().get_doctest(block.text, names, "page", None, block.line)
    assert test.examples, f"line {block.line}: a pycon block has lines that begin with >>>."
    said: list[str] = []
    done = doctest.DocTestRunner(optionflags=_FLAGS).run(test, out=said.append, clear_globs=False)
    assert not done.failed, "".join(said)
    names.update(test.globs)


def _console(block: Block, _: dict[str, object]) -> None:
    """Run each command; the last one exits with ``exit``, those before it with 0."""
    assert block.text.startswith("$ "), f"line {block.line}: a console block begins with '$ '."
    calls = _COMMAND.split(block.text.replace("\\\n", " "))[1:]
    for place, call in enumerate(calls, 1):
        line, _, expected = call.partition("\n")
        program, *arguments = shlex.split(line, comments=True)
        assert program == "leakgeo", f"line {block.line}: only leakgeo runs here: {line}"
        done = leakgeo_command(*arguments, together=True)
        code = int(block.options.get("exit", "0")) if place == len(calls) else 0
        assert done.returncode == code, f"{line}: exit code {done.returncode}\n{done.stdout}"
        # Without lines of output a block shows a command alone.
        assert not expected.strip() or doctest.OutputChecker().check_output(
            expected, done.stdout, _FLAGS
        ), f"{line} printed:\n{done.stdout}"


def _text(block: Block, _: dict[str, object]) -> None:
    """Leave a text: it is output, or what people type elsewhere; a command is a console block."""
    calls = [line for line in block.text.splitlines() if line.startswith(("$ ", "leakgeo "))]
    assert not calls, f"line {block.line}: a command stands in a console block: {calls[0]}"


_RUN: dict[str, Callable[[Block, dict[str, object]], None]] = {
    "python": _python,
    "pycon": _pycon,
    "console": _console,
    "toml": lambda block, _: tomllib.loads(block.text) and None,
    "json": lambda block, _: json.loads(block.text) and None,
    "csv": _text,
    "text": _text,
}
