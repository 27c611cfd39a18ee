"""A result prepared for readers: texts, coordinates and colours of map, report and styles."""
