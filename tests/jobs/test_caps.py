"""Limits on restricted substances: derived by hand, kept by the solver, lifted only in the open.

Figures: trade notes of the project, sections 3.1 to 3.4 (Reg. (EC) 1334/2008 Annexes III and IV, 21 CFR
172.510, 172.575, 189, Directive 88/388/EEC); contents of plants there are from memory.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pytest

from formulate.bar.pantry import Pantry
from formulate.bar.permitted import SERVE_L, Rules
from formulate.blend.chain import Chain, Step
from formulate.blend.materials import LIQUOR, gather
from formulate.describe.records import DrinkRecord
from formulate.errors import InfeasibleError, SpecError
from formulate.files.library import Library
from formulate.files.limit_rows import caps, contents
from formulate.formulation.caps import cap_limits
from formulate.jobs.label import label_file
from formulate.jobs.predict import predict_recipe
from formulate.jobs.solve import solve_bottle
from formulate.optimise.problem import Disjunction, Limit
from formulate.rules.law import held_at_worst
from formulate.rules.records import CapRecord
from tests.batches import batch_of
from tests.jobs.restricted_kitchen import at_worst_mg_kg, bottle, recipe

PANTRY = Pantry(None, Library.built_in())


def the_cap(record: DrinkRecord, rule: str) -> CapRecord:
    assert record.law is not None
    return next(cap for cap in record.law.caps if cap.rule == rule)


# ---- derived by hand ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("plant", "rule", "g_per_kg"),
    [
        # most mg/kg / worst mg/g = most g per kg of drink; the last column of the trade notes' table 3.4.
        ("wormwood-herb", "eu-thujone-artemisia", 3.5),  # 35 / 10
        ("wormwood-herb", "us-thujone", 1.0),  # 10 / 10
        ("roman-wormwood-herb", "eu-thujone-artemisia", 35.0 / 3.0),  # 35 / 3 = 11.67
        ("sage-leaf", "eu-thujone", 10.0 / 12.0),  # 10 / 12 = 0.83
        ("yarrow-herb", "eu-thujone", 10.0),  # 10 / 1
        ("cinchona-bark", "us-cinchona-alkaloids", 0.83),  # 83 / 100
        ("cinchona-bark", "eu-quinine", 2.5),  # 250 / 100
        ("quassia-wood", "eu-quassin", 0.75),  # 1.5 / 2
        ("cassia-bark", "old-coumarin", 10.0 / 12.0),  # 10 / 12 = 0.83
        ("nutmeg", "old-safrole", 0.4),  # 2 / 5
        ("peppermint-leaf", "eu-pulegone", 25.0),  # 100 / 4
        ("peppermint-leaf", "eu-menthofuran", 50.0),  # 200 / 4
    ],
)
def test_a_cap_is_the_limit_over_the_worst_content(plant: str, rule: str, g_per_kg: float) -> None:
    plants = [PANTRY.ingredient("vodka-40"), PANTRY.ingredient(plant)]
    plant_kg = g_per_kg / 1000.0
    # As much spirit as makes one kilogram of liquor with what the plant gives.
    batch = batch_of(plants, [1.0 - plant_kg * gather(plants).content[1, :LIQUOR].sum(), plant_kg])
    row = caps()[rule]
    assert held_at_worst(batch, row, Rules()) == pytest.approx(row.most_mg, rel=1e-12)


@pytest.mark.parametrize(
    ("plant", "rule", "g"),
    [
        ("liquorice-root", "eu-glycyrrhizic-acid", 3.0),  # 300 mg/L / 100 mg/g = 3 g per litre
        (
            "rhubarb-root",
            "laxative-serve",
            0.3 * 1000.0 / 44.4,
        ),  # 0.3 g in a serve of 44.4 mL, 40 mg/g: 12 mg
    ],
)
def test_a_limit_per_litre_or_per_serve_counts_what_is_weighed_in(plant: str, rule: str, g: float) -> None:
    batch = batch_of([PANTRY.ingredient("vodka-40"), PANTRY.ingredient(plant)], [0.95, g / 1000.0])
    row = caps()[rule]
    assert pytest.approx(0.0444) == SERVE_L  # 1.5 US fl oz
    # The figures above are of one litre bottled; here it is about that.
    value = held_at_worst(batch, row, Rules()) * batch.volume_l
    assert value == pytest.approx(row.most_mg, rel=1e-12)


def test_every_cap_counts_something_and_every_content_is_counted() -> None:
    brought = {row.counted_as for row in contents().rows}
    counted = {name for row in caps().rows for name in row.counts}
    assert brought == counted


def test_time_warmth_and_strength_do_not_lower_the_worst_case() -> None:
    plants = [PANTRY.ingredient(name) for name in ("vodka-40", "wormwood-herb")]
    short = Chain(gather(plants), (Step("dip", time_h=0.1, temperature_c=5.0),))
    masses = np.array([[1.0, 0.003]])
    column = short.materials.column("restricted:thujone-artemisia")
    run = short.run(masses)
    assert run.gross[0, column] == pytest.approx(0.003 * 10.0, rel=1e-12)  # all 30 mg
    bitter = short.materials.column("bitterness")
    # Of the bitterness hardly more than what is washed off at once.
    assert run.gross[0, bitter] < 0.5 * 0.003 * short.materials.content[1, bitter]


def test_a_cake_pressed_harder_cannot_lead_over_a_cap() -> None:
    # 100 g of a plant that keeps 3 kg/kg: 0.3 of 1 kg of spirit stays in the cake, and 1 kg of syrup
    # comes after it. As calculated: 0.7 S / 1.7; pressed dry: S / 2, and that is what is counted.
    plants = [PANTRY.ingredient(name) for name in ("vodka-40", "simple-syrup-1-1", "roman-wormwood-herb")]
    steps = Step("infuse"), Step("finish", strains=False)
    batch = batch_of(plants, [[1.0, 0.0, 0.1], [0.0, 1.0, 0.0]], *steps)
    materials, bottled = batch.chain.materials, batch.bottled
    put_in = batch.used_kg @ materials.content
    dry = 100.0 * 3.0 / float(put_in[:LIQUOR].sum())  # mg/kg
    as_calculated = 1000.0 * float(
        bottled[materials.column("restricted:thujone-artemisia")] / bottled[:LIQUOR].sum()
    )
    assert as_calculated < dry
    row = caps()["eu-thujone-artemisia"]
    assert held_at_worst(batch, row, Rules("EU")) == pytest.approx(dry, rel=1e-12)


def every_row(written: tuple[tuple[Limit, ...], tuple[Disjunction, ...]]) -> list[Limit]:
    """Those that always hold, and those that hold in some drinks."""
    limits, disjunctions = written
    return [*limits, *(limit for one in disjunctions for limit in one.cases[-1].limits)]


def test_a_tincture_stirred_in_after_a_loss_counts_on_what_is_left() -> None:
    # Half of 1 kg is lost in the first step; 10 g of the plant, 30 mg, go into what is left of it.
    plants = [PANTRY.ingredient(name) for name in ("vodka-40", "roman-wormwood-herb")]
    steps = Step("infuse", loss_fraction=0.5), Step("finish")
    batch = batch_of(plants, [[1.0, 0.0], [0.0, 0.01]], *steps)
    chain = batch.chain
    row = caps()["eu-thujone-artemisia"]
    assert held_at_worst(batch, row, Rules("EU")) == pytest.approx(30.0 / 0.5, rel=0.01)  # not 30 mg in 1 kg
    over = {
        str(one.over) for one in every_row(cap_limits(Rules("EU"), chain, late=(1,))) if one.rule == row.id
    }
    assert over == {"bottle", "masses"}
    early = [one for one in every_row(cap_limits(Rules("EU"), chain)) if one.rule == row.id]
    assert [str(one.over) for one in early] == ["masses"]


# ---- the optimum sits at the cap --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("plant", "where", "rule", "most"),
    [
        ("wormwood-herb", "EU", "eu-thujone-artemisia", 35.0),
        ("wormwood-herb", "UK", "eu-thujone-artemisia", 35.0),
        ("wormwood-herb", "US", "us-thujone", 10.0),
        ("sage-leaf", "EU", "eu-thujone", 10.0),
        ("cinchona-bark", "EU", "eu-quinine", 250.0),
        ("cinchona-bark", "US", "us-cinchona-alkaloids", 83.0),
        ("quassia-wood", "EU", "eu-quassin", 1.5),
    ],
)
def test_pushed_by_its_price_a_plant_goes_to_its_cap_and_no_further(
    tmp_path: Path, plant: str, where: str, rule: str, most: float
) -> None:
    record = solve_bottle(bottle(tmp_path, [plant, "gentian-root"], rules=f"jurisdiction: {where}")).record
    cap = the_cap(record, rule)
    assert cap.binding
    assert not cap.over
    assert cap.value == pytest.approx(most, rel=1e-5)
    assert cap.value <= most
    by_hand = at_worst_mg_kg(record, cap.substance)
    assert by_hand == pytest.approx(cap.value, rel=1e-9)
    assert cap.source.startswith("specs/standards/restricted-substances.yaml:")
    assert cap.brought_by == ((plant, 1.0),)


def test_a_cap_costs_money_and_gives_way_to_a_measured_lot(tmp_path: Path) -> None:
    capped = solve_bottle(bottle(tmp_path, ["wormwood-herb", "gentian-root"], rules="jurisdiction: EU"))
    own = """\
