"""Plants that poison are refused under every name; what is prohibited is not taken for a slip of the pen.

Which plants: general toxicology, from memory; contents of sassafras, woodruff and the like from memory too.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import RunCommand

from formulate.bar.pantry import Pantry
from formulate.bar.permitted import Rules, refusal
from formulate.errors import InfeasibleError, SpecError
from formulate.files.library import Library
from formulate.jobs.browse import find_ingredients
from formulate.jobs.pour import pour_drink
from formulate.jobs.predict import predict_recipe
from formulate.jobs.solve import solve_bottle
from tests.jobs.restricted_kitchen import bottle, recipe, write

OWN = (
    "ingredients:\n  {name}: {{name: {text}, {latin}composition: {{water: 10 % w/w, "
    "other_soluble: 20 % w/w}}}}\n"
)


def weighed_in(folder: Path, name: str, text: str = "Plant", latin: str = "", where: str = "EU") -> Path:
    """Write a recipe with a gram of a plant of the bar's own in a kilogram of spirit."""
    own = OWN.format(name=name, text=f"'{text}'", latin=f"latin: {latin}, " if latin else "")
    bottle(folder, ["gentian-root"], shelf_rules=f"jurisdiction: {where}", more=own)
    return recipe(folder, {"vodka-40": "1 kg", name: "1 g"}, name="r.yaml")


@pytest.mark.parametrize(
    ("word", "latin"),
    [
        ("belladonna-leaf", "Atropa belladonna"),
        ("henbane-seeds", "Hyoscyamus niger"),
        ("thorn-apple", "Datura stramonium"),
        ("oleander-leaves", "Nerium oleander"),
        ("yew-needles", "Taxus baccata"),
        ("aconite-root", "Aconitum napellus"),
        ("hemlock", "Conium maculatum"),
        ("foxglove-leaf", "Digitalis purpurea"),
        ("lilies-of-the-valley", "Convallaria majalis"),
        ("autumn-crocus", "Colchicum autumnale"),
        ("laburnum-pods", "Laburnum anagyroides"),
        ("castor-beans", "Ricinus communis"),
        ("mandrake-root", "Mandragora officinarum"),
        ("nux-vomica", "Strychnos nux-vomica"),
        ("tobacco-leaf", "Nicotiana tabacum"),
        ("black-hellebore", "Helleborus niger"),
    ],
)
def test_a_poisonous_plant_is_refused_by_word_by_latin_and_in_spirit(
    tmp_path: Path, word: str, latin: str
) -> None:
    for path in (
        weighed_in(tmp_path, word),
        weighed_in(tmp_path, "herb-1", latin=latin),
        weighed_in(tmp_path, "herb-1", latin=f"{latin[0]}. {latin.partition(' ')[2]}"),
        weighed_in(tmp_path, "herb-1", text=f"Herb ({latin})"),
        weighed_in(tmp_path, f"{word}-tincture"),
        recipe(tmp_path, {"vodka-40": "1 kg", word: "1 g"}, name="unknown.yaml"),
    ):
        with pytest.raises(SpecError) as caught:
            predict_recipe(path)
        (problem,) = caught.value.problems
        assert problem.location is not None
        assert problem.location.line == 5
        assert " may not be used. " in problem.message


@pytest.mark.parametrize(
    ("name", "text", "latin"),
    [
        ("spruce-tips", "Hemlock tips", "Tsuga canadensis"),
        ("hemlock-spruce-tips", "Tips", ""),
        ("castor-sugar", "Castor sugar", ""),
        ("saffron-own", "Saffron crocus", "Crocus sativus"),
        ("lily-bulb", "Lily bulb", "Lilium lancifolium"),
        ("elder", "Black elder", "Sambucus nigra"),
    ],
)
def test_what_only_sounds_like_one_is_not_refused(tmp_path: Path, name: str, text: str, latin: str) -> None:
    record = predict_recipe(weighed_in(tmp_path, name, text, latin))
    assert record.law is not None
    assert not record.law.broken


