"""What comes in: schemas, reading any vector source, checking a job, the local metre CRS."""
