"""By what a restricted or prohibited plant is known: its Latin name, or a word of its id or its name.

Synonyms of botanical names: from memory of floras and pharmacopoeias.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from formulate.bar.plant_names import may_be_meant, names_it
from formulate.files.ingredient import Ingredient
from formulate.files.library import Library
from formulate.files.limit_rows import alcohol_only, contents, prohibited
from formulate.files.listed_shelf import load_shelf

KERNEL = "stone-kernel-hydrocyanic-acid"
WATER = "composition: {water: 10 % w/w}"


def own(folder: Path, name: str, given: str) -> Ingredient:
    """Put a plant on a shelf and take it off again."""
    text = f"currency: EUR\ningredients:\n  {name}: {{{given}, {WATER}}}\n"
    (folder / "shelf.yaml").write_text(text, encoding="utf-8")
    return load_shelf(folder / "shelf.yaml").ingredient(name, Library.built_in())


def rows_of(one: Ingredient) -> list[str]:
    known = [*contents().rows, *prohibited().rows, *alcohol_only().rows]
    return [row.id for row in known if names_it(row, one)]


@pytest.mark.parametrize(
    ("name", "given", "row"),
    [
        ("apricot-kernels", "name: Kernels, latin: Prunus armeniaca", KERNEL),
        ("bitter-almonds", "name: Almonds", KERNEL),
        ("peach-stones", "name: Stones", KERNEL),
        ("herb-1", "name: 'Wormwood, dried'", "wormwood-thujone"),
        ("mint-mix", "name: Mint, latin: Mentha × piperita", "peppermint-pulegone"),
        ("rhubarb-leaf", "name: Leaf, latin: Rheum rhabarbarum", "rhubarb-leaf"),
        # Synonyms.
        ("bark-1", "name: Bark, latin: Cinnamomum aromaticum", "cassia-coumarin"),
        ("bark-1", "name: Bark, latin: Cinnamomum loureirii Nees", "cassia-coumarin"),
        ("herb-1", "name: Herb, latin: Chrysanthemum vulgare", "tansy-thujone"),
        ("seed-1", "name: Seed, latin: Coumarouna odorata", "us-tonka"),
        ("root-1", "name: Sweet flag", "us-calamus"),
        # The genus as an initial, an author behind the name, several plants in one.
        ("herb-1", "name: Herb, latin: A. absinthium", "wormwood-thujone"),
        ("herb-1", "name: Herb, latin: Artemisia absinthium L.", "wormwood-thujone"),
        ("bark-1", "name: Bark, latin: C. aromaticum", "cassia-coumarin"),
        ("herb-1", "name: Herb, latin: Artemisia pontica / Artemisia absinthium", "wormwood-thujone"),
        ("herb-1", "name: Herb, latin: Salvia sclarea/officinalis", "sage-thujone"),
        ("root-1", "name: Root, latin: A. serpentaria", "birthwort"),
        # A full botanical name that stands in the name.
        ("herb-1", "name: Herb (Artemisia absinthium)", "wormwood-thujone"),
        # Stones and pits of any kind, and words in another order.
        ("peach-pits", "name: Pits", KERNEL),
        ("plum-pits", "name: Pits", KERNEL),
        ("apricot-pits", "name: Pits", KERNEL),
        ("pits-of-cherries", "name: Pits", KERNEL),
        ("nuts", "name: 'Almonds, bitter'", KERNEL),
        ("leaves", "name: 'Leaves of the rhubarb'", "rhubarb-leaf"),
        ("herb-1", "name: St John's wort", "st-johns-wort-hypericin"),
        ("herb-1", "name: Génépi", "artemisia-thujone"),
        ("herb-1", "name: Ma huang", "ephedra"),
        ("bark-1", "name: Bark, latin: Corynanthe johimbe", "eu-yohimbe"),
        ("herb-1", "name: 'Coltsfoot, dried'", "comfrey"),
        ("berries", "name: Berries, latin: Viscum album", "mistletoe"),
        # What is something else frees no more than itself.
        ("two-herbs", "name: Clary sage and sage", "sage-thujone"),
        ("honey-1", "name: Honey with sage", "sage-thujone"),
        ("nuts", "name: Walnut and apricot kernels", KERNEL),
        ("sage-mix", "name: Sage and clary (Salvia sclarea)", "sage-thujone"),
        ("wormwood-1", "name: Wormwood, latin: Somnia mendax", "wormwood-thujone"),
    ],
)
def test_a_plant_is_known_by_latin_word_plural_or_name(
    tmp_path: Path, name: str, given: str, row: str
) -> None:
    assert row in rows_of(own(tmp_path, name, given))


@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("clary-sage", "name: 'Clary sage, dried', latin: Salvia sclarea"),
        ("clary-sage", "name: Clary sage"),
        ("sage", "name: Sage (Salvia sclarea)"),  # the botanical name decides
        ("sage", "name: Sage, latin: S. sclarea"),
        ("walnut-kernels", "name: Walnut kernels"),
        ("kernels", "name: Kernels, latin: Juglans regia"),
        ("nuts", "name: 'Kernels, walnut'"),
        ("corn-kernels", "name: Corn kernels"),
        ("sage-honey", "name: Sage honey"),
        ("honey-1", "name: 'Honey, sage'"),
        ("speedwell", "name: Germander speedwell, latin: Veronica chamaedrys"),
        ("spirit-herb", "name: Herb mix for a thujone-free bitter"),
        ("marjoram", "name: Marjoram, latin: Origanum majorana"),
        ("usage-notes", "name: Peach Melba"),
        ("ground-ivy-leaf", "name: Ground ivy"),
        ("mate-leaf", "name: Mate, latin: Ilex paraguariensis"),
        ("parasol", "name: Parasol mushroom"),
        ("massage-oil", "name: Maceration"),
    ],
)
def test_what_only_sounds_like_one_is_free(tmp_path: Path, name: str, given: str) -> None:
    assert rows_of(own(tmp_path, name, given)) == []


def test_tarragon_is_no_wormwood(tmp_path: Path) -> None:
    one = own(tmp_path, "tarragon-leaf", "name: Tarragon (Artemisia dracunculus)")
    assert rows_of(one) == ["tarragon-estragole"]


def test_roman_wormwood_counts_as_itself(tmp_path: Path) -> None:
    assert rows_of(own(tmp_path, "herb-1", "name: Roman wormwood")) == ["roman-wormwood-thujone"]


def test_plain_fruit_holds_no_cyanide() -> None:
    rows = [row for row in contents().rows if row.substance == "hydrocyanic-acid"]
    fruit = [one for one in Library.built_in().all() if one.family == "fruit"]
    assert len(fruit) > 10
    assert not [one.id for one in fruit for row in rows if names_it(row, one)]


def test_the_quick_look_misses_no_row() -> None:
    """`may_be_meant` saves reading the rows; it must not save the rows themselves."""
    rows = [*contents().rows, *prohibited().rows, *alcohol_only().rows]
    assert len(rows) > 70
    for row in rows:
        for latin in row.latin:
            genus, _, species = latin.partition(" ")
            for text in {latin, f"{genus[0]}. {species}" if species else latin}:
                assert may_be_meant(Ingredient(id="x", name="Plant", latin=text)), (row.id, text)
        for word in row.words:
            plural = word if word.endswith(("i", "s", "u", "x")) else f"{word}s"
            for text in (word, plural, " ".join(reversed(word.split("-")))):
                one = Ingredient(id="x", name=text.replace("-", " "))
                assert may_be_meant(one), (row.id, text)
                assert names_it(row, one), (row.id, text)
