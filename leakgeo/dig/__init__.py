"""Before the shovel: dig zone, tolerance rules, conflicts, and what still holds the dig."""
