"""What users call is documented whole: sections, parameters, what comes back."""

from __future__ import annotations

import pytest
from numpydoc.validate import validate

from leakgeo.registry import load_steps
from tests.site.public import CHECKS, public_names

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