ingredients:
  wormwood-herb:
    based_on: wormwood-herb
    restricted: {thujone: 2 mg/g}
    sources: [{figures: [restricted], source: laboratory sheet of lot 12, confidence: measured here}]
"""
    measured = solve_bottle(
        bottle(tmp_path, ["wormwood-herb", "gentian-root"], rules="jurisdiction: EU", more=own)
    )
    assert measured.record.cost is not None
    assert capped.record.cost is not None
    assert measured.record.cost.per_litre < capped.record.cost.per_litre
    notes = {note.code: note for note in measured.record.notes}
    assert notes["own_content"].text == (
        "Your own figure of 2 mg/g thujone in wormwood-herb was counted instead of the worst case of 10."
    )
    assert notes["own_content"].source == "laboratory sheet of lot 12"


def test_wormwood_does_not_open_its_higher_cap_to_sage(tmp_path: Path) -> None:
    # The law gives 35 mg/kg to drinks from Artemisia; the sage in one still has its own 10.
    targets = "  bitterness: like 2 g/L gentian-root"
    path = bottle(
        tmp_path, ["wormwood-herb", "sage-leaf: {at_least: 0.9 g per L bottled}"], targets=targets,
        rules="jurisdiction: EU",
    )  # fmt: skip
    with pytest.raises(InfeasibleError) as caught:  # 0.9 g/L x 12 mg/g = 10.8 mg in 1.04 kg is 10.4 mg/kg
        solve_bottle(path)
    assert "thujone (eu-thujone)" in [
        member.limit.origin.name for member in caught.value.explanation.explanation.clash
    ]


# ---- whose law ----------------------------------------------------------------------------------------


def test_without_a_jurisdiction_the_strictest_applies_and_is_told(tmp_path: Path) -> None:
    record = solve_bottle(bottle(tmp_path, ["wormwood-herb", "gentian-root"])).record
    assert record.law is not None
    assert record.law.jurisdiction is None
    assert record.law.caps[0].rule == "us-thujone"  # 10 mg/kg, where the EU allows 35
    assert record.law.caps[0].value == pytest.approx(10.0, rel=1e-5)
    assert "the strictest of the EU, the US and the UK applies" in next(
        note.text for note in record.notes if note.code == "no_jurisdiction"
    )


def test_the_bottle_speaks_before_the_shelf(tmp_path: Path) -> None:
    plants = ["wormwood-herb", "gentian-root"]
    shelf = solve_bottle(bottle(tmp_path, plants, shelf_rules="jurisdiction: US")).record
    both = solve_bottle(
        bottle(tmp_path, plants, shelf_rules="jurisdiction: US", rules="jurisdiction: EU")
    ).record
    assert shelf.law is not None
    assert both.law is not None
    assert (shelf.law.jurisdiction, both.law.jurisdiction) == ("US", "EU")
    assert not [note for note in (*shelf.notes, *both.notes) if note.code == "no_jurisdiction"]


def test_a_drink_without_restricted_plants_says_nothing_of_them(tmp_path: Path) -> None:
    record = solve_bottle(bottle(tmp_path, ["gentian-root"])).record
    assert record.law is not None
    assert record.law.caps == ()
    assert not [note for note in record.notes if note.code in ("no_jurisdiction", "usual_serve")]


def test_the_serve_of_the_bottle_counts(tmp_path: Path) -> None:
    # 12 mg in a serve; 40 mg/g: 0.3 g in 30 mL is 10 g/L, in 60 mL 5 g/L. 8 g/L lies between.
    line, targets = "rhubarb-root: {exactly: 8 g per L bottled}", ""
    record = solve_bottle(
        bottle(tmp_path, [line], targets=targets, rules="serve: 30 mL\njurisdiction: EU")
    ).record
    assert the_cap(record, "laxative-serve").value == pytest.approx(8.0 * 40.0 * 0.030, rel=1e-6)
    with pytest.raises(InfeasibleError):
        solve_bottle(bottle(tmp_path, [line], targets=targets, rules="serve: 60 mL\njurisdiction: EU"))


def test_a_drop_is_no_serve(tmp_path: Path) -> None:
    """12 mg in a serve of at least 15 mL: 40 mg/g x 25 g/L x 15 mL are 15 mg, though 1 mL holds 1 mg."""
    rules = "serve: 1 mL\njurisdiction: EU"
    with pytest.raises(InfeasibleError):
        solve_bottle(
            bottle(tmp_path, ["rhubarb-root: {exactly: 25 g per L bottled}"], targets="", rules=rules)
        )
    line = "rhubarb-root: {exactly: 15 g per L bottled}"
    record = solve_bottle(bottle(tmp_path, [line], targets="", rules=rules)).record
    assert the_cap(record, "laxative-serve").value == pytest.approx(15.0 * 40.0 * 0.015, rel=1e-6)


def test_a_label_holds_the_limits_for_its_own_serve(tmp_path: Path) -> None:
    """8 g/L of 40 mg/g: 9.6 mg in 30 mL, 19.2 mg in 60 mL, and 12 mg is the most."""
    line = "rhubarb-root: {exactly: 8 g per L bottled}"
    path = bottle(tmp_path, [line], targets="", rules="serve: 30 mL\njurisdiction: EU")
    small, large = label_file(path), label_file(path, serve=0.060)
    assert small.law is not None
    assert large.law is not None
    assert small.law.over == ()
    (cap,) = large.law.over
    assert (cap.rule, large.serve_l) == ("laxative-serve", 0.060)
    assert cap.value == pytest.approx(19.2, rel=1e-6)
    assert "over_limit" in {note.code for note in large.notes}


# ---- lifting ------------------------------------------------------------------------------------------

LIFTED = "lifted: [{{limit: {limit}, name: bar manager, reason: for the test kitchen, date: 2026-11-20}}]"


def test_what_is_not_toxic_may_be_lifted_by_name_reason_and_date(tmp_path: Path) -> None:
    plant = "cassia-bark: {exactly: 2 g per L bottled}"  # 24 mg in about 1.04 kg, over the old 10
    kept = bottle(tmp_path, [plant], targets="", rules="jurisdiction: EU")
    with pytest.raises(InfeasibleError):
        solve_bottle(kept)
    rules = "jurisdiction: EU\n" + LIFTED.format(limit="old-coumarin")
    record = solve_bottle(bottle(tmp_path, [plant], targets="", rules=rules)).record
    cap = the_cap(record, "old-coumarin")
    assert cap.over
    assert cap.lifted is not None
    assert record.law is not None
    assert record.law.over == ()
    assert record.notes[0].code == "limit_lifted"
    assert record.notes[0].text == (
        "NOT KEPT: coumarin, 10 mg/kg (old-coumarin), lifted by bar manager on 2026-11-20: for the test "
        "kitchen."
    )


def test_a_limit_is_not_lifted_from_a_day_still_to_come(tmp_path: Path) -> None:
    rules = "jurisdiction: EU\n" + LIFTED.format(limit="old-coumarin")
    path = bottle(tmp_path, ["cassia-bark: {exactly: 2 g per L bottled}"], targets="", rules=rules)
    solve_bottle(path, date(2026, 11, 20))
    with pytest.raises(SpecError) as raised:
        solve_bottle(path, date(2026, 11, 19))
    (problem,) = raised.value.problems
    assert problem.path == "lifted.0.date"
    assert problem.message == "is still to come: today is 2026-11-19. Check the date."


def test_a_label_tells_what_is_lifted_and_whose_law_counts(tmp_path: Path) -> None:
    plant = "cassia-bark: {exactly: 2 g per L bottled}"
    rules = LIFTED.format(limit="old-coumarin")
    record = label_file(bottle(tmp_path, [plant], targets="", rules=rules))
    assert {"limit_lifted", "no_jurisdiction"} <= {note.code for note in record.notes}
    plain = label_file(bottle(tmp_path, ["gentian-root"]))
    assert not {"limit_lifted", "no_jurisdiction"} & {note.code for note in plain.notes}


@pytest.mark.parametrize("limit", ["eu-thujone", "us-hydrocyanic-acid", "eu-quinine", "eu-beta-asarone"])
def test_what_is_toxic_cannot_be_lifted(tmp_path: Path, limit: str) -> None:
    path = bottle(tmp_path, ["gentian-root"], rules=LIFTED.format(limit=limit))
    with pytest.raises(SpecError) as caught:
        solve_bottle(path)
    (problem,) = caught.value.problems
    assert problem.location is not None
    assert (problem.location.line, problem.path) == (4, "lifted.0.limit")
    assert problem.message.startswith(f"{limit} cannot be lifted: ")


def test_lifting_names_a_limit_a_person_a_reason_and_a_day(tmp_path: Path) -> None:
    path = bottle(tmp_path, ["gentian-root"], rules="lifted: [{limit: old-coumarin, date: yesterday}]")
    with pytest.raises(SpecError) as caught:
        solve_bottle(path)
    told = sorted(problem.message.partition(".")[0] for problem in caught.value.problems)
    assert told == ["'name' is missing", "'reason' is missing", "must be a day, got yesterday"]
    blank = "lifted: [{limit: old-coumarin, name: ' ', reason: ' ', date: 2026-11-20}]"
    with pytest.raises(SpecError) as caught:
        solve_bottle(bottle(tmp_path, ["gentian-root"], rules=blank))
    assert len(caught.value.problems) == 2
    assert all(problem.message.startswith("must be words") for problem in caught.value.problems)
    with pytest.raises(SpecError, match="no limit called 'coumarin'"):
        solve_bottle(bottle(tmp_path, ["gentian-root"], rules=LIFTED.format(limit="coumarin")))


# ---- prohibited -----------------------------------------------------------------------------------------

OWN = """\
ingredients:
  {name}: {{name: A plant, {latin}composition: {{water: 10 % w/w}}, family: spice}}
