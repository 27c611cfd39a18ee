"""Input: layer schemas, readers of vector sources, checks of a job, its local metre CRS."""
