"""Texts for people: reasons as sentences in a language and in SI or US units.

A step returns a `leakgeo.reason.Reason`, and a `Wording` formats it. The sentences are in
``LANGUAGE/*.ftl``, in the syntax of Project Fluent, with one message for each code. The code alone
selects the message, and nothing parses a sentence, so names in the data stay unchanged.
"""

from leakgeo.wording.catalogue import Wording, active_wording, set_locale, wording
from leakgeo.wording.layers import streamed_worded, with_texts, worded
from leakgeo.wording.locales import languages, locales, system_language

__all__ = [
    "Wording", "active_wording", "languages", "locales", "set_locale", "streamed_worded",
    "system_language", "with_texts", "worded", "wording",
]  # fmt: skip
