"""The rules behind the cautions: each names its source, reads well and matches what it should."""

from __future__ import annotations

import re

import pytest

from formulate.files.cautions import PLACES, caution_rules
from formulate.files.library import Library
from formulate.files.standards import Match
from formulate.rules.contents import Content, named, shown_names
from formulate.rules.facts import OF_BATCH, OF_CONTENTS

RULES = {row.id.replace("-", "_"): row for row in caution_rules().rows}
LIBRARY = Library.built_in()


# ---- the rules themselves -----------------------------------------------------------------------


def test_every_fact_a_rule_asks_for_exists_and_every_fact_is_asked_for() -> None:
    asked = {name for row in RULES.values() for name in row.when.facts}
    assert asked == {*OF_BATCH, *OF_CONTENTS}


@pytest.mark.parametrize("code", RULES)
def test_a_rule_names_its_source_and_reads_like_a_colleague(code: str) -> None:
    row = RULES[code]
    assert row.source.strip()
    assert row.place in PLACES
    assert (row.seen is not None) or row.confidence != "published"
    assert len(row.short) <= 150
    for text in (row.short, row.says):
        assert "!" not in text
        assert not re.search(r"\b(DANGER|WARNING|lethal|deadly|fatal|kill you)\b", text)
        assert text[-1] in ".}"


@pytest.mark.parametrize("code", RULES)
def test_ingredients_of_a_rule_are_in_the_library(code: str) -> None:
    when = RULES[code].when
    assert not [name for name in when.ingredients if name not in LIBRARY]
    families = {ingredient.family for ingredient in LIBRARY.all()}
    assert set(when.families) <= families


def test_sentences_a_rule_replaces_exist_and_their_ingredients_set_it_off() -> None:
    """A sentence that no rule would say instead must not vanish."""
    sentences = {text for ingredient in LIBRARY.all() for text in ingredient.cautions}
    for row in RULES.values():
        assert not [text for text in row.instead_of if text not in sentences], row.id
        for ingredient in LIBRARY.all():
            if not set(ingredient.cautions) & set(row.instead_of):
                continue
            content = Content(ingredient.id, frozenset({ingredient.id}), ingredient.family, "")
            by_fact = row.when.facts or row.id == "keep-cold-weak"
            assert by_fact or named(row.when, [content]), (row.id, ingredient.id)


def test_a_sentence_with_two_subjects_is_covered_by_rules_for_both() -> None:
    covered: dict[str, set[str]] = {}
    for row in RULES.values():
        for text in row.instead_of:
            covered.setdefault(text, set()).add(row.id)
    assert covered["Not when pregnant, nor with epilepsy; daisy family allergy."] == {
        "pregnancy",
        "epilepsy",
        "daisy-family",
    }
    assert covered["Not for guests with a stomach ulcer, nor when pregnant or nursing."] == {
        "pregnancy",
        "ulcer-and-bile",
    }


@pytest.mark.parametrize("code", RULES)
def test_a_rule_reads_well_without_a_recipe(code: str) -> None:
    text = RULES[code].in_general
    assert "{" not in text
    assert text[0].isupper()
    assert text.endswith(".")


# ---- matching -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "hit"),
    [
        ("hazelnuts roasted", True),
        ("hazelnut spirit distillate", False),
        ("coconut", False),
        ("chestnut honey", False),
        ("brazil nut", True),
    ],
)
def test_words_match_whole_and_give_way(text: str, hit: bool) -> None:
    match = Match(words=("hazelnut", "hazelnuts", "brazil nut"), unless_words=("distillate",))
    assert match.fits({"mine"}, "other", f" {text} ") is hit


def test_long_lists_are_cut_on_a_short_line() -> None:
    names = ("a", "b", "c", "d")
    assert shown_names(names) == "a, b, c and d"
    assert shown_names(names, short=True) == "a, b and 2 more"
    assert shown_names(names[:3], short=True) == "a, b and c"
