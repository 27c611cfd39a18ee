"""What users call is documented whole: sections, parameters, what comes back."""

from __future__ import annotations

import doctest
from importlib import import_module
from pathlib import Path

import pytest
from numpydoc.validate import validate

from leakgeo.registry import load_steps
from tests.site.public import CHECKS, MODULES, names_of, public_names

PUBLIC = sorted(
    {
        # Its ranges are told of where they stand, each with its source.
        *{*public_names()} - {"leakgeo.simulate.World"},
        *(step.function.replace(":", ".") for step in load_steps().values()),
        "leakgeo.deliver.field_project.project.write_field_project",
        "leakgeo.deliver.field_project.job_styles.write_job_form",
        "leakgeo.deliver.sheets.write.write_sheets",
        "leakgeo.job.template.write_template",
        "leakgeo.job.typed.add.add_typed",
        "leakgeo.job.typed.read.read_typed",
    }
)


@pytest.mark.parametrize("name", PUBLIC)
def test_a_public_name_is_documented_whole(name):
    found = [f"{code}: {told}" for code, told in validate(name)["errors"] if code in CHECKS]
    assert not found


def examples():
    """Give the examples of everything public, as pages show them: without names of a module."""
    for module in MODULES:
        for name in names_of(module):
            value = getattr(import_module(module), name)
            for one in doctest.DocTestFinder().find(value, f"{module}.{name}", globs={}):
                # A field of a dataclass is found with the docstring of its type.
                if one.examples:
                    yield one


def run_by_reader(name):
    """Say whether all that needs a result is left out of the doctest."""
    return all(doctest.SKIP in one.options for one in EXAMPLES[name].examples
               if '"out"' in one.source)  # fmt: skip


EXAMPLES = {one.name: one for one in examples()}


@pytest.mark.parametrize("name", EXAMPLES)
def test_an_example_runs_as_it_is_pasted(name, tmp_path, monkeypatch, request):
    """The reader has neither the module's imports nor its names."""
    if '"out"' in EXAMPLES[name].docstring and not run_by_reader(name):
        (tmp_path / "out").symlink_to(request.getfixturevalue("whole"))
    (tmp_path / "examples").symlink_to(Path(__file__).parents[1] / "examples")
    monkeypatch.chdir(tmp_path)
    said = []
    flags = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
    done = doctest.DocTestRunner(optionflags=flags).run(EXAMPLES[name], out=said.append)
    assert not done.failed, "".join(said)


@pytest.mark.parametrize("name", ["leakgeo.run", "leakgeo.write_result", "leakgeo.read_job"])
def test_what_everybody_calls_has_an_example(name):
    assert name in EXAMPLES