def test_no_plant_of_the_library_is_refused() -> None:
    library = Library.built_in()
    pantry = Pantry(None, library)
    refused = [one for one in library.ids() if refusal(pantry.unaged(one), Rules())]
    assert len(library.ids()) > 100
    assert refused == []


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("tonka-bean", "tonka-bean is prohibited in the US, and neither on the shelf nor in the library. "),
        ("calamus-root", "calamus-root is prohibited in the EU and the US and the UK, and neither "),
        ("birthwort-tincture", "birthwort-tincture may not be used. "),
        ("belladona", "no ingredient called 'belladona'"),  # a slip of the pen is told as one
    ],
)
def test_an_unknown_id_of_a_prohibited_plant_is_told_as_that_at_its_line(
    tmp_path: Path, run_here: RunCommand, name: str, told: str
) -> None:
    path = bottle(tmp_path, ["gentian-root", f"{name}: {{at_most: 1 g per L bottled}}"])
    glass = write(
        tmp_path,
        "glass.yaml",
        "drink: Sour\nshelf: shelf.yaml\nmethod: shaken\ningredients:\n"
        f"  - vodka-40: 40 mL\n  - {name}: 2 mL\n",
    )
    jobs: list[tuple[Callable[[Path], object], Path, int]] = [
        (solve_bottle, path, 15),
        (pour_drink, glass, 6),
    ]
    for job, file, line in jobs:
        with pytest.raises(SpecError) as caught:
            job(file)
        (problem,) = caught.value.problems
        assert problem.location is not None
        assert problem.location.line == line
        assert problem.message.startswith(told)
        assert "vanilla" not in problem.message
    assert run_here("check", path).exit_code == 2


def test_a_search_for_one_says_so() -> None:
    with pytest.raises(SpecError, match=r"foxglove may not be used\. Foxglove stops the heart"):
        find_ingredients("foxglove")


@pytest.mark.parametrize(
    ("name", "rule", "most", "worst"),
    [
        ("sassafras-bark", "old-safrole", 2.0, 76.5),  # oil 90 mg/g x 85 %
        ("woodruff", "old-coumarin", 10.0, 15.0),
        ("sweet-clover", "old-coumarin", 10.0, 10.0),
        ("bison-grass", "old-coumarin", 10.0, 12.0),
    ],
)
def test_what_brings_safrole_or_coumarin_is_capped(
    tmp_path: Path, name: str, rule: str, most: float, worst: float
) -> None:
    # most mg/kg / worst mg/g = g per kg of drink: 0.026 of sassafras, 0.67 of woodruff ...
    record = predict_recipe(weighed_in(tmp_path, name))  # a gram in 1000.3 g of liquor
    assert record.law is not None
    (cap,) = record.law.caps
    assert cap.rule == rule
    assert cap.most == most
    assert cap.value == pytest.approx(worst / 1.0003, rel=1e-6)
    assert cap.over is (worst > most)


def test_sassafras_is_refused_in_the_us(tmp_path: Path) -> None:
    with pytest.raises(SpecError, match="sassafras-bark may not be used"):
        predict_recipe(weighed_in(tmp_path, "sassafras-bark", where="US"))


def test_safrole_is_toxic_and_its_limit_cannot_be_lifted(tmp_path: Path) -> None:
    lifted = "lifted: [{limit: old-safrole, name: bar manager, reason: a test, date: 2026-11-20}]"
    with pytest.raises(SpecError, match="old-safrole cannot be lifted: safrole is toxic"):
        solve_bottle(bottle(tmp_path, ["gentian-root"], rules=lifted))


def test_germander_goes_into_alcohol_only_in_the_us_too(tmp_path: Path) -> None:
    # 21 CFR 172.510, from memory.
    own = "  germander: {price: 9 EUR/kg}\n" + OWN.format(name="germander", text="Herb", latin="")
    lines = ["germander: {exactly: 0.1 g per L bottled}"]
    path = bottle(tmp_path, lines, rules="jurisdiction: US", more=own, targets="")
    weak = path.read_text("utf-8").replace("28 ± 0.3 % vol", "at most 0.4 % vol")
    path.write_text(weak, "utf-8")
    with pytest.raises(InfeasibleError, match="plants for alcoholic drinks only"):
        solve_bottle(path)
