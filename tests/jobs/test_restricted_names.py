"""By what a restricted or prohibited plant is known: its Latin name, or a word of its id or its name."""

from __future__ import annotations

from pathlib import Path

import pytest

from formulate.jobs.law.plant_names import names_it
from formulate.spec.library import Library
from formulate.spec.limit_rows import contents, prohibited
from formulate.spec.shelf import load_shelf


@pytest.mark.parametrize(
    ("name", "given", "row"),
    [
        ("apricot-kernels", "name: Kernels, latin: Prunus armeniaca", "stone-kernel-hydrocyanic-acid"),
        ("bitter-almonds", "name: Almonds", "stone-kernel-hydrocyanic-acid"),
        ("peach-stones", "name: Stones", "stone-kernel-hydrocyanic-acid"),
        ("herb-1", "name: 'Wormwood, dried'", "wormwood-thujone"),
        ("mint-mix", "name: Mint, latin: Mentha × piperita", "peppermint-pulegone"),
        ("rhubarb-leaf", "name: Leaf, latin: Rheum rhabarbarum", "rhubarb-leaf"),
    ],
)
def test_a_plant_is_known_by_latin_word_plural_or_name(
    tmp_path: Path, name: str, given: str, row: str
) -> None:
    text = f"currency: EUR\ningredients:\n  {name}: {{{given}, composition: {{water: 10 % w/w}}}}\n"
    (tmp_path / "shelf.yaml").write_text(text, encoding="utf-8")
    one = load_shelf(tmp_path / "shelf.yaml").ingredient(name, Library.built_in())
    known = [*contents().rows, *prohibited().rows]
    assert row in [each.id for each in known if names_it(each, one)]


def test_plain_fruit_holds_no_prussic_acid() -> None:
    rows = [row for row in contents().rows if row.substance == "hydrocyanic-acid"]
    fruit = [one for one in Library.built_in().all() if one.family == "fruit"]
    assert len(fruit) > 10
    assert not [one.id for one in fruit for row in rows if names_it(row, one)]
