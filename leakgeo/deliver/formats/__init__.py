"""Other formats, and the raster of the leak's density."""
