"""Recipes written out read back equal, and the JSON Schema takes what the loader takes."""

from __future__ import annotations

import re
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.files.bottle import MeasuredBitterness
from formulate.files.frozen import FrozenMap
from formulate.files.located import load_document
from formulate.files.problems import read_model
from formulate.files.recipe import Recipe, RecipeLine, dump_recipe
from formulate.files.schema import json_schema
from formulate.files.steps import StepSpec
from formulate.quantity import Amount, AmountBasis
from tests.files.file_texts import BAD_FILES, BOTTLE, RECIPE, SHELF

_NAMES = st.from_regex(r"[a-z][a-z0-9]{0,6}(-[a-z0-9]{1,4})?", fullmatch=True)
_TEXTS = st.text(min_size=1, max_size=20).filter(lambda text: not re.search("[\ud800-\udfff]", text))
# Below 100 000: above a million litres and a bitterness value of 200 000 the rim refuses.
_NINE_DIGITS = st.integers(1, 999_999_999).flatmap(
    lambda digits: st.integers(-9, -4).map(lambda exponent: float(f"{digits}e{exponent}"))
)
_AMOUNTS = st.builds(
    Amount,
    _NINE_DIGITS,
    st.sampled_from([AmountBasis.MASS, AmountBasis.VOLUME, AmountBasis.BOTTLES, AmountBasis.PIECES]),
)


@st.composite
def recipes(draw: st.DrawFn) -> Recipe:
    steps = draw(st.lists(_NAMES, unique=True, max_size=3))
    specs = tuple(
        StepSpec(
            name=name,
            loss_fraction=draw(st.integers(0, 999)) / 1000,
            fixed_loss_kg=draw(st.integers(0, 1000)) / 1000,
            strain=draw(st.none() | st.booleans()),
            vessel=draw(st.none() | _NAMES),
        )
        for name in steps
    )
    names = draw(st.lists(_NAMES, unique=True, min_size=1, max_size=5))
    step = st.sampled_from([None, *steps]) if steps else st.sampled_from([None, "infuse", "finish"])
    return Recipe(
        name=draw(_TEXTS),
        bottle=draw(st.none() | _TEXTS),
        shelf=draw(st.none() | _TEXTS.map(lambda text: text + ".yaml")),
        volume_l=draw(st.none() | _NINE_DIGITS.filter(lambda volume_l: volume_l >= 1e-4)),
        steps=specs,
        ingredients=tuple(RecipeLine(id=name, amount=draw(_AMOUNTS), step=draw(step)) for name in names),
        measured=FrozenMap(
            {
                name: MeasuredBitterness(
                    bitterness=draw(_NINE_DIGITS),
                    lot=draw(st.none() | _TEXTS),
                    date=draw(st.none() | _TEXTS),
                    tasters=draw(st.none() | st.integers(1, 99)),
                )
                for name in draw(st.lists(st.sampled_from(names), unique=True))
            }
        ),
        made_by=draw(st.none() | _TEXTS),
        notes=draw(st.none() | _TEXTS),
    )


@given(recipes())
def test_a_recipe_written_out_reads_back_equal(recipe: Recipe) -> None:
    assert read_model(Recipe, load_document(dump_recipe(recipe))) == recipe


@given(st.floats(1e-6, 1e6))
def test_masses_are_written_to_nine_digits(mass_kg: float) -> None:
    line = RecipeLine(id="damson", amount=Amount(mass_kg, AmountBasis.MASS))
    text = dump_recipe(Recipe(name="A", ingredients=(line,)))
    again = read_model(Recipe, load_document(text))
    assert again.ingredients[0].amount.value == pytest.approx(mass_kg, rel=5e-9)
    assert dump_recipe(again) == text


def test_a_recipe_reads_as_a_person_would_write_it() -> None:
    recipe = read_model(Recipe, load_document(RECIPE))
    written = RECIPE.replace("70 cl", "700 mL").replace("amount: 1 kg", "amount: 1000 g")
    assert dump_recipe(recipe) == written


def _valid(kind: Any, data: Any) -> bool:
    schema = json_schema(kind)
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema).is_valid(data)


GOOD = {"bottle": BOTTLE, "shelf": SHELF, "recipe": RECIPE}


@pytest.mark.parametrize("kind", GOOD)
def test_the_schema_takes_what_the_loader_takes(kind: str) -> None:
    assert _valid(kind, load_document(GOOD[kind]).data)


@pytest.mark.parametrize(
    "name",
    [
        *(
            "unit-missing",
            "unknown-key",
            "missing-name",
            "ingredient-number",
            "limits-as-text",
            "unknown-limit",
        ),
        *(
            "no-targets",
            "two-names-in-one-item",
            "together-kind",
            "price-missing",
            "currency",
            "own-confidence",
        ),
        *(
            "own-component",
            "recipe-without-amount",
            "yes-is-text",
            "ingredient-name",
            "step-loss",
            "offers-empty",
        ),
    ],
)
def test_the_schema_refuses_what_has_the_wrong_shape(name: str) -> None:
    data = load_document(BAD_FILES / f"{name}.yaml").data
    kind = "recipe" if "recipe" in data else "shelf" if "offers" in data else "bottle"
    assert not _valid(kind, data)


def test_every_key_is_described() -> None:
    for kind in ("bottle", "shelf", "recipe", "ingredients"):
        schema = json_schema(kind)  # type: ignore[arg-type]
        for definition in [schema, *schema["$defs"].values()]:
            for key, field in definition.get("properties", {}).items():
                assert (
                    "description" in field
                    or "$ref" in field
                    or key in ("ingredients", "ratio", "sum", "share", "of", "is")
                )