"""


@pytest.mark.parametrize(
    ("name", "latin", "where", "rule"),
    [
        ("tonka-bean", "latin: Dipteryx odorata, ", "US", "21 CFR 189.130"),
        ("brown-bean", "latin: Dipteryx odorata, ", "US", "21 CFR 189.130"),
        ("tonka-bean", "", "US", "21 CFR 189.130"),
        ("calamus-root", "latin: Acorus calamus var. americanus, ", "US", "21 CFR 189.110"),
        ("calamus-root", "latin: Acorus calamus, ", "EU", "1334/2008 Annex IV"),
        ("calamus-root", "latin: Acorus calamus, ", "UK", "1334/2008 Annex IV"),
        ("snakeroot", "latin: Aristolochia serpentaria, ", "EU", "FDA Import Alert 54-10"),
        ("white-hellebore", "", "US", "our own judgement"),
        ("coumarin", "", "EU", "1334/2008 Annex III part A"),
        ("safrole", "", "US", "189.180"),
        ("quinine-sulfate", "", "US", "21 CFR 172.575"),
    ],
)
def test_what_is_prohibited_is_refused_with_one_error_at_its_line(
    tmp_path: Path, name: str, latin: str, where: str, rule: str
) -> None:
    path = bottle(
        tmp_path,
        [f"{name}: {{at_most: 1 g per L bottled}}"],
        rules=f"jurisdiction: {where}",
        more=f"  {name}: {{price: 90 EUR/kg}}\n" + OWN.format(name=name, latin=latin),
    )
    with pytest.raises(SpecError) as caught:
        solve_bottle(path)
    (problem,) = caught.value.problems
    assert problem.location is not None
    assert problem.location.file.endswith("bottle.yaml")
    assert problem.location.line == 14
    assert problem.message.startswith(f"{name} may not be used. ")
    assert rule in problem.message
    made = recipe(tmp_path, {"vodka-40": "1 kg", name: "0.01 g"}, name="r.yaml")
    with pytest.raises(SpecError, match="may not be used"):
        predict_recipe(made)


@pytest.mark.parametrize(
    ("name", "latin", "where"),
    [
        ("tonka-bean", "latin: Dipteryx odorata, ", "EU"),  # limited by its coumarin there, not prohibited
        ("calamus-root", "latin: Acorus calamus var. americanus, ", "EU"),  # diploid
    ],
)
def test_what_is_allowed_somewhere_is_capped_there(tmp_path: Path, name: str, latin: str, where: str) -> None:
    path = bottle(
        tmp_path,
        [f"{name}: {{at_least: 0.01 g per L bottled}}", "gentian-root"],
        rules=f"jurisdiction: {where}",
        more=f"  {name}: {{price: 90 EUR/kg}}\n" + OWN.format(name=name, latin=latin),
    )
    record = solve_bottle(path).record
    assert record.law is not None
    assert [cap.brought_by[0][0] for cap in record.law.caps] == [name]


def test_a_plant_keeps_its_content_under_another_name_or_latin(tmp_path: Path) -> None:
    more = """\
  sleepy-leaf: {price: 9 EUR/kg}
