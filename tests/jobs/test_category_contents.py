"""What a drink of a name must and must not be made of."""

from __future__ import annotations

from pathlib import Path

import pytest

from formulate.errors import SpecError
from formulate.jobs.solve import solve_bottle
from tests.batches import batch_of, said_to_be
from tests.jobs.named_drinks import FRUIT, LIBRARY, bottle, drink_of, held_by, held_in, kirsch, own


@pytest.mark.parametrize(
    ("strength", "wine_g", "fits"),
    [
        # 27 CFR 5.1: no distilled spirit is a mixture of 24 % vol or less with more than half of its proof
        # gallons from wine. Wine at 12 % vol has 0.12 x 789.24/990 = 9.57 % w/w alcohol, vodka at 40 % vol
        # 0.4 x 789.24/948.05 = 33.30: 100 g of vodka bring 33.3 g, as much as 348 g of that wine.
        (20.0, 330.0, True),
        (20.0, 360.0, False),
        (24.0, 360.0, False),
        (24.01, 360.0, True),
    ],
)
def test_us_wine_mixtures_are_no_liqueur(strength: float, wine_g: float, fits: bool) -> None:
    used = [LIBRARY.get("dry-white-wine-12"), LIBRARY.get("vodka-40")]
    batch = batch_of(used, [wine_g / 1000.0, 0.1])
    held = held_in(said_to_be(batch, drink_of(strength, share_pct=12.0)))
    assert held["us-liqueur"].fits is fits
    if not fits:
        # 360 g bring 34.44 g of 67.74 g: 50.84 %, rounded up so that it suffices.
        assert held["us-liqueur"].missing == ("0.9 % of the alcohol less from wine, or above 24 % vol",)


def test_a_wine_base_as_a_us_target_gets_enough_spirit(tmp_path: Path) -> None:
    lines = ("dry-white-wine-12: {at_least: 500 g per L bottled}", "neutral-spirit-96")
    solved = solve_bottle(bottle(tmp_path, "cordial (US)", *lines, more="  strength: 16 to 20 % vol\n"))
    grams = {line.ingredient: 1000.0 * line.mass_kg for line in solved.record.recipe}
    # By hand: 12 % vol wine 0.096, 96 % vol spirit 0.939 of the mass.
    assert 0.939 * grams["neutral-spirit-96"] >= 0.096 * grams["dry-white-wine-12"] * 0.99


def test_blackcurrants_with_less_sugar_are_no_creme_de_fruit(tmp_path: Path) -> None:
    # Reg. (EU) 2019/787 cat. 34: crème de + fruit at 250 g/L, of blackcurrants more than 400.
    for invert, cassis in ((300.0, False), (400.0, False), (400.1, True)):
        held = held_by(drink_of(20.0, invert), "blackcurrant", "vodka-40")
        assert not held["eu-creme"].relevant
        assert held["eu-creme-de-cassis"].fits is cassis
    # A few raspberries do not make it another fruit, as many as there are blackcurrants neither.
    used = [LIBRARY.get(name) for name in ("blackcurrant", "raspberry")]
    for raspberry_kg, relevant in ((0.02, False), (0.3, False), (0.31, True)):
        held = held_in(said_to_be(batch_of(used, [0.3, raspberry_kg]), drink_of(20.0, 300.0)))
        assert held["eu-creme"].relevant is relevant
    with pytest.raises(SpecError) as raised:
        solve_bottle(bottle(tmp_path, "crème de fruit (EU)", "vodka-40", f"blackcurrant: {{{FRUIT}}}"))
    assert "cannot be of blackcurrant alone" in raised.value.problems[0].message
    solved = solve_bottle(
        bottle(tmp_path, "crème de fruit (EU)", "vodka-40", f"blackcurrant: {{{FRUIT}}}", "plum")
    )
    grams = {line.ingredient: line.mass_kg for line in solved.record.recipe}
    assert grams["plum"] >= grams["blackcurrant"], "the solver keeps it below half"


def test_cherry_liqueur_takes_cherries_and_no_alcohol_but_of_cherries(tmp_path: Path) -> None:
    rich = drink_of(20.0, 80.0)
    assert held_by(rich, "sour-cherry", kirsch())["eu-cherry-liqueur"].fits
    assert not held_by(rich, "sour-cherry", "vodka-40")["eu-cherry-liqueur"].relevant
    assert not held_by(rich, kirsch())["eu-cherry-liqueur"].relevant, "no cherries"
    assert not held_by(rich, kirsch("cherry brandy"))["eu-cherry-liqueur"].relevant, "brandy is no cherry"
    mixed = held_by(rich, "sour-cherry", kirsch(), "vodka-40")["eu-cherry-liqueur"]
    assert mixed.missing == ("no vodka-40",)
    cherry = f"sour-cherry: {{{FRUIT}}}"
    for lines, words in (
        (("vodka-40", cherry), "needs one of cherry-spirit-40"),
        (("vodka-40",), "needs one of sour-cherry"),
    ):
        with pytest.raises(SpecError) as raised:
            solve_bottle(bottle(tmp_path, "cherry liqueur (EU)", *lines))
        assert words in raised.value.problems[0].message


def test_honey_is_a_sweetener_and_no_second_aromatic() -> None:
    rich = drink_of(20.0, 90.0)
    for honey in ("honey", own("chestnut honey"), own("raw sugar")):
        assert held_by(rich, "gentian-root", "vodka-40", honey)["eu-gentian-liqueur"].fits
    assert not held_by(rich, "gentian-root", "vodka-40", own("chestnut"))["eu-gentian-liqueur"].relevant


def test_each_plant_has_its_own_name() -> None:
    rich = drink_of(20.0, 90.0)
    gentian, wormwood = (held_by(rich, name, "vodka-40") for name in ("gentian-root", "wormwood-herb"))
    assert gentian["eu-gentian-liqueur"].fits
    assert not gentian["eu-wormwood-liqueur"].relevant
    assert wormwood["eu-wormwood-liqueur"].fits
    assert not wormwood["eu-gentian-liqueur"].relevant


def test_what_nobody_can_weigh_is_not_missing() -> None:
    for gap, missing in ((0.002, ()), (0.02, ("0.1 g/L more sugar, counted as invert",))):
        assert held_by(drink_of(20.0, 100.0 - gap), "plum")["eu-liqueur"].missing == missing
