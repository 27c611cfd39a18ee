"""Large jobs, of which readings, utilities and surfaces are never in memory as a whole."""
