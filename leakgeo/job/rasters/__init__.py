"""Rasters of a job: the ground elevation model and the aerial photo."""
