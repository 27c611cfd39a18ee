"""Export formats: one module each, named after the format, with a ``FORMAT``."""
