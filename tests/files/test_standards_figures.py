"""Figures of the standards, held against a second copy written out from their sources.

A row of these tables names where it was read; rows from memory say so in the data, and are checked here
for slips of the keyboard only.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from formulate.errors import FormulateError
from formulate.files.standards import load_rows, specs_folder
from formulate.files.trade_rows import (
    DrinkRow,
    FillRow,
    FlashPointRow,
    KeepingRow,
    LabelStrengthRow,
    MethanolRow,
    QuinineRow,
    SugarTermRow,
)
from formulate.jobs.standards import SUBJECTS, find_rules, list_subjects, read_subject
from formulate.physics.flash import FLASH_POINT_C


def test_every_file_is_a_subject_and_every_subject_a_file() -> None:
    files = {path.stem for path in (specs_folder() / "standards").glob("*.yaml")}
    assert files == set(SUBJECTS)
    assert [subject.name for subject in list_subjects()] == list(SUBJECTS)


def test_no_row_counts_as_verified_that_was_not_seen() -> None:
    for subject in list_subjects():
        for row in subject.rows:
            assert row.verified == (row.confidence == "published" and row.seen is not None)
            assert row.verified == ("not verified" not in row.provenance)


@pytest.mark.parametrize(
    ("country", "ethanol_g"),
    [
        # Addiction 111 (2016) 1293; Canada and Japan from memory. UK: 10 mL at 789.24 g/L (OIML R 22).
        ("United Kingdom", 7.8924),
        ("WHO", 10.0),
        ("Denmark", 12.0),
        ("Luxembourg", 12.8),
        ("United States", 14.0),
        ("Austria", 20.0),
        ("Canada", 13.45),
        ("Japan", 20.0),
    ],
)
def test_standard_drinks(country: str, ethanol_g: float) -> None:
    rows = load_rows("standard-drinks", DrinkRow).rows
    (row,) = [row for row in rows if row.country == country]
    assert row.ethanol_kg == pytest.approx(ethanol_g / 1000.0, rel=1e-12)


def test_a_standard_drink_is_its_volume_of_ethanol() -> None:
    # 10 mL of pure alcohol in the UK, 0.6 US fl oz = 17.74 mL in the US; 0.789 g/mL.
    rows = {row.country: row.ethanol_kg for row in load_rows("standard-drinks", DrinkRow).rows}
    assert rows["United Kingdom"] == pytest.approx(0.0100 * 0.78924, rel=1e-6)
    assert rows["United States"] == pytest.approx(0.01774 * 0.789, rel=0.001)


@pytest.mark.parametrize(
    ("row", "pct_vol"),
    [
        # Reg. (EU) 1169/2011 Annex XII; 27 CFR 19.356(c).
        ("eu-strong-drinks", 0.3),
        ("eu-with-fruit-or-plants-in-it", 1.5),
        ("eu-cider-fruit-wine-mead-strong-beer", 1.0),
        ("eu-beer", 0.5),
        ("us-distilled-spirits", 0.3),
    ],
)
def test_label_strength(row: str, pct_vol: float) -> None:
    assert load_rows("label-strength", LabelStrengthRow)[row].tolerance_pct_vol == pct_vol


@pytest.mark.parametrize(
    ("where", "says_ml", "short_ml"),
    [
        # 27 CFR 19.356(b): 1.5 % from a litre, 2 % of 376 to 999, 3 % of 101 to 375, 4.5 % up to 100 mL.
        ("US", 1000.0, 15.0),
        ("US", 750.0, 15.0),
        ("US", 375.0, 11.25),
        ("US", 100.0, 4.5),
        # Directive 76/211/EEC Annex I, from memory: 9 %, 4.5 mL, 4.5 %, 9 mL, 3 %, 15 mL, 1.5 %.
        ("EU", 40.0, 3.6),
        ("EU", 75.0, 4.5),
        ("EU", 150.0, 6.75),
        ("EU", 250.0, 9.0),
        ("EU", 350.0, 10.5),
        ("EU", 700.0, 15.0),
        ("EU", 1500.0, 22.5),
    ],
)
def test_fill(where: str, says_ml: float, short_ml: float) -> None:
    says_l = says_ml / 1000.0
    rows = load_rows("fill-tolerances", FillRow).holding_in(where)
    row = next(row for row in rows if row.from_l <= says_l and (row.up_to_l is None or says_l <= row.up_to_l))
    assert 1000.0 * row.short_l(says_l) == pytest.approx(short_ml, rel=1e-12)


def test_the_steps_of_the_eu_fill_table_meet() -> None:
    # The table is made so that its shares and volumes agree where they meet: 9 % of 50 mL is 4.5 mL.
    rows = load_rows("fill-tolerances", FillRow).holding_in("EU")
    for lower, upper in pairwise(rows):
        assert lower.up_to_l == upper.from_l
        assert lower.short_l(upper.from_l) == pytest.approx(upper.short_l(upper.from_l), rel=1e-12)


@pytest.mark.parametrize(
    ("row", "mg_kg"),
    [
        ("us-bark", 83.0),  # 21 CFR 172.510
        ("us-salts", 83.0),  # 21 CFR 172.575
        ("eu-alcoholic", 250.0),  # Reg. (EU) 872/2012, from memory
        ("eu-soft", 100.0),  # the same
        ("de-spirits-former", 300.0),
        ("de-soft-former", 85.0),
    ],
)
def test_quinine(row: str, mg_kg: float) -> None:
    most = load_rows("quinine", QuinineRow)[row].most_g_kg
    assert most == pytest.approx(mg_kg / 1000.0, rel=1e-12)


def test_methanol_is_a_hundredth_of_grams_per_hectolitre() -> None:
    by_spirit = {row.spirit: row.most_g_l_pure_alcohol for row in load_rows("methanol", MethanolRow).rows}
    # Reg. (EU) 2019/787, from memory, g per hL: the law's own unit.
    for spirit, g_hl in {
        "vodka": 10,
        "agricultural ethyl alcohol": 30,
        "wine spirit": 200,
        "fruit spirit": 1000,
    }.items():
        assert by_spirit[spirit] == pytest.approx(g_hl / 100.0, rel=1e-12)


def test_flash_points_are_those_the_formula_reads() -> None:
    rows = load_rows("flash-points", FlashPointRow).rows
    assert [(pytest.approx(100.0 * row.ethanol), row.flash_point_c) for row in rows] == list(FLASH_POINT_C)


@pytest.mark.parametrize(
    ("pct_vol", "sugar_g_l", "keeps"),
    [
        # Trade notes 8.4: sugar g/L over 10 and 4.5 times % vol; 78 borderline, 85 safe.
        (25.0, 200.0, "delle-safe"),  # 20 + 112.5 = 132
        (16.0, 150.0, "delle-safe"),  # 15 + 72 = 87
        (12.0, 250.0, "delle-borderline"),  # 25 + 54 = 79
        (10.0, 150.0, None),  # 15 + 45 = 60
    ],
)
def test_delle(pct_vol: float, sugar_g_l: float, keeps: str | None) -> None:
    units = sugar_g_l / 10.0 + 4.5 * pct_vol
    rows = [row for row in load_rows("keeping", KeepingRow).rows if row.delle_at_least is not None]
    met = [row.id for row in rows if row.delle_at_least is not None and units >= row.delle_at_least]
    assert (met[0] if met else None) == keeps


def test_the_sweetness_terms_of_aromatised_wine_leave_no_gap() -> None:
    # Reg. (EU) 251/2014, from memory: under 30, under 50, 50 to 90, 90 to 130, from 130 g/L.
    rows = [row for row in load_rows("sugar-terms", SugarTermRow).rows if row.drinks == "aromatised wine"]
    assert [(row.term, row.sugar_from_g_l, row.sugar_below_g_l) for row in rows] == [
        ("extra-dry", None, 30.0),
        ("dry", None, 50.0),
        ("semi-dry", 50.0, 90.0),
        ("semi-sweet", 90.0, 130.0),
        ("sweet", 130.0, None),
    ]


def test_a_subject_can_be_asked_for_one_place_only() -> None:
    here = read_subject("quinine", "US")
    assert [row.id for row in here.rows] == ["us-bark", "us-salts", "who-leaves-it"]
    assert here.places[0].startswith("specs/standards/quinine.yaml:")


@pytest.mark.parametrize(
    ("words", "found"),
    [
        # Reg. (EC) 1334/2008 Annex III limits thujone; wormwood, sage and others bring it (trade notes 3.1).
        ("thujone", {"restricted-substances": "eu-thujone", "plant-contents": "sage-thujone"}),
        ("Acorus", {"prohibited": "eu-calamus"}),
        ("crème de cassis", {"categories": "eu-creme-de-cassis"}),
        ("creme de cassis", {"categories": "eu-creme-de-cassis"}),
        ("grapefruit", {"cautions": "grapefruit-medicines"}),
        ("rhubarb leaves", {"cautions": "rhubarb-leaves"}),
        ("prohibited", {"prohibited": "eu-calamus"}),
    ],
)
def test_a_substance_plant_or_name_is_found_in_the_rules(words: str, found: dict[str, str]) -> None:
    held = {subject.name: {row.id for row in subject.rows} for subject in find_rules(words)}
    for subject, row_id in found.items():
        assert any(one.startswith(row_id) for one in held[subject])


def test_only_rules_that_say_every_word_are_shown() -> None:
    for subject in find_rules("thujone", "US"):
        for row in subject.rows:
            assert "US" in row.jurisdiction or "any" in row.jurisdiction
            assert "thujone" in str(row.model_dump(mode="json")).lower()
    assert not {one.name for one in find_rules("thujone artemisia")} & {"energy", "quinine"}


def test_where_nothing_is_found_the_subjects_are_listed() -> None:
    for words in ("unobtainium", "   "):
        with pytest.raises(FormulateError) as raised:
            find_rules(words)
        assert all(name in str(raised.value) for name in SUBJECTS)
