"""Stops and fittings as typed from paper sheets: reading them, and adding them to a job."""
