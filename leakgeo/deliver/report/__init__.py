"""``report.pdf``: a cover, and a page for each line."""
