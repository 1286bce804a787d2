"""A limit that a house bottle lifts is lifted in the drinks that pour it, in the open, and nowhere else."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import RunCommand

from formulate.jobs.menu import plan_menu
from formulate.jobs.pour import pour_drink
from tests.jobs.restricted_kitchen import write

# Cassia at its worst holds 12 mg/g coumarin (trade notes, EFSA); 10 mg/kg is the old directive's limit.
# 2 g in about 1 kg bottled: 24 mg/kg.
SHELF = """\
jurisdiction: EU
currency: EUR
offers:
  vodka-40: {pack: 70 cl, price: 12 EUR}
  cassia-bark: {pack: 100 g, price: 5 EUR}
house_made:
  cassia-tincture: {recipe: tincture.yaml}
"""
LIFTED = "lifted: [{limit: LIMIT, name: bar manager, reason: a test, date: 2026-11-20}]\n"
BOTTLE = """\
name: House spice
size: 1 L bottled
shelf: shelf.yaml
LIFTEDtargets: {strength: 39 to 41 % vol}
ingredients: [vodka-40, water, cassia-bark: {exactly: 2 g per L bottled}]
"""
RECIPE = """\
recipe: House spice
shelf: shelf.yaml
BOTTLEingredients:
  - vodka-40: {amount: 1000 g}
  - cassia-bark: {amount: 2.1 g}
"""
DRINK = """\
drink: Spice hour
shelf: shelf.yaml
house: {spice: HOUSE}
method: batched
ingredients:
  - spice: 40 mL
"""


def _bar(folder: Path, *, limit: str = "old-coumarin", house: str = "recipe.yaml", more: str = "") -> Path:
    write(folder, "shelf.yaml", SHELF)
    write(folder, "bottle.yaml", BOTTLE.replace("LIFTED", LIFTED.replace("LIMIT", limit) if limit else ""))
    write(folder, "recipe.yaml", RECIPE.replace("BOTTLE", "bottle: bottle.yaml\n"))
    write(folder, "tincture.yaml", RECIPE.replace("BOTTLE", ""))
    return write(folder, "drink.yaml", DRINK.replace("HOUSE", house) + more)


@pytest.mark.parametrize("house", ["recipe.yaml", "bottle.yaml"])
def test_what_a_house_bottle_lifts_is_lifted_in_the_glass_and_said(house: str, tmp_path: Path) -> None:
    record = pour_drink(_bar(tmp_path, house=house))
    (cap,) = (cap for cap in record.law.caps if cap.rule == "old-coumarin")
    assert cap.value > 2.0 * cap.most
    assert cap.lifted is not None
    assert not record.law.broken
    (note,) = (note for note in record.notes if note.code == "limit_lifted")
    assert note.text == (
        "In spice: NOT KEPT: coumarin, 10 mg/kg (old-coumarin), lifted by bar manager on 2026-11-20: a test."
    )


def test_it_is_said_on_the_screen_and_on_the_menu(tmp_path: Path, run_here: RunCommand) -> None:
    drink = _bar(tmp_path)
    menu = write(
        tmp_path,
        "menu.yaml",
        "menu: Test\nshelf: shelf.yaml\nfor: 1 week\nopen_days: 5\ndrinks:\n"
        "  - drink: drink.yaml\n    sells: 10 per day\n",
    )
    done = run_here("pour", "--all", drink.as_posix())
    assert done.exit_code == 0
    assert "NOT KEPT" in done.stdout
    assert "OVER THE LIMIT" not in done.stdout
    record = plan_menu(menu)
    assert not record.over_a_limit
    assert [note.text for note in record.notes if note.code == "limit_lifted"] == [
        "Spice hour: In spice: NOT KEPT: coumarin, 10 mg/kg (old-coumarin), lifted by bar manager on "
        "2026-11-20: a test."
    ]


def test_nothing_lifted_nothing_allowed(tmp_path: Path, run_here: RunCommand) -> None:
    done = run_here("pour", "--all", _bar(tmp_path, limit="").as_posix())
    assert done.exit_code == 4
    assert done.stdout.startswith("OVER THE LIMIT: coumarin")


def test_what_is_toxic_stays_a_limit_whatever_a_file_says(tmp_path: Path) -> None:
    """A bottle file that lifts thujone is wrong, so it lifts nothing, coumarin neither."""
    path = _bar(tmp_path, limit="eu-thujone")
    assert pour_drink(path).law.broken


def test_what_comes_from_elsewhere_is_held_to_the_limit(tmp_path: Path) -> None:
    # 40 mL of the bottle and as much of a tincture that lifts nothing, each at about 24 mg/kg: half of what
    # is in the glass is 12 mg/kg from the tincture alone.
    record = pour_drink(_bar(tmp_path, more="  - cassia-tincture: 40 mL\n"))
    assert [cap.rule for cap in record.law.over] == ["old-coumarin"]
    # 20 mL of it beside 40 mL: a third, 8 mg/kg, is within the limit.
    record = pour_drink(_bar(tmp_path, more="  - cassia-tincture: 20 mL\n"))
    assert not record.law.broken
