"""The catalogues: every code has its message, every message its code, and all can be said."""

from __future__ import annotations

import re

import pytest
from fluent.syntax import ast as ftl
from fluent.syntax.serializer import serialize_message

from leakgeo.answer.document import WORDS
from leakgeo.deliver.map.words import CODES
from leakgeo.deliver.map.write import GROUPS
from leakgeo.deliver.qgis.words import WORDS as PROJECT
from leakgeo.deliver.workbook.write import _CARD as BOOK_CARD
from leakgeo.deliver.workbook.write import _STOPS as BOOK_STOPS
from leakgeo.dig.tickets import ticket_rule
from leakgeo.job.schema import load_schema, load_schemas
from leakgeo.job.typed.headers import CODE_TERMS, KINDS
from leakgeo.job.workbook.names import SHEETS
from leakgeo.reason import Reason
from leakgeo.wording import languages, wording
from leakgeo.wording.bundle import bundle
from leakgeo.wording.catalogue import slug
from leakgeo.wording.quantities import Quantities
from tests.wording.codes import (
    MISSING,
    begun,
    constants,
    entries,
    given,
    messages,
    quoted,
    samples,
    variables,
)
from tests.wording.phrases import helps, titles

# Symbols of which a layer has one, or of marks, digs and readings.
LEGEND = ("mark", "likeliest_place", "held", "not_used", "next_readings", "air_tests",
          "contact_ranking", "learned_cases", "ties", "locate_requests", "dig_alternatives",
          "survey_bracket")  # fmt: skip
# Messages by kind and code, and words of quantities: said by `term`.
TERMS = {
    **{f"status_{code}": () for code in load_schema("lines").field("status").codes},
    **{f"limit_{code}": () for code in load_schema("marks").field("limited_by").codes},
    **{f"severity_{code}": () for code in load_schema("conflicts").field("severity").codes},
    **{f"utility_{code}": () for code in load_schema("utilities").field("kind").codes},
    **{f"hazard_{code}": () for code in load_schema("utilities").field("kind").codes},
    **{f"fitting_{code}": () for code in load_schema("contacts").field("kind").codes},
    **{f"step_{code}": () for code in load_schema("next_actions").field("action").codes},
    **{f"card_{name}": () for name in ("hold", "next", "caution", "every_dig")},
    **{f"odds_{name}": () for name in ("in", "over", "under")},
    **{f"summary_{name}": () for name in ("no_mark", "not_checked")}, "request_asks": (),
    **{f"round_{name}": () for name in ("caution", "cautions", "to_clear", "held", "not_written")},
    **{f"change_{kind}": () for kind in load_schema("changes").field("change").codes},
    **{f"project_{code}": () for code in PROJECT},
    **{f"legend_{code}": () for code in LEGEND},
    **{f"band_{code}": () for code in load_schema("readings").field("band").codes},
    **{f"dig_text_{code}": () for code in ("no_hold", "no_dig", "not_checked", "not_located",
                                           "no_reason")},
    "rule_on_record": (),
    **{f"rule_case_{code.replace(' ', '_')}": ()
       for code in load_schema("conflicts").field("rule_case").codes},
    "hazard_utility": (), "fitting_fitting": (),
    "as_given": ("remedy", "text"),  # steps of other packages, which have no message here
    **{f"ticket_{name}": () for name in ticket_rule().missing},
    **{f"header_{column}": () for kind in (*KINDS, *SHEETS) for column in kind.columns},
    **{f"title_{sheet.layer}": () for sheet in SHEETS}, "header_meter_tests_contact_id": (),
    **{f"{CODE_TERMS[field.name]}_{code}": () for kind in KINDS for field in kind.schema.fields
       if field.name in CODE_TERMS for code in field.codes},
    "utility_utility": (), "unknown": (), "one_foot": (), "percent_over_99": (),
    "percent_under_1": (), "unit_litres": (), "unit_gallons": (), "range_to": (),
    "range_about": (),
    **{f"panel_{code}": () for code in WORDS},
    **{f"map_{code}": () for code in CODES}, **{f"group_{name}": () for name in GROUPS},
    **{f"response_{code}": () for code in load_schema("utilities").field("response").codes
       if code != "none"},
}  # fmt: skip
TERMS |= dict.fromkeys((f"list_{word}" for word in (
    "rank", "line", "status", "mark", "odds", "holds", "assumed", "median", "about", "loss_from",
    "none_held",
)), ())  # fmt: skip
# Words of the report, the workbook and the map that are put together.
TERMS |= dict.fromkeys((
    *(code for code in messages("en") if code.startswith("titled_")), *helps(),
    *(f"page_{word}" for word in (
        "plugin", "layers", "choose", "points", "lines", "areas", "table", "needed", "optional",
        "or", "on", "required", "results", "files", "calls",
    )),
    *(f"material_{code}" for code in load_schema("routes").field("material").codes),
    *(f"depth_from_{code}" for code in load_schema("dig_zones").field("depth_source").codes),
    *(f"wind_{point}" for point in ("n", "ne", "e", "se", "s", "sw", "w", "nw")),
    *(f"shown_air_{code}" for name in ("role", "verdict")
      for code in load_schema("air_tests").field(name).codes),
    *(f"book_{head}" for head in (*BOOK_CARD, *BOOK_STOPS)),
    "per_day_litres", "per_day_gallons", "effect_rejected", "effect_noted", "effect_stops",
    "terminal_check_prints",
), ())  # fmt: skip
# Words of the page of a dig's record.
TERMS |= dict.fromkeys((f"record_{word}" for word in (
    "title", "time", "crew", "leak_at", "along", "exposed", "repaired", "cause", "before", "after",
    "mark", "off_mark", "run", "photos", "note", "supersedes", "superseded_by", "yes", "no", "leak",
    "dry", "pipe_not_reached", "unknown", "start", "end", "the_leak", "the_mark", "toward_start",
    "toward_end", "not_scaled", "caution", "signed_crew", "signed_utility",
)), ())  # fmt: skip
# Words that say or imply that a place may be dug.
CLEARING = re.compile(
    r"\bsafe|\bclear to\b|\bgo ahead|segur|a salvo|sin peligro|sin riesgo", re.IGNORECASE
)


