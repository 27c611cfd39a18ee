"""Jobs from a database and results into one, on a real PostgreSQL with PostGIS."""
