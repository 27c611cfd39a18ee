"""The posterior of the leak's place on one line; DEVELOPERS.md has the method."""
