"""What all tests share: properties are judged by what they find, not by how long they take."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
