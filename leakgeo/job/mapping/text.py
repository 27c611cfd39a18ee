"""Text that goes into a TOML file."""

from __future__ import annotations

import json


def quoted(text: object) -> str:
    """Write text as TOML does.

    Examples
    --------
    >>> print(quoted("copper"), quoted(True))
    "copper" "True"
    """
    safe = str(text).encode("utf-8", "replace").decode("utf-8")
    return json.dumps(safe, ensure_ascii=False).replace("\x7f", "\\u007f")


def comment(text: object, longest: int = 400) -> str:
    r"""Make text fit for a comment: one line, and nothing that TOML refuses.

    Examples
    --------
    >>> comment("two\nlines")
    'two lines'
    """
    plain = "".join(c if c.isprintable() else " " for c in str(text))
    return plain if len(plain) <= longest else f"{plain[: longest - 3]}..."
