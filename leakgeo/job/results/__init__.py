"""Read results of earlier runs."""
