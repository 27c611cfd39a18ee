"""Six things that a newcomer adds, each in the few places that DEVELOPERS.md names."""
