"""Advice: where to listen next, ways to improve, and when to stop."""
