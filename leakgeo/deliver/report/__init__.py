"""report.pdf: an overview, and a page for each line."""
