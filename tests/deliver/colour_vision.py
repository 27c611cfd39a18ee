"""How a colour is seen without one kind of cones, or in grey; and how far two colours are apart.

The matrices are those of Machado, Oliveira and Fernandes (2009), "A physiologically-based model for
simulation of color vision deficiency", IEEE Transactions on Visualization and Computer Graphics
15(6), 1291-1298, for a total lack (severity 1.0). They apply to linear RGB.
"""

from __future__ import annotations

import numpy as np

_GREY = np.tile([0.2126, 0.7152, 0.0722], (3, 1))  # relative luminance, IEC 61966-2-1
VISION = {
    "all cones": np.eye(3),
    "protanopia": np.array([[0.152286, 1.052583, -0.204868],
                            [0.114503, 0.786281, 0.099216],
                            [-0.003882, -0.048116, 1.051998]]),
    "deuteranopia": np.array([[0.367322, 0.860646, -0.227968],
                              [0.280085, 0.672501, 0.047413],
                              [-0.011820, 0.042940, 0.968881]]),
    "tritanopia": np.array([[1.255528, -0.076749, -0.178779],
                            [-0.078411, 0.930809, 0.147602],
                            [0.004733, 0.691367, 0.303900]]),
    "grey": _GREY,
}  # fmt: skip
_TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def seen(colour: str, vision: str) -> np.ndarray:
    """Give a hex colour as linear RGB, as it is seen."""
    rgb = np.array([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return np.clip(VISION[vision] @ linear, 0.0, 1.0)


def lab(colour: str, vision: str = "all cones") -> np.ndarray:
    """Give CIE 1976 L*, a* and b* of a hex colour, as it is seen; white is D65."""
    relative = _TO_XYZ @ seen(colour, vision) / (_TO_XYZ @ np.ones(3))
    root = np.where(relative > (6 / 29) ** 3, np.cbrt(relative),
                    relative / (3 * (6 / 29) ** 2) + 4 / 29)  # fmt: skip
    x, y, z = root
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


def apart(one: str, other: str, vision: str = "all cones") -> float:
    """Give the CIE 1976 colour difference of two hex colours, as they are seen."""
    return float(np.linalg.norm(lab(one, vision) - lab(other, vision)))


def contrast(one: str, other: str) -> float:
    """Give the contrast of two hex colours as WCAG 2.2 defines it, 1 to 21."""
    low, high = sorted(float(seen(c, "grey")[0]) for c in (one, other))
    return (high + 0.05) / (low + 0.05)
