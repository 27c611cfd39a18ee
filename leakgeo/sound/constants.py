"""Assumed constants of the sound model, from ``constants.toml`` and a user's file."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from leakgeo.errors import ContractError, ParameterError
from leakgeo.job.schema import load_schemas
from leakgeo.sound.noise_law import NoiseLaw
from leakgeo.sound.walk_law import WalkLaw

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from leakgeo.job.schema import Field
    from leakgeo.result import Result


@dataclass(frozen=True)
class Material:
    """Sound in a group of pipe materials: decay in dB/m, share of the power along the pipe."""

    name: str
    pipe_decay_db_per_m: float
    pipe_share: float


@dataclass(frozen=True)
class Band:
    """A filter band: factors of the decay in pipe and soil, relative to the whole band."""

    decay_times: float
    soil_times: float


@dataclass(frozen=True)
class Constants:
    """Every assumed constant of the leak-sound model.

    Parameters
    ----------
    materials : mapping of str to Material
        By the material codes of the data contract.
    smear_m : mapping of str to float
        Lateral smear by surface code.
    bands : mapping of str to Band
        By band code; ``wide`` is the whole band.
    spread, noise, other, air, improvements : mapping of str to float
        Tables of the same name in ``constants.toml``, which explains each constant.
    noise_law : NoiseLaw
        How common each kind of ground is.
    walk_law : WalkLaw
        How common each kind of satellite error and each length of step is.
    """

    materials: Mapping[str, Material]
    smear_m: Mapping[str, float]
    bands: Mapping[str, Band]
    spread: Mapping[str, float]
    noise: Mapping[str, float]
    other: Mapping[str, float]
    air: Mapping[str, float]
    improvements: Mapping[str, float]
    noise_law: NoiseLaw
    walk_law: WalkLaw

    def with_law(self, law: NoiseLaw) -> Constants:
        """Return the constants with a law of the noise, and the ambient floor that it knows."""
        return replace(self, noise_law=law, spread={**self.spread, **law.floor})

    @classmethod
    def of(cls, table: Mapping[str, Any]) -> Constants:
        """Build the constants from the tables of ``constants.toml``."""
        schemas = load_schemas("input")
        material = schemas["routes"].field("material")
        group_of = dict(material.sound_groups)
        _require_all("routes", material, group_of, "a group in soundGroups there")
        groups = {name: Material(name, **row) for name, row in table["materials"].items()}
        materials = {}
        for code, group in group_of.items():
            if group not in groups:
                raise ContractError(
                    f"routes.json: the sound group {group!r} of material {code!r} is not in "
                    f"constants.toml; groups there are {', '.join(groups)}."
                )
            materials[code] = groups[group]
        smear = {code: row["smear_m"] for code, row in table["surfaces"].items()}
        bands = {code: Band(**row) for code, row in table["bands"].items()}
        _require_all("readings", schemas["readings"].field("surface"), smear,
                     "a row in [surfaces] of constants.toml")  # fmt: skip
        _require_all("readings", schemas["readings"].field("band"), bands,
                     "a table in [bands] of constants.toml")  # fmt: skip
        rest = {name: table[name] for name in ("spread", "noise", "other", "air", "improvements")}
        law = NoiseLaw.of(table["noise_law"]["nodes"])
        walks = WalkLaw.of(table["walk_law"]["errors"], table["walk_law"]["steps"])
        return cls(materials, smear, bands, **rest, noise_law=law, walk_law=walks)


def _require_all(layer: str, field: Field, known: Mapping[str, object], wanted: str) -> None:
    """Raise ContractError if a code of the data contract has no constants."""
    if without := [code for code in field.codes if code not in known]:
        raise ContractError(
            f"{layer}.json: {field.name} {', '.join(map(repr, without))} has no constants of "
            f"sound; give it {wanted}."
        )


@cache
def load_constants(path: Path | None = None) -> Constants:
    """Load the shipped constants, overridden by those of a user's file.

    Parameters
    ----------
    path : pathlib.Path, optional
        TOML file with any of the tables and keys of the shipped one.

    Raises
    ------
    ParameterError
        If the file can't be read, a key is unknown, or a value is not a number.
    ContractError
        If the data contract has a material, surface or band without constants.

    Examples
    --------
    >>> load_constants().materials["pvc"].name
    'plastic'
    """
    shipped = tomllib.loads((files("leakgeo.sound") / "constants.toml").read_text("utf-8"))
    if path is None:
        return Constants.of(shipped)
    try:
        own = tomllib.loads(path.read_text("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ParameterError(f"constants file {path}: {error}") from error
    return Constants.of(overridden(shipped, own, str(path)))


def constants_in(result: Result) -> Constants:
    """Return the constants of a result's profile, with the laws that its job taught."""
    assumed = walks_in(result, load_constants(result.parameters["profile"]["constants"]))
    law = result.layers.get("noise_law")
    return assumed if law is None else assumed.with_law(NoiseLaw.from_table(law))


def walks_in(result: Result, constants: Constants) -> Constants:
    """Return constants with the law of walks that the job of a result taught."""
    law = result.layers.get("walk_law")
    return constants if law is None else replace(constants, walk_law=WalkLaw.from_table(law))


def overridden(base: Mapping[str, Any], own: Mapping[str, Any], where: str) -> dict[str, Any]:
    """Return `base` with the values of `own`; raise ParameterError for keys not in `base`."""
    merged = dict(base)
    for key, value in own.items():
        place = f"{where}.{key}"
        if key not in base:
            raise ParameterError(f"{place} is unknown; keys here are {', '.join(base)}.")
        if isinstance(base[key], dict) != isinstance(value, dict):
            kind = "table" if isinstance(base[key], dict) else "number"
            raise ParameterError(f"{place}: {value!r} is not a {kind}.")
        if isinstance(base[key], float) and (
            isinstance(value, bool) or not isinstance(value, (int, float))
        ):
            raise ParameterError(f"{place}: {value!r} is not a number.")
        merged[key] = overridden(base[key], value, place) if isinstance(value, dict) else value
    return merged
