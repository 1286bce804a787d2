"""The lower limits for drinks without alcohol, up to 1.2 % vol: derived by hand and kept by every job.

Figures: trade notes of the project, 3.1 and 3.2 (Reg. (EC) 1334/2008 Annex III part B, Reg. (EU) 872/2012);
pulegone 20, glycyrrhizic acid 50 mg/L and those of Directive 88/388/EEC (coumarin 2, hydrocyanic acid 1,
beta-asarone 0.1) from memory. Contents of plants are from memory too.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.bar.opening import open_pantry
from formulate.bar.pantry import Pantry
from formulate.bar.permitted import Rules, strength_asked
from formulate.blend.chain import Step
from formulate.blend.materials import LIQUOR, gather
from formulate.describe.records import DrinkRecord
from formulate.describe.solved import answered_batch
from formulate.errors import InfeasibleError
from formulate.files.issues import Places
from formulate.files.library import Library
from formulate.files.limit_rows import CapRow, caps
from formulate.files.recipe import dump_recipe
from formulate.files.standards import JURISDICTIONS
from formulate.formulation.caps import cap_limits
from formulate.formulation.choices import choices_of
from formulate.formulation.solving import recipe_of
from formulate.jobs.adjust import adjust_lot, open_bottle
from formulate.jobs.buy import buy_bottle
from formulate.jobs.nearest import nearest_recipe
from formulate.jobs.options import read_circumstances
from formulate.jobs.pour import pour_drink
from formulate.jobs.predict import predict_recipe
from formulate.jobs.reformulate import reformulate
from formulate.jobs.scale import scale_recipe
from formulate.jobs.solve import solve_bottle
from formulate.jobs.tradeoff import trade_off
from formulate.jobs.weighed import weigh_solved
from formulate.learn.lot import lot_of_file
from formulate.optimise.disjunctions import keeps
from formulate.optimise.problem import limit_value
from formulate.planning.other_recipes import at_prices
from formulate.rules.law import held_at_worst, law_of
from formulate.rules.records import LawRecord
from tests.batches import batch_of
from tests.jobs.restricted_kitchen import at_worst_mg_kg, bottle, recipe, write

EU = "jurisdiction: EU"
PANTRY = Pantry(None, Library.built_in())
WEAK = "at most 1.2 % vol"
SOFT_MG_KG = {"thujone": 0.5, "quassin": 0.5, "cinchona alkaloids": 100.0, "coumarin": 2.0, "safrole": 1.0}
ROUNDING = 1.0 + 1e-12


AIM = "  bitterness: like 2 g/L gentian-root"


def soft(
    folder: Path, plants: list[str], strength: str = WEAK, targets: str = AIM, more: str = "", steps: str = ""
) -> Path:
    """Write a bottle of so much strength."""
    path = bottle(folder, plants, rules=EU, targets=targets, more=more, steps=steps)
    path.write_text(path.read_text("utf-8").replace("28 ± 0.3 % vol", strength), "utf-8")
    return path


def rules_in(law: LawRecord | None) -> dict[str, float]:
    assert law is not None
    return {cap.rule: cap.value for cap in law.caps}


def keeps_the_soft_limits(record: DrinkRecord) -> None:
    """Check the program's word, and add it up again by hand (recipes of one step)."""
    assert record.law is not None
    assert record.law.over == ()
    assert record.predicted.strength_pct_vol <= 1.2 * (1.0 + 1e-6)
    bitter_herb = any(line.ingredient.endswith("wormwood-herb") for line in record.recipe)
    for substance, most in SOFT_MG_KG.items():
        if substance == "thujone" and not bitter_herb:
            most = 10.0  # sage and yarrow alone: the figure for drinks with alcohol
        assert at_worst_mg_kg(record, substance) <= most * ROUNDING, substance


