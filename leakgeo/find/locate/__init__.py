"""Search zones, mark and status of each line."""
