"""Evidence by air put into the line."""