# ---- derived by hand ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("plant", "rule", "g_per_kg"),
    [
        # most mg/kg / worst mg/g = most g per kg of drink
        ("wormwood-herb", "eu-thujone-artemisia-soft", 0.05),  # 0.5 / 10
        ("roman-wormwood-herb", "eu-thujone-artemisia-soft", 0.5 / 3.0),
        ("quassia-wood", "eu-quassin-soft", 0.25),  # 0.5 / 2
        ("cinchona-bark", "eu-quinine-soft", 1.0),  # 100 / 100
        ("peppermint-leaf", "eu-pulegone-soft", 5.0),  # 20 / 4
        ("star-anise", "eu-estragole-soft", 10.0 / 6.0),  # oil 100 mg/g x 6 % = 6 mg/g
        ("fennel-seed", "eu-estragole-soft", 10.0 / 6.0),  # oil 60 mg/g x 10 % = 6 mg/g
        ("nutmeg", "eu-methyleugenol-soft", 0.5),  # oil 100 mg/g x 2 % = 2 mg/g; 1 / 2
        ("nutmeg", "eu-safrole-soft", 0.2),  # 1 / 5
        ("cassia-bark", "old-coumarin-soft", 2.0 / 12.0),
    ],
)
def test_a_soft_cap_is_the_limit_over_the_worst_content(plant: str, rule: str, g_per_kg: float) -> None:
    plants = [PANTRY.ingredient("water"), PANTRY.ingredient(plant)]
    plant_kg = g_per_kg / 1000.0
    batch = batch_of(plants, [1.0 - plant_kg * gather(plants).content[1, :LIQUOR].sum(), plant_kg])
    row = caps()[rule]
    told = held_at_worst(batch, row, Rules())
    assert told == pytest.approx(row.most_mg, rel=1e-12)


def test_half_a_gram_of_liquorice_in_a_litre_is_the_most_without_a_warning() -> None:
    plants = [PANTRY.ingredient("water"), PANTRY.ingredient("liquorice-root")]
    batch = batch_of(plants, [0.95, 0.0005])  # 50 mg/L / 100 mg/g = 0.5 g per litre
    row = caps()["eu-glycyrrhizic-acid-soft"]
    told = held_at_worst(batch, row, Rules()) * batch.volume_l
    assert told == pytest.approx(50.0, rel=1e-12)


def test_every_soft_limit_is_below_that_for_drinks_with_alcohol_and_leaves_no_gap() -> None:
    soft_rows = [row for row in caps().rows if row.up_to_pct_vol == 1.2]
    strong_rows = [row for row in caps().rows if row.above_pct_vol is not None]
    assert len(soft_rows) >= 11
    assert {row.above_pct_vol for row in strong_rows} == {1.2}
    # Quinine in wine and in weak drinks is limited like in drinks without alcohol: FL 14.011.
    as_low = {"eu-quinine-weak", "eu-quinine-wine"}
    for strong in strong_rows:
        (weak,) = [row for row in soft_rows if row.counts == strong.counts and where(strong) <= where(row)]
        assert weak.most_mg == strong.most_mg if strong.id in as_low else weak.most_mg < strong.most_mg


def where(row: CapRow) -> set[str]:
    return set(JURISDICTIONS) if "any" in row.jurisdiction else set(row.jurisdiction)


@pytest.mark.parametrize(
    ("pct_vol", "weak"),
    [(0.0, True), (1.19, True), (1.2, True), (1.2001, False), (1.21, False), (40.0, False)],
)
def test_at_1_2_per_cent_a_drink_is_still_one_without_alcohol(pct_vol: float, weak: bool) -> None:
    assert caps()["eu-quassin-soft"].holds_between(pct_vol, pct_vol) is weak
    assert caps()["eu-quassin"].holds_between(pct_vol, pct_vol) is not weak


# ---- the optimum sits at the cap --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("plant", "rule", "most"),
    [
        ("wormwood-herb", "eu-thujone-artemisia-soft", 0.5),
        ("quassia-wood", "eu-quassin-soft", 0.5),
        ("cinchona-bark", "eu-quinine-soft", 100.0),
    ],
)
def test_pushed_by_its_price_a_plant_goes_to_its_soft_cap_and_no_further(
    tmp_path: Path, plant: str, rule: str, most: float
) -> None:
    targets = "  bitterness: like 4 g/L gentian-root"
    record = solve_bottle(soft(tmp_path, [plant, "gentian-root"], targets=targets)).record
    assert record.law is not None
    cap = next(cap for cap in record.law.caps if cap.rule == rule)
    assert cap.binding
    assert cap.value <= most
    assert cap.value == pytest.approx(most, rel=1e-5)
    assert at_worst_mg_kg(record, cap.substance) == pytest.approx(cap.value, rel=1e-9)
    # The figure for drinks with alcohol is another drink's: not told beside it.
    assert rule.removesuffix("-soft") not in rules_in(record.law)


