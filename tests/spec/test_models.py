"""Bottle, shelf, recipe and ingredient files: what they become, and what is said when they are wrong."""

from __future__ import annotations

import pickle
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from formulate import spec
from formulate.errors import SourceLocation, SpecError, UnitError
from formulate.quantity import Amount, AmountBand, AmountBasis, Band, Dimension, Money, MoneyBand
from formulate.spec import (
    Bottle,
    Bottled,
    Fill,
    Ingredient,
    IngredientUse,
    Like,
    Measured,
    Ratio,
    Recipe,
    RecipeLine,
    SameAs,
    ShareOf,
    Shelf,
    StepSpec,
    Sum,
    Targets,
    Use,
    Word,
    dump_recipe,
    json_schema,
    load_any,
    load_bottle,
    load_recipe,
    load_shelf,
)
from formulate.spec.aims import parse_bitterness, parse_size
from formulate.spec.frozen import FrozenMap
from formulate.spec.located import load_document
from formulate.spec.problems import read_model

BAD_FILES = Path(__file__).parent / "bad_files"

BOTTLE = """\
name: Damson and grapefruit aperitif      # an invented scenario
size: 5 L bottled
shelf: ../shelf.yaml
targets:
  strength: 22 ± 0.3 % vol
  sugar: 180 g/L
  acid: 5 to 7 g/L
  bitterness: like 1.2 g/L gentian-root
  cost: at most 9.50 EUR/L
  anthocyanin: at least 20 mg/L
steps:
  - infuse: {loss: 1 %, fixed_loss: 20 mL, vessel: jar-4l}
  - finish
ingredients:
  - vodka-40
  - water
  - damson: {at_least: 250 g per L bottled, step: infuse}
  - white-sugar: {step: finish}
  - grapefruit-pith: {at_most: 40 g per L bottled, step: infuse}
  - gentian-root: {step: infuse, share_of_bitterness: 30 to 60 %}
  - citric-acid: {exactly: 5 g}
together:
  - {ratio: damson to grapefruit-pith, is: 8 to 12}
  - {sum: [damson, grapefruit-pith], is: at least 250 g per L bottled}
  - {share: [gentian-root, grapefruit-pith], of: bitterness, is: at least 80 %}
measured:
  gentian-root: {bitterness: 18500, lot: A 12, date: 2024-10-01, tasters: 4}
notes: Finish to taste.
"""

SHELF = """\
name: Back bar
currency: EUR
usual_tolerance: {sugar: 4 g/L}
vessels: {jar-4l: 4 L}
balances:
  - {name: bench, step: 1 g, up_to: 5 kg}
offers:
  vodka-40: {pack: 70 cl, price: 11.20 EUR, supplier: North, on_hand: 3 bottles}
  damson:
    - {price: 4.20 EUR/kg}
    - {pack: 2 kg, price: 7.80 EUR, supplier: South}
  grapefruit-pith: {pack: 6 pieces, price: 3 EUR}
ingredients:
  damson: {based_on: plum, ph: 3.1}
  house-gin: {name: House gin, strength: 43 % vol, bottle: 70 cl}
"""

RECIPE = """\
recipe: Damson and grapefruit aperitif
bottle: damson.yaml
shelf: ../shelf.yaml
volume: 5 L bottled
steps:
  - infuse: {loss: 1 %}
  - finish
ingredients:
  - damson: {amount: 1234.5 g, step: infuse}
  - vodka-40: {amount: 4 bottles, step: infuse}
  - water: {amount: 70 cl, step: finish}
  - water: {amount: 1 kg, step: infuse}
  - lemon: {amount: 3 pieces}
measured:
  damson: {bitterness: 12}
made_by: hand
"""


def _bottle(text: str = BOTTLE) -> Bottle:
    return read_model(Bottle, load_document(text, "b.yaml"))


def _band(
    lower: float | None, upper: float | None, dimension: Dimension = Dimension.MASS_CONCENTRATION
) -> Band:
    return Band(lower, upper, dimension)


def test_a_bottle_file() -> None:
    bottle = _bottle()
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
    places = _bottle().places
    assert places.value(("ingredients", 4, "grapefruit-pith", "at_most")) == SourceLocation("b.yaml", 19, 32)
    assert places.value(("targets", "anthocyanin")) == SourceLocation("b.yaml", 10, 16)
    assert places.value(("together", 0, "is")) == SourceLocation("b.yaml", 23, 44)


def test_places_do_not_count_when_files_are_compared() -> None:
    moved = _bottle("# moved down\n\n" + BOTTLE)
    assert moved == _bottle()
    assert hash(moved) == hash(_bottle())
    assert moved.places.value(("name",)).line == 3
    assert moved != _bottle(BOTTLE.replace("5 L bottled", "6 L bottled"))
    assert moved != 5


def test_models_cannot_be_changed_and_survive_a_process_pool() -> None:
    bottle = _bottle()
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
    lone = _bottle("name: A\nsize: 1 L bottled\ntargets: {sugar: 5 g/L}\ningredients: [water]\n")
    assert lone.resolved_steps() == (StepSpec(name="mix", strain=True),)
    two = _bottle(
        "name: A\nsize: 1 L bottled\ntargets: {sugar: 5 g/L}\ningredients:\n  - water: {step: finish}\n"
    )
    assert two.resolved_steps() == (
        StepSpec(name="infuse", strain=True),
        StepSpec(name="finish", strain=False),
    )
    told = _bottle(BOTTLE.replace("- finish\n", "- finish: {strain: true}\n"))
    assert [step.strain for step in told.resolved_steps()] == [True, True]


def test_a_stray_colon_after_a_plain_name_is_harmless() -> None:
    assert _bottle(BOTTLE.replace("- vodka-40", "- vodka-40:")) == _bottle()


def test_a_shelf_file() -> None:
    shelf = read_model(Shelf, load_document(SHELF))
    assert shelf.usual_tolerance.sugar_g_l == 4.0
    # The documented defaults.
    tolerance = shelf.usual_tolerance
    assert (tolerance.strength_pct_vol, tolerance.acid_g_l, tolerance.bitterness_share) == (0.3, 0.5, 0.2)
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
    assert _bottle().shelf_path == Path("../shelf.yaml")
    assert _bottle(BOTTLE.replace("shelf: ../shelf.yaml\n", "")).shelf_path is None
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
    assert bottle.places.value(("name",)) == SourceLocation("", 1, 1)
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


# ---- what is said -------------------------------------------------------------------------------


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
        _bottle(text)
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


# ---- writing ------------------------------------------------------------------------------------

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
                name: spec.MeasuredBitterness(
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


# ---- JSON Schema --------------------------------------------------------------------------------


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


def test_public_names_load_and_are_listed() -> None:
    for name in spec.__all__:
        assert getattr(spec, name) is not None
    assert set(spec.__all__) <= set(dir(spec))
    missing: Callable[[], Any] = lambda: spec.nothing  # noqa: E731
    with pytest.raises(AttributeError, match="has no attribute 'nothing'"):
        missing()
