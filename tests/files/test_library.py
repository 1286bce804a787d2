"""The ingredient library: reading blocks on demand, searching, and building a bar's own values on it."""

from __future__ import annotations

from pathlib import Path

import jsonschema
import pytest

from formulate.errors import SourceLocation, SpecError
from formulate.files import library as library_module
from formulate.files.library import Library
from formulate.files.located import load_document
from formulate.files.problems import read_model
from formulate.files.schema import json_schema
from formulate.files.shelf import Shelf
from formulate.files.standards import specs_folder

FRUIT = """\
# Invented figures, for these tests only.
family: fruit

ingredients:
  plum:
    name: Plum, stoned
    composition:
      water: 83.7 % w/w
      sucrose: 8.6 % w/w
      malic_acid: 1.5 % w/w
    ph: 3.3
    attributes: {anthocyanin: 1.4 mg/g}
    sources:
      - {figures: [composition], source: "a test", confidence: from memory}

  pear:   # a comment
    name: Pear
    composition:
      water: 90 % w/w
"""
BITTER = """\
family: bitter
ingredients:
  gentian-root:
    name: Gentian root, shredded
    latin: Gentiana lutea
    bitterness: {value: 20000, low: 10000, high: 30000}
"""


@pytest.fixture
def library() -> Library:
    return Library([("fruit.yaml", FRUIT), ("bitter.yaml", BITTER)])


def test_ids_are_in_file_order_and_entries_whole(library: Library) -> None:
    assert library.ids() == ("plum", "pear", "gentian-root")
    assert len(library) == 3
    assert "plum" in library
    assert "damson" not in library
    plum = library.get("plum")
    assert (plum.id, plum.name, plum.family, plum.ph) == ("plum", "Plum, stoned", "fruit", 3.3)
    assert plum.composition == {"water": 0.837, "sucrose": 0.086, "malic_acid": 0.015}
    assert plum.attributes == {"anthocyanin": 1.4}
    assert plum.sources[0].confidence == "from memory"
    assert library.get("gentian-root").family == "bitter"
    assert library.place("pear") == SourceLocation("fruit.yaml", 16, 3)


def test_only_blocks_asked_for_are_parsed(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    parsed = []

    def counting(text: str, name: str, *, first_line: int, ours: bool):  # type: ignore[no-untyped-def]
        parsed.append((name, first_line))
        return load_document(text, name, first_line=first_line, ours=ours)

    monkeypatch.setattr(library_module, "load_document", counting)
    assert library.get("pear") is library.get("pear")
    assert parsed == [("fruit.yaml", 16)]


def test_an_unknown_id_offers_the_nearest(library: Library) -> None:
    with pytest.raises(SpecError) as caught:
        library.get("plums")
    assert str(caught.value) == (
        "no ingredient called 'plums' in the library. Did you mean 'plum'? "
        "Known here: gentian-root, pear, plum."
    )


def test_a_broken_block_is_told_with_its_place_in_the_whole_file() -> None:
    broken = Library([("fruit.yaml", FRUIT.replace("90 % w/w", "90 %").replace("ph: 3.3", "pH: 3.3"))])
    with pytest.raises(SpecError) as caught:
        broken.all()
    assert [str(problem.location) for problem in caught.value.problems] == [
        "fruit.yaml:11:5",
        "fruit.yaml:19:14",
    ]
    assert caught.value.problems[1].path == "pear.composition.water"
    assert caught.value.problems[0].excerpt.splitlines()[1] == "  11 |     pH: 3.3"


def test_an_id_given_twice_is_refused() -> None:
    with pytest.raises(SpecError) as caught:
        Library([("a.yaml", FRUIT), ("b.yaml", FRUIT)])
    assert str(caught.value).splitlines()[0] == (
        "b.yaml:5:3: ingredients.plum: 'plum' is given twice, first in a.yaml line 5. Keep one."
    )
    with pytest.raises(SpecError, match=r"'pear' is given twice, first in a.yaml line 16"):
        Library([("a.yaml", FRUIT + "  pear:\n    name: Pear\n")])


def test_a_file_without_its_head_is_refused() -> None:
    with pytest.raises(SpecError, match=r"a.yaml:1:1: 'family' is missing"):
        Library([("a.yaml", "ingredients:\n  plum:\n    name: Plum\n")])
    with pytest.raises(SpecError, match=r"a.yaml:1:1: 'ingredients' is missing"):
        Library([("a.yaml", "family: fruit\n")])


def test_an_empty_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SpecError, match="no library files"):
        Library.from_folder(tmp_path)


