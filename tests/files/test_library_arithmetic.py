"""The library's acids, liquids, bitterness and doses against chemistry and trade arithmetic.

The files are read as in `test_library_figures`: by a plain YAML parser, without the program.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal

import pytest

from tests.files.library_files import (
    FAMILY,
    LIBRARY,
    composition_of,
    number_in,
)

# ---------------------------------------------------------------------- chemistry and trade arithmetic


def test_hydrates_and_solutions_follow_from_molar_masses() -> None:
    """IUPAC atomic weights: water 18.015, citric acid 192.124, glucose 180.156 g/mol."""
    citric = composition_of("citric-acid-monohydrate")
    assert float(citric["citric_acid"]) == pytest.approx(100 * 192.124 / 210.139, abs=0.01)
    assert float(citric["water"]) == pytest.approx(100 * 18.015 / 210.139, abs=0.01)
    assert float(composition_of("dextrose-monohydrate")["glucose"]) == pytest.approx(
        100 * 180.156 / 198.171, abs=0.05
    )


# Acid dissociation constants, first step, 25 °C: CRC Handbook of Chemistry and Physics (from memory).
PKA = {
    "citric-acid": (3.13, 192.124),
    "malic-acid": (3.40, 134.087),
    "tartaric-acid": (2.98, 150.087),
    "lactic-acid-88": (3.86, 90.078),
    "ascorbic-acid": (4.17, 176.124),
}


@pytest.mark.parametrize("name", PKA)
def test_ph_of_a_one_percent_acid_solution(name: str) -> None:
    """Weak acid, first step: h^2 = K (c - h). Half a unit of the last digit, and 0.05 for activity."""
    pka, molar_mass = PKA[name]
    parts = composition_of(name)
    share = float(max(value for key, value in parts.items() if key.endswith("_acid"))) / 100
    molar = 10.0 * share / molar_mass
    constant = 10.0**-pka
    hydrogen = (-constant + (constant**2 + 4 * constant * molar) ** 0.5) / 2
    assert LIBRARY[name]["ph"] == pytest.approx(-math.log10(hydrogen), abs=0.10)


# ICUMSA SPS-4 (Bubnik et al. 1995), 20 °C: 50 % 1229.654, 66.67 % 1326.77 kg/m3; half our last digit.
@pytest.mark.parametrize(
    ("name", "share", "density", "tolerance"),
    [("simple-syrup-1-1", 50.0, 1229.654, 0.005), ("rich-syrup-2-1", 66.67, 1326.77, 0.5)],
)
def test_syrup_matches_the_sugar_table(name: str, share: float, density: float, tolerance: float) -> None:
    assert float(composition_of(name)["sucrose"]) == pytest.approx(share, abs=0.005)
    assert float(number_in(LIBRARY[name]["density"], "kg/m3")) == pytest.approx(density, abs=tolerance)


LIQUIDS = [
    name
    for name in LIBRARY
    if FAMILY[name] in {"sweetener", "juice", "enzyme"}
    and "density" in LIBRARY[name]
    and "insoluble" not in composition_of(name)
    and composition_of(name)["water"] > 15
]


@pytest.mark.parametrize("name", LIQUIDS)
def test_density_of_a_liquid_follows_from_its_composition(name: str) -> None:
    """Mass over the volumes of water, glycerol and sugar-like solids in mL/g.

    Solids take 0.615 in thin solution to 0.637 at 85 % (ICUMSA SPS-4, sucrose), glycerol 0.774 at 44 % (CRC
    Handbook 102e). 1 %: the sugars differ by that among themselves, and figures usual for a class have three
    digits.
    """
    parts = {key: float(value) for key, value in composition_of(name).items()}
    glycerol = parts.get("glycerol", 0.0)
    solids = 100 - parts["water"] - glycerol
    volume_ml = parts["water"] / 0.9982 + 0.774 * glycerol + (0.615 + 0.026 * solids / 100) * solids
    assert float(number_in(LIBRARY[name]["density"], "kg/m3")) == pytest.approx(1e5 / volume_ml, rel=0.01)


def test_the_liquids_are_there() -> None:
    assert {"honey", "agave-syrup", "invert-syrup", "rich-syrup-2-1", "pectinase", "molasses"} <= set(LIQUIDS)


@pytest.mark.parametrize(("name", "abv_pct"), [("dry-white-wine-12", 12.0), ("sweet-vermouth-15", 15.0)])
def test_wine_has_the_strength_in_its_name(name: str, abv_pct: float) -> None:
    """OIML R 22: pure ethanol weighs 789.24 kg/m3 at 20 °C. A label may be off by 0.3; we keep to 0.05."""
    density = float(number_in(LIBRARY[name]["density"], "kg/m3"))
    assert float(composition_of(name)["ethanol"]) * density / 789.24 == pytest.approx(abv_pct, abs=0.05)


def test_spirit_ids_tell_the_strength() -> None:
    for name in (name for name in LIBRARY if FAMILY[name] == "spirit"):
        digits = re.search(r"(\d+)(?:-(\d))?$", name)
        assert digits, name
        assert number_in(LIBRARY[name]["strength"], "% vol") == Decimal(f"{digits[1]}.{digits[2] or 0}")


# ---------------------------------------------------------------------------- bitterness and restraint

# Smallest lawful bitterness value of the drug, per gram: Ph. Eur. Gentian as printed, the rest from memory.
PHARMACOPOEIA_MINIMUM = {
    "gentian-root": 10_000,
    "wormwood-herb": 10_000,
    "centaury-herb": 2_000,
    "bogbean-leaf": 3_000,
}


@pytest.mark.parametrize("name", PHARMACOPOEIA_MINIMUM)
def test_bitterness_reaches_the_pharmacopoeia(name: str) -> None:
    assert LIBRARY[name]["bitterness"]["value"] >= PHARMACOPOEIA_MINIMUM[name]


def test_cinchona_bitterness_follows_from_its_alkaloids() -> None:
    """Ph. Eur.: quinine hydrochloride 200 000 (2.8.15), bark at least 6.5 % alkaloids; trade has 5 to 10."""
    bitterness = LIBRARY["cinchona-bark"]["bitterness"]
    assert bitterness["low"] == pytest.approx(0.05 * 200_000)
    assert bitterness["value"] == pytest.approx(0.065 * 200_000)
    assert bitterness["high"] == pytest.approx(0.10 * 200_000)


def test_grapefruit_bitterness_follows_from_naringin() -> None:
    """A bitterness value is 1 g over the threshold: naringin, about 20 mg/L, so 50 per mg (from memory).

    Pith 10 to 20 mg/g, juice 0.2 to 0.5 mg/g (from memory); a factor of two is what lots differ by.
    """
    per_mg = 1000 / 20
    for name, typical_mg_g in (("grapefruit-pith", 15), ("grapefruit-juice", 0.35)):
        assert 0.5 < LIBRARY[name]["bitterness"]["value"] / (per_mg * typical_mg_g) < 2


# Limit in the drink, mg/kg, over worst content, mg/g. Limits: Reg. (EC) 1334/2008 Annex III, 872/2012,
# 1169/2011 Annex III, Directive 88/388 (cassia), 21 CFR 172.510. Contents: from memory.
DOSES = {
    "wormwood-herb": {"EU": 35 / 10, "US": 10 / 10},
    "roman-wormwood-herb": {"EU": 35 / 3, "US": 10 / 3},
    "sage-leaf": {"EU": 10 / 12},
    "yarrow-herb": {"EU": 10 / 1, "US": 10 / 1},
    "peppermint-leaf": {"EU": 100 / 4},
    "cinchona-bark": {"EU": 250 / 100, "US": 83 / 100},
    "quassia-wood": {"EU": 1.5 / 2},
    "cassia-bark": {"EU": 10 / 12},
    "liquorice-root": {"EU": 300 / 100},
}


@pytest.mark.parametrize("name", DOSES)
def test_doses_named_in_cautions_never_pass_the_limit(name: str) -> None:
    text = " ".join(LIBRARY[name]["cautions"])
    found = {place: float(grams) for grams, place in re.findall(r"(\d+(?:\.\d+)?) g \((EU|US)\)", text)}
    assert set(found) == set(DOSES[name])
    for place, limit in DOSES[name].items():
        # Rounded down, by no more than a unit of the second digit.
        assert 0.98 * limit <= found[place] <= limit
    assert "sk your local code" in text or "heck your local code" in text or "prefer Ceylon" in text


def test_no_other_plant_names_a_dose_that_is_not_checked() -> None:
    named = {
        name
        for name, block in LIBRARY.items()
        if any(re.search(r" g \((EU|US)\)", sentence) for sentence in block.get("cautions", []))
    }
    assert named == set(DOSES)


# Anthocyanin, mg/g fresh (hibiscus dry), range between varieties. Aronia: J. Agric. Food Chem. 52 (2004)
# 7846; blackcurrant: reviews; the others from memory.
ANTHOCYANIN = {
    "cranberry": (0.5, 1.4),
    "raspberry": (0.5, 1.2),
    "strawberry": (0.2, 0.4),
    "blackberry": (1.5, 3.5),
    "blackcurrant": (1.9, 4.8),
    "sour-cherry": (0.8, 1.2),
    "elderberry": (5.0, 15.0),
    "aronia": (14.8, 14.8),
    "hibiscus-calyx": (10.0, 20.0),
}


def test_anthocyanin_lies_in_the_range_of_reviews() -> None:
    carried = {
        name: float(number_in(block["attributes"]["anthocyanin"], "mg/g"))
        for name, block in LIBRARY.items()
        if "anthocyanin" in block.get("attributes", {})
    }
    assert set(carried) == set(ANTHOCYANIN)
    for name, amount in carried.items():
        low, high = ANTHOCYANIN[name]
        assert low <= amount <= high, name
