"""The bar's own figure of what a plant holds: when it counts, and where it is told.

Worst cases: trade notes 3.4 (wormwood 10 mg/g of thujone, liquorice 100 mg/g), from memory.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from formulate.errors import Note, SpecError
from formulate.files.recipe import dump_recipe
from formulate.formulation.solving import recipe_of
from formulate.jobs.adjust import adjust_lot, open_bottle
from formulate.jobs.buy import buy_bottle
from formulate.jobs.infuse import compare_plans
from formulate.jobs.label import label_file
from formulate.jobs.options import read_circumstances
from formulate.jobs.pour import pour_drink
from formulate.jobs.predict import predict_recipe
from formulate.jobs.reformulate import reformulate
from formulate.jobs.scale import scale_recipe
from formulate.jobs.solve import solve_bottle
from formulate.learn.lot import lot_of_file
from tests.jobs.restricted_kitchen import bottle, recipe, write


def own(plant: str, figure: str, confidence: str) -> str:
    return (
        f"ingredients:\n  {plant}: {{based_on: {plant}, restricted: {{{figure}}}, sources: [{{figures: "
        f"[restricted], source: sheet 7, confidence: {confidence}}}]}}\n"
    )


@pytest.mark.parametrize("confidence", ["from memory", "common practice", "published"])
def test_less_than_the_worst_of_a_toxic_substance_counts_only_when_measured(
    tmp_path: Path, confidence: str
) -> None:
    lines = {"vodka-40": "1 kg", "wormwood-herb": "1 g"}
    more = own("wormwood-herb", "thujone: 4 mg/g", confidence)
    bottle(tmp_path, ["gentian-root"], shelf_rules="jurisdiction: EU", more=more)
    path = recipe(tmp_path, lines, name="r.yaml")
    with pytest.raises(SpecError) as caught:
        predict_recipe(path)
    (problem,) = caught.value.problems
    assert problem.location is not None
    assert Path(problem.location.file).name == "shelf.yaml"
    assert problem.path == "ingredients.wormwood-herb.restricted.thujone"
    assert problem.message.startswith(
        "thujone is toxic: less than 10 mg/g, the worst of the plant, counts only where it was measured, "
        "got 4 mg/g."
    )


@pytest.mark.parametrize(
    ("plant", "figure", "confidence"),
    [
        ("wormwood-herb", "thujone: 4 mg/g", "measured here"),
        ("wormwood-herb", "thujone: 12 mg/g", "from memory"),  # more than the worst case: the safe side
        ("liquorice-root", "glycyrrhizic-acid: 50 mg/g", "published"),  # a word on the label, no poison
    ],
)
def test_a_measured_or_higher_figure_counts_and_is_named(
    tmp_path: Path, plant: str, figure: str, confidence: str
) -> None:
    bottle(tmp_path, ["gentian-root"], shelf_rules="jurisdiction: EU", more=own(plant, figure, confidence))
    record = predict_recipe(recipe(tmp_path, {"vodka-40": "1 kg", plant: "1 g"}, name="r.yaml"))
    assert record.law is not None
    substance, _, content = figure.partition(": ")
    # One gram of so many mg/g in a kilogram and a little of liquor, about 1.05 L of it.
    litres = record.predicted.volume_l if plant == "liquorice-root" else 1.0
    assert record.law.caps[0].value == pytest.approx(float(content.split()[0]) / litres, rel=1e-3)
    (note,) = [note for note in record.notes if note.code == "own_content"]
    assert note.text.startswith(f"Your own figure of {content} {substance.replace('-', ' ')} in {plant} was")
    assert note.source == "sheet 7"


def test_what_was_counted_in_a_house_made_thing_is_told_of_the_drinks_made_of_it(tmp_path: Path) -> None:
    more = (
        "  sweet-vermouth-15: {price: 9 EUR/L}\n"
        "house_made:\n  drops: {recipe: drops.yaml}\n  stronger-drops: {recipe: stronger.yaml}\n"
        + own("wormwood-herb", "thujone: 4 mg/g", "measured here")
    )
    path = bottle(
        tmp_path, ["stronger-drops: {exactly: 2 g per L bottled}", "gentian-root"],
        rules="jurisdiction: EU", more=more, targets="  bitterness: like 1 g/L gentian-root",
    )  # fmt: skip
    recipe(tmp_path, {"vodka-40": "100 g", "wormwood-herb": "5 g"}, name="drops.yaml")
    recipe(tmp_path, {"drops": "100 g", "sweet-vermouth-15": "50 g"}, name="stronger.yaml")
    glass = write(
        tmp_path, "glass.yaml",
        "drink: Sour\nshelf: shelf.yaml\nmethod: shaken\ningredients:\n"
        "  - vodka-40: 40 mL\n  - stronger-drops: 1 mL\n",
    )  # fmt: skip
    solved = solve_bottle(path)
    answered = recipe_of(
        solved.formulation.bottle, solved.answer, bottle_path=path.name, shelf_path="shelf.yaml"
    )
    saved = write(tmp_path, "saved.yaml", dump_recipe(answered))
    told: dict[str, tuple[Note, ...]] = {
        "solve": solve_bottle(path).record.notes,
        "buy": buy_bottle(path).notes,
        "infuse": compare_plans(path).notes,
        "label": label_file(path).notes,
        "predict": predict_recipe(saved).notes,
        "scale": scale_recipe(saved, "2 L bottled").drink.notes,
        "reformulate": reformulate(saved, read_circumstances()).record.best.drink.notes,
        "adjust": adjust_lot(lot_of_file(saved), open_bottle(path)).notes,
        "pour": pour_drink(glass).notes,
    }
    for job, notes in told.items():
        by_code = {note.code: note.text for note in notes}
        assert by_code["own_content"] == (
            "Your own figure of 4 mg/g thujone in wormwood-herb was counted instead of the worst case of 10."
        ), job
        assert by_code["content_unknown"].startswith("What sweet-vermouth-15 holds of thujone"), job