@pytest.mark.parametrize(
    ("words", "ids"),
    [
        ("plum", ["plum"]),
        ("fruit", ["plum", "pear"]),
        ("p", ["plum", "pear"]),
        ("GENTIANA", ["gentian-root"]),
        ("bitter", ["gentian-root"]),
        ("sour fruit", ["plum"]),
        ("sweet", ["plum"]),
        ("red", ["plum"]),  # not the shredded root
        ("fruit under 5 g sugar", ["pear"]),
        ("over 1 % acid", ["plum"]),
        ("over 0.1 % anthocyanin", ["plum"]),
        ("over 85 % water", ["pear"]),
        ("root", ["gentian-root"]),
        ("turnip", []),
    ],
)
def test_search(library: Library, words: str, ids: list[str]) -> None:
    assert [hit.id for hit in library.search(words)] == ids


def _shelf(own: str) -> Shelf:
    return read_model(Shelf, load_document(f"currency: EUR\ningredients:\n{own}", "shelf.yaml"))


def test_own_values_stand_over_the_library(library: Library) -> None:
    shelf = _shelf("  damson:\n    based_on: plum\n    ph: 3.1\n    piece: 12 g\n  plum: {name: Our plum}\n")
    damson = shelf.ingredient("damson", library)
    assert (damson.id, damson.name, damson.ph, damson.piece_kg) == ("damson", "Plum, stoned", 3.1, 0.012)
    assert damson.composition == library.get("plum").composition
    assert (damson.based_on, damson.overrides) == ("plum", ("ph", "piece"))
    assert shelf.ingredient("plum", library).composition == {}
    assert shelf.ingredient("pear", library) is library.get("pear")


def test_a_strength_of_ones_own_replaces_a_composition(library: Library) -> None:
    spirit = _shelf("  plum-spirit: {based_on: plum, strength: 42 % vol}\n").ingredient(
        "plum-spirit", library
    )
    assert (spirit.strength_pct_vol, spirit.composition) == (42.0, {})


def test_own_values_that_lead_nowhere_are_told(library: Library) -> None:
    with pytest.raises(SpecError) as caught:
        _shelf("  damson: {based_on: plume}\n").ingredient("damson", library)
    assert str(caught.value).splitlines()[0] == (
        "shelf.yaml:3:22: ingredients.damson.based_on: no library ingredient called 'plume'. "
        "Did you mean 'plum'? Known here: gentian-root, pear, plum."
    )
    with pytest.raises(
        SpecError, match=r"no ingredient called 'peer' on the shelf or in the library\. Did you mean 'pear'"
    ):
        _shelf("  damson: {based_on: plum}\n").ingredient("peer", library)


# ---- the library that ships -----------------------------------------------------------------------


def test_the_built_in_library_reads_whole() -> None:
    built_in = Library.built_in()
    ingredients = built_in.all()
    assert len(ingredients) == len(built_in.ids()) >= 100
    assert all(ingredient.sources for ingredient in ingredients)
    assert built_in.search("bitter")


def test_the_scan_finds_every_block_a_full_parse_finds() -> None:
    by_parse = []
    for path in sorted((specs_folder() / "ingredients").glob("*.yaml")):
        document = load_document(path)
        by_parse += document.data["ingredients"]
        jsonschema.Draft202012Validator(json_schema("ingredients")).validate(document.data)
    assert list(Library.built_in().ids()) == by_parse