@pytest.mark.parametrize(
    ("strength", "weak", "strong"),
    [
        ("0.6 ± 0.6 % vol", True, False),
        ("at most 5 % vol", True, True),  # may lie on both sides
        ("1.2 to 1.5 % vol", True, True),
        ("1.21 to 1.5 % vol", False, True),
        ("28 ± 0.3 % vol", False, True),
    ],
)
def test_a_band_on_both_sides_of_1_2_gets_the_cheaper_of_the_two(
    tmp_path: Path, strength: str, weak: bool, strong: bool
) -> None:
    solved = solve_bottle(soft(tmp_path, ["quassia-wood", "gentian-root"], strength))
    pct_vol = float(solved.record.predicted.strength_pct_vol)
    most = 0.5 if pct_vol <= 1.2 * (1.0 + 5e-7) else 1.5  # mg/kg
    assert at_worst_mg_kg(solved.record, "quassin") <= most
    problem = solved.formulation.problem
    asked = {limit.rule for limit in problem.limits}
    sides = {
        limit.rule
        for disjunction in problem.disjunctions
        for limit in disjunction.cases[-1].limits
        if "quassin" in limit.rule
    }
    assert ("eu-quassin-soft" in sides) is (weak and strong)
    assert ("eu-quassin-soft" in asked) is (weak and not strong)
    assert ("eu-quassin" in asked | sides) is strong


@pytest.mark.parametrize("band", [(0.5, 1.2), (1.2001, 5.0)])
def test_a_band_on_both_sides_is_never_dearer_than_one_side_of_it(
    tmp_path: Path, band: tuple[float, float]
) -> None:
    plants = ["quassia-wood", "gentian-root"]
    whole = solve_bottle(soft(tmp_path, plants, "0.5 to 5 % vol")).record
    side = solve_bottle(soft(tmp_path, plants, f"{band[0]} to {band[1]} % vol")).record
    assert whole.cost is not None
    assert side.cost is not None
    assert whole.cost.proven_gap is not None
    assert whole.cost.proven_gap <= 1e-6
    assert whole.cost.per_litre <= side.cost.per_litre * (1.0 + 2e-6)


def test_without_a_strength_asked_the_limits_of_the_strength_it_has_are_kept(tmp_path: Path) -> None:
    path = soft(tmp_path, ["quassia-wood", "gentian-root"])
    path.write_text(path.read_text("utf-8").replace(f"  strength: {WEAK}\n", ""), "utf-8")
    solved = solve_bottle(path)
    assert strength_asked(solved.formulation.problem.limits) == (0.0, np.inf)
    assert solved.record.law is not None
    assert solved.record.law.over == ()


def test_a_category_says_how_strong_it_is(tmp_path: Path) -> None:
    # A liqueur of the EU has 15 % vol at the least: no drink without alcohol.
    path = soft(tmp_path, ["quassia-wood", "gentian-root"])
    path.write_text(path.read_text("utf-8").replace(f"strength: {WEAK}", "category: liqueur (EU)"), "utf-8")
    solved = solve_bottle(path)
    assert strength_asked(solved.formulation.problem.limits)[0] == pytest.approx(15.0, rel=1e-4)
    assert "eu-quassin-soft" not in {limit.rule for limit in solved.formulation.problem.limits}


def test_sage_alone_is_no_drink_from_artemisia(tmp_path: Path) -> None:
    """0.5 mg/kg of thujone is for soft drinks from Artemisia; with wormwood in it sage counts for it too."""
    lines = {"water": "1 kg", "sage-leaf": "0.5 g"}
    bottle(tmp_path, ["gentian-root"], shelf_rules=EU)
    alone = predict_recipe(recipe(tmp_path, lines, name="sage.yaml"))
    assert rules_in(alone.law) == {"eu-thujone": pytest.approx(6.0, rel=1e-3)}  # 0.5 g x 12 mg/g in 1 kg
    both = predict_recipe(recipe(tmp_path, lines | {"wormwood-herb": "0.01 g"}, name="both.yaml"))
    assert rules_in(both.law)["eu-thujone-artemisia-soft"] == pytest.approx(6.1, rel=1e-3)
    assert both.law is not None
    assert [cap.rule for cap in both.law.over] == ["eu-thujone-artemisia-soft"]


# ---- by the strength it has -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("spirit_g", "over"),
    [
        ("10", ["eu-quassin-soft"]),  # 4 g of ethanol in 1 L: 0.5 % vol
        ("200", []),  # 80 g in 1 L: 8 % vol
    ],
)
def test_a_recipe_is_held_to_the_limits_of_its_own_strength(
    tmp_path: Path, spirit_g: str, over: list[str]
) -> None:
    bottle(tmp_path, ["gentian-root"], shelf_rules=EU)
    water = 1000 - int(spirit_g)
    lines = {"neutral-spirit-96": f"{spirit_g} g", "water": f"{water} g", "quassia-wood": "0.5 g"}
    lines["neutral-spirit-96"] = f"{0.4 * float(spirit_g)} g"
    record = predict_recipe(recipe(tmp_path, lines, name="r.yaml"))
    assert record.law is not None
    assert [cap.rule for cap in record.law.over] == over
    assert list(rules_in(record.law)) == (["eu-quassin-soft"] if over else ["eu-quassin"])


