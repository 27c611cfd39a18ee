"""The address of background tiles: what of it the map takes, and what its page may then ask."""

from __future__ import annotations

import re
from urllib.parse import urlsplit

from leakgeo.errors import ParameterError

_AXES = ("{z}", "{x}", "{y}")
# What RFC 3986 lets stand in an address, and the braces of a template: no quotes, no angles, no
# backslash, nothing that is not printed.
_PLAIN = re.compile(r"[A-Za-z0-9\-._~:/?\[\]@!$&()*+,;=%{}]+")
_HOST = re.compile(r"(\*\.)?[a-z0-9.-]+|\[[0-9a-f:]+\]")


def tile_source(address: str) -> str:
    """Give scheme and host of a tile address, as a content security policy takes them.

    Parameters
    ----------
    address : str
        Template with ``{z}``, ``{x}`` and ``{y}``; ``{s}`` as the first part of the host stands
        for one of several.

    Returns
    -------
    str

    Raises
    ------
    ParameterError
        If it is no address of tiles by http or https, has a name or password in it, or a
        character that no address has.

    Examples
    --------
    >>> tile_source("https://tiles.example.org/ortho/{z}/{x}/{y}.png")
    'https://tiles.example.org'
    >>> tile_source("https://{s}.example.org:8443/{z}/{x}/{y}.png")
    'https://*.example.org:8443'
    >>> tile_source("javascript:alert(1)//{z}/{x}/{y}")
    Traceback (most recent call last):
        ...
    leakgeo.errors.ParameterError: tiles: 'javascript:alert(1)//{z}/{x}/{y}' is not an address by
    http or https. Give it as https://HOST/{z}/{x}/{y}.png.
    """
    if not _PLAIN.fullmatch(address):
        raise _refused(address, "has a character that no address has, or is empty")
    if not re.match("https?://", address, re.IGNORECASE):
        raise _refused(address, "is not an address by http or https")
    try:
        parts = urlsplit(address.replace("{s}.", "*.", 1))
        host, port = parts.hostname or "", f":{parts.port}" if parts.port else ""
    except ValueError as error:
        raise _refused(address, "is not an address") from error
    if "@" in parts.netloc:
        raise _refused(address, "has a name or password, which the map would show to all")
    if not _HOST.fullmatch(host):
        raise _refused(address, "has no host")
    if any(axis not in f"{parts.path}?{parts.query}" for axis in _AXES):
        raise _refused(address, "lacks {z}, {x} or {y} after the host")
    return f"{parts.scheme}://{host}{port}"


def _refused(address: str, why: str) -> ParameterError:
    return ParameterError.of(
        "tiles", f"{address!r} {why}. Give it as https://HOST/{{z}}/{{x}}/{{y}}.png."
    )