ingredients:
  sleepy-leaf: {based_on: sage-leaf, latin: Somnia mendax}
  wormwood-herb: {name: Our wormwood, family: herb, composition: {water: 8 % w/w}}
"""
    bottle(tmp_path, ["gentian-root"], more=more, shelf_rules="jurisdiction: EU")
    lines = {"vodka-40": "1 kg", "sleepy-leaf": "0.5 g", "wormwood-herb": "1 g"}
    record = predict_recipe(recipe(tmp_path, lines, name="r.yaml"))
    # 0.5 g x 12 mg/g of sage and 1 g x 10 mg/g of wormwood: 6 and 16 mg in a kilogram and a little.
    assert the_cap(record, "eu-thujone").value == pytest.approx(6.0, rel=2e-3)
    assert the_cap(record, "eu-thujone-artemisia").value == pytest.approx(16.0, rel=2e-3)


@pytest.mark.parametrize(
    ("restricted", "sources", "message"),
    [
        ("{thujon: 1 mg/g}", "[{figures: [restricted], source: lab, confidence: measured here}]", "thujone"),
        ("{thujone: 0 mg/g}", "[{figures: [restricted], source: lab, confidence: measured here}]", "nothing"),
        ("{thujone: 1 mg/g}", "[]", "needs its source"),
    ],
)
def test_an_own_figure_needs_a_name_a_size_and_a_source(
    tmp_path: Path, restricted: str, sources: str, message: str
) -> None:
    more = (
        f"ingredients:\n  sage-leaf: {{based_on: sage-leaf, restricted: {restricted}, sources: {sources}}}\n"
    )
    path = bottle(tmp_path, ["sage-leaf"], more=more)
    with pytest.raises(SpecError, match=message) as caught:
        solve_bottle(path)
    (problem,) = caught.value.problems
    assert problem.location is not None
    assert problem.location.file.endswith("shelf.yaml")


# ---- in alcohol only ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("plant", "where", "strength", "allowed"),
    [
        ("centaury-herb", "US", "0.1 ± 0.1 % vol", False),  # 21 CFR 172.510: alcoholic beverages only
        ("centaury-herb", "US", "0.6 ± 0.1 % vol", True),
        ("centaury-herb", "EU", "0.1 ± 0.1 % vol", True),
        ("artichoke-leaf", "US", "0.1 ± 0.1 % vol", False),
        ("artichoke-leaf", "US", "at most 5 % vol", True),  # then at least half a per cent of it
    ],
)
def test_some_plants_go_into_alcohol_only(
    tmp_path: Path, plant: str, where: str, strength: str, allowed: bool
) -> None:
    path = bottle(
        tmp_path,
        [f"{plant}: {{exactly: 1 g per L bottled}}"],
        rules=f"jurisdiction: {where}",
        targets="",
        more=f"  {plant}: {{price: 20 EUR/kg}}\n",
    )
    path.write_text(path.read_text("utf-8").replace("28 ± 0.3 % vol", strength), "utf-8")
    if not allowed:
        with pytest.raises(InfeasibleError, match="plants for alcoholic drinks only"):
            solve_bottle(path)
        return
    record = solve_bottle(path).record
    assert record.law is not None
    assert not record.law.broken
    if where == "US":
        assert record.predicted.strength_pct_vol >= 0.5


def test_a_cordial_with_such_a_plant_is_told(tmp_path: Path) -> None:
    bottle(tmp_path, ["gentian-root"], shelf_rules="jurisdiction: US")
    record = predict_recipe(
        recipe(
            tmp_path, {"water": "1 kg", "white-sugar": "600 g", "centaury-herb": "1 g"}, name="cordial.yaml"
        )
    )
    assert record.law is not None
    assert record.law.broken
    assert record.notes[0].text.startswith(
        "NOT ALLOWED: centaury-herb may go into drinks of 0.5 % vol and more"
    )
