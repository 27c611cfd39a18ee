"""Every sentence that people read, made of codes and values when something is written for them.

A step gives a `leakgeo.reason.Reason`; a `Wording` says it, in one language and in one kind of
units. The sentences are in ``LANGUAGE/*.ftl``, in the syntax of Project Fluent: one message a
code. A message is chosen by its code alone, and nothing takes a sentence apart again, so that names
of users go through unchanged.
"""

from leakgeo.wording.catalogue import Wording, languages, wording
from leakgeo.wording.layers import with_texts, worded

__all__ = ["Wording", "languages", "with_texts", "worded", "wording"]
