"""A result prepared for people: what the map, the report, styles and plots show alike."""
