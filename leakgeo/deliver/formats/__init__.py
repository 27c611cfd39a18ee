"""The step ``export``: other formats, and the raster of leak density."""
