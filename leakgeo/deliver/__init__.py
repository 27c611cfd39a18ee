"""What goes out: GeoPackage, map, report, tables and the record of the run."""
