"""``result.gpkg``: layers, styles and metadata."""
