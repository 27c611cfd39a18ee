"""Units that a mapping converts from; factors of pint, and no arithmetic on what a user writes."""

from __future__ import annotations

from types import MappingProxyType

from leakgeo.conversion import conversion

#: Units of each kind by our names, as pint writes them; the first is the contract's own. A head is
#: one of water at 1000 kg/m3 under standard gravity.
_KINDS = MappingProxyType({
    "length": {
        "m": "metre", "mm": "millimetre", "cm": "centimetre", "km": "kilometre", "in": "inch",
        "ft": "foot", "us_survey_ft": "survey_foot", "yd": "yard",
    },
    "pressure": {
        "kpa": "kilopascal", "pa": "pascal", "mpa": "megapascal", "bar": "bar",
        "mbar": "millibar", "atm": "atmosphere", "psi": "psi",
        "m_head": "kilogram / litre * metre * standard_gravity",
        "ft_head": "kilogram / litre * foot * standard_gravity",
    },
    "volume": {
        "l": "litre", "m3": "metre ** 3", "gal": "gallon", "kgal": "kilogallon",
        "imperial_gal": "imperial_gallon", "ft3": "foot ** 3", "ccf": "100 * foot ** 3",
    },
    "level": {"db": "decibel"},
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
            return conversion(kind[_name(unit)], kind[_name(target)])
    return None


def _name(unit: str) -> str:
    plain = unit.strip().casefold().replace(".", "").replace("-", "_").replace(" ", "_")
    return _OTHER_NAMES.get(plain, plain)
