"""Results of earlier runs, read back."""
