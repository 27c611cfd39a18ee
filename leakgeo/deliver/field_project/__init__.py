"""A QGIS project beside an empty job: forms, defaults and symbols for a crew in the field."""

from leakgeo.deliver.field_project.job_styles import add_job_styles, write_job_form
from leakgeo.deliver.field_project.project import write_field_project

__all__ = ["add_job_styles", "write_field_project", "write_job_form"]
