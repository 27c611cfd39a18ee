"""Where the leak is, line by line: zones, mark, status."""
