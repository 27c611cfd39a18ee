"""Units that a mapping converts from; exact factors, and no arithmetic on what a user writes."""

from __future__ import annotations

from types import MappingProxyType

# Factors of NIST SP 811 (2008), appendix B.8, and exact where they rest on definitions: the foot of
# 1959, the US survey foot of 1893 (1200/3937 m), gallons of 231 cubic inches and of 4.54609 l,
# standard gravity for a head of water at 1000 kg/m3.
_FOOT, _INCH, _GRAVITY = 0.3048, 0.0254, 9.80665
_GALLON = 3.785411784
#: Factor to the first unit of each kind, by kind and by unit.
_KINDS = MappingProxyType({
    "length": {
        "m": 1.0, "mm": 0.001, "cm": 0.01, "km": 1000.0, "in": _INCH, "ft": _FOOT,
        "us_survey_ft": 1200 / 3937, "yd": 3 * _FOOT,
    },
    "pressure": {
        "kpa": 1.0, "pa": 0.001, "mpa": 1000.0, "bar": 100.0, "mbar": 0.1, "atm": 101.325,
        "psi": 0.45359237 * _GRAVITY / _INCH**2 / 1000, "m_head": _GRAVITY,
        "ft_head": _FOOT * _GRAVITY,
    },
    "volume": {
        "l": 1.0, "m3": 1000.0, "gal": _GALLON, "kgal": 1000 * _GALLON, "imperial_gal": 4.54609,
        "ft3": 1000 * _FOOT**3, "ccf": 100_000 * _FOOT**3,
    },
    "level": {"db": 1.0},
})  # fmt: skip
_OTHER_NAMES = MappingProxyType({
    "metre": "m", "metres": "m", "meter": "m", "meters": "m", "millimetre": "mm",
    "millimetres": "mm", "millimeter": "mm", "millimeters": "mm", "centimetres": "cm",
    "centimeters": "cm", "inch": "in", "inches": "in", '"': "in", "foot": "ft", "feet": "ft",
    "'": "ft", "us_ft": "us_survey_ft", "us_foot": "us_survey_ft", "us_feet": "us_survey_ft",
    "survey_ft": "us_survey_ft", "us_survey_foot": "us_survey_ft", "us_survey_feet": "us_survey_ft",
    "yard": "yd", "yards": "yd", "psig": "psi", "lbf/in2": "psi", "bars": "bar", "barg": "bar",
    "mh2o": "m_head", "mwc": "m_head", "fth2o": "ft_head", "litre": "l", "litres": "l",
    "liter": "l", "liters": "l", "cf": "ft3", "cuft": "ft3", "cu_ft": "ft3", "hcf": "ccf",
    "gallon": "gal", "gallons": "gal", "us_gal": "gal", "kgallon": "kgal", "decibel": "db",
    "decibels": "db",
})  # fmt: skip


def known_units(target: str) -> tuple[str, ...]:
    """Give the units that convert to `target`; none where it has no kind.

    Examples
    --------
    >>> known_units("kPa")[:4]
    ('kpa', 'pa', 'mpa', 'bar')
    """
    return next((tuple(kind) for kind in _KINDS.values() if _name(target) in kind), ())


def factor(unit: str, target: str) -> float | None:
    """Give what a value in `unit` is multiplied by to be in `target`.

    Parameters
    ----------
    unit : str
        As the user writes it: ``"ft"``, ``"US survey foot"``, ``"psi"`` ...
    target : str
        Unit of the data contract.

    Returns
    -------
    float or None
        None where the unit is not known, or of another kind than `target`.

    Examples
    --------
    >>> factor("in", "mm"), factor("psi", "m"), round(factor("psi", "kPa"), 9)
    (25.4, None, 6.894757293)
    """
    for kind in _KINDS.values():
        if _name(unit) in kind and _name(target) in kind:
            return round(kind[_name(unit)] / kind[_name(target)], 15)
    return None


def _name(unit: str) -> str:
    plain = unit.strip().casefold().replace(".", "").replace("-", "_").replace(" ", "_")
    return _OTHER_NAMES.get(plain, plain)
