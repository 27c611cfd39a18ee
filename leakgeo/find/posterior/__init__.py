"""The posterior of the leak's place on one line; README.md has the method."""
