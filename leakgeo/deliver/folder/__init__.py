"""The output folder of a run: result, tables, run record, locate requests, calibration."""