def test_every_code_that_is_given_has_an_english_message():
    codes = given()
    assert len(codes) > 90
    assert set(codes) - set(messages("en")) == set()
    assert set(TERMS) - set(messages("en")) == set()


def test_every_variable_of_a_message_is_given():
    english = messages("en")
    for code, calls in given().items():
        for values in calls:
            if values is not None:
                # Checks give the value that they found besides.
                assert variables(english[code]) <= {*values, "value"}, code


def test_every_message_has_a_code():
    said = {*given(), *TERMS, *constants(), *quoted(), *MISSING}
    assert set(messages("en")) - said == set()


@pytest.mark.parametrize("language", languages())
def test_a_catalogue_has_no_junk_and_nothing_twice(language):
    found = entries(language)
    assert not [e.content for e in found if isinstance(e, ftl.Junk)]
    assert len(messages(language)) == len(found)


@pytest.mark.parametrize("language", languages()[1:])
def test_a_language_has_the_messages_variables_and_parts_of_english(language):
    english, own = messages("en"), messages(language)
    assert own.keys() == english.keys()
    for code, message in own.items():
        assert variables(message) == variables(english[code]), code
        parts = {a.id.name for a in message.attributes}
        assert parts == {a.id.name for a in english[code].attributes}, code


@pytest.mark.parametrize("units", ["si", "us"])
@pytest.mark.parametrize("language", languages())
def test_every_message_is_said_without_an_error(language, units, caplog):
    said = wording(units, language)
    for code, message in messages(language).items():
        reason = Reason(code, **samples(message))
        texts = [said.text(reason), *(said.part(reason, a.id.name) for a in message.attributes)]
        for text in texts:
            assert text
            assert "{???}" not in text
            assert not CLEARING.search(text), text
    assert caplog.records == []


@pytest.mark.parametrize("language", languages())
def test_messages_parsed_one_by_one_are_those_of_the_whole_files(language):
    made = bundle(language, Quantities("si", lambda code, _: code))
    whole = messages(language)
    assert made._texts.keys() == whole.keys()
    for code, message in whole.items():
        assert made.has_message(code)
        assert made._messages[code].equals(message, ignored_fields=["span", "comment"]), code


