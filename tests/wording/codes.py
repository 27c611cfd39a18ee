"""What the package says by code, read from its source, and what the catalogues have."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

from fluent.syntax import FluentParser
from fluent.syntax import ast as ftl

import leakgeo
from leakgeo.dig.headline import CAUSES
from leakgeo.find.posterior.place_prior import KINDS as KINDS_OF_PRIOR
from leakgeo.job.schema import load_schema, load_schemas
from leakgeo.job.typed.headers import KINDS
from leakgeo.job.walk_values import KEPT

PACKAGE = Path(leakgeo.__file__).parent
# Codes that are put together: what follows the prefix, and the values that are given further up.
IMPROVEMENTS = ("night", "probe", "spacing", "position", "trickle", "pressure")
ACTIONS_OF_DIG = ("listen_on", "place_line", "ask_owners", "correct_records", "check_ticket",
                  "probe_depth", "shut_line", "vent_line")  # fmt: skip
ACTIONS_OF_UTILITY = ("notify_owner", "get_answer", "renew_ticket", "wait_for_notice",
                      "private_locator", "find_mark", "have_located", "correct_record",
                      "check_ticket", "expose")  # fmt: skip
HOLDS_OF_DIG = ("line_not_placed", "hole_not_drawn", "error_longer_than_hole",
                "cover_not_known",
                "no_utility_on_record", "no_utilities_layer", "no_utilities_rows",
                "utilities_without_position", "mark_lacks", "line_under_pressure",
                "pressure_not_known", "air_in_line")  # fmt: skip
FAMILIES = {
    "card_": (*CAUSES, *HOLDS_OF_DIG),
    "do_": ACTIONS_OF_DIG,
    "do_for_": ACTIONS_OF_UTILITY,
    "limited_by_": load_schema("marks").field("limited_by").codes,
    "action_": load_schema("conflicts").field("severity").codes,
    "air_": load_schema("air_tests").field("verdict").codes,
    "evidence_": ("prior", "sound", "air"),
    "isolated_": load_schema("isolation_tests").field("measure").codes,
    "improvement_": IMPROVEMENTS,
    "prior_": KINDS_OF_PRIOR[:4],
    "would_fit_": ("feet", "us_survey_feet"),
    "would_fit_metres_not_": ("feet", "us_survey_feet"),
    "header_": tuple(column for kind in KINDS for column in kind.columns),
    "taken_": (*KEPT["readings"], "walk_id", "chainage_from", "chainage_toward"),
    "not_": ("length", "number", "integer", "boolean", "datetime", "date", "string"),
}
# Codes that are made of the name of a layer; only layers whose absence matters have one.
MISSING = frozenset(f"{name}_missing" for name in load_schemas("input"))
PASSED_ON = {"improvement_night": {"quieter_db"}, "improvement_spacing": {"marked"},
             "improvement_trickle": {"fitting"},
             "improvement_pressure": {"from_kpa", "to_kpa"},
             "isolated_pressure": {"before_kpa", "after_kpa"}}  # fmt: skip
# Tests of a dig: (mask, code, values); those of a utility have its name besides.
_OF_UTILITY = ("_record_tests", "_answer_tests", "_ticket_tests", "_place_tests")
_OF_DIG = ("_dig_tests", "_line_tests")


@cache
def _trees() -> tuple[ast.Module, ...]:
    """Sources that give reasons."""
    sources = (path.read_text("utf-8") for path in sorted(PACKAGE.rglob("*.py")))
    return tuple(
        ast.parse(source) for source in sources if "Reason(" in source or "term(" in source
    )


@cache
def given() -> dict[str, list[set[str] | None]]:
    """Codes that the package gives, each with the names of its values wherever it is given.

    None stands for values that can't be read from the source.
    """
    found: dict[str, list[set[str] | None]] = {}
    for tree in _trees():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Reason":
                _of_call(node, found)
            if isinstance(node, ast.FunctionDef) and node.name in (*_OF_UTILITY, *_OF_DIG):
                _of_tests(node, found)
    return found


def _of_call(call: ast.Call, found: dict[str, list[set[str] | None]]) -> None:
    names = [k.arg for k in call.keywords]
    values = None if None in names else {n for n in names if n}
    first = call.args[0] if call.args else None
    for code in _codes(first):
        own = PASSED_ON.get(code, set())
        known = {n for n in names if n} | own if isinstance(first, ast.JoinedStr) else values
        found.setdefault(code, []).append(known)


def _codes(node: ast.expr | None) -> list[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    if isinstance(node, ast.IfExp):
        return [*_codes(node.body), *_codes(node.orelse)]
    if isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant):
        prefix = str(node.values[0].value)
        return [prefix + last for last in FAMILIES[prefix]]
    return []


def _of_tests(function: ast.FunctionDef, found: dict[str, list[set[str] | None]]) -> None:
    more = {"utility"} if function.name in _OF_UTILITY else set()
    for node in ast.walk(function):
        if isinstance(node, ast.Tuple) and len(node.elts) == 3:
            _, code, values = node.elts
            if isinstance(code, ast.Constant) and isinstance(values, ast.Dict):
                keys = {str(getattr(key, "value", "")) for key in values.keys}
                found.setdefault(str(code.value), []).append(keys | more)


@cache
def constants() -> frozenset[str]:
    """Every text in the source: a code may be chosen where it is no argument."""
    return frozenset(
        node.value
        for tree in _trees()
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    )


@cache
def entries(language: str) -> tuple[ftl.EntryType, ...]:
    """Entries of a language's catalogue, comments left out."""
    found = []
    for path in sorted((PACKAGE / "wording" / language).glob("*.ftl")):
        body = FluentParser(with_spans=False).parse(path.read_text("utf-8")).body
        found += [e for e in body if not isinstance(e, ftl.BaseComment)]
    return tuple(found)


