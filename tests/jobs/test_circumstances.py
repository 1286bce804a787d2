"""A new price reaches what the house makes; an amount that cannot be weighed is told."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

from formulate.bar.changed import with_prices
from formulate.bar.opening import open_pantry
from formulate.bar.pantry import Pantry
from formulate.files.issues import Places
from formulate.jobs.options import read_circumstances
from formulate.quantity.amounts import parse_money

DAMSON = ROOT / "examples" / "recipes" / "damson-aperitif.yaml"


def _pantry() -> Pantry:
    opened = open_pantry(ROOT / "examples" / "shelf.yaml", Places(), today=date(2026, 12, 1))
    assert opened.shelf is not None
    return opened


def _repriced(pantry: Pantry, name: str, text: str) -> Pantry:
    return with_prices(pantry, read_circumstances(prices=[f"{name}: {text}"]).prices)


def test_a_new_price_reaches_what_the_house_makes_of_it() -> None:
    """By hand from examples/recipes/gentian-tincture.yaml: dearer gentian for what comes off it."""
    pantry = _pantry()
    before = pantry.made("gentian-tincture")
    after = _repriced(pantry, "gentian-root", "139 EUR/kg").made("gentian-tincture")
    names = before.batch.chain.materials.ids
    gentian_kg = float(before.batch.used_kg[names.index("gentian-root")])
    assert before.price_per_kg is not None
    assert after.price_per_kg is not None
    # The shelf asks 9.75 EUR for 250 g, 39 EUR/kg: 100 EUR/kg more for the root, over what the batch gives.
    dearer = 100.0 * gentian_kg / float(before.batch.drink.mass_kg)
    assert dearer > 0.0
    assert after.price_per_kg - before.price_per_kg == pytest.approx(dearer, rel=1e-9)
    assert pantry.made("gentian-tincture").price_per_kg == before.price_per_kg


def test_a_new_price_leaves_what_is_on_hand() -> None:
    """The shelf: 2.4 kg damsons; 4 bottles of vodka at 70 cl."""
    pantry = _pantry()
    for name in ("damson", "vodka-40"):
        ingredient = pantry.ingredient(name)
        there = pantry.on_hand_kg(ingredient)
        assert there is not None
        changed = _repriced(pantry, name, "6 EUR/kg")
        assert changed.on_hand_kg(ingredient) == there
        assert changed.price_per_kg(ingredient) == 6.0


def test_a_new_price_leaves_the_rests_of_all_offers() -> None:
    pantry = _pantry()
    assert pantry.shelf is not None
    offer = pantry.shelf.offers["damson"][0]
    twice = dict(pantry.shelf.offers) | {"damson": (offer, offer.model_copy(update={"supplier": "another"}))}
    doubled = replace(pantry, shelf=pantry.shelf.model_copy(update={"offers": twice}))
    changed = _repriced(doubled, "damson", "7 EUR")
    assert changed.on_hand_kg(pantry.ingredient("damson")) == pytest.approx(4.8)
    # 7 EUR for the pack of 1 kg.
    assert changed.price_per_kg(pantry.ingredient("damson")) == parse_money("7 EUR/kg").value


def test_what_is_left_in_pieces_needs_the_weight_of_a_piece(run_here: RunCommand) -> None:
    done = run_here("reformulate", "--all", DAMSON, "--short", "vodka-40: 3 pieces")
    assert (done.exit_code, done.stdout, done.crash) == (2, "", "")
    assert done.stderr.startswith("--short: a piece of vodka-40 has no weight.")


def test_a_least_in_pieces_handed_to_stand_ins_needs_the_weight_of_a_piece(
    tmp_path: Path, run_here: RunCommand
) -> None:
    bar = Path(shutil.copytree(ROOT / "examples", tmp_path / "bar"))
    bottle = bar / "bottles" / "damson-aperitif.yaml"
    text = bottle.read_text("utf-8")
    least = "at_least: 250 g per L bottled"
    assert text.count(least) == 1
    bottle.write_text(text.replace(least, "at_least: 30 pieces"), "utf-8")
    done = run_here("reformulate", "--all", bar / "recipes" / "damson-aperitif.yaml", "--without", "damson")
    assert (done.exit_code, done.stdout, done.crash) == (2, "", "")
    assert "ingredients.2.damson.at_least: a piece of damson has no weight." in done.stderr
