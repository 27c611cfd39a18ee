"""Fuzzers: files and texts spoilt at random, which must be told or read right, and never hurt."""