def test_a_drink_is_held_to_the_limits_of_its_strength_in_the_glass(tmp_path: Path) -> None:
    house = "house_made:\n  drops: {recipe: drops.yaml}\n"
    bottle(tmp_path, ["gentian-root"], shelf_rules=EU, more=house)
    recipe(tmp_path, {"vodka-40": "100 g", "quassia-wood": "1 g"}, name="drops.yaml")
    text = (
        "drink: Long\nshelf: shelf.yaml\nmethod: built\ningredients:\n  - {base}: 200 mL\n  - drops: 15 mL\n"
    )
    glass = write(tmp_path, "glass.yaml", text.format(base="vodka-40"))
    assert list(rules_in(pour_drink(glass).law)) == ["eu-quassin"]
    glass = write(tmp_path, "glass.yaml", text.format(base="water").replace("15 mL", "2 mL"))
    law = pour_drink(glass).law
    # 2 mL of 40 % in 200 mL and the melt: under 0.4 % vol.
    assert list(rules_in(law)) == ["eu-quassin-soft"]


def test_what_is_limited_without_alcohol_only_need_not_be_known_of_a_liqueur(tmp_path: Path) -> None:
    own = "ingredients:\n  anise-liqueur: {name: Anise liqueur, strength: 40 % vol}\n"
    bottle(tmp_path, ["gentian-root"], shelf_rules=EU, more=own)
    strong = predict_recipe(recipe(tmp_path, {"vodka-40": "1 kg", "anise-liqueur": "20 g"}, name="a.yaml"))
    weak = predict_recipe(recipe(tmp_path, {"water": "1 kg", "anise-liqueur": "20 g"}, name="b.yaml"))
    told = [[note.text for note in one.notes if note.code == "content_unknown"] for one in (strong, weak)]
    text = "What anise-liqueur holds of estragole is not known and not counted. Have it measured."
    assert told == [[], [text]]


# ---- nothing leads over ---------------------------------------------------------------------------------

PLANTS = ("wormwood-herb", "roman-wormwood-herb", "sage-leaf", "cinchona-bark", "quassia-wood")


@pytest.mark.parametrize("seed", range(4))
def test_no_job_makes_a_soft_drink_that_goes_over_a_limit(tmp_path: Path, seed: int) -> None:
    random = np.random.default_rng(seed)
    plants = [str(name) for name in random.choice(PLANTS, size=3, replace=False)]
    strength = ["at most 0.9 % vol", "0.6 ± 0.4 % vol", WEAK, "1 ± 0.2 % vol"][seed]
    aim = float(random.uniform(1.0, 3.0))
    steps = "" if seed % 2 else "steps:\n  - infuse: {loss: 3 %}\n  - finish: {fixed_loss: 40 g}\n"
    lines = [f"{name}: {{step: infuse}}" if steps else name for name in (*plants, "gentian-root")]
    house = "house_made:\n  drops: {recipe: drops.yaml}\n"
    more = "  horehound-herb: {price: 4 EUR/kg}\n" + house
    targets = f"  bitterness: like {aim:.2f} g/L gentian-root"
    path = soft(tmp_path, lines, strength, steps=steps, more=more, targets=targets)
    recipe(tmp_path, {"vodka-40": "100 g", plants[0]: "1 g"}, name="drops.yaml")
    check = keeps_the_soft_limits if not steps else is_lawful
    solved = solve_bottle(path)
    assert solved.record.law is not None
    assert any(cap.binding for cap in solved.record.law.caps)  # they push
    check(solved.record)
    check(weigh_solved(solved).record)
    answered = recipe_of(
        solved.formulation.bottle, solved.answer, bottle_path=path.name, shelf_path="shelf.yaml"
    )
    saved = write(tmp_path, "saved.yaml", dump_recipe(answered))
    check(predict_recipe(saved))
    check(scale_recipe(saved, "7 L bottled").drink)
    again = reformulate(saved, read_circumstances(without=[plants[0]])).record
    for way in (again.best, *again.others):
        is_lawful(way.drink)  # may hold the tincture
    check(buy_bottle(path).drink)
    stronger = f"  bitterness: like {1.5 * aim:.2f} g/L gentian-root"
    text = path.read_text("utf-8").replace(targets, stronger)
    wanted = write(tmp_path, "wanted.yaml", text.replace("  - gentian-root", "  - drops\n  - gentian-root"))
    adjusted = adjust_lot(lot_of_file(saved), open_bottle(wanted))
    if adjusted.status == "adjusted":
        assert adjusted.law is not None
        assert adjusted.law.over == ()
    problem, rules = solved.answer.problem, solved.formulation.rules
    materials = problem.chain.materials
    for _ in range(3):  # what is left of a pack is as good as free
        factors = {materials.ids.index(name): float(10.0 ** random.uniform(-4, 1)) for name in plants}
        other = at_prices(problem, factors, choices_of(solved.formulation))
        assert other is not None
        law = law_of(answered_batch(solved.formulation, other), rules)
        assert law.over == ()


