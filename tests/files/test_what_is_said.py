"""What is said about files that are wrong: the place, our words, and what to do."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import SpecError
from formulate.files.bottle import Bottle
from formulate.files.ingredient import Ingredient
from formulate.files.loading import load_any
from formulate.files.located import load_document
from formulate.files.problems import read_model
from formulate.files.recipe import Recipe
from formulate.files.shelf import Shelf
from tests.files.file_texts import BAD_FILES, BOTTLE, read_bottle


@pytest.mark.parametrize("name", sorted(path.stem for path in BAD_FILES.glob("*.yaml")))
def test_what_is_said_about_a_bad_file(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    # The texts were written out by the program once and then read one by one
    # for place, words and advice: they pin the wording. Places are checked independently above.
    monkeypatch.chdir(BAD_FILES)
    with pytest.raises(SpecError) as caught:
        load_any(f"{name}.yaml")
    assert f"{caught.value}\n" == (BAD_FILES / f"{name}.txt").read_text("utf-8")


def test_every_bad_file_has_its_text_and_the_other_way_round() -> None:
    stems = {suffix: {path.stem for path in BAD_FILES.glob(f"*{suffix}")} for suffix in (".yaml", ".txt")}
    assert stems[".yaml"] == stems[".txt"]
    assert len(stems[".yaml"]) >= 120


def test_texts_speak_to_a_person() -> None:
    jargon = re.compile(
        r"(?i:pydantic|ruamel|\bpint\b|yaml tag|traceback|input should|valid (?:string|number|dict))"
        r"|\bNone\b|kwargs|<class"
    )
    shape = re.compile(r"^[a-z0-9-]+\.yaml:[1-9][0-9]*:[1-9][0-9]*: \S")
    for path in BAD_FILES.glob("*.txt"):
        text = path.read_text("utf-8")
        assert not jargon.search(text), path.name
        heads = [line for line in text.splitlines() if not re.match(r" *[0-9]* \|", line)]
        assert heads, path.name
        for head in heads:
            assert shape.match(head), path.name


def test_more_than_twenty_problems_are_counted() -> None:
    text = BOTTLE + "".join(f"key{number}: x\n" for number in range(30))
    with pytest.raises(SpecError) as caught:
        read_bottle(text)
    assert len(caught.value.problems) == 30
    assert str(caught.value).endswith("... and 10 more.")


_WORDS = st.sampled_from(
    [
        *(
            "name",
            "size",
            "targets",
            "ingredients",
            "steps",
            "together",
            "measured",
            "damson",
            "infuse",
            "ratio",
            "sum",
        ),
        *(
            "share",
            "is",
            "of",
            "currency",
            "offers",
            "price",
            "pack",
            "usual_tolerance",
            "composition",
            "water",
            "EUR",
        ),
        *(
            "5 L bottled",
            "22 % vol",
            "5 g/L",
            "at most 5 g",
            "11.20 EUR",
            "damson to water",
            "recipe",
            "amount",
            "step",
        ),
        *(
            "bitterness",
            "firm",
            "strength",
            "sources",
            "loss",
            "2 bottles",
            "use all damson",
            "vessels",
            "attributes",
        ),
    ]
)
_LEAVES = st.none() | st.booleans() | st.integers(-3, 30) | st.floats(-1, 1e3, allow_nan=False) | _WORDS
_TREES = st.recursive(
    _LEAVES,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_WORDS, inner, max_size=4),
    max_leaves=14,
)


def _as_typed(tree: Any) -> str:
    if isinstance(tree, dict):
        return "{" + ", ".join(f'"{key}": {_as_typed(value)}' for key, value in tree.items()) + "}"
    if isinstance(tree, list):
        return "[" + ", ".join(map(_as_typed, tree)) + "]"
    if tree is None or isinstance(tree, bool):
        return {None: "null", True: "true", False: "false"}[tree]
    return f'"{tree}"' if isinstance(tree, str) else repr(tree)


@pytest.mark.parametrize("model", [Bottle, Shelf, Recipe, Ingredient])
@given(tree=st.dictionaries(_WORDS, _TREES, max_size=5))
def test_any_tree_is_read_or_refused_in_our_words(model: type[Bottle], tree: dict[str, Any]) -> None:
    document = load_document(_as_typed(tree))
    try:
        read_model(model, document)
    except SpecError as refusal:
        said = [problem.message for problem in refusal.problems]
    else:
        said = []
    assert not [message for message in said if "cannot be used here" in message]
    assert not [
        message
        for message in said
        if re.search(r"pydantic|Input should|FrozenMap|Decimal|Fraction\(", message)
    ]
