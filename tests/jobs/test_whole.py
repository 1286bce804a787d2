"""Whole things with parts: how much fruit a batch needs, that it is bought once, and what is said."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from formulate.bar.opening import open_pantry
from formulate.bar.wholes import cheapest_cover
from formulate.describe.records import DrinkRecord
from formulate.errors import InfeasibleError, SpecError
from formulate.files.issues import Places
from formulate.jobs.check import check_files
from formulate.jobs.files import recipe_content, write_whole
from formulate.jobs.predict import predict_recipe
from formulate.jobs.solve import solve_bottle
from formulate.optimise.problem import Purchase
from formulate.report.terminal import More, show_drink

# One grapefruit of 380 g at 0.95 is 2.50 per kg; 4 % zest, 16 % pith, 40 % juice, so 40 % is waste.
SHELF = """\
currency: EUR
offers:
  vodka-40: {price: 10 EUR/L}
  white-sugar: {price: 1.20 EUR/kg}
whole:
  whole-grapefruit:
    piece: 380 g
    price: 0.95 EUR
    on_hand: 3 pieces
    parts: {grapefruit-zest: 4 %, grapefruit-pith: 16 %, grapefruit-juice: 40 %}
"""

RECIPE = """\
recipe: Test
shelf: shelf.yaml
ingredients:
  - vodka-40: {amount: 1 L}
"""

BOTTLE = """\
name: Test
size: 1 L bottled
shelf: shelf.yaml
targets:
  strength: 20 ± 0.3 % vol
ingredients:
  - vodka-40
  - water
  - grapefruit-pith: {exactly: 40 g per L bottled}
  - grapefruit-zest: {exactly: 12 g per L bottled}
