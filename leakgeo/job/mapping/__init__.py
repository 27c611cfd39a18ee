"""Mappings: a source of other names, units and codes, read as the data contract has it."""
