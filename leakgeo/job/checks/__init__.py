"""Checks of a job's rows, from the name of a column to rows of other layers."""
