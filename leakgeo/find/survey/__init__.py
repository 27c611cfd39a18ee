"""First survey: from levels at fittings to ranked stretches to walk."""
