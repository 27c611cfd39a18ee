"""Rasters beside a job: the ground model and the aerial photo."""
