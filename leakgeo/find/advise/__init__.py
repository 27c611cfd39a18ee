"""Where to listen next, what else would help, and when to stop."""
