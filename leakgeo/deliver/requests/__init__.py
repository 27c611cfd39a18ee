"""Locate requests for the one-call centre."""
