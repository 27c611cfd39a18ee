"""result.gpkg: layers, styles, metadata."""
