"""Each hazard of the work is told with what matters, and no word of a name hides one."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from formulate.describe.records import DrinkRecord
from formulate.files.cautions import caution_rules, verb_endings
from formulate.files.labelling import allergen_rules
from formulate.files.library import Library
from formulate.jobs.predict import predict_recipe

RULES = {row.id.replace("-", "_"): row for row in caution_rules().rows}
LIBRARY = Library.built_in()

# What the work can hurt with, and what must be said of it.
MUST_SAY = {
    "flash_point": ("flash point", "no flame", "move the air", "empty under a vented lid"),
    "hot_spirit": ("flash point", "open pot", "strength"),
    "sealed_vessel": ("pressure", "vented", "screw"),
    "methanol": ("methanol", "at most 0.10 g per gram"),
    "pregnancy": ("pregnant or nursing",),
    "grapefruit_medicines": ("medicines",),
    "cinchona_medicines": ("quinine", "heart rhythm"),
    "plants_medicines": ("medicines", "pharmacist"),
    "ginseng": ("blood thinners", "pharmacist"),
    "photosensitivity": ("sun",),
    "laxative": ("laxative", "say so on the menu", "not in pregnancy"),
    "strong_laxative": ("no amount", "leave it out", "not in pregnancy"),
    "epilepsy": ("epilepsy",),
    "liver": ("liver", "better left out"),
    "drowsy": ("alcohol", "driving"),
    "unknown_plant": ("not known here; nobody has checked that it is safe or lawful", "latin:"),
    "sparkling": ("never shake", "made for pressure", "burst"),
    "dairy": ("below 5 °C", "curdles", "laboratory"),
    "look_alike": ("botanical name", "hellebore", "Japanese star anise"),
    "allergens": ("macerated counts, filtered or not",),
    "sulphites": ("10 mg/L",),
    "keep_cold_weak": ("below 5 °C", "weeks"),
    "low_acid_keeping": ("pH", "4.6"),
    "oil_infusion": ("oil", "botulism"),
    "low_acid_infusion": ("low in acid", "botulism"),
    "raw_kernels": ("cyanide", "raw"),
    "rhubarb_leaves": ("stalks only", "leaves"),
    "blend_before_spirit": ("before the spirit goes in", "motor"),
    "cool_before_opening": ("cool below 20 °C", "open", "press"),
    "cold_glass": ("cold or frozen jar", "hot water"),
    "untreated_citrus": ("untreated", "fungicides"),
    "frozen_berries": ("boil", "An hour at 50 °C is", "no kill step"),
    "fining": ("milk wash", "allergen"),
    "reactive_metal": ("aluminium", "copper"),
    "refermentation": ("Delle", "78", "burst"),
    "refermentation_borderline": ("75 to 85", "keep it cold"),
    "strong_spirit": ("no flame", "cool", "how much may stand in one place"),
    "tasting_panel": ("spit", "a few in a session", "Nobody tastes who is pregnant, under age"),
    "bittering_salts": ("This program offers none", "milligrams"),
    "branded_bottles": ("never", "brand"),
    "distilling": ("licensed laboratory",),
    "concentrated_bitter": ("by weight", "weigh it", "never dose by the dash"),
    "wild_harvest": ("gathered", "roadside"),
}


class _One(dict[str, str]):
    """Words for a text about one thing."""

    def __missing__(self, key: str) -> str:
        return verb_endings(1).get(key, "N")


@pytest.mark.parametrize("code", MUST_SAY)
def test_a_hazard_is_told_with_what_matters(code: str) -> None:
    row = RULES[code]
    said = f"{row.short} {row.says}".format_map(_One()).lower()
    assert not [words for words in MUST_SAY[code] if words.lower() not in said]


AMOUNT = re.compile(r"(?<!per )\b\d[\d.,]* ?(g|mg|mL|drops?|dashes|grams?)\b(?! per litre of)")
LIMITS = (
    "limit",
    "over it",
    "EU",
    "US",
    "at most",
    "at worst",
    "above",
    "allergen",
    "pectin",
    "gram",
    "samples",
)


def test_no_caution_tells_an_amount_that_would_do() -> None:
    """Amounts stand beside a limit or what is over it; none says allows, works, safe or keep to."""
    texts = [(row.id, text) for row in RULES.values() for text in (row.short, row.says, row.on_menu or "")]
    texts += [(one.id, text) for one in LIBRARY.all() for text in one.cautions]
    with_amount = [(name, text) for name, text in texts if AMOUNT.search(text)]
    assert len(with_amount) > 15, "the pattern finds those that there are"
    for name, text in with_amount:
        assert any(word in text for word in LIMITS), (name, text)
        assert not re.search(r"\b(keep to|works?\b|allows|safe at|up to about|harmless)", text), (name, text)


def test_cautions_of_the_first_screen_are_short_and_calm() -> None:
    for row in RULES.values():
        assert len(row.short) <= 150, row.id
        assert "!" not in row.short + row.says, row.id
        assert not re.search(r"\b(deadly|fatal|lethal|danger|warning:)", row.short, re.IGNORECASE), row.id


def test_what_is_to_be_left_out_draws_no_advice_how_to_dose_it(tmp_path: Path) -> None:
    record = _own(tmp_path, "Senna leaf")
    assert "strong_laxative" in {note.code for note in record.cautions}
    assert "too_little_to_weigh" not in {note.code for note in record.notes}


def test_pure_bittering_salts_are_not_offered() -> None:
    salts = RULES["bittering_salts"].when
    named_ones = [one.id for one in LIBRARY.all() for word in salts.words if word in f"{one.id} {one.name}"]
    assert not named_ones


def test_a_word_in_a_name_hides_no_hazard() -> None:
    """What stands beside a harmless phrase still counts, so a phrase is all that may say it is harmless."""
    assert not [row.id for row in RULES.values() if row.when.unless_words]
    assert not [row.id for row in allergen_rules().rows if row.match.unless_words]


@pytest.mark.parametrize(
    ("name", "code"),
    [
        # Milk and egg are nos. 7 and 3 of Reg. (EU) 1169/2011 Annex II, sulphites no. 12 (from memory).
        ("Soda bread with milk", "fining"),
        ("Rice pudding with cream", "fining"),
        ("Plum cake with egg", "fining"),
        ("Almond and milk syrup", "fining"),
        ("Mulled wine with vinegar", "sulphites"),
        ("Apricot kernel and vanilla extract", "raw_kernels"),
        ("Denatonium for tonic", "bittering_salts"),
        ("Tea with tree moss", "caffeine"),
        ("Butter with cocoa", "oil_infusion"),
        ("Plums in brandy", "stone_fruit"),
        ("Cherries and cherry liqueur", "stone_fruit"),
        ("Apple and orange peel", "untreated_citrus"),
    ],
)
def test_a_second_word_does_not_hide_the_first(name: str, code: str, tmp_path: Path) -> None:
    assert code in {note.code for note in _own(tmp_path, name).cautions}


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("Oat milk", "fining"),
        ("Cream of tartar", "fining"),
        ("Cream soda", "fining"),
        ("Egg plum", "fining"),
        ("Milk thistle", "fining"),
        ("Sherry vinegar", "sulphites"),
        ("Bitter almond extract", "raw_kernels"),
        ("Corn kernels", "raw_kernels"),
        ("Orange essential oil", "oil_infusion"),
        ("Rhubarb root", "rhubarb_leaves"),
        ("Juniper berries", "frozen_berries"),
        ("Tea tree leaf", "caffeine"),
        ("Plum brandy", "stone_fruit"),
        ("Cherry blossom", "stone_fruit"),
        ("Apple peel", "untreated_citrus"),
        ("Ascorbic acid", "strong_acid"),
        ("Pineapple", "wild_harvest"),
        ("Ginger beer", "allergens"),
        ("Ginger ale", "allergens"),
        ("Root beer", "allergens"),
        ("Cream sherry", "fining"),
        ("Allspice berries", "frozen_berries"),
        ("Sage honey", "pregnancy"),
        ("Tonic water (quinine)", "bittering_salts"),
    ],
)
def test_a_harmless_name_is_left_in_peace(name: str, code: str, tmp_path: Path) -> None:
    assert code not in {note.code for note in _own(tmp_path, name).cautions}


def _own(folder: Path, name: str) -> DrinkRecord:
    """Predict a weak drink with something of the bar's own in it, whose cyanide somebody measured."""
    shelf = f"currency: EUR\ningredients:\n  my-own: {{name: {name}, family: other, composition: "
    shelf += "{insoluble: 100 % w/w}, restricted: {hydrocyanic-acid: 0.001 mg/g}, sources: "
    shelf += "[{figures: [restricted], source: laboratory sheet 7, confidence: measured here}]}\n"
    (folder / "own.yaml").write_text(shelf, encoding="utf-8")
    (folder / "own-recipe.yaml").write_text(
        "recipe: Try\nshelf: own.yaml\ningredients:\n  - vodka-40: {amount: 200 g}\n"
        "  - water: {amount: 700 g}\n  - my-own: {amount: 1 g}\n",
        encoding="utf-8",
    )
    return predict_recipe(folder / "own-recipe.yaml")


@pytest.mark.parametrize(
    ("caution", "phrases"),
    [
        ("fining", ("oat milk", "egg plum", "cream soda")),
        ("raw_egg", ("egg plum", "pasteurised egg")),
        ("sulphites", ("cider vinegar",)),
    ],
)
def test_harmless_phrases_of_an_allergen_count_for_its_cautions(
    caution: str, phrases: tuple[str, ...]
) -> None:
    """What the row of the allergen calls something else sets off none of the cautions about it."""
    when = RULES[caution].when
    assert when.not_phrases_of
    for phrase in phrases:
        assert not when.fits((phrase.replace(" ", "-"),), "", f" {phrase} "), phrase
        beside = f" {phrase} and {when.words[0]} "
        assert when.fits(("x",), "", beside), beside