@cache
def begun() -> frozenset[str]:
    """Messages that a language needs to be of use: of lines, of digs, and of codes."""
    files = ("card", "lines", "dig", "terms")
    return frozenset(
        entry.id.name
        for name in files
        for entry in FluentParser(with_spans=False)
        .parse((PACKAGE / "wording" / "en" / f"{name}.ftl").read_text("utf-8"))
        .body
        if isinstance(entry, ftl.Message)
    )


@cache
def messages(language: str) -> dict[str, ftl.Message]:
    return {e.id.name: e for e in entries(language) if isinstance(e, ftl.Message)}


def _nodes(node: object) -> list[ftl.BaseNode]:
    """Give a node and all below it."""
    if isinstance(node, list):
        return [each for part in node for each in _nodes(part)]
    if not isinstance(node, ftl.BaseNode):
        return []
    return [node, *(each for part in vars(node).values() for each in _nodes(part))]


def _said(message: ftl.Message) -> list[ftl.BaseNode]:
    """Give the nodes of a message, and of the English messages that it quotes."""
    nodes = _nodes(message)
    own = message.id.name  # a message quotes its own parts
    quoted = [n.id.name for n in nodes if isinstance(n, ftl.MessageReference) and n.id.name != own]
    return [*nodes, *(node for name in quoted for node in _said(messages("en")[name]))]


def variables(message: ftl.Message) -> set[str]:
    return {n.id.name for n in _said(message) if isinstance(n, ftl.VariableReference)}


@cache
def quoted() -> frozenset[str]:
    """Messages that others quote: no reason has their code."""
    return frozenset(
        n.id.name
        for message in messages("en").values()
        for n in _nodes(message)
        if isinstance(n, ftl.MessageReference)
    )


def samples(message: ftl.Message) -> dict[str, object]:
    """Give a value for each variable of a message, of the type that its functions take."""
    values: dict[str, object] = dict.fromkeys(variables(message), "{ $x } 3 m")
    for node in _said(message):
        if isinstance(node, ftl.FunctionReference):
            kind: object = {"JOIN": ("a", "b"), "TERM": "gas"}.get(node.id.name, 0.5)
            for argument in node.arguments.positional:
                if isinstance(argument, ftl.VariableReference):
                    values[argument.id.name] = kind
        if isinstance(node, ftl.SelectExpression):
            keys = {getattr(v.key, "name", "") for v in node.variants}
            if isinstance(node.selector, ftl.VariableReference) and "one" in keys:
                values[node.selector.id.name] = 3
    return values
