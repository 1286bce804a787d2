"""Batches put right: by hand, by regulation, by the hundred, and where adding does not help."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from conftest import ROOT, RunCommand

from formulate.describe.adjust_record import Adjustment
from formulate.errors import FormulateError, ReadingError, SpecError, UnitError
from formulate.formulation.bottle import Formulation
from formulate.jobs.adjust import adjust_lot, adjust_texts, card_rows, open_bottle
from formulate.learn.lot import Lot, lot_of_figures, lot_of_file
from formulate.learn.putting_right import THIS, candidates_of, question_of
from formulate.optimise.least_change import smaller_addition
from formulate.physics.mixture import INDEX, acid_g_l, strength_pct_vol, sugar_g_l, volume_l
from formulate.physics.strength import SIXTY_FAHRENHEIT_C, abv_from_mass_fraction, mass_fraction_from_abv

SHELF = """\
currency: EUR
offers:
  neutral-spirit-96: {price: 24 EUR/L}
  vodka-40: {price: 12 EUR/L}
  sugar: {price: 1.20 EUR/kg}
  citric: {price: 9 EUR/kg}
  raspberry: {price: 8 EUR/kg}
  wormwood-herb: {price: 35 EUR/kg}
ingredients:
  sugar:
    name: Pure sugar
    composition: {sucrose: 100 % w/w}
    sources: [{figures: [composition], source: by definition, confidence: measured here}]
  citric:
    name: Pure citric acid
    composition: {citric_acid: 100 % w/w}
    sources: [{figures: [composition], source: by definition, confidence: measured here}]
