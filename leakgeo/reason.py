"""Messages as codes and values; `leakgeo.wording` writes the sentences."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray

_THEN = "then"
_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False)


@dataclass(frozen=True, slots=True, init=False, repr=False)
class Reason:
    """A message: its code, its values, and the messages that follow it.

    Parameters
    ----------
    code : str
        Name of the message in the catalogues of ``leakgeo.wording``.
    *then : Reason or None
        Messages that follow this one; None is ignored.
    **values : str, number, bool, None, Reason, or a sequence of these
        Values of the message, in SI. As with columns, a name ends in its unit (``_m``, ``_kpa``).
        None and NaN mean that the value is not known.

    Examples
    --------
    >>> from leakgeo.reason import Reason
    >>> Reason("no_answer", utility="2: DN 150 mm", distance_m=1.5)
    Reason('no_answer', distance_m=1.5, utility='2: DN 150 mm')
    >>> reason = Reason("held", Reason("ask_again"), by=("gas", "power"))
    >>> Reason.parse(reason.code, reason.to_json()) == reason
    True
    """

    code: str
    values: tuple[tuple[str, Any], ...]
    then: tuple[Reason, ...]

    def __init__(self, code: str, /, *then: Reason | None, **values: object) -> None:
        put = object.__setattr__
        put(self, "code", code)
        put(self, "values", tuple(sorted((name, _plain(v)) for name, v in values.items())))
        put(self, "then", tuple(reason for reason in then if reason is not None))

    def __repr__(self) -> str:
        parts = [repr(self.code), *map(repr, self.then), *(f"{n}={v!r}" for n, v in self.values)]
        return f"Reason({', '.join(parts)})"

    def to_json(self) -> str:
        """Return the values and the messages that follow as a JSON object, without the code."""
        return _ENCODER.encode(_json(self)) if self.values or self.then else "{}"

    @classmethod
    def parse(cls, code: str, values: str | None = None) -> Reason:
        """Return the reason of a code and the JSON of its values."""
        return _parsed(code, values or "")


# Most rows of a layer repeat the messages of others.
@lru_cache(maxsize=32768)
def _parsed(code: str, values: str) -> Reason:
    return _reason(code, json.loads(values) if values else {})


def _plain(value: object) -> Any:
    """Return a value that is hashable and can be written as JSON."""
    if type(value) is float:
        return value if math.isfinite(value) else None
    if isinstance(value, (str, bool, int, Reason)) or value is None:
        return value
    if isinstance(value, (list, tuple)):
        return tuple(_plain(each) for each in value)
    if hasattr(value, "item"):  # of numpy
        value = value.item()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if (value != value) is not False:  # noqa: PLR0124 - NaT and NA
        return None
    return value if isinstance(value, (bool, int)) else str(value)


def _json(reason: Reason) -> dict[str, object]:
    values = {name: _json_value(value) for name, value in reason.values}  # noqa: PD011
    if reason.then:
        values[_THEN] = [_json_value(each) for each in reason.then]
    return values


def _json_value(value: object) -> object:
    if isinstance(value, Reason):
        return {"code": value.code, "values": _json(value)}
    return [_json_value(each) for each in value] if isinstance(value, tuple) else value


def _reason(code: str, values: dict[str, Any]) -> Reason:
    then = [_value(each) for each in values.get(_THEN, ())]
    return Reason(code, *then, **{n: _value(v) for n, v in values.items() if n != _THEN})


def _value(value: Any) -> Any:
    if isinstance(value, dict):
        return _reason(value["code"], value["values"])
    return tuple(_value(each) for each in value) if isinstance(value, list) else value


def with_values(reason: Reason, **values: object) -> Reason:
    """Return a copy of a reason with values added or replaced.

    Examples
    --------
    >>> with_values(Reason("out_of_range", column="depth_m"), value="36")
    Reason('out_of_range', column='depth_m', value='36')
    """
    return Reason(reason.code, *reason.then, **{**dict(reason.values), **values})


def with_next(reason: Reason, *after: Reason | None) -> Reason:
    """Return a reason followed by more.

    Examples
    --------
    >>> with_next(Reason("enough"), Reason("go_on"))
    Reason('enough', Reason('go_on'))
    """
    return Reason(reason.code, *reason.then, *after, **dict(reason.values))


def code_columns(text: str) -> tuple[str, str]:
    """Return the names of the columns with the codes and the values of a text column.

    Examples
    --------
    >>> code_columns("message"), code_columns("advice")
    (('code', 'values'), ('advice_code', 'advice_values'))
    """
    return ("code", "values") if text == "message" else (f"{text}_code", f"{text}_values")


def columns_of(text: str, reasons: Iterable[Reason | None]) -> dict[str, NDArray[np.object_]]:
    """Return reasons as the code and value columns of a layer.

    Parameters
    ----------
    text : str
        Name of the text column, such as ``message``.
    reasons : iterable of Reason or None
        One per row.

    Returns
    -------
    dict of str to ndarray of str
        Codes, and values as JSON; None where there is no reason.

    Examples
    --------
    >>> {k: v.tolist() for k, v in columns_of("advice", [Reason("go", stops=2), None]).items()}
    {'advice_code': ['go', None], 'advice_values': ['{"stops": 2}', None]}
    """
    import numpy as np

    rows = list(reasons)
    code, values = code_columns(text)
    return {
        code: np.array([each and each.code for each in rows], dtype=object),
        values: np.array([each and each.to_json() for each in rows], dtype=object),
    }


def reasons_in(frame: pd.DataFrame, text: str) -> list[Reason | None]:
    """Return the reasons in the code and value columns of a layer; see `columns_of`.

    Examples
    --------
    >>> import pandas as pd
    >>> reasons_in(pd.DataFrame(columns_of("message", [Reason("quiet"), None])), "message")
    [Reason('quiet'), None]
    """
    code, values = code_columns(text)
    return [
        Reason.parse(c, v if isinstance(v, str) else None) if isinstance(c, str) else None
        for c, v in zip(frame[code].tolist(), frame[values].tolist(), strict=True)
    ]
