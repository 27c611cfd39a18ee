"""Declaration of a parameter of a step or command."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from leakgeo.errors import ParameterError
from leakgeo.wording.locales import matched

if TYPE_CHECKING:
    from collections.abc import Mapping

Kind = Literal[
    "number", "integer", "boolean", "text", "choice", "date", "folder", "file", "job"
]  # fmt: skip
_TYPES: Mapping[Kind, type] = {
    "number": float, "integer": int, "boolean": bool, "text": str, "choice": str, "date": str,
    "folder": Path, "file": Path,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Parameter:
    """A parameter of a step, declared once for the API, the command line and the GIS toolbox.

    Parameters
    ----------
    name : str
        Keyword name; the command line has it with dashes.
    kind : {"number", "integer", "boolean", "text", "choice", "date", "folder", "file", "job"}
        A date is text such as ``2026-03-31``; a job is a file, a folder or the URL of a database.
    default : object
        Value used if none is given; None if there is no default.
    help : str
        What the parameter does, as a sentence.
    unit : str, optional
        Unit of the value, as in the suffixes of columns.
    choices : tuple of str, optional
        Allowed values of the kind ``choice``.
    minimum, maximum : float, optional
        Allowed range, including both limits.
    required : bool
        Whether a command requires it.
    many : bool
        Whether several values may be given; a single value means a sequence of one.
    listed : bool
        Whether the value is a list of codes: a sequence, or one text separated by commas.
    names_lines : bool
        Whether the values are ``line_id`` of routes; an unknown one is an error.
    flag : str
        Name of the command line option, if it differs from `name`.
    group : str
        Heading in the help; ``""`` for that of the step.
    check_with : str
        ``"module:function"`` called with a value that differs from the default, before anything is
        read; it raises ParameterError if the value is not valid.
    """

    name: str
    kind: Kind
    default: object
    help: str
    unit: str | None = None
    choices: tuple[str, ...] = ()
    minimum: float | None = None
    maximum: float | None = None
    required: bool = False
    many: bool = False
    listed: bool = False
    names_lines: bool = False
    flag: str = ""
    group: str = ""
    check_with: str = ""

    @property
    def number(self) -> float:
        """Default as a float, for functions that use it as their own default.

        Examples
        --------
        >>> from leakgeo.registry import Parameter
        >>> Parameter("width_m", "number", 0.6, "Width.").number
        0.6
        """
        return float(str(self.default))

    @property
    def option(self) -> str | None:
        """Command line option; None for a positional argument.

        Examples
        --------
        >>> from leakgeo.registry import Parameter
        >>> Parameter("width_m", "number", 1.0, "Width.").option
        '--width-m'
        """
        if self.kind == "job":
            return None
        return f"--{(self.flag or self.name).replace('_', '-')}"

    @property
    def option_off(self) -> str | None:
        """Command line option that turns off a parameter that is on by default, or None.

        Examples
        --------
        >>> from leakgeo.registry import Parameter
        >>> Parameter("density", "boolean", True, "Write it.").option_off
        '--no-density'
        """
        on = self.kind == "boolean" and self.default is True
        return f"--no-{(self.flag or self.name).replace('_', '-')}" if on else None

    def check(self, value: object) -> object:
        """Return a valid `value` in the type of the parameter.

        Raises
        ------
        ParameterError
            If the value has another type, is out of range, is not one of the choices or not a
            date, or is a file that does not exist.

        Examples
        --------
        >>> from leakgeo.registry import Parameter
        >>> Parameter("width_m", "number", 1.0, "Width.", minimum=0.0).check("0.6")
        0.6
        >>> Parameter("lines", "text", (), "Lines.", many=True).check("L-1")
        ('L-1',)
        >>> Parameter("format", "text", None, "Formats.", listed=True).check(["kml", "dxf"])
        'kml,dxf'
        """
        if value is None:
            return self.default
        if self.many:
            return self._check_each(value)
        return self._check_one(self._joined(value) if self.listed else value)

    def _joined(self, value: object) -> object:
        """Join a sequence of codes or numbers with commas; an empty one is the empty text."""
        if isinstance(value, (str, Path)) or not isinstance(value, Iterable):
            return value
        codes = list(value)
        wrong = [code for code in codes
                 if not isinstance(code, (str, int, float)) or isinstance(code, bool)]  # fmt: skip
        if wrong:
            raise self._type_error(wrong[0])
        return ",".join(map(str, codes))

    def _check_each(self, value: object) -> tuple[object, ...]:
        """Check one or several values; return them in order, without duplicates."""
        several = isinstance(value, Iterable) and not isinstance(value, (str, Path))
        values = list(value) if several else [value]  # type: ignore[call-overload]
        return tuple(dict.fromkeys(self._check_one(v) for v in values))

    def _check_one(self, value: object) -> object:
        if self.kind == "date" and isinstance(value, datetime):
            value = value.date()
        wanted = _TYPES[self.kind]
        try:
            typed = value if isinstance(value, wanted) else wanted(value)
        except (TypeError, ValueError) as error:
            raise self._type_error(value) from error
        # Python would convert "no" to true, True to 1 and 2.7 to 2 without an error.
        if (isinstance(value, bool) != (self.kind == "boolean")) or (
            self.kind == "integer" and isinstance(value, float) and typed != value
        ):
            raise self._type_error(value)
        self._check_range(typed)
        self._check_by_kind(typed)
        if self.check_with and typed != self.default:
            module, _, name = self.check_with.partition(":")
            getattr(import_module(module), name)(typed)
        return typed

    def _type_error(self, value: object) -> ParameterError:
        if self.names_lines:
            return ParameterError.of(
                self.name,
                f"{value!r} is not a line_id; give the line_id of each line, such as 'H-1'.",
            )
        return ParameterError.of(self.name, f"{value!r} is not of the kind {self.kind}.")

    def _check_by_kind(self, value: object) -> None:
        if self.kind == "file" and not Path(str(value)).exists():
            raise ParameterError.of(self.name, f"there is no file {value}. Check its path.")
        if self.kind == "date":
            try:
                date.fromisoformat(str(value))
            except ValueError as error:
                raise ParameterError.of(
                    self.name, f"{value!r} is not a date; give it as 2026-03-31."
                ) from error

    def _check_range(self, value: object) -> None:
        if self.choices and value not in self.choices:
            raise ParameterError.of(
                self.name, f"{value!r} is not allowed; use one of {', '.join(self.choices)}."
            )
        if not isinstance(value, (int, float)):
            return
        low = self.minimum is not None and not value >= self.minimum
        high = self.maximum is not None and not value <= self.maximum
        if low or high:
            raise ParameterError.of(
                self.name,
                f"{value!r} is outside {self.minimum} to {self.maximum}"
                f"{' ' + self.unit if self.unit else ''}.",
            )


class LanguageParameter(Parameter):
    """A choice of a language, which may also be given as a locale, such as ``es_MX.UTF-8``.

    Examples
    --------
    >>> spoken = LanguageParameter("language", "choice", "en", "Its.", choices=("en", "es"))
    >>> spoken.check("es_ES.UTF-8")
    'es'
    """

    __slots__ = ()

    def _check_one(self, value: object) -> object:
        return super()._check_one(matched(str(value)) or value)
