"""Text columns of layers, made from the columns of codes and values."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from leakgeo.reason import code_columns, reasons_in

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from typing import Any

    import pandas as pd

    from leakgeo.wording.catalogue import Wording

    Parts = Callable[[], Iterator[pd.DataFrame]]

_CODE, _VALUES = "_code", "_values"


def texts_of(frame: pd.DataFrame) -> list[str]:
    """Return the names of the text columns whose codes and values a layer has.

    Examples
    --------
    >>> import pandas as pd
    >>> texts_of(pd.DataFrame(columns=["code", "values", "advice_code", "advice_values", "kind"]))
    ['message', 'advice']
    """
    names = [str(name) for name in frame.columns]
    texts = ["message" if "code" in names and "values" in names else ""]
    texts += [n.removesuffix(_CODE) for n in names if n.endswith(_CODE)]
    return [t for t in texts if t and code_columns(t)[1] in names]


def with_texts(frame: pd.DataFrame, wording: Wording) -> pd.DataFrame:
    """Return a layer with text columns made from its codes and values.

    Parameters
    ----------
    frame : pandas.DataFrame
        With columns as `leakgeo.reason.columns_of` makes them.
    wording : Wording

    Returns
    -------
    pandas.DataFrame
        A copy with a text before each pair of columns; the same one where there is none.

    Examples
    --------
    >>> import pandas as pd
    >>> from leakgeo.reason import Reason, columns_of
    >>> from leakgeo.wording import Wording
    >>> table = pd.DataFrame(columns_of("message", [Reason("first_walk"), None]))
    >>> with_texts(table, Wording())["message"].tolist()
    ['first walk', None]
    """
    return with_columns(frame, {t: message_texts(frame, t, wording) for t in texts_of(frame)})


def message_texts(frame: pd.DataFrame, text: str, wording: Wording) -> list[str | None]:
    """Return the texts of one text column, made from its codes and values."""
    return [None if r is None else wording.text(r) for r in reasons_in(frame, text)]


def with_columns(frame: pd.DataFrame, texts: Mapping[str, Any]) -> pd.DataFrame:
    """Return a layer with text columns, each before its codes."""
    import pandas as pd

    for text, own in texts.items():
        code = code_columns(text)[0]
        kept = frame.drop(columns=text, errors="ignore")
        column = pd.Series(own, index=kept.index, dtype=object)
        kept.insert(int(kept.columns.get_loc(code)), text, column)  # type: ignore[arg-type]
        frame = kept
    return frame


def worded(layers: Mapping[str, pd.DataFrame], wording: Wording) -> dict[str, pd.DataFrame]:
    """Return layers with their text columns."""
    return {name: with_texts(frame, wording) for name, frame in layers.items()}


def streamed_worded(streamed: Mapping[str, Parts], wording: Wording) -> dict[str, Parts]:
    """Return streamed layers whose parts get their text columns when they are read."""
    return {name: partial(_parts_with_texts, parts, wording) for name, parts in streamed.items()}


def _parts_with_texts(parts: Parts, wording: Wording) -> Iterator[pd.DataFrame]:
    for part in parts():
        yield with_texts(part, wording)
