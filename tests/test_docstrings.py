"""What users call is documented whole: sections, parameters, what comes back."""

from __future__ import annotations

import pytest
from numpydoc.validate import validate

import leakgeo
from leakgeo.registry import load_steps

# Of numpydoc's checks: a docstring and its summary; every parameter, no other, told of; what comes
# back, told of. Order is left free: fields that belong together stand together.
CHECKS = {"GL08", "SS01", "SS02", "SS03", "SS05", "SS06", "PR01", "PR02", "PR04", "PR07", "PR10",
          "RT01", "RT02", "RT03", "RT04"}  # fmt: skip
PUBLIC = sorted(
    {
        *(f"{module}.{name}" for name, module in leakgeo._HOME.items()),
        *(step.function.replace(":", ".") for step in load_steps().values()),
        *(f"leakgeo.{name}" for name in leakgeo._STEPS),
        "leakgeo.deliver.field_project.project.write_field_project",
        "leakgeo.deliver.field_project.job_styles.write_job_form",
        "leakgeo.deliver.sheets.write.write_sheets",
        "leakgeo.job.template.write_template",
        "leakgeo.job.typed.add.add_typed",
        "leakgeo.job.typed.read.read_typed",
        "leakgeo.registry.Parameter",
        "leakgeo.registry.Step",
        "leakgeo.registry.load_steps",
        "leakgeo.simulate.simulate_field",
        "leakgeo.simulate.town.write_town",
    }
)


@pytest.mark.parametrize("name", PUBLIC)
def test_a_public_name_is_documented_whole(name):
    found = [f"{code}: {told}" for code, told in validate(name)["errors"] if code in CHECKS]
    assert not found
