"""Output: GeoPackage, tables, map, report, other formats and PostGIS."""