def is_lawful(record: DrinkRecord) -> None:
    assert record.law is not None
    assert record.law.over == ()


@given(
    spirit=st.floats(0.0, 0.2),
    plants=st.lists(st.floats(0.0, 0.002), min_size=4, max_size=4),
    band=st.tuples(st.floats(0.0, 3.0), st.floats(0.0, 3.0)),
    where=st.sampled_from(["EU", "US", None]),
    loss=st.floats(0.0, 0.5),
)
def test_the_rows_for_a_band_cover_the_law_at_every_strength_in_it(
    spirit: float, plants: list[float], band: tuple[float, float], where: str | None, loss: float
) -> None:
    pantry = open_pantry(None, Places())
    names = ("vodka-40", "water", "wormwood-herb", "sage-leaf", "quassia-wood", "star-anise")
    steps = Step("infuse", loss_fraction=loss), Step("finish", strains=False)
    masses = [[spirit, 1.0, *plants], [0.0, 0.2, 0.0, 0.0, 0.0, 0.0]]
    batch = batch_of([pantry.ingredient(name) for name in names], masses, *steps)
    strength, volume = float(batch.drink.strength_pct_vol), batch.volume_l
    rules = Rules(where)
    law = law_of(batch, rules)
    low, high = min(*band, strength), max(*band, strength)
    rows, disjunctions = cap_limits(rules, batch.chain, range(len(names)), strengths=(low, high))
    slips = [
        row.violation(limit_value(row, batch.bottled / volume, batch.used_kg / volume, 1.0, 0.0))
        for row in rows
    ]
    broken = [
        one
        for one in disjunctions
        if not any(keeps(case, batch.masses_kg, batch.bottled, volume) for case in one.cases)
    ]
    if law.over:
        assert broken or max(slips) > 0.0
    if broken and not max(slips, default=0.0):
        assert law.over or law.too_weak


def test_the_nearest_recipe_is_held_to_the_limits_of_the_strength_it_has(tmp_path: Path) -> None:
    # There is no spirit on the list, so what was to be a liqueur is a syrup.
    path = bottle(tmp_path, ["quassia-wood"], rules=EU, targets="  bitterness: like 4 g/L gentian-root")
    path.write_text(path.read_text("utf-8").replace("  - neutral-spirit-96\n", ""), "utf-8")
    with pytest.raises(InfeasibleError) as caught:
        solve_bottle(path)
    nearest = nearest_recipe(caught.value.explanation)
    assert nearest is not None
    assert nearest.record.predicted.strength_pct_vol == pytest.approx(0.0, abs=1e-9)
    keeps_the_soft_limits(nearest.record)
    assert at_worst_mg_kg(nearest.record, "quassin") == pytest.approx(0.5, rel=1e-4)


def test_moving_the_strength_keeps_the_limits_of_every_strength_on_the_way(tmp_path: Path) -> None:
    path = soft(tmp_path, ["quassia-wood", "gentian-root"], "20 ± 0.3 % vol")
    far = trade_off(path, "strength", "10 % vol", "20 % vol", points=3)
    near = trade_off(path, "strength", "1 % vol", "20 % vol", points=3)
    at_20, again = near.points[-1].low, far.points[-1].low
    assert at_20 is not None
    assert at_20 == pytest.approx(again, rel=1e-6)  # the soft limit is not kept where it does not hold
    weak = solve_bottle(soft(tmp_path, ["quassia-wood", "gentian-root"], "1 to 1 % vol")).record
    assert weak.cost is not None
    assert near.points[0].low == pytest.approx(weak.cost.per_litre, rel=1e-6)
