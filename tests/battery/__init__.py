"""Dirty jobs: each fault has its sentence, its count and its good lines done."""