def test_a_message_brings_those_that_it_refers_to():
    made = bundle("en", Quantities("si", lambda code, _: code))
    message = made.get_message("card_air_in_line")
    assert made.format_pattern(message.value) == ("air in the line", [])


@pytest.mark.parametrize("language", languages())
def test_every_choice_of_a_message_is_said(language):
    made = bundle(language, Quantities("si", lambda code, _: code))
    for code, message in messages(language).items():
        selects = [
            element.expression
            for element in message.value.elements
            if isinstance(getattr(element, "expression", None), ftl.SelectExpression)
        ]
        for select in selects:
            if not isinstance(select.selector, ftl.VariableReference):
                continue
            name = select.selector.id.name
            texts = set()
            for variant in select.variants:
                key = getattr(variant.key, "name", "")
                counted = _keys(select) & {"one", ""}  # a number has no name
                chosen = {"one": 1, "": 1, "other": 3}.get(key, key) if counted else key
                text, errors = made.format_pattern(
                    made.get_message(code).value, _arguments({**samples(message), name: chosen})
                )
                assert errors == [], code
                texts.add(text)
            assert len(texts) == len(select.variants), code


def _keys(select):
    return {getattr(variant.key, "name", "") for variant in select.variants}


def _arguments(values):
    return {n: v if isinstance(v, (str, int, float)) else "a, b" for n, v in values.items()}


def test_a_language_that_lacks_a_message_says_it_in_english():
    spanish, english = wording(language="es"), wording()
    lacking = sorted(set(messages("en")) - set(messages("es")))
    for code in lacking:
        reason = Reason(code, **samples(messages("en")[code]))
        assert spanish.text(reason) == english.text(reason)
    assert spanish.term("half_done", "status") == "half done"
    assert spanish.text(Reason("of_another_package", name="x")) == "of another package (x)"


# One word of each language for one thing, by the word of the other.
ONE_WORD = {"one-call cent": "centro de llamada única", "locate ticket": "ticket"}
OTHER_WORDS = re.compile("central de avisos|dueñ", re.IGNORECASE)


def test_spanish_has_one_term_for_one_thing():
    english, spanish = (
        {code: serialize_message(message) for code, message in messages(name).items()}
        for name in ("en", "es")
    )
    for code, text in spanish.items():
        assert not OTHER_WORDS.search(text), code
        for term, own in ONE_WORD.items():
            assert (term in english[code].lower()) <= (own in text.lower()), code


def test_spanish_has_statuses_lines_advice_and_every_hold():
    """What it begins with; a sheet that mixes two languages about a hold would mislead."""
    assert begun() - set(messages("es")) == set()


def test_every_title_of_a_layer_and_a_column_is_in_every_language():
    schemas = [s for role in ("input", "output") for s in load_schemas(role).values()]
    parts = [part for schema in schemas for part in (schema, *schema.parts())]
    found = {part.title for part in parts} | titles()
    found |= {field.title for part in parts for field in part.fields if field.title}
    assert len(found) > 200
    said = {f"titled_{slug(title)}": title for title in found}
    assert said.keys() <= messages("en").keys()
    assert all(wording().term(code) == title for code, title in said.items())


def test_every_help_text_is_in_every_language_and_no_other():
    """``python -m tests.wording.phrases`` copies English texts, and lists what lacks."""
    assert len(helps()) > 140
    for language in languages():
        assert {
            c for c in messages(language) if c.startswith(("help_", "choice_"))
        } == helps().keys(), language
    assert {code: wording().term(code) for code in helps()} == dict(helps())
    spanish = wording(language="es")
    told = [text for code, text in helps().items() if code.startswith("help_")]
    assert [text for text in told if spanish.help(text) == text] == []


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_remedy_is_what_to_do_and_names_options_as_they_are_typed(language):
    """It is printed after its message: a first word that is no verb reads as a remark."""
    for code, message in messages(language).items():
        text = serialize_message(message)
        assert not re.search(r"\.remedy = (Nothing|Nada)\b", text), code
        if code.startswith(("titled_", "help_")):  # a name of the parameter itself
            continue
        for option in ("trust_declarations", "relearn"):
            typed = f"--{option.replace('_', '-')}"
            assert (typed in text) == bool(re.search(option.replace("_", "[_-]"), text)), code
