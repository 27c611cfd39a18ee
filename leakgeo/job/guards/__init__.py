"""What is refused of a file before GDAL sees it."""
