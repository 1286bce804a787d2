"""A tincture, an extract or drops of the bar's own: refused until somebody says what is in it.

What is drawn out of a plant does not hold what the plant holds, so the contents of trade notes 3.4 (from
memory) say nothing of it; what is prohibited (trade notes 3.1, 3.3) stays prohibited in spirit.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from formulate.errors import SpecError
from formulate.jobs.adjust import open_bottle
from formulate.jobs.buy import buy_bottle
from formulate.jobs.check import check_files
from formulate.jobs.infuse import compare_plans
from formulate.jobs.label import label_file
from formulate.jobs.options import read_circumstances
from formulate.jobs.pour import pour_drink
from formulate.jobs.predict import predict_recipe
from formulate.jobs.reformulate import reformulate
from formulate.jobs.scale import scale_recipe
from formulate.jobs.solve import solve_bottle
from formulate.jobs.tradeoff import trade_off
from tests.jobs.restricted_kitchen import bottle, recipe, write

EU = "jurisdiction: EU"
SPIRIT = "strength: 45 % vol"
MEASURED = "sources: [{figures: [restricted], source: laboratory sheet 7, confidence: measured here}]"
PULEGONE = "restricted: {pulegone: 9 mg/g}"
NOT_KNOWN = "may not be used as it stands: nobody says how much"


def shelf_with(folder: Path, name: str, given: str, where: str = EU, house: str = "") -> Path:
    """Write a bottle that may use an ingredient of the bar's own, and a recipe that does."""
    more = f"  {name}: {{price: 90 EUR/L}}\ningredients:\n  {name}: {{{given}}}\n{house}"
    path = bottle(folder, ["gentian-root", f"{name}: {{at_most: 5 g per L bottled}}"], rules=where, more=more)
    lines = {"vodka-40": "900 g", "white-sugar": "200 g", name: "2 g"}
    recipe(folder, lines, head=f"bottle: {path.name}\nshelf: shelf.yaml", name="drink.yaml")
    write(
        folder,
        "glass.yaml",
        "drink: Sour\nshelf: shelf.yaml\nmethod: shaken\ningredients:\n"
        f"  - vodka-40: 40 mL\n  - {name}: 2 mL\n",
    )
    return path


@pytest.mark.parametrize(
    ("name", "given", "substance"),
    [
        ("wormwood-extract", f"name: Extract, {SPIRIT}", "thujone"),
        ("wormwood-tincture", "name: Tincture, composition: {ethanol: 40 % w/w, water: 59 % w/w}", "thujone"),
        ("house-drops", f"name: Wormwood drops, {SPIRIT}", "thujone"),
        ("green-bitters", f"name: Bitters, {SPIRIT}, latin: Artemisia absinthium", "thujone"),
        ("wormwood-vodka", "based_on: vodka-40", "thujone"),
        # An oil holds many times what the leaf does, though there is no alcohol in it.
        ("sage-oil", "name: Sage oil, composition: {other_soluble: 100 % w/w}", "thujone"),
        ("peppermint-essence", f"name: Essence, {SPIRIT}", "pulegone and menthofuran"),
        ("cinchona-tincture", f"name: Bark in spirit, {SPIRIT}", "cinchona alkaloids"),
        # One figure of two is not enough.
        ("peppermint-essence", f"name: E, {SPIRIT}, {PULEGONE}, {MEASURED}", "menthofuran"),
    ],
)  # fmt: skip
def test_what_nobody_counted_is_refused_at_its_line(
    tmp_path: Path, name: str, given: str, substance: str
) -> None:
    path = shelf_with(tmp_path, name, given)
    with pytest.raises(SpecError) as caught:
        solve_bottle(path)
    (problem,) = caught.value.problems
    assert problem.location is not None
    assert (Path(problem.location.file).name, problem.location.line) == ("bottle.yaml", 15)
    assert problem.message.startswith(f"{name} {NOT_KNOWN} {substance} it holds")


JOBS: list[Callable[[Path], object]] = [
    lambda path: check_files([path]),
    solve_bottle,
    buy_bottle,
    label_file,
    compare_plans,
    open_bottle,  # adjust
    lambda path: trade_off(path, "strength", "27 % vol", "29 % vol", points=3),
    lambda path: check_files([path.parent / "drink.yaml"]),
    lambda path: predict_recipe(path.parent / "drink.yaml"),
    lambda path: scale_recipe(path.parent / "drink.yaml", "2 L bottled"),
    lambda path: label_file(path.parent / "drink.yaml"),
    lambda path: compare_plans(path.parent / "drink.yaml"),
    lambda path: reformulate(path.parent / "drink.yaml", read_circumstances()),
    lambda path: pour_drink(path.parent / "glass.yaml"),
]


@pytest.mark.parametrize("job", JOBS)
def test_every_job_refuses_it(tmp_path: Path, job: Callable[[Path], object]) -> None:
    path = shelf_with(tmp_path, "wormwood-extract", f"name: Extract, {SPIRIT}")
    with pytest.raises(SpecError, match=f"wormwood-extract {NOT_KNOWN} thujone"):
        job(path)


