"""The record of a dig that the utility keeps: a page, and a row of a table."""