"""


def _written(folder: Path, **texts: str) -> Path:
    for name, text in texts.items():
        (folder / f"{name}.yaml").write_text(text, "utf-8")
    return folder


def _predicted(folder: Path, *lines: str, shelf: str = SHELF) -> DrinkRecord:
    text = RECIPE + "".join(f"  - {line}\n" for line in lines)
    return predict_recipe(_written(folder, shelf=shelf, recipe=text) / "recipe.yaml")


def _cost(record: DrinkRecord) -> float:
    assert record.cost is not None
    return record.cost.total - 10.0  # a litre of vodka at 10 per litre is in every recipe here


def test_pith_pays_for_the_fruit_it_comes_from(tmp_path: Path) -> None:
    record = _predicted(tmp_path, "grapefruit-pith: {amount: 89 g}")
    # 89 g of pith at 16 % are 89/0.16 = 556.25 g of fruit:
    # 556.25/380 = 1.4638 pieces, 1.4638 x 0.95 = 1.390625.
    (bought,) = record.purchases
    assert bought.mass_kg == pytest.approx(0.55625, rel=1e-8)
    assert bought.pieces == pytest.approx(1.463816, abs=1e-6)
    assert bought.whole_pieces == 2
    assert bought.cost == pytest.approx(1.390625, rel=1e-8)
    assert _cost(record) == pytest.approx(1.390625, rel=1e-8)
    # Left over: zest 0.04 x 556.25 = 22.25 g, juice 0.40 x 556.25 = 222.5 g; waste is the other 40 %, 222.5.
    assert {part.ingredient: (part.used_kg, part.left_kg) for part in bought.parts} == {
        "grapefruit-zest": (0.0, pytest.approx(0.02225, rel=1e-8)),
        "grapefruit-pith": (pytest.approx(0.089, rel=1e-8), pytest.approx(0.0, abs=1e-9)),
        "grapefruit-juice": (0.0, pytest.approx(0.2225, rel=1e-8)),
    }
    assert bought.waste_kg == pytest.approx(0.2225, rel=1e-8)
    # The mass of the fruit is all accounted for.
    assert bought.waste_kg + sum(p.used_kg + p.left_kg for p in bought.parts) == pytest.approx(bought.mass_kg)


def test_two_uses_of_one_fruit_are_bought_once(tmp_path: Path) -> None:
    record = _predicted(tmp_path, "grapefruit-pith: {amount: 89 g}", "grapefruit-zest: {amount: 30 g}")
    # Zest needs 30/0.04 = 750 g of fruit, pith only 556.25 g of the same: 750 g x 2.50/kg = 1.875, not
    # 1.875 + 1.390625. Of the pith, 0.16 x 750 = 120 g, 31 g are left.
    (bought,) = record.purchases
    assert _cost(record) == pytest.approx(1.875, rel=1e-8)
    assert bought.mass_kg == pytest.approx(0.75, rel=1e-8)
    left = {part.ingredient: part.left_kg for part in bought.parts}
    assert left["grapefruit-pith"] == pytest.approx(0.031, rel=1e-7)
    assert left["grapefruit-zest"] == pytest.approx(0.0, abs=1e-9)
    # Split by the fruit each would need alone: 1.875 x 556.25/(556.25 + 750) = 0.798445 for the pith,
    # 1.875 x 750/1306.25 = 1.076555 for the zest; the lines add up to the bill.
    costs = {line.ingredient: line.cost or 0.0 for line in record.recipe}
    assert costs["grapefruit-pith"] == pytest.approx(0.798445, abs=1e-6)
    assert costs["grapefruit-zest"] == pytest.approx(1.076555, abs=1e-6)
    assert sum(costs.values()) == pytest.approx(_cost(record) + 10.0, rel=1e-12)


def test_a_part_with_an_offer_of_its_own_tops_up_the_fruit(tmp_path: Path) -> None:
    shelf = SHELF.replace("offers:\n", "offers:\n  grapefruit-pith: {price: 5 EUR/kg}\n")
    alone = _predicted(tmp_path, "grapefruit-pith: {amount: 89 g}", shelf=shelf)
    # By itself the offer is cheaper: 0.089 x 5 = 0.445 against 1.390625. No fruit is bought.
    assert _cost(alone) == pytest.approx(0.445, rel=1e-8)
    assert alone.purchases == ()
    both = _predicted(
        tmp_path, "grapefruit-pith: {amount: 89 g}", "grapefruit-zest: {amount: 20 g}", shelf=shelf
    )
    # Zest needs 20/0.04 = 500 g of fruit, 1.25, and brings 80 g of pith; the 9 g missing cost 0.045 from the
    # offer, or 9/0.16 = 56.25 g more fruit at 0.140625. In all 1.25 + 0.045 = 1.295.
    assert _cost(both) == pytest.approx(1.295, rel=1e-8)
    assert both.purchases[0].mass_kg == pytest.approx(0.5, rel=1e-8)
    # All of the fruit's pith and zest is used, half of its price each: 0.625, and 0.045 on top for the pith.
    costs = {line.ingredient: line.cost or 0.0 for line in both.recipe}
    assert costs["grapefruit-zest"] == pytest.approx(0.625, rel=1e-7)
    assert costs["grapefruit-pith"] == pytest.approx(0.67, rel=1e-7)
    assert sum(costs.values()) == pytest.approx(_cost(both) + 10.0, rel=1e-12)


def test_the_cheaper_of_two_fruits_is_bought(tmp_path: Path) -> None:
    shelf = SHELF + "  pale-grapefruit: {price: 1.50 EUR/kg, parts: {grapefruit-pith: 8 %}}\n"
    record = _predicted(tmp_path, "grapefruit-pith: {amount: 80 g}", shelf=shelf)
    # Pith out of the first costs 2.50/0.16 = 15.625 per kg, out of the pale one 1.50/0.08 = 18.75.
    assert [bought.name for bought in record.purchases] == ["whole-grapefruit"]
    assert _cost(record) == pytest.approx(0.08 * 15.625, rel=1e-8)
    cheap = shelf.replace("1.50 EUR/kg", "1.20 EUR/kg")  # 1.20/0.08 = 15.00 per kg
    record = _predicted(tmp_path, "grapefruit-pith: {amount: 80 g}", shelf=cheap)
    assert [(bought.name, bought.pieces) for bought in record.purchases] == [("pale-grapefruit", None)]
    assert _cost(record) == pytest.approx(0.08 * 15.0, rel=1e-8)


def test_the_solver_buys_one_fruit_for_both_parts(tmp_path: Path) -> None:
    solved = solve_bottle(_written(tmp_path, shelf=SHELF, bottle=BOTTLE) / "bottle.yaml")
    record = solved.record
    # 40 g of pith need 40/0.16 = 250 g of fruit, 12 g of zest need 12/0.04 = 300 g: 300 g x 2.50/kg = 0.75.
    (bought,) = record.purchases
    assert bought.mass_kg == pytest.approx(0.3, rel=1e-6)
    assert bought.cost == pytest.approx(0.75, rel=1e-6)
    costs = {line.ingredient: line.cost or 0.0 for line in record.recipe}
    assert record.cost is not None
    assert record.cost.total == pytest.approx(costs["vodka-40"] + 0.75, rel=1e-6)
    assert record.cost.total == pytest.approx(sum(costs.values()), rel=1e-9)
    # The other way round: the recipe it wrote, costed by the cover of a given batch, comes to the same.
    path = tmp_path / "written.yaml"
    write_whole(path, recipe_content(solved, path))
    again = predict_recipe(tmp_path / "written.yaml")
    assert again.cost is not None
    assert again.cost.total == pytest.approx(record.cost.total, rel=1e-6)


def test_juice_that_is_left_over_anyway_is_free(tmp_path: Path) -> None:
    bottle = BOTTLE + "  - grapefruit-juice\n"
    juicy = solve_bottle(_written(tmp_path, shelf=SHELF, bottle=bottle) / "bottle.yaml").record
    plain = solve_bottle(_written(tmp_path, bottle=BOTTLE) / "bottle.yaml").record
    assert juicy.cost is not None
    assert plain.cost is not None
    # An ingredient more never costs more, and up to 0.40 x 300 = 120 g of it need no more fruit.
    assert juicy.cost.total <= plain.cost.total * (1.0 + 1e-6)
    used = {part.ingredient: part.used_kg for part in juicy.purchases[0].parts}
    assert juicy.purchases[0].mass_kg == pytest.approx(0.3, rel=1e-5)
    assert used["grapefruit-juice"] <= 0.12 * (1.0 + 1e-6)


def test_the_limit_on_cost_counts_the_fruit(tmp_path: Path) -> None:
    solved = solve_bottle(_written(tmp_path, shelf=SHELF, bottle=BOTTLE) / "bottle.yaml").record
    assert solved.cost is not None
    enough, short = solved.cost.per_litre + 0.01, solved.cost.per_litre - 0.01
    for cap, possible in ((enough, True), (short, False)):
        text = BOTTLE.replace("% vol\n", f"% vol\n  cost: at most {cap:.6f} EUR/L\n", 1)
        path = _written(tmp_path, bottle=text) / "bottle.yaml"
        if possible:
            assert solve_bottle(path).record.status == "optimal"
        else:
            with pytest.raises(InfeasibleError):
                solve_bottle(path)


def test_what_is_on_hand_of_a_part_is_in_the_fruit(tmp_path: Path) -> None:
    bottle = BOTTLE.replace("1 L bottled", "use all grapefruit-pith", 1)
    record = solve_bottle(_written(tmp_path, shelf=SHELF, bottle=bottle) / "bottle.yaml").record
    # 3 pieces x 380 g x 16 % = 182.4 g of pith; at 40 g per L that is 4.56 L.
    assert float(record.predicted.volume_l) == pytest.approx(4.56, rel=1e-6)


def test_how_it_is_shown(tmp_path: Path) -> None:
    record = _predicted(tmp_path, "grapefruit-pith: {amount: 96 g}", "grapefruit-zest: {amount: 20 g}")
    # 96/0.16 = 600 g is 1.58 pieces, two of three on hand, at 1.50; 24 g of zest of which 4 g are left, and
    # 240 g of juice.
    screen = io.StringIO()
    show_drink(Console(file=screen, width=80, no_color=True), record, More.ALL)
    text = screen.getvalue()
    assert "1.6 whole-grapefruit (take 2 of 3)  600  1.50\n" in text
    assert (
        "  whole-grapefruit: 20.0 of 24.0 g grapefruit-zest, all 96.0 g grapefruit-pith\n"
        "    used; 4.0 g grapefruit-zest, 240 g grapefruit-juice left over\n" in text
    )
    assert max(map(len, text.splitlines())) <= 80
    (bought,) = record.to_dict()["purchases"]
    assert bought["pieces"] == pytest.approx(600 / 380, rel=1e-7)
    assert (bought["whole"], bought["whole_pieces"]) == ("whole-grapefruit", 2)
    assert bought["on_hand_g"] == pytest.approx(1140.0)
    assert bought["parts"][1] == {
        "ingredient": "grapefruit-pith",
        "used_g": pytest.approx(96.0, rel=1e-7),
        "left_g": pytest.approx(0.0, abs=1e-6),
    }
    assert [note.code for note in record.notes].count("bought_whole") == 1


@pytest.mark.parametrize(
    ("on_hand", "text"), [("1 pieces", "(buy 1, have 1)"), ("0 pieces", "(buy 2, have 0)"), ("", "(buy 2)")]
)
def test_what_is_there_is_not_bought_again(tmp_path: Path, on_hand: str, text: str) -> None:
    line = f"    on_hand: {on_hand}\n" if on_hand else ""
    shelf = SHELF.replace("    on_hand: 3 pieces\n", line)
    record = _predicted(tmp_path, "grapefruit-pith: {amount: 89 g}", shelf=shelf)
    screen = io.StringIO()
    show_drink(Console(file=screen, width=80, no_color=True), record, More.ALL)
    assert f"1.5 whole-grapefruit {text} " in screen.getvalue()


# ---- laws ---------------------------------------------------------------------------------------

_SHARES = st.floats(0.01, 0.3)
_MASSES = st.floats(0.0, 5.0)


@given(
    shares=st.lists(_SHARES, min_size=1, max_size=3),
    masses=st.lists(_MASSES, min_size=3, max_size=3),
    price=st.floats(0.1, 50.0),
)
def test_one_fruit_needs_what_its_scarcest_part_needs(
    shares: list[float], masses: list[float], price: float
) -> None:
    used = np.array(masses)
    fruit = Purchase("fruit", price, tuple(enumerate(shares)))
    needed = max(mass / share for mass, share in zip(masses, shares, strict=False))
    assert cheapest_cover((fruit,), used)[0] == pytest.approx(needed, rel=1e-7, abs=1e-7)


@given(
    shares=st.lists(_SHARES, min_size=3, max_size=3),
    masses=st.lists(_MASSES, min_size=3, max_size=3),
    price=st.floats(0.5, 5.0),
    offers=st.lists(st.floats(0.5, 60.0), min_size=2, max_size=2),
)
def test_fruit_and_offers_together_are_as_cheap_as_can_be(
    shares: list[float], masses: list[float], price: float, offers: list[float]
) -> None:
    used = np.array(masses)
    purchases = (
        Purchase("fruit", price, tuple(enumerate(shares))),
        *(Purchase(f"part {index}", offer, ((index, 1.0),)) for index, offer in enumerate(offers)),
    )
    bought = cheapest_cover(purchases, used)
    cost = bought @ [purchase.price_per_kg for purchase in purchases]

    # Cost is convex and piecewise linear in the fruit bought: its least stands where some part is
    # just enough. The last part has no offer, so at least its fruit is needed.
    def by_hand(fruit_kg: float) -> float:
        missing = [max(mass - share * fruit_kg, 0.0) for mass, share in zip(masses, shares, strict=True)]
        return price * fruit_kg + sum(kg * offer for kg, offer in zip(missing, offers, strict=False))

    corners = [mass / share for mass, share in zip(masses, shares, strict=True)]
    least = min(by_hand(max(corner, corners[2])) for corner in [0.0, *corners])
    assert cost == pytest.approx(least, rel=1e-5, abs=1e-5)
    assert (bought[0] * np.array(shares) + [*bought[1:], 0.0] >= used - 1e-6).all()


# ---- what is said -------------------------------------------------------------------------------


def test_an_unknown_part_is_told_once_with_its_place(tmp_path: Path) -> None:
    shelf = SHELF.replace("grapefruit-pith: 16 %", "grapefruit-pit: 16 %")
    _written(tmp_path, shelf=shelf, bottle=BOTTLE)
    for ask in (
        lambda: solve_bottle(tmp_path / "bottle.yaml"),
        lambda: check_files([tmp_path / "shelf.yaml"]),
        lambda: open_pantry(tmp_path / "shelf.yaml", Places()),
    ):
        with pytest.raises(SpecError) as caught:
            ask()
        (problem,) = caught.value.problems
        assert problem.location is not None
        # Line 10 of the shelf, after `    parts: {grapefruit-zest: 4 %, `.
        assert (problem.location.line, problem.location.column) == (10, 35)
        assert problem.path == "whole.whole-grapefruit.parts.grapefruit-pit"
        assert problem.message == (
            "no ingredient called 'grapefruit-pit' on the shelf or in the library. "
            "Did you mean 'grapefruit-pith'?"
        )


def test_a_whole_thing_is_not_an_ingredient(tmp_path: Path) -> None:
    bottle = BOTTLE + "  - whole-grapefruit\n"
    _written(tmp_path, shelf=SHELF, bottle=bottle)
    with pytest.raises(SpecError) as caught:
        solve_bottle(tmp_path / "bottle.yaml")
    (problem,) = caught.value.problems
    assert problem.location is not None
    assert problem.location.line == 11
    assert problem.message == (
        "'whole-grapefruit' is bought whole and used in parts. Name a part: grapefruit-zest, "
        "grapefruit-pith, grapefruit-juice."
    )


def test_checking_the_shelf_counts_it(tmp_path: Path) -> None:
    _written(tmp_path, shelf=SHELF)
    (checked,) = check_files([tmp_path / "shelf.yaml"])
    assert checked.summary.endswith(", 1 bought whole, 0 made here")
