"""`library` on what ships: what a person types finds it, and one ingredient shows what it rests on."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

from formulate.errors import SpecError
from formulate.files.ingredient import Ingredient
from formulate.files.library import Library
from formulate.jobs.browse import facts_of, find_ingredients
from formulate.physics.extraction import class_kinetics

ACIDS = ("citric_acid", "malic_acid", "tartaric_acid", "lactic_acid", "quinic_acid", "ascorbic_acid")
SUGARS = ("sucrose", "glucose", "fructose", "maltose")


@cache
def _library() -> Library:
    """Read the library once: a search parses all of it."""
    return Library.built_in()


def _ids(words: str) -> list[str]:
    return [found.id for found in _library().search(words)]


def _share(ingredient: Ingredient, names: tuple[str, ...]) -> float:
    return sum(ingredient.composition.get(name, 0.0) for name in names)


BITTER_ROOTS = {
    *("gentian-root", "angelica-root", "dandelion-root", "chicory-root", "rhubarb-root"),
    *("burdock-root", "elecampane-root"),
}

# --- what a person types ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "ids"),
    [
        ("citrus pith", {"orange-pith", "lemon-pith", "grapefruit-pith"}),
        ("grapefruit piths", {"grapefruit-pith"}),
        ("bitter root", BITTER_ROOTS),
        ("bitter roots", BITTER_ROOTS),
        ("dried orange peel", {"orange-peel-dried", "seville-orange-peel-dried"}),
        ("dried orange peels", {"orange-peel-dried", "seville-orange-peel-dried"}),
        ("juniper berries", {"juniper-berry"}),
        ("cherries", {"sour-cherry", "sweet-cherry", "cornelian-cherry", "cherry-spirit-40"}),
        ("peaches", {"peach"}),
        (
            "leaves",
            {
                "lemon-leaf",
                "bogbean-leaf",
                "artichoke-leaf",
                "sage-leaf",
                "peppermint-leaf",
                "black-tea",
                "green-tea",
                *("rosemary-leaf", "lemon-balm-leaf", "lemon-verbena-leaf", "bay-leaf", "tarragon-leaf"),
                *("nettle-leaf", "spearmint-leaf-fresh", "basil-leaf-fresh", "mate-leaf"),
            },
        ),
        ("something bitter and a flower", {"chamomile-flower", "hops-cone"}),
        (
            "caffeine",
            {
                "coffee-roasted",
                "coffee-robusta-roasted",
                "black-tea",
                "green-tea",
                "guarana-seed",
                "cacao-nib",
                "mate-leaf",
            },
        ),
        ("caffeine over 20 mg/g", {"coffee-robusta-roasted", "black-tea", "green-tea", "guarana-seed"}),
        ("over 63 % vol", {"neutral-spirit-96", "neutral-spirit-95", "overproof-spirit-75-5"}),
        ("wines over 10 % vol", {"dry-white-wine-12", "sweet-vermouth-15"}),
        ("Gentiana", {"gentian-root"}),
        ("BITTER Flower", {"chamomile-flower", "hops-cone"}),
    ],
)
def test_words_find(words: str, ids: set[str]) -> None:
    assert set(_ids(words)) == ids


@pytest.mark.parametrize("family", ["root", "herb", "fruit", "spirit", "flower", "bark", "spice", "acid"])
def test_a_family_in_singular_and_plural_finds_all_of_it(family: str) -> None:
    whole = {one.id for one in _library().all() if one.family == family}
    assert whole
    for words in (family, f"{family}s", family.upper()):
        assert whole <= set(_ids(words))
    assert _ids(family) == _ids(f"{family}s")


@pytest.mark.parametrize(
    "words",
    [
        "under 5 g sugar",
        "under 5g sugar",
        "under 5 % sugar",
        "below 5 % sugars",
        "less than 5 g of sugar",
        "less than 5 g per 100 g sugar",
        "sugar under 5 g",
        "under 50 g/kg sugar",
        "low sugar",
    ],
)
def test_a_limit_said_any_way_finds_the_same(words: str) -> None:
    expected = {one.id for one in _library().all() if _share(one, SUGARS) < 0.05}
    assert set(_ids(words)) == expected
    assert "white-sugar" not in expected
    assert "rhubarb-stalk" in expected


@pytest.mark.parametrize(
    "words", ["over 10 % acid", "more than 10 g acid", "acid above 10 %", "OVER 10 % ACIDS"]
)
def test_a_lower_limit_too(words: str) -> None:
    expected = {one.id for one in _library().all() if _share(one, ACIDS) > 0.10}
    assert set(_ids(words)) == expected
    assert {"citric-acid", "hibiscus-calyx"} <= expected


def test_properties_mean_what_they_say() -> None:
    every = _library().all()
    assert {one.id for one in every if one.bitterness and one.bitterness.value >= 100} <= set(_ids("bitter"))
    assert {one.id for one in every if _share(one, ACIDS) >= 0.01} <= set(_ids("sour"))
    assert {one.id for one in every if _share(one, SUGARS) >= 0.08} <= set(_ids("sweet"))
    assert {one.id for one in every if one.attributes.get("anthocyanin")} <= set(_ids("red"))
    very = {one.id for one in every if one.bitterness and one.bitterness.value > 2000}
    assert set(_ids("very bitter")) == set(_ids("over 2000 bitterness")) == very
    assert {one.id for one in every if one.composition.get("pectin", 0.0) > 0.01} == set(_ids("high pectin"))


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (
            "under 5 g sugr",
            "nothing here says how much sugr there is, got 'under 5 g sugr'. Did you mean 'sugar'?",
        ),
        (
            "over 3 % turnip",
            "nothing here says how much turnip there is, got 'over 3 % turnip'. Limit e.g. sugar",
        ),
        ("gentianroot", "nothing in the library fits 'gentianroot'. Did you mean 'gentian-root'?"),
        ("blue turnip", "nothing in the library fits 'blue turnip'. Try one word"),
    ],
)
def test_what_finds_nothing_says_so_and_exits_2(words: str, told: str, run_here: RunCommand) -> None:
    done = run_here("library", *words.split())
    assert (done.exit_code, done.stdout, done.crash) == (2, "", "")
    assert " ".join(done.stderr.split()).startswith(told)


def test_a_limit_on_nothing_known_never_lists_everything() -> None:
    with pytest.raises(SpecError):
        find_ingredients("under 5 g nonsense")


# --- one ingredient -----------------------------------------------------------------------------------------


def test_it_shows_how_it_infuses_and_how_far_to_trust_that(run_here: RunCommand) -> None:
    shown = run_here("library", "gentian-root").stdout
    kinetics = class_kinetics("root")
    assert "infuses like" in shown
    assert "5 h at 20 °C" in shown
    assert "washed off at once" in shown
    assert kinetics.time_constant_h == 5.0, (
        "an hour at 50 °C, one to two days in the fridge (common practice)"
    )
    assert "infusing: an hour at 50 °C" in " ".join(shown.split())
    assert "(common practice)" in shown[shown.index("infusing:") :]
    assert "infuses like" not in run_here("library", "vodka-40").stdout


def test_a_time_constant_of_ones_own_is_shown_as_that(tmp_path: Path, run_here: RunCommand) -> None:
    shelf = tmp_path / "shelf.yaml"
    shelf.write_text(
        "currency: EUR\ningredients:\n"
        "  gentian-root: {based_on: gentian-root, infusion: {like: root, time_constant: 20 h}}\n",
        encoding="utf-8",
    )
    shown = run_here("library", "gentian-root", "--shelf", shelf).stdout
    assert "Your shelf's own values: infusion" in shown
    assert "20 h at 20 °C" in shown
    assert "(measured here)" in shown


@pytest.mark.parametrize(
    ("dried", "fresh"),
    [
        ("orange-peel-dried", "orange-peel"),
        ("lemon-peel-dried", "lemon-peel"),
        ("ginger-dried", "ginger-fresh"),
    ],
)
def test_fresh_and_dried_by_dry_matter(dried: str, fresh: str, run_here: RunCommand) -> None:
    library = _library()
    solids = [1.0 - library.get(name).composition["water"] for name in (dried, fresh)]
    by_hand = solids[0] / solids[1]
    for name, word, other in ((dried, "fresh", fresh), (fresh, "dried", dried)):
        facts = facts_of(library.get(name))
        assert facts.fresh_g_per_g_dried == pytest.approx(by_hand, rel=1e-12)
        assert facts.pair == other
        text = " ".join(run_here("library", name).stdout.split())
        assert f"1 g dried stands for about {by_hand:.2g} g fresh by dry matter ({word}: {other})." in text


def test_orange_peel_as_the_handbooks_have_it() -> None:
    # USDA SR Legacy 09216, raw orange peel: 72.5 % water; dried to the usual 10 %: 90/27.5 = 3.3.
    assert facts_of(_library().get("orange-peel-dried")).pair_text.startswith(
        "1 g dried stands for about 3.3 g fresh by dry matter"
    )


@pytest.mark.parametrize("name", ["seville-orange-peel-dried", "gentian-root", "water", "damson", "vodka-40"])
def test_what_has_no_pair_says_nothing(name: str) -> None:
    facts = facts_of(_library().get(name))
    assert (facts.pair, facts.fresh_g_per_g_dried, facts.pair_text) == ("", None, "")


# --- over a shelf -------------------------------------------------------------------------------------------


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    path = tmp_path / "shelf.yaml"
    path.write_text(
        "currency: EUR\n"
        "ingredients:\n"
        "  damson: {based_on: damson, ph: 3.1}\n"
        "  our-gentian: {based_on: gentian-root, bitterness: {value: 15000}}\n"
        "  hedge-berry: {name: Hedge berry, composition: {water: 80 % w/w, malic_acid: 3 % w/w}}\n"
        "stock:\n"
        "  wormwood-herb: {harvested: 2020-01, stored: cut}\n",
        encoding="utf-8",
    )
    return path


def test_own_values_are_marked(shelf: Path, run_here: RunCommand) -> None:
    assert "Your shelf's own values: ph" in run_here("library", "damson", "--shelf", shelf).stdout
    assert "Your shelf's own entry" in run_here("library", "hedge-berry", "--shelf", shelf).stdout
    assert "Your shelf" not in run_here("library", "damson").stdout


def test_a_search_finds_and_marks_what_only_the_shelf_has(shelf: Path, run_here: RunCommand) -> None:
    shown = run_here("library", "gentian", "--shelf", shelf).stdout
    ours = next(line for line in shown.splitlines() if line.startswith("our-gentian"))
    assert "(yours)" in ours
    assert "15000" in ours
    assert "(yours)" not in next(line for line in shown.splitlines() if line.startswith("gentian-root"))
    assert "hedge-berry" in run_here("library", "sour", "--shelf", shelf).stdout


def test_old_stock_is_shown_not_refused(shelf: Path, run_here: RunCommand) -> None:
    done = run_here("library", "wormwood-herb", "--shelf", shelf)
    assert done.exit_code == 0
    text = " ".join(done.stdout.split())
    assert "On your shelf it is " in text
    assert "it is past the 1 to 2 years it is worth keeping." in text
    assert "15000" in text, "the entry itself is shown as when new"


def test_json_of_one_carries_what_was_worked_out(shelf: Path, run_here: RunCommand) -> None:
    document = json.loads(run_here("library", "wormwood-herb", "--shelf", shelf, "--json").stdout)
    worked_out = document["worked_out"]
    assert worked_out["infusion_class"] == "leaf"
    assert (worked_out["time_constant_h"], worked_out["at_c"]) == (1.7, 20.0)
    assert 0.0 < worked_out["potency"] < 0.9
    assert "worked_out" not in json.loads(run_here("library", "bitter", "--json").stdout)


def test_the_whole_library_lists_within_eighty_columns(run_here: RunCommand) -> None:
    for words in ([], ["bitter"], ["orange-peel-dried"]):
        assert max(map(len, run_here("library", *words, folder=ROOT).stdout.splitlines())) <= 80
