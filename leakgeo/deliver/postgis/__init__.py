"""Results in the tables of a PostGIS database."""