@pytest.mark.parametrize(
    ("name", "where"),
    [
        ("tonka-tincture", "US"),  # 21 CFR 189.130
        ("calamus-drops", "EU"),  # Reg. (EC) 1334/2008 Annex IV
        ("birthwort-tincture", "EU"),
        ("hellebore-extract", "US"),
        ("thujone-tincture", "EU"),  # Annex III part A: not as such
    ],
)
def test_what_is_prohibited_stays_so_in_spirit_whatever_figure_is_given(
    tmp_path: Path, name: str, where: str
) -> None:
    figures = "restricted: {thujone: 1 mg/g, coumarin: 1 mg/g, beta-asarone: 1 mg/g}"
    own = f"name: Own, {SPIRIT}, {figures}, {MEASURED}"
    path = shelf_with(tmp_path, name, own, f"jurisdiction: {where}")
    with pytest.raises(SpecError) as caught:
        solve_bottle(path)
    (problem,) = caught.value.problems
    assert problem.message.startswith(f"{name} may not be used. ")
    with pytest.raises(SpecError, match=f"{name} may not be used. "):
        pour_drink(tmp_path / "glass.yaml")


def test_a_measured_tincture_counts_by_its_figure(tmp_path: Path) -> None:
    # 2 g of 4 mg/g in 1102 g: 8 mg in 1.102 kg are 7.26 mg/kg, as from Artemisia.
    shelf_with(
        tmp_path, "wormwood-tincture", f"name: T, {SPIRIT}, restricted: {{thujone: 4 mg/g}}, {MEASURED}"
    )
    record = predict_recipe(tmp_path / "drink.yaml")
    assert record.law is not None
    (cap,) = record.law.caps
    assert (cap.rule, cap.value) == ("eu-thujone-artemisia", pytest.approx(8.0 / 1.102, rel=1e-6))


def test_a_guessed_figure_of_a_toxic_substance_does_not_count(tmp_path: Path) -> None:
    guess = "sources: [{figures: [restricted], source: a guess, confidence: from memory}]"
    path = shelf_with(
        tmp_path, "wormwood-tincture", f"name: T, {SPIRIT}, restricted: {{thujone: 1 mg/g}}, {guess}"
    )
    with pytest.raises(SpecError, match="thujone is toxic") as caught:
        solve_bottle(path)
    (problem,) = caught.value.problems
    assert problem.path == "ingredients.wormwood-tincture.restricted.thujone"


def test_one_of_two_plants_is_not_counted_by_the_other(tmp_path: Path) -> None:
    path = shelf_with(tmp_path, "wormwood-gentian-drops", f"name: D, {SPIRIT}, based_on: gentian-root")
    with pytest.raises(SpecError, match=f"wormwood-gentian-drops {NOT_KNOWN} thujone"):
        solve_bottle(path)


def test_one_based_on_the_plant_counts_as_the_plant(tmp_path: Path) -> None:
    # The worst of the dried herb, 10 mg/g: 20 mg in 1.102 kg.
    shelf_with(tmp_path, "wormwood-tincture", f"name: T, {SPIRIT}, based_on: wormwood-herb")
    record = predict_recipe(tmp_path / "drink.yaml")
    assert record.law is not None
    assert record.law.caps[0].value == pytest.approx(20.0 / 1.102, rel=1e-6)


def test_one_made_here_counts_by_its_recipe_and_a_refused_one_inside_it_is_found(tmp_path: Path) -> None:
    house = "house_made:\n  bitter-drops: {recipe: drops.yaml}\n"
    shelf_with(tmp_path, "wormwood-extract", f"name: Extract, {SPIRIT}", house=house)
    recipe(tmp_path, {"vodka-40": "100 g", "wormwood-herb": "5 g"}, name="drops.yaml")
    drink = recipe(tmp_path, {"vodka-40": "1 kg", "bitter-drops": "10 g"}, name="made.yaml")
    record = predict_recipe(drink)
    assert record.law is not None
    assert record.law.caps[0].brought_by == (("bitter-drops", 1.0),)
    recipe(tmp_path, {"vodka-40": "100 g", "wormwood-extract": "5 g"}, name="drops.yaml")
    with pytest.raises(SpecError, match=f"bitter-drops {NOT_KNOWN} thujone"):
        predict_recipe(drink)


def test_a_substance_that_no_rule_there_limits_need_not_be_known(tmp_path: Path) -> None:
    # Quassin is limited in the EU and the UK (Reg. (EC) 1334/2008 Annex III part B); in the US it is not.
    given = f"name: Drops, {SPIRIT}"
    solve_bottle(shelf_with(tmp_path, "quassia-drops", given, "jurisdiction: US"))
    with pytest.raises(SpecError, match="quassin"):
        solve_bottle(shelf_with(tmp_path, "quassia-drops", given, "jurisdiction: EU"))


@pytest.mark.parametrize("name", ["sweet-vermouth-15", "red-bitter", "gentian-drops"])
def test_what_names_no_restricted_plant_stays_lawful_as_sold(tmp_path: Path, name: str) -> None:
    own = "name: Red bitter" if name == "red-bitter" else "name: As bought"
    shelf_with(
        tmp_path, name, f"{own}, {SPIRIT}" if name != "sweet-vermouth-15" else "based_on: sweet-vermouth-15"
    )
    record = predict_recipe(tmp_path / "drink.yaml")
    told = [note.text for note in record.notes if note.code == "content_unknown"]
    as_sold = (
        f"What {name} holds of thujone, quinine and the like is not known and not counted: it is taken to be "
        "lawful as sold."
    )
    assert told == ([] if name == "gentian-drops" else [as_sold])
