"""Draft a mapping from what is seen in a source: what is unsure stands there as a comment."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.job.mapping.draft_columns import draft_columns
from leakgeo.job.mapping.guess import code_of, words
from leakgeo.job.mapping.layer_info import look_at, match_layers
from leakgeo.job.mapping.text import comment, quoted
from leakgeo.job.schema import load_schemas
from leakgeo.job.sources.address import shown
from leakgeo.job.sources.coordinates import usual_columns
from leakgeo.job.sources.source import open_source

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.job.mapping.layer_info import Sight
    from leakgeo.job.schema import LayerSchema

_HEAD = """\
# Which layers, columns and codes of {name} are which of leakgeo's.
# This is a draft, made from names and values. Go through every line: a line that begins with #
# does nothing until you correct it and take the # away. A column that is not here is not used,
# unless it has the contract's own name. Then: leakgeo check JOB --mapping THIS_FILE
#
# Units of a column: m mm cm ft us_survey_ft in yd, kpa bar psi m_head ft_head, l m3 gal ft3 ccf.
# Times without a zone are taken as UTC, unless you say where they were taken:
# time_zone = "America/Chicago"
# Numbers with a comma, such as 41,5, are read where this is said:
# decimal = ","
"""


def draft_mapping(source: str | Path) -> str:
    """Draft a mapping, for the user to correct.

    Parameters
    ----------
    source : str or pathlib.Path
        As `leakgeo.read_job` takes it.

    Returns
    -------
    str
        TOML that `leakgeo.job.mapping.load.load_mapping` takes as it is.

    Raises
    ------
    JobError
        If the source can't be read.

    Examples
    --------
    >>> print(draft_mapping("examples/town/job.gpkg"))  # doctest: +SKIP
    """
    schemas = load_schemas("input")
    with open_source(source) as opened:
        seen = look_at(opened)
        found = match_layers(seen, schemas.values())
        name = shown(source).replace("\\", "/").rpartition("/")[2]
        parts = [_HEAD.format(name=comment(name))]
        parts += [_layer(schema, found.get(schema.name, [])) for schema in schemas.values()]
    used = [sight for sights in found.values() for sight in sights]
    left = [comment(s.layer) for s in seen if s not in used]
    if left:
        parts.append(f"# Layers that nothing was made of: {', '.join(left)}\n")
    return "\n".join(parts)


def _layer(schema: LayerSchema, sights: list[Sight]) -> str:
    if not sights:
        need = "needed; name the layer" if schema.required else "no layer was seen for it"
        return f'# [{schema.name}]  # {need}\n# layer = ""\n'
    many = len(sights) > 1
    return "\n".join(_part(schema, sight, many=many) for sight in sights)


def _part(schema: LayerSchema, sight: Sight, *, many: bool) -> str:
    raw = sight.read()
    head = f"[[{schema.name}]]" if many else f"[{schema.name}]"
    lines = [f"{head}  # {len(raw.table)} rows; {comment(schema.title)}"]
    if sight.file is not None:
        lines.append(f"file = {quoted(sight.file)}")
    lines.append(f"layer = {quoted(sight.layer)}")
    used: tuple[str, ...] = ()
    if schema.geometry_types and not raw.has_geometry:
        told, used = _coordinates(sight)
        lines += told
    elif schema.geometry_types and raw.crs is None:
        lines.append('# crs = "EPSG:"  # needed: the layer does not say which it is in')
    fixed = _kind_by_name(schema, sight)
    lines += ["", *draft_columns(schema, raw, used, fixed)]
    return "\n".join(lines) + "\n"


def _coordinates(sight: Sight) -> tuple[list[str], tuple[str, ...]]:
    pair = usual_columns(sight.columns)
    if pair is None:
        return ['# x = ""', '# y = ""', '# crs = "EPSG:4326"'], ()
    named = [f"x = {quoted(pair[0])}", f"y = {quoted(pair[1])}"]
    if "lat" in pair[1].casefold():
        return [*named, 'crs = "EPSG:4326"  # longitude and latitude: is it WGS 84?'], pair
    return [*(f"# {n}" for n in named), '# crs = "EPSG:"  # needed: which are they in?'], pair


def _kind_by_name(schema: LayerSchema, sight: Sight) -> dict[str, str]:
    """Take the kind of a utility from the name of its layer, such as GasMains."""
    if schema.name != "utilities":
        return {}
    codes = schema.field("kind").codes
    guesses = (code_of(w, codes) for w in words(sight.layer) if len(w) > 2)
    kind = next((g for g in guesses if g), None)
    return {"kind": kind} if kind else {}
