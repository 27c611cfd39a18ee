"""Help: every command has examples that parse, and those that are quick run; speed of it."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from functools import cache

import click
import pytest

from leakgeo.cli.console import Console
from leakgeo.cli.entry import cli
from leakgeo.cli.help import EXIT_CODES
from leakgeo.cli.options import option_of
from leakgeo.registry import Parameter, load_steps
from leakgeo.wording import languages
from leakgeo.wording.locales import FOLDER
from tests.test_cli import leakgeo_command
from tests.town import TOWN
from tests.wording.english import english_words
from tests.wording.phrases import compiled

NAMES = cli.list_commands(click.Context(cli))
# As declared: the help of all commands would take long to draw in each process that collects.
EXAMPLES = [(name, f"leakgeo {call}".partition(" > ")[0].strip()) for name in NAMES
            for call in cli.get_command(click.Context(cli), name).examples]  # fmt: skip
# Quick ones that need no more than the job of the town.
CHEAP = ("template", "check job.gpkg", "mapping export.gdb", "steps", "completion",
         "meter", "survey", "profile job.gpkg --out levels --line")  # fmt: skip


@cache
def help_of(name):
    return leakgeo_command(name, "--help").stdout


def examples_of(text):
    after = text.partition("Examples:\n")[2].partition("\n\n")[0]
    return [line.partition(" > ")[0].strip() for line in after.splitlines()]


def test_every_command_has_examples_and_says_what_it_needs_and_writes():
    assert [(name, call) for name in NAMES for call in examples_of(help_of(name))] == EXAMPLES
    assert {name for name, _ in EXAMPLES} == set(NAMES)
    for name in ("run", *load_steps()):
        told = help_of(name)
        assert "Needs: JOB" in told
        assert "Writes: result.gpkg" in told
        assert EXIT_CODES in told
    assert len([call for name, call in EXAMPLES if name == "run"]) >= 5


@pytest.mark.parametrize(("name", "call"), EXAMPLES)
def test_an_example_parses(name, call):
    program, command, *arguments = shlex.split(call)
    assert (program, command) == ("leakgeo", name)
    context = cli.get_command(click.Context(cli), command).make_context(
        command, arguments, obj=Console()
    )
    assert context.params or name == "steps"


@pytest.mark.parametrize(
    "call", [c for _, c in EXAMPLES if any(f"leakgeo {q}" in c for q in CHEAP)]
)
def test_a_quick_example_runs(call, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "stops.csv").write_text("line,from,tape,level,unit\nA-1,start,2,41,db")
    if "template" not in call:
        (tmp_path / "job.gpkg").write_bytes(TOWN.read_bytes())
        (tmp_path / "export.gdb").write_bytes(b"")
    call = call.replace("export.gdb", "job.gpkg").replace("--mapping map.toml", "")
    call = call.replace("postgresql://db.example/water", "job.gpkg")
    done = leakgeo_command(*shlex.split(call)[1:])
    assert done.returncode in (0, 1), done.stderr  # the town has two bad readings
    assert done.stdout


def test_the_examples_of_the_first_page_are_commands():
    told = leakgeo_command("--help").stdout
    named = re.findall(r"^  leakgeo (\w+)", told, flags=re.MULTILINE)
    assert named == ["demo", "template", "template", "check", "run"]
    listed = re.findall(r"^  (\w+)  ", told, flags=re.MULTILINE)
    assert set(NAMES) <= set(listed)


def test_options_stand_under_their_step_with_their_unit():
    told = help_of("run")
    headings = re.findall(r"^(\S.*): *$", told, flags=re.MULTILINE)
    assert headings[:3] == ["The job", "Output", "Large jobs"]
    assert [h.removeprefix("Step ") for h in headings if h.startswith("Step ")] == [
        name for name in load_steps() if name != "report" or "report_lines" in told
    ][: sum(h.startswith("Step ") for h in headings)] or "Step locate" in headings
    assert re.search(
        r"Step profile:.*--step-m <NUMBER>[^[]*\[m\] \[range:\s+x>=0\.05\]\s", told, re.DOTALL
    )
    assert told.count("--route-sd-m") == 1


def test_a_number_without_bounds_has_no_range_in_the_help():
    option = option_of(Parameter("share", "number", 0.0, "A share."), "Step own")
    assert "range" not in option.get_help_extra(click.Context(cli))
    bounded = option_of(Parameter("share", "number", 0.0, "A share.", minimum=0.0), "Step own")
    assert bounded.get_help_extra(click.Context(cli))["range"] == "x>=0.0"


@pytest.mark.parametrize("call", [["--help"], ["run", "--help"], ["steps"], ["steps", "--json"]])
def test_help_imports_nothing_heavy(call):
    code = f"import sys; sys.argv = ['leakgeo', *{call!r}]\n"
    code += "from leakgeo.cli import main\ntry:\n    main()\nexcept SystemExit:\n    pass\n"
    code += "heavy = {'numpy', 'pandas', 'numba', 'geopandas', 'pint', 'shapely', 'pyproj'}\n"
    code += "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


def test_no_command_at_all_is_answered_with_help():
    done = leakgeo_command()
    assert done.returncode == 0
    assert done.stdout == leakgeo_command("--help").stdout


@pytest.mark.parametrize("call", [
    ("run", "--nosuch"), ("run",), ("run", "a.gpkg", "--out", "b", "--units", "kg"), ("nosuch",),
    ("run", "a.gpkg", "--out", "b", "--leak-prior", "two"), ("list", "out", "more"),
    ("round", "out", "--top", "0"), ("round", "out", "--top"), ("add", "a.gpkg"),
])  # fmt: skip
def test_errors_in_a_call_are_in_the_language_of_the_call(call, monkeypatch):
    for name in ("LC_ALL", "LC_MESSAGES", "LANGUAGE"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("LANG", "es_PE.UTF-8")
    done = leakgeo_command(*call)
    assert done.returncode == 2
    # An option without its value is named without a command.
    assert ("Vea: leakgeo" in done.stderr) == (call[-1] != "--top")
    words = re.sub(r"'[^']*'|--\S+|leakgeo \w+|Error:", " ", done.stderr)
    assert english_words([words]) == {}
    assert not re.search(r"\b(No such|Missing|Invalid|See|got|extra|value)\b", words)
    monkeypatch.setenv("LANG", "C")
    assert "Vea" not in leakgeo_command(*call).stderr
    if call[0] in ("run", "list"):
        spoken = leakgeo_command(call[0], "--language", "es", *call[1:])
        assert "Vea: leakgeo" in spoken.stderr
    assert "LANGUAGE" not in os.environ


def test_the_texts_of_click_are_compiled():
    folders = [FOLDER / language / "LC_MESSAGES" for language in languages()[1:]]
    for folder in folders:
        assert compiled(folder / "click.po") == (folder / "click.mo").read_bytes()


def test_an_option_at_the_end_needs_its_value():
    for option in ("--out", "--leak-prior", "--units"):
        done = leakgeo_command("run", "a.gpkg", option)
        assert f"Option '{option}' requires an argument." in done.stderr
