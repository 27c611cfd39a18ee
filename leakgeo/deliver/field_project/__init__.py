"""A QGIS project beside an empty job: forms, defaults and symbols for a crew in the field."""

from leakgeo.deliver.field_project.job_styles import write_job_form
from leakgeo.deliver.field_project.project import write_field_project

__all__ = ["write_field_project", "write_job_form"]
