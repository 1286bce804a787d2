"""Words a label carries because of what is in the bottle, and sizes it may be sold in: at, under, over."""

from __future__ import annotations

from pathlib import Path

import pytest

from formulate.jobs.label import label_file
from tests.jobs.restricted_kitchen import write

SHELF = """\
currency: EUR
jurisdiction: {where}
ingredients:
  drops:
    name: Drops
    family: own
    composition: {{water: 100 % w/w}}
    {content}
"""
LIQUORICE = (
    "restricted: {{glycyrrhizic-acid: {much} mg/g}}\n"
    "    sources: [{{figures: [restricted], source: sheet 7, confidence: measured here}}]"
)
CAFFEINE = "attributes: {{caffeine: {much} mg/g}}"


def label(folder: Path, content: str, lines: str, where: str = "EU", bottle: str | None = None) -> set[str]:
    """Return the codes of what the label says; `lines` hold the base, a gram of the drops stands last."""
    write(folder, "shelf.yaml", SHELF.format(where=where, content=content))
    text = f"recipe: Try\nshelf: shelf.yaml\ningredients:\n{lines}  - drops: {{amount: 1 g}}\n"
    record = label_file(write(folder, "r.yaml", text), bottle_size=bottle)
    return {note.code for note in record.notes}


SPIRIT = "  - vodka-40: {amount: 947.056 g}\n"
"""With a gram of water 1 L within 2e-5: 948.05 g/L at 40 % vol (OIML R 22)."""
WATER = "  - water: {amount: 997.2 g}\n"
"""With a gram of water 1 L: 998.20 g/L (OIML R 22)."""


@pytest.mark.parametrize(
    ("content", "base", "mg_l", "code"),
    [
        # Reg. (EU) 1169/2011 Annex III 3.1, 3.2, 3.3 and 4.1; figures in mg per litre of drink.
        (LIQUORICE, SPIRIT, 10.0, "contains_liquorice"),
        (LIQUORICE, WATER, 10.0, "contains_liquorice"),
        (LIQUORICE, SPIRIT, 300.0, "liquorice_and_blood_pressure"),
        (LIQUORICE, WATER, 50.0, "liquorice_and_blood_pressure_soft"),
    ],
)
def test_words_stand_from_their_figure_on(
    tmp_path: Path, content: str, base: str, mg_l: float, code: str
) -> None:
    for share, told in ((0.999, False), (1.001, True)):
        found = label(tmp_path, content.format(much=f"{share * mg_l:.6f}"), base)
        assert (code in found) is told, (share, found)


@pytest.mark.parametrize(("mg_l", "told"), [(149.8, False), (150.2, True), (0.0, False)])
def test_caffeine_above_150_mg_a_litre(tmp_path: Path, mg_l: float, told: bool) -> None:
    content = CAFFEINE.format(much=mg_l)
    assert ("high_caffeine" in label(tmp_path, content, WATER)) is told
    assert "high_caffeine" not in label(tmp_path, content, WATER, where="US")


@pytest.mark.parametrize(("water", "told"), [("82 g", True), ("83 g", False)])
def test_the_us_asks_for_its_warning_from_half_a_per_cent_on(tmp_path: Path, water: str, told: bool) -> None:
    """27 CFR 16.10: alcoholic from 0.5 % vol; a gram of vodka holds 0.422 mL: 84.2 or 85.2 mL of drink."""
    lines = f"  - vodka-40: {{amount: 1 g}}\n  - water: {{amount: {water}}}\n"
    assert ("us_government_warning" in label(tmp_path, "notes: x", lines, where="US")) is told
    assert "us_government_warning" not in label(tmp_path, "notes: x", lines, where="EU")


@pytest.mark.parametrize(("spirit", "of_wine"), [("150 g", True), ("330 g", False)])
def test_aromatised_wine_lists_what_is_in_it(tmp_path: Path, spirit: str, of_wine: bool) -> None:
    """Reg. (EU) 251/2014 article 6a(1): 1 L of wine is 86 % beside 0.16 L of vodka, 74 % beside 0.35 L."""
    lines = f"  - dry-white-wine-12: {{amount: 990 g}}\n  - vodka-40: {{amount: {spirit}}}\n"
    found = label(tmp_path, "notes: x", lines)
    assert ("aromatised_wine_list" in found) is of_wine
    assert ("list_is_voluntary" in found) is not of_wine


@pytest.mark.parametrize(
    ("where", "size", "listed"),
    [
        # Directive 2007/45/EC Annex; 27 CFR 5.203 from memory.
        *(("EU", "70 cl", True), ("EU", "75 cl", False), ("EU", "50 cl", True), ("EU", "50.1 cl", False)),
        *(("EU", "99 mL", True), ("EU", "100 mL", True), ("EU", "101 mL", False), ("EU", "2.1 L", True)),
        *(("US", "75 cl", True), ("US", "70 cl", True), ("US", "65 cl", False)),
    ],
)
def test_a_size_that_may_not_be_sold_is_told(tmp_path: Path, where: str, size: str, listed: bool) -> None:
    assert ("bottle_size" not in label(tmp_path, "notes: x", SPIRIT, where, size)) is listed


@pytest.mark.parametrize(("size", "listed"), [("75 cl", True), ("37.5 cl", True), ("70 cl", False)])
def test_aromatised_wine_has_sizes_of_its_own(tmp_path: Path, size: str, listed: bool) -> None:
    lines = "  - dry-white-wine-12: {amount: 990 g}\n  - vodka-40: {amount: 130 g}\n"
    assert ("bottle_size" not in label(tmp_path, "notes: x", lines, bottle=size)) is listed