"""

BOTTLE = """\
name: Test
size: 1 L bottled
shelf: shelf.yaml
targets:
TARGETS
ingredients:
INGREDIENTS
"""


def _aims(folder: Path, targets: str, *ingredients: str) -> Formulation:
    (folder / "shelf.yaml").write_text(SHELF, encoding="utf-8")
    text = BOTTLE.replace("TARGETS", "\n".join(f"  {line}" for line in targets.split("; ")))
    text = text.replace("INGREDIENTS", "\n".join(f"  - {name}" for name in ingredients))
    path = folder / "bottle.yaml"
    path.write_text(text, encoding="utf-8")
    return open_bottle(path)


def _masses(record: Adjustment) -> dict[str, float]:
    return {addition.ingredient: addition.mass_kg for addition in record.additions}


# --- by hand and by regulation ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "to", "water_ml"),
    # OIML R 22 at 20 C, worked by hand from its densities: mL of water for one litre of the start.
    [(96, 40, 1470.5), (96, 50, 980.2), (96, 70, 407.8), (95, 40, 1442.8), (70, 40, 774.9), (60, 40, 513.9)],
)
def test_water_that_reduces_a_spirit(start: int, to: int, water_ml: float, tmp_path: Path) -> None:
    aims = _aims(tmp_path, f"strength: exactly {to} % vol", "neutral-spirit-96", "sugar")
    record = adjust_lot(lot_of_figures(2.0, start, 0.0), aims)
    masses = _masses(record)
    assert set(masses) == {"water"}
    assert masses["water"] / 0.998201 * 1000.0 == pytest.approx(2.0 * water_ml, abs=0.15)
    assert record.proved


@pytest.mark.parametrize(
    ("proof", "to", "gallons"),
    # 27 CFR 30.66 with Table 6 (60 F): (from/to) x water(to) - water(from), gallons per 100. Unrounded
    # by the densities of OIML R 22 they are 1.884 and 12.429; the regulation prints 1.84 (it rounds the ratio
    # of strengths to 1.01) and 12.42.
    [(191.0, 188.0, 1.884), (112.0, 100.0, 12.429), (188.0, 100.0, 93.664)],
)
def test_reduction_of_the_gauging_manual(proof: float, to: float, gallons: float, tmp_path: Path) -> None:
    fraction, after = (mass_fraction_from_abv(p / 2.0, SIXTY_FAHRENHEIT_C) for p in (proof, to))
    wanted = abv_from_mass_fraction(after)
    aims = _aims(tmp_path, f"strength: exactly {wanted:.12f} % vol", "vodka-40")
    # 100 gal at 60 F: the volume at 20 C follows from the mass; densities at 60 F from OIML R 22.
    from formulate.physics.density import density_ethanol_water

    at_60f = 140.0 / 9.0
    mass_kg = 100.0 * 3.785411784 * float(density_ethanol_water(fraction, at_60f)) / 1000.0
    liquor = np.zeros(15)
    liquor[INDEX["ethanol"]], liquor[INDEX["water"]] = mass_kg * fraction, mass_kg * (1.0 - fraction)
    record = adjust_lot(Lot("spirit", liquor), aims)
    water_gal = _masses(record)["water"] / (float(density_ethanol_water(0.0, at_60f)) / 1000.0) / 3.785411784
    assert set(_masses(record)) == {"water"}
    assert water_gal == pytest.approx(gallons, abs=0.001)


def test_sweetening_line_by_line(tmp_path: Path) -> None:
    """1.000 L of 40 % vol to 30 % vol and 200 g/L, with a pencil.

    1. In it: 400 mL of alcohol = 315.70 g; the litre weighs 948.05 g (OIML R 22), so 632.35 g of water.
    2. At 30 % vol 400 mL of alcohol make 400/0.30 = 1333.3 mL.
    3. Sugar: 200 g/L of that, 266.67 g.
    4. A litre at 30 % vol and 200 g/L holds 601.6 g of water (our own model, worked elsewhere): 802.1 g.
    5. Water to add: 802.1 - 632.35 = 169.8 g.
    """
    aims = _aims(tmp_path, "strength: exactly 30 % vol; sugar: exactly 200 g/L", "vodka-40", "sugar")
    record = adjust_lot(lot_of_figures(1.0, 40.0, 0.0), aims)
    masses = _masses(record)
    assert set(masses) == {"water", "sugar"}
    assert masses["sugar"] * 1000.0 == pytest.approx(266.67, abs=0.01)
    assert masses["water"] * 1000.0 == pytest.approx(169.8, abs=0.1)
    assert record.drink is not None
    assert record.drink.volume_l == pytest.approx(4.0 / 3.0, abs=1e-5)


def test_souring_by_hand(tmp_path: Path) -> None:
    # 2 L with 4 g/L to at least 6 g/L: x grams in 2 + 0.597e-3 x litres (citric acid 0.597 mL/g, CRC).
    aims = _aims(tmp_path, "acid: at least 6 g/L", "citric", "sugar")
    record = adjust_lot(lot_of_figures(2.0, 20.0, 150.0, 4.0), aims)
    by_hand = 4.0 / (1.0 - 6.0 * 0.597e-3)
    assert _masses(record)["citric"] * 1000.0 == pytest.approx(by_hand, abs=0.01)


def test_fortification_uses_the_stronger_spirit_for_least_mass(tmp_path: Path) -> None:
    aims = _aims(tmp_path, "strength: at least 25 % vol", "vodka-40", "neutral-spirit-96")
    lot = lot_of_figures(5.0, 20.0, 100.0)
    assert set(_masses(adjust_lot(lot, aims))) == {"neutral-spirit-96"}
    # Per litre of alcohol vodka costs 12/0.40 = 30, the neutral spirit 24/0.96 = 25 and dilutes less.
    assert set(_masses(adjust_lot(lot, aims, cheapest=True))) == {"neutral-spirit-96"}


def test_nothing_to_add_to_what_is_right(tmp_path: Path) -> None:
    aims = _aims(tmp_path, "strength: 20 ± 0.3 % vol; sugar: 150 ± 5 g/L", "vodka-40", "sugar")
    record = adjust_lot(lot_of_figures(3.0, 20.1, 152.0), aims)
    assert (record.status, record.additions) == ("nothing", ())


# --- the least ------------------------------------------------------------------------------------


def test_no_smaller_addition_among_many(tmp_path: Path) -> None:
    """Against a plain search: 60 000 mixtures of spirit, water and sugar, the lightest that is in."""
    targets = "strength: 21.7 to 22.3 % vol; sugar: 175 to 185 g/L"
    aims = _aims(tmp_path, targets, "vodka-40", "sugar")
    lot = lot_of_figures(4.4, 19.8, 212.0, 6.0)
    record = adjust_lot(lot, aims)
    spirit = np.zeros(15)
    spirit[INDEX["ethanol"]], spirit[INDEX["water"]] = 0.332996, 0.667004
    vodka, water = np.meshgrid(np.linspace(0.3, 0.9, 601), np.linspace(0.0, 0.3, 101), indexing="ij")
    mixed = lot.liquor_kg + vodka[..., None] * spirit
    mixed[..., INDEX["water"]] += water
    strength, sugar = strength_pct_vol(mixed), sugar_g_l(mixed)
    fits = (strength >= 21.7) & (strength <= 22.3) & (sugar >= 175.0) & (sugar <= 185.0)
    assert record.proved
    assert record.added_kg <= (vodka + water)[fits].min() * 1.0000001
    assert record.added_kg >= (vodka + water)[fits].min() * 0.99


def test_a_smaller_addition_is_found_where_there_is_one(tmp_path: Path) -> None:
    """Given the cheapest, which is heavier, the proof must not say that nothing is lighter."""
    aims = _aims(tmp_path, "strength: 21.7 to 22.3 % vol; sugar: 175 to 185 g/L", "vodka-40", "sugar")
    lot = lot_of_figures(4.4, 19.8, 212.0)
    question = question_of(lot, aims, candidates_of(aims, ()), None, False, None)
    masses = {THIS: lot.mass_kg, **_masses(adjust_lot(lot, aims, cheapest=True))}
    known = np.array([masses.get(ingredient.id, 0.0) for ingredient in question.ingredients])
    cheap = adjust_lot(lot, aims, cheapest=True)
    assert cheap.drink is not None
    found, proved = smaller_addition(
        question.problem, question.weights, known, float(cheap.drink.volume_l), 1e-3
    )
    assert not proved
    assert found is not None
    assert found[0] == pytest.approx(lot.mass_kg)
    assert found[1:].sum() < known[1:].sum() * 0.999


def test_cheapest_is_cheaper_and_least_is_less(tmp_path: Path) -> None:
    aims = _aims(tmp_path, "strength: 21.7 to 22.3 % vol; sugar: 175 to 185 g/L", "vodka-40", "sugar")
    lot = lot_of_figures(4.4, 19.8, 212.0)
    least, cheapest = adjust_lot(lot, aims), adjust_lot(lot, aims, cheapest=True)

    def cost(record: Adjustment) -> float:
        return sum(addition.cost or 0.0 for addition in record.additions)

    assert least.added_kg < cheapest.added_kg
    assert cost(cheapest) < cost(least)


def _random_cases() -> list[tuple[str, tuple[float, ...]]]:
    rng = np.random.default_rng(4)
    cases = []
    for _ in range(200):
        strength, sugar, acid = rng.uniform(15, 45), rng.uniform(20, 320), rng.uniform(2, 9)
        aim = f"strength: {strength:.2f} ± 0.3 % vol; sugar: {sugar:.1f} ± 5 g/L; acid: {acid:.2f} ± 0.5 g/L"
        off = (
            rng.uniform(0.5, 20.0),
            max(strength + rng.normal(0, 3), 0.0),
            max(sugar + rng.normal(0, 30), 0.0),
            max(acid + rng.normal(0, 1.5), 0.0),
        )
        cases.append((aim, off))
    return cases


# g/g of what may be added, by hand: 40 % vol is 33.2996 and 96 % vol is 93.8384 % by mass (OIML R 22).
CONTENT = {
    "water": {"water": 1.0},
    "vodka-40": {"ethanol": 0.33299555, "water": 0.66700445},
    "neutral-spirit-96": {"ethanol": 0.93838360, "water": 0.06161640},
    "sugar": {"sucrose": 1.0},
    "citric": {"citric_acid": 1.0},
}


@pytest.mark.slow
def test_two_hundred_batches_come_right(tmp_path: Path) -> None:
    """Every suggestion, added to the batch component by component, lands inside every aim."""
    statuses = {"nothing": 0, "adjusted": 0, "impossible": 0}
    aims = _aims(
        tmp_path, "strength: 20 ± 0.3 % vol; sugar: 100 ± 5 g/L; acid: 5 ± 0.5 g/L", *list(CONTENT)[1:]
    )
    for targets, (volume, strength, sugar, acid) in _random_cases():
        bands = [part.split(": ")[1].split() for part in targets.split("; ")]
        asked = [limit for limit in aims.problem.limits if limit.is_target]
        limits = [
            *(_band(limit, float(band[0]), float(band[2])) for limit, band in zip(asked, bands, strict=True)),
            *(limit for limit in aims.problem.limits if not limit.is_target),
        ]
        here = Formulation(
            aims.bottle, aims.pantry, aims.ingredients, aims.problem.asking(limits), None, aims.size_text
        )
        lot = lot_of_figures(volume, strength, sugar, acid)
        record = adjust_lot(lot, here)
        statuses[record.status] += 1
        if record.status == "impossible":
            continue
        assert record.proved
        mixed = lot.liquor_kg.copy()
        for name, mass in _masses(record).items():
            for component, share in CONTENT[name].items():
                mixed[INDEX[component]] += mass * share
        for value, band in zip(
            (strength_pct_vol(mixed), sugar_g_l(mixed), acid_g_l(mixed)), bands, strict=True
        ):
            assert abs(float(value) - float(band[0])) <= float(band[2]) + 2e-5
        assert record.drink is not None
        assert record.drink.volume_l == pytest.approx(float(volume_l(mixed)), rel=1e-6)
    # Spirit of 96 % vol, water, sugar and acid reach every aim from every side.
    assert statuses["impossible"] == 0
    assert statuses["adjusted"] > 180


def _band(limit, middle: float, half: float):  # type: ignore[no-untyped-def]
    from dataclasses import replace

    return replace(
        limit, lower=max(middle - half, 0.0) / limit.display, upper=(middle + half) / limit.display
    )


# --- where adding does not help, and what else may ---------------------------------------------------


def test_too_sweet_without_room_is_said_plainly(tmp_path: Path) -> None:
    aims = _aims(tmp_path, "strength: 20 ± 0.3 % vol; sugar: 150 ± 5 g/L", "vodka-40", "sugar")
    lot = lot_of_figures(4.0, 20.0, 260.0)
    assert adjust_lot(lot, aims).status == "adjusted"
    record = adjust_lot(lot, aims, room_l=5.0)
    assert record.status == "impossible"
    assert record.clash
    told = " ".join(note.text for note in record.notes)
    assert "Too much sugar: only thinning lowers it" in told
    assert "--blend-with" in told


def test_blending_with_another_batch(tmp_path: Path) -> None:
    # 4 L with 260 g/L and 20 % vol against as much as needed of one with 80 g/L and the same strength: the
    # sum of sugars over the sum of volumes is 155 where the other is (260 - 155)/(155 - 80) x 4 = 5.6 L;
    # mixing two drinks of one strength changes volume by less than 0.1 %, and 0.02 % vol leave room for
    # less than 10 g of water.
    aims = _aims(tmp_path, "strength: 20 ± 0.02 % vol; sugar: 150 ± 5 g/L", "sugar")
    other = lot_of_figures(20.0, 20.0, 80.0)
    record = adjust_lot(lot_of_figures(4.0, 20.0, 260.0), aims, other=other)
    masses = _masses(record)
    assert masses.pop("other-batch") == pytest.approx(5.6 * other.mass_kg / 20.0, rel=0.005)
    assert sum(masses.values()) < 0.012
    assert record.proved
    little = lot_of_figures(1.0, 20.0, 80.0)
    assert adjust_lot(lot_of_figures(4.0, 20.0, 260.0), aims, other=little, room_l=5.5).status == "impossible"


def test_the_shelf_helps_out_when_the_list_does_not(tmp_path: Path) -> None:
    aims = _aims(tmp_path, "strength: at least 42 % vol", "vodka-40", "sugar")
    record = adjust_lot(lot_of_figures(4.0, 41.0, 10.0), aims)
    assert set(_masses(record)) == {"neutral-spirit-96"}
    assert "beyond_the_list" in {note.code for note in record.notes}


def test_fruit_cannot_be_stirred_in(tmp_path: Path) -> None:
    aims = _aims(tmp_path, "strength: 20 % vol", "vodka-40", "raspberry")
    assert "raspberry" not in _masses(adjust_lot(lot_of_figures(4.0, 18.0, 10.0), aims))
    with pytest.raises(SpecError, match="does not dissolve wholly"):
        adjust_lot(lot_of_figures(4.0, 18.0, 10.0), aims, also=["damson"])


def test_unknown_bitterness_is_not_taken_for_none() -> None:
    aims = open_bottle(ROOT / "examples/bottles/damson-aperitif.yaml")
    figures = adjust_lot(lot_of_figures(4.4, 22.0, 180.0, 6.0), aims)
    assert figures.status == "nothing"
    assert "Of bitterness nothing is known" in figures.notes[0].text
    jar = lot_of_file(ROOT / "examples/jars/damson-jar.yaml")
    record = adjust_lot(jar, aims)
    assert {aim.target for aim in record.aims} == {"strength", "sugar", "acid", "bitterness"}


def test_the_middle_is_further_in() -> None:
    aims = open_bottle(ROOT / "examples/bottles/damson-aperitif.yaml")
    record = adjust_lot(lot_of_figures(4.4, 19.8, 212.0, 6.0), aims.aiming_at_the_middle())
    strength = next(aim for aim in record.aims if aim.target == "strength")
    assert 21.97 - 1e-6 <= strength.after <= 22.03 + 1e-6


# --- the prep card --------------------------------------------------------------------------------------


def test_card_rows_are_what_adjust_would_say(tmp_path: Path) -> None:
    aims = _aims(tmp_path, "strength: 21.7 to 22.3 % vol; sugar: 175 to 185 g/L", "vodka-40", "sugar")
    lot = lot_of_figures(4.4, 19.8, 212.0, 6.0)
    rows = card_rows(lot, aims)
    assert len(rows) == 15
    strengths = sorted({row.strength_pct_vol for row in rows})
    assert strengths == pytest.approx([18.25, 19.0, 19.75, 20.5, 21.25])
    for row in rows[::4]:
        again = adjust_lot(lot.reading(row.strength_pct_vol, row.sugar_g_l), aims)
        assert dict(row.additions or ()) == pytest.approx(_masses(again), rel=1e-6)


def test_card_rows_know_what_adjust_was_asked(tmp_path: Path) -> None:
    """Another batch, the price, plain things off the list: whatever the answer uses, its card uses too."""
    aims = _aims(tmp_path, "strength: 20 ± 0.02 % vol; sugar: 150 ± 5 g/L", "sugar")
    lot, other = lot_of_figures(4.0, 20.0, 260.0), lot_of_figures(20.0, 20.0, 80.0)
    blended = {(row.strength_pct_vol, row.sugar_g_l): row for row in card_rows(lot, aims, other=other)}
    here = dict(blended[20.0, 260.0].additions or ())
    assert here == pytest.approx(_masses(adjust_lot(lot, aims, other=other)), rel=1e-6)
    assert here["other-batch"] == pytest.approx(5.6 * other.mass_kg / 20.0, rel=0.005)

    strong = _aims(tmp_path, "strength: at least 42 % vol", "vodka-40", "sugar")
    lot = lot_of_figures(4.0, 41.0, 10.0)
    (row,) = [row for row in card_rows(lot, strong) if row.strength_pct_vol == 41.0]
    assert dict(row.additions or ()) == pytest.approx(_masses(adjust_lot(lot, strong)), rel=1e-6)
    assert set(dict(row.additions or ())) == {"neutral-spirit-96"}

    text = "strength: exactly 22 % vol; sugar: exactly 180 g/L"
    priced = _aims(tmp_path, text, "vodka-40", "neutral-spirit-96", "sugar")
    lot = lot_of_figures(4.0, 20.0, 180.0)
    cards = [card_rows(lot, priced, cheapest=cheapest) for cheapest in (True, False)]
    for card, cheapest in zip(cards, (True, False), strict=True):
        (row,) = [row for row in card if (row.strength_pct_vol, row.sugar_g_l) == (20.0, 180.0)]
        again = adjust_lot(lot, priced, cheapest=cheapest)
        assert dict(row.additions or ()) == pytest.approx(_masses(again), rel=1e-6)


def test_something_too_old_on_the_shelf_does_not_stop_the_rest(tmp_path: Path) -> None:
    """A root of sixteen years, which nobody asked for, is passed over."""
    _aims(tmp_path, "strength: at least 42 % vol", "vodka-40")
    shelf = SHELF.replace("offers:\n", "offers:\n  gentian-root: {price: 39 EUR/kg}\n")
    stale = "stock:\n  gentian-root: {harvested: 2010-09, stored: cut}\n"
    (tmp_path / "shelf.yaml").write_text(shelf + stale, "utf-8")
    aims = open_bottle(tmp_path / "bottle.yaml", date(2026, 12, 1))
    record = adjust_lot(lot_of_figures(4.0, 41.0, 10.0), aims)
    assert set(_masses(record)) == {"neutral-spirit-96"}


def test_another_reading_of_the_same_batch() -> None:
    lot = lot_of_figures(4.4, 19.8, 212.0, 6.0).reading(21.0, 190.0)
    assert (lot.volume_l, lot.strength_pct_vol, lot.sugar_g_l, lot.acid_g_l) == pytest.approx(
        (4.4, 21.0, 190.0, 6.0), abs=1e-9
    )


# --- files, options and the command -----------------------------------------------------------------------


def test_a_reading_says_how_far_to_trust_it() -> None:
    record = adjust_texts(ROOT / "examples/jars/damson-reading.yaml")
    assert record.card == ()
    assert record.status == "adjusted"
    assert "add_in_parts" in {note.code for note in record.notes}


@pytest.mark.parametrize(
    ("options", "error", "words"),
    [
        ({"volume": "4 L", "strength": "20 % vol"}, ReadingError, "--sugar is missing"),
        (
            {"volume": "4", "strength": "20 % vol", "sugar": "9 g/L"},
            UnitError,
            "--volume: the unit is missing",
        ),
        ({"volume": "0 L", "strength": "20 % vol", "sugar": "9 g/L"}, ReadingError, "above zero"),
        ({"volume": "4 L", "strength": "60 % vol", "sugar": "900 g/L"}, ReadingError, "no room for water"),
        ({"file": ROOT / "examples/shelf.yaml"}, SpecError, "a jar, recipe or reading file is needed"),
        (
            {"file": ROOT / "examples/jars/damson-jar.yaml", "volume": "4 L"},
            ReadingError,
            "Give one of the two",
        ),
        ({"bottle": ROOT / "examples/nothing.yaml"}, SpecError, "no such bottle file"),
    ],
)
def test_what_is_missing_or_wrong(
    options: dict[str, object], error: type[FormulateError], words: str
) -> None:
    given: dict[str, object] = {"bottle": ROOT / "examples/bottles/damson-aperitif.yaml"}
    if "bottle" in options:
        given |= {"volume": "4 L", "strength": "20 % vol", "sugar": "9 g/L"}
    with pytest.raises(error) as told:
        adjust_texts(**{**given, **options})  # type: ignore[arg-type]
    assert words in str(told.value)


def test_command_tells_what_to_add(run_here: RunCommand) -> None:
    done = run_here("adjust", "--all", "examples/jars/damson-jar.yaml", "--card")
    assert (done.exit_code, done.stderr, done.crash) == (0, "", "")
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert "No smaller addition does it (proved to 0.1" in done.stdout
    assert "reads ... add:" in done.stdout
    document = json.loads(run_here("adjust", "examples/jars/damson-jar.yaml", "--json").stdout)
    assert (document["schema_version"], document["status"]) == (1, "adjusted")
    assert {"ingredient", "mass_g", "measure", "cost"} <= set(document["add"][0])


def test_command_leaves_with_3_where_adding_does_not_help(run_here: RunCommand) -> None:
    figures = ["--volume", "4.4 L", "--strength", "22 % vol", "--sugar", "300 g/L", "--acid", "6 g/L"]
    options = ["--bottle", "examples/bottles/damson-aperitif.yaml", *figures, "--room", "5 L"]
    done = run_here("adjust", "--all", *options)
    assert (done.exit_code, done.stdout, done.crash) == (3, "", "")
    told = " ".join(done.stderr.split())
    assert "There is room for 5 L, and nothing that fits in brings it onto all its aims (proved)" in told
    assert "in any amount" not in told
    document = json.loads(run_here("adjust", *options, "--json").stdout)
    assert document["status"] == "impossible"
    done = run_here("adjust", "--all", *options[:-1], "500 mL")
    assert (done.exit_code, done.crash) == (2, "")
    assert "--room: less than the batch itself, 4.40 L, got '500 mL'" in done.stderr


# --- what nobody said is unknown, not nothing ---------------------------------------------------------


def test_an_acid_that_was_not_given_is_not_put_right(tmp_path: Path) -> None:
    """The acid of a fruit drink nobody titrated is not zero: adding 5 g/L of citric acid would ruin it."""
    aims = _aims(tmp_path, "strength: 25 ± 0.5 % vol; acid: 5 to 7 g/L", "vodka-40", "water", "citric")
    unknown = adjust_lot(lot_of_figures(4.0, 27.0, 150.0), aims)
    assert "citric" not in _masses(unknown)
    assert [aim.target for aim in unknown.aims] == ["strength"]
    note = next(note for note in unknown.notes if note.code == "unknown")
    assert "Of acid nothing is known in this batch: not looked at. Taste it" in note.text
    assert unknown.to_dict()["predicted"]["acid_g_l"] is None
    # A batch that was titrated and has none is another matter: 5 g for each litre there will be.
    none = adjust_lot(lot_of_figures(4.0, 27.0, 150.0, 0.0), aims)
    assert none.drink is not None
    assert _masses(none)["citric"] == pytest.approx(5.0e-3 * none.drink.volume_l, rel=1e-6)


def test_a_reading_without_its_acid_leaves_the_acid_alone(tmp_path: Path) -> None:
    _aims(tmp_path, "acid: 5 to 7 g/L; sugar: 150 ± 10 g/L", "vodka-40", "water", "citric", "sugar")
    text = "reading: Off\nbottle: bottle.yaml\nshelf: shelf.yaml\namount: 4 L\n"
    text += "density: SG 1.0300\nrefraction: 26 Brix\n"
    (tmp_path / "off.yaml").write_text(text, encoding="utf-8")
    record = adjust_texts(tmp_path / "off.yaml")
    assert "citric" not in _masses(record)
    assert "acid" in record.unknown
    (tmp_path / "off.yaml").write_text(text + "acid: 2 g/L\n", encoding="utf-8")
    told = adjust_texts(tmp_path / "off.yaml")
    assert told.drink is not None
    assert told.drink.acid_g_l == pytest.approx(5.0, abs=1e-6)


def test_an_acid_unknown_stays_so_in_every_row_of_the_card(tmp_path: Path) -> None:
    aims = _aims(tmp_path, "strength: 25 ± 0.5 % vol; acid: 5 to 7 g/L", "vodka-40", "water", "citric")
    rows = card_rows(lot_of_figures(4.0, 27.0, 150.0), aims)
    assert rows
    assert not [row for row in rows if "citric" in dict(row.additions or ())]


def test_what_can_be_mended_is_and_what_cannot_is_said(tmp_path: Path) -> None:
    """Too weak, too dry and not bitter: spirit and sugar mend two of three; nothing at hand is bitter."""
    asked = "strength: 22 ± 0.3 % vol; sugar: 180 ± 5 g/L; bitterness: medium"
    aims = _aims(tmp_path, asked, "neutral-spirit-96", "water", "sugar", "wormwood-herb")
    record = adjust_lot(lot_of_figures(4.0, 19.8, 150.0, bitterness_value=8.0), aims)
    assert record.status == "partly"
    assert record.off_target
    met = {aim.target: aim.lower * (1 - 1e-6) <= aim.after <= aim.upper * (1 + 1e-6) for aim in record.aims}
    assert met == {"strength": True, "sugar": True, "bitterness": False}
    (note,) = [note.text for note in record.notes if note.code == "not_mended"]
    assert "Too little bitterness" in note


def test_one_bitterness_point_in_the_way_is_not_called_too_weak(tmp_path: Path) -> None:
    """Spirit is at hand, but a litre more of it thins the bitterness out of the one point that is asked."""
    asked = "strength: 30 ± 0.1 % vol; bitterness: 20 ± 0.1 (measured)"
    measured = "wormwood-herb\nmeasured:\n  wormwood-herb: {bitterness: 12000}"
    aims = _aims(tmp_path, asked, "vodka-40", "water", measured)
    record = adjust_lot(lot_of_figures(4.0, 22.0, 0.0, bitterness_value=20.0), aims)
    assert record.status == "impossible"
    told = " ".join(note.text for note in record.notes)
    assert "strength alone could be put right, but then not bitterness as well" in told
    assert "Too weak for what there is" not in told


def test_nothing_is_offered_inside_the_doubt_of_a_reading(tmp_path: Path) -> None:
    """0.5 % vol off, read to 0.8: nothing to add. Read to 0.2 it is put right."""
    aims = _aims(tmp_path, "strength: 22 ± 0.1 % vol", "vodka-40", "water")
    lot = lot_of_figures(4.0, 21.4, 150.0)
    doubtful = adjust_lot(replace(lot, source="reading", doubt_pct_vol=0.8), aims)
    assert (doubtful.status, doubtful.additions) == ("nothing", ())
    (note,) = [note.text for note in doubtful.notes if note.code == "within_doubt"]
    assert "strength to 0.8 % vol" in note
    assert adjust_lot(replace(lot, source="reading", doubt_pct_vol=0.2), aims).status == "adjusted"


def test_what_an_addition_thins_is_told_though_no_aim_holds_it(tmp_path: Path) -> None:
    """A quarter more of it has a fifth less of acid and bitterness in each litre; unknown ones thin alike."""
    aims = _aims(tmp_path, "strength: 20 ± 0.1 % vol", "water")
    known = adjust_lot(lot_of_figures(4.0, 25.0, 100.0, 5.0, 20.0), aims)
    told = [note.text for note in known.notes if note.code == "thinned"]
    assert known.drink is not None
    assert f"acid 5.0 to {5.0 * 4.0 / known.drink.volume_l:.1f} g/L and bitterness 20 to 16" in told[0]
    unknown = adjust_lot(lot_of_figures(4.0, 25.0, 100.0), aims)
    (text,) = [note.text for note in unknown.notes if note.code == "thinned"]
    assert text.startswith("It thins acid, bitterness and colour by ")
