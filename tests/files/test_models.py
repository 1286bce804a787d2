"""Bottle, shelf, recipe and ingredient files: what they become."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest
from pydantic import TypeAdapter, ValidationError

from formulate.errors import SourceLocation, SpecError, UnitError
from formulate.files.aims import (
    Bottled,
    Fill,
    Like,
    Measured,
    SameAs,
    Use,
    Word,
    parse_bitterness,
    parse_size,
)
from formulate.files.bottle import Bottle, IngredientUse, load_bottle
from formulate.files.fields import Wage, Work
from formulate.files.ingredient import Ingredient
from formulate.files.listed_shelf import load_shelf
from formulate.files.loading import load_any
from formulate.files.located import load_document
from formulate.files.problems import read_model
from formulate.files.recipe import Recipe, RecipeLine, load_recipe
from formulate.files.shelf import Shelf
from formulate.files.steps import StepSpec
from formulate.files.targets import Targets
from formulate.files.together import Ratio, ShareOf, Sum
from formulate.quantity import Amount, AmountBand, AmountBasis, Band, Dimension, Money, MoneyBand
from tests.files.file_texts import BOTTLE, RECIPE, SHELF, read_bottle


def _band(
    lower: float | None, upper: float | None, dimension: Dimension = Dimension.MASS_CONCENTRATION
) -> Band:
    return Band(lower, upper, dimension)


def test_a_bottle_file() -> None:
    bottle = read_bottle()
    assert bottle.name == "Damson and grapefruit aperitif"
    assert bottle.size == Bottled(5.0)
    assert bottle.targets.bands() == {
        "strength": _band(21.7, 22.3, Dimension.STRENGTH),
        "sugar": Band(180.0, 180.0, Dimension.MASS_CONCENTRATION, plain=True),
        "acid": _band(5.0, 7.0),
        "anthocyanin": _band(0.02, None),
    }
    assert bottle.targets.bitterness == Like(Amount(0.0012, AmountBasis.MASS_PER_LITRE), "gentian-root")
    assert bottle.targets.cost == MoneyBand(None, 9.5, "EUR", "L")
    assert bottle.ingredients[2] == IngredientUse(
        id="damson", step="infuse", at_least=Amount(0.25, AmountBasis.MASS_PER_LITRE)
    )
    assert bottle.ingredients[5].share_of_bitterness == _band(0.3, 0.6, Dimension.SHARE)
    assert bottle.ingredients[6].exactly == Amount(0.005, AmountBasis.MASS)
    assert bottle.together == (
        Ratio("damson", "grapefruit-pith", _band(8.0, 12.0, Dimension.RATIO)),
        Sum(("damson", "grapefruit-pith"), AmountBand(0.25, None, AmountBasis.MASS_PER_LITRE)),
        ShareOf(("gentian-root", "grapefruit-pith"), "bitterness", _band(0.8, None, Dimension.SHARE)),
    )
    assert bottle.measured["gentian-root"].bitterness == 18500.0
    assert (bottle.measured["gentian-root"].date, bottle.measured["gentian-root"].tasters) == (
        "2024-10-01",
        4,
    )
    assert bottle.resolved_steps() == (
        StepSpec(name="infuse", loss_fraction=0.01, fixed_loss_kg=0.02, vessel="jar-4l", strain=True),
        StepSpec(name="finish", strain=False),
    )


def test_each_limit_of_a_bottle_knows_its_place() -> None:
    places = read_bottle().places
    assert places.value(("ingredients", 4, "grapefruit-pith", "at_most")) == SourceLocation("b.yaml", 19, 32)
    assert places.value(("targets", "anthocyanin")) == SourceLocation("b.yaml", 10, 16)
    assert places.value(("together", 0, "is")) == SourceLocation("b.yaml", 23, 44)


def test_places_do_not_count_when_files_are_compared() -> None:
    moved = read_bottle("# moved down\n\n" + BOTTLE)
    assert moved == read_bottle()
    assert hash(moved) == hash(read_bottle())
    assert moved.places.value(("name",)).line == 3
    assert moved != read_bottle(BOTTLE.replace("5 L bottled", "6 L bottled"))
    assert moved != 5


def test_models_cannot_be_changed_and_survive_a_process_pool() -> None:
    bottle = read_bottle()
    with pytest.raises(ValidationError):
        bottle.name = "Other"  # type: ignore[misc]
    with pytest.raises(TypeError):
        bottle.measured["x"] = 1  # type: ignore[index]
    again = pickle.loads(pickle.dumps(bottle))
    assert again == bottle
    assert again.places == bottle.places


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("5 L bottled", Bottled(5.0)),
        ("70 cl bottled", Bottled(0.7)),
        ("12 bottles of 50 cl", Bottled(6.0, 12, 0.5)),
        ("use 3 bottles of vodka-40", Use("vodka-40", Amount(3.0, AmountBasis.BOTTLES))),
        ("use 2.4 kg of damson", Use("damson", Amount(2.4, AmountBasis.MASS))),
        ("use all damson", Use("damson")),
        ("fill jar-4l (80 % of the vessel)", Fill("jar-4l", 0.8)),
    ],
)
def test_sizes(text: str, size: object) -> None:
    assert parse_size(text) == size


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "use 5 % of damson",
            "not an amount to use up, got use 5 % of damson. Write e.g. use 2.4 kg of damson.",
        ),
        ("use 0 kg of damson", "must be above zero, got use 0 kg of damson."),
        ("0 bottles of 50 cl", "must be above zero"),
        (
            "fill jar-4l (80 L of the vessel)",
            "wrong kind of quantity, got 80 L (volume); expected share, e.g. 30 %.",
        ),
        ("fill jar-4l (120 % of the vessel)", "more than the whole, got 120 %."),
        (5, "must say what is bottled, used or filled, got 5. Write `5 L bottled`"),
        ("5 lots bottled", "unknown unit lots"),
    ],
)
def test_sizes_refused_say_what_to_write(text: object, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_size(text)
    assert message in str(caught.value)


@pytest.mark.parametrize(
    ("text", "aim"),
    [
        ("Firm", Word("firm")),
        ("like 1.2 g/L gentian-root", Like(Amount(0.0012, AmountBasis.MASS_PER_LITRE), "gentian-root")),
        ("same as house-amaro, thinned 1 in 30", SameAs("house-amaro", 30.0)),
        ("same as house-amaro, thinned 2 in 30", SameAs("house-amaro", 15.0)),
        ("25 ± 4 (measured)", Measured(Band(21.0, 29.0, Dimension.BITTERNESS))),
        ("25 (measured)", Measured(Band(25.0, 25.0, Dimension.BITTERNESS, plain=True))),
    ],
)
def test_bitterness(text: str, aim: object) -> None:
    assert parse_bitterness(text) == aim


def test_steps_left_out_are_filled_in() -> None:
    lone = read_bottle("name: A\nsize: 1 L bottled\ntargets: {sugar: 5 g/L}\ningredients: [water]\n")
    assert lone.resolved_steps() == (StepSpec(name="mix", strain=True),)
    two = read_bottle(
        "name: A\nsize: 1 L bottled\ntargets: {sugar: 5 g/L}\ningredients:\n  - water: {step: finish}\n"
    )
    assert two.resolved_steps() == (
        StepSpec(name="infuse", strain=True),
        StepSpec(name="finish", strain=False),
    )
    told = read_bottle(BOTTLE.replace("- finish\n", "- finish: {strain: true}\n"))
    assert [step.strain for step in told.resolved_steps()] == [True, True]


def test_a_stray_colon_after_a_plain_name_is_harmless() -> None:
    assert read_bottle(BOTTLE.replace("- vodka-40", "- vodka-40:")) == read_bottle()


def test_a_shelf_file() -> None:
    shelf = read_model(Shelf, load_document(SHELF))
    assert shelf.usual_tolerance.sugar == 4.0
    # The documented defaults.
    tolerance = shelf.usual_tolerance
    assert (tolerance.strength, tolerance.acid, tolerance.bitterness) == (0.3, 0.5, 0.2)
    assert shelf.vessels == {"jar-4l": 4.0}
    assert (shelf.balances[0].step_kg, shelf.balances[0].up_to_kg) == (0.001, 5.0)
    vodka = shelf.offers["vodka-40"][0]
    assert (vodka.pack, vodka.price) == (Amount(0.7, AmountBasis.VOLUME), Money(11.2, "EUR"))
    assert (vodka.supplier, vodka.on_hand) == ("North", Amount(3.0, AmountBasis.BOTTLES))
    assert [offer.price.per for offer in shelf.offers["damson"]] == ["kg", None]
    assert list(shelf.offers) == ["vodka-40", "damson", "grapefruit-pith"]


def test_a_recipe_file() -> None:
    recipe = read_model(Recipe, load_document(RECIPE))
    assert recipe.name == "Damson and grapefruit aperitif"
    assert recipe.volume_l == 5.0
    assert recipe.ingredients[0] == RecipeLine(
        id="damson", amount=Amount(1.2345, AmountBasis.MASS), step="infuse"
    )
    assert [line.amount.value for line in recipe.ingredients] == [1.2345, 4.0, 0.7, 1.0, 3.0]
    assert [step.strain for step in recipe.resolved_steps()] == [True, False]


def test_paths_are_seen_from_the_file_they_stand_in(tmp_path: Path) -> None:
    folder = tmp_path / "bottles"
    folder.mkdir()
    (folder / "damson.yaml").write_text(BOTTLE, "utf-8")
    (folder / "recipe.yaml").write_text(RECIPE, "utf-8")
    (tmp_path / "shelf.yaml").write_text(SHELF, "utf-8")
    bottle = load_bottle(folder / "damson.yaml")
    recipe = load_recipe(str(folder / "recipe.yaml"))
    assert bottle.path == folder / "damson.yaml"
    assert bottle.shelf_path is not None
    assert load_shelf(bottle.shelf_path) == read_model(Shelf, load_document(SHELF))
    assert recipe.shelf_path == bottle.shelf_path
    assert recipe.bottle_path == folder / "damson.yaml"
    assert read_bottle().shelf_path == Path("../shelf.yaml")
    assert read_bottle(BOTTLE.replace("shelf: ../shelf.yaml\n", "")).shelf_path is None
    kinds = [
        type(load_any(path))
        for path in (folder / "damson.yaml", folder / "recipe.yaml", tmp_path / "shelf.yaml")
    ]
    assert kinds == [Bottle, Recipe, Shelf]


def test_models_built_in_python_take_canonical_figures() -> None:
    damson = Ingredient(id="damson", name="Damson", composition={"water": 0.84, "sucrose": 0.02}, ph=3.1)
    assert damson.composition == {"water": 0.84, "sucrose": 0.02}
    assert hash(damson) == hash(pickle.loads(pickle.dumps(damson)))
    targets = Targets(strength=Band(21.7, 22.3, Dimension.STRENGTH))
    bottle = Bottle(
        name="A", size=Bottled(5.0), targets=targets, ingredients=(IngredientUse(id="damson", step="infuse"),)
    )
    assert bottle.places.value(("name",)) == SourceLocation("in Python", 0, 0)
    for wrong in (
        lambda: Ingredient(id="damson", name="Damson", ph=float("nan")),
        lambda: Ingredient(id="damson", name="Damson", density_kg_m3=True),
        lambda: Ingredient(id="Damson!", name="Damson"),
        lambda: Ingredient(id="damson", name="Damson", composition={"water": 0.9, "sucrose": 0.2}),
        lambda: Targets(),
        lambda: bottle.model_validate({**dict(bottle), "ingredients": ()}),
    ):
        with pytest.raises(ValidationError):
            wrong()


def test_the_name_of_a_field_is_not_a_key_of_the_file() -> None:
    document = load_document("a:\n  name: A\n  strength_pct_vol: 40 % vol\n  id: b\n")
    with pytest.raises(SpecError) as caught:
        read_model(Ingredient, document, prefix=("a",), extra={"id": "a"})
    assert [problem.message.partition(".")[0] for problem in caught.value.problems] == [
        "unknown key 'strength_pct_vol'",
        "unknown key 'id'",
    ]


def test_a_path_is_shown_without_folders_it_steps_out_of_again(tmp_path: Path) -> None:
    for folder in ("menus", "far", "far/away"):
        (tmp_path / folder).mkdir()
    for folder in (tmp_path, tmp_path / "far"):
        (folder / "shelf.yaml").write_text(SHELF, encoding="utf-8")
    recipe = tmp_path / "menus" / "recipe.yaml"
    recipe.write_text(RECIPE, encoding="utf-8")
    assert load_recipe(recipe).shelf_path == tmp_path / "shelf.yaml"
    # Out of a folder that is a link one steps into the folder above the one it leads to.
    (tmp_path / "link").symlink_to(tmp_path / "far" / "away")
    linked = tmp_path / "link" / "recipe.yaml"
    linked.write_text(recipe.read_text("utf-8"), encoding="utf-8")
    found = load_recipe(linked).shelf_path
    assert found is not None
    assert found.samefile(tmp_path / "far" / "shelf.yaml")


def test_work_takes_some_time_and_an_hour_of_it_costs_something() -> None:
    work, wage = TypeAdapter(Work), TypeAdapter(Wage)
    assert work.validate_python("1 min") == pytest.approx(1.0 / 60.0)
    assert work.validate_python("0 EUR") == Money(0.0, "EUR", None)
    assert wage.validate_python("0.01 EUR/h") == Money(0.01, "EUR", None)
    for kind, text, words in ((work, "0 min", "must be above zero"), (wage, "0 EUR/h", "money above zero")):
        with pytest.raises(ValidationError, match=words):
            kind.validate_python(text)
