from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from formulate.errors import RangeError
from formulate.physics import density, mixture, solutes, strength
from formulate.physics.mixture import COMPONENTS, INDEX, SUGARS
from tests.optimise import oracle

from .published_rows import apparent_volume, drink, obscuration_proof_per_g_l, solute_density

fractions = st.floats(0.0, 1.0)
# Kilograms of everything, with at least 40 % of it liquid: inside the model's range by construction.
SCALES = np.array([1.0, 1.0, 0.3, 0.2, 0.2, 0.1, *([0.02] * 9)])
LIQUID = np.array([0.5, 0.05, *([0.0] * 13)])
drinks = arrays(np.float64, 15, elements=st.floats(0.0, 1.0)).map(lambda m: m * SCALES + LIQUID)


def one(**masses_kg: float) -> np.ndarray:
    masses = np.zeros(len(COMPONENTS))
    for name, mass in masses_kg.items():
        masses[INDEX[name]] = mass
    return masses


def test_the_order_of_components_is_fixed() -> None:
    order = (
        "water ethanol sucrose glucose fructose maltose citric_acid malic_acid tartaric_acid lactic_acid "
        "quinic_acid ascorbic_acid glycerol salt other_soluble"
    )
    assert tuple(order.split()) == COMPONENTS
    assert [INDEX[name] for name in COMPONENTS] == list(range(15))
    assert set(SUGARS) | set(mixture.ACIDS) < set(COMPONENTS)


@given(drinks)
def test_euler(masses: np.ndarray) -> None:
    """Volume is homogeneous of degree one: partial volumes times masses are the volume."""
    volume, partials = mixture.volume_and_partials(masses)
    assert volume == pytest.approx(mixture.volume_l(masses), rel=1e-15)
    assert float(partials @ masses) == pytest.approx(volume, rel=1e-12)
    assert np.array_equal(partials, mixture.partial_specific_volumes(masses))


@given(drinks)
@settings(max_examples=50)
def test_partials_match_central_differences(masses: np.ndarray) -> None:
    step = 1e-5
    masses = masses + step  # room below, as no mass is negative
    w = mixture.dissolved_mass_fraction(masses)
    # Where a sugar's column ends the slope has a corner; a difference across it is neither side's slope.
    assume(all(abs(w - end) > 1e-4 for end in (0.48, 0.60)))
    partials = mixture.partial_specific_volumes(masses)
    for j in range(len(COMPONENTS)):
        up, down = masses.copy(), masses.copy()
        up[j] += step
        down[j] -= step
        central = (mixture.volume_l(up) - mixture.volume_l(down)) / (2 * step)
        assert partials[j] == pytest.approx(central, abs=2e-9), COMPONENTS[j]


@given(drinks, st.floats(1e-3, 1e4))
def test_twice_the_masses_twice_the_volume(masses: np.ndarray, factor: float) -> None:
    assert mixture.volume_l(factor * masses) == pytest.approx(factor * mixture.volume_l(masses), rel=1e-13)
    for figure in (mixture.density_kg_m3, mixture.strength_pct_vol, mixture.sugar_g_l, mixture.acid_g_l):
        assert figure(factor * masses) == pytest.approx(figure(masses), rel=1e-12)


@given(fractions)
def test_without_solutes_it_is_ethanol_water(p: float) -> None:
    masses = one(water=1.0 - p, ethanol=p)
    assert mixture.density_kg_m3(masses) == pytest.approx(density.density_ethanol_water(p), abs=1e-9)
    assert mixture.strength_pct_vol(masses) == pytest.approx(strength.abv_from_mass_fraction(p), abs=1e-10)


def test_pure_ethanol_is_exactly_100() -> None:
    assert mixture.strength_pct_vol(one(ethanol=1.0)) == pytest.approx(100.0, abs=1e-13)


@given(st.floats(0.0, 0.85))
def test_without_ethanol_it_is_sucrose_water(w: float) -> None:
    # The two standards differ by 0.0019 kg/m3 on pure water, and by no more in syrup.
    found = mixture.density_kg_m3(one(water=1.0 - w, sucrose=w))
    assert found == pytest.approx(density.density_sucrose_water(w), abs=0.0025)


@pytest.mark.parametrize("name", ["glucose", "fructose", "maltose"])
@given(share=fractions)
def test_without_ethanol_it_is_each_sugars_own_fit(name: str, share: float) -> None:
    w = share * solutes.SOLUTES[name].highest_mass_fraction
    found = mixture.density_kg_m3(one(water=1.0 - w, **{name: w}))
    assert found == pytest.approx(solute_density(name, w), abs=0.0025)


@pytest.mark.parametrize(("name", "w"), [("citric_acid", 0.02), ("lactic_acid", 0.02), ("salt", 0.02)])
def test_constants_agree_with_the_fits_where_drinks_are(name: str, w: float) -> None:
    found = mixture.density_kg_m3(one(water=1.0 - w, **{name: w}))
    assert found == pytest.approx(solute_density(name, w), abs=0.1)


@given(drinks, st.sampled_from(COMPONENTS))
def test_adding_anything_adds_volume(masses: np.ndarray, name: str) -> None:
    more = masses + one(**{name: 1e-3})
    assert mixture.volume_l(more) > mixture.volume_l(masses)


@given(st.floats(0.0, 60.0), st.floats(0.0, 300.0), st.floats(0.0, 300.0))
def test_density_rises_with_sugar_at_one_strength(abv: float, some: float, other: float) -> None:
    less, more = sorted((some, other))
    if more - less > 1e-3:
        assert mixture.density_kg_m3(drink(abv, less)) < mixture.density_kg_m3(drink(abv, more))


def test_composed_drinks_have_the_figures_they_were_composed_for() -> None:
    masses = drink(22.0, 180.0)
    assert mixture.strength_pct_vol(masses) == pytest.approx(22.0, abs=1e-10)
    assert mixture.sugar_g_l(masses) == pytest.approx(180.0, abs=1e-9)
    # 342.30 g of sucrose take up one water and make 360.31 g: x 1.0526, the basis of the EU's limits.
    assert mixture.invert_sugar_g_l(masses) == pytest.approx(180.0 * 1.0526, abs=0.01)


def test_contraction_of_a_home_made_liqueur() -> None:
    """420 mL of 96 % vol, 430 g of water, 250 g of sugar: worked in the reference by the same model."""
    p = strength.mass_fraction_from_abv(96.0)
    spirit = 0.420 * density.density_ethanol_water(p) / 1000.0
    masses = one(water=0.430 + (1.0 - p) * spirit, ethanol=p * spirit, sucrose=0.250)
    assert 1000.0 * mixture.volume_l(masses) == pytest.approx(979.7, abs=0.06)
    assert mixture.strength_pct_vol(masses) == pytest.approx(41.16, abs=0.006)
    assert mixture.sugar_g_l(masses) == pytest.approx(255.2, abs=0.06)
    # Adding volumes instead would say 1.07 % vol less, three times the label tolerance.
    added = 0.420 + 0.430 / 0.9982 + 0.250 * 0.62
    assert mixture.strength_pct_vol(masses) - 40.32 / added == pytest.approx(1.07, abs=0.02)


@pytest.mark.parametrize("proof", [80.0, 86.0, 90.0, 100.0])
def test_obscuration_proof_per_g_l_rule_over_its_whole_range(proof: float) -> None:
    # 27 CFR 30.32: 100 mg of solids in 100 mL hide 0.4 degree of proof, one digit for 80 to 100 proof. The
    # model runs from 0.47 to 0.38 there. This is the only published check of sugar and alcohol together.
    assert obscuration_proof_per_g_l(proof) == pytest.approx(0.4, abs=0.08)


def test_acids_count_by_their_groups() -> None:
    # To neutralise 1 g of each takes the sodium hydroxide of this many grams of citric acid.
    expected = {
        "citric_acid": 1.0,
        "malic_acid": 0.955,
        "tartaric_acid": 0.853,
        "lactic_acid": 0.711,
        "quinic_acid": 0.333,
        "ascorbic_acid": 0.364,
    }
    assert pytest.approx(expected, abs=5e-4) == mixture.CITRIC_EQUIVALENT
    assert tuple(mixture.CITRIC_EQUIVALENT) == mixture.ACIDS
    for name, factor in expected.items():
        masses = one(water=1.0, ethanol=0.2, **{name: 0.006})
        grams = mixture.acid_g_l(masses) * mixture.volume_l(masses)
        assert grams == pytest.approx(6.0 * factor, abs=0.005)


@given(st.floats(0.0, 0.85), st.floats(0.0, 0.85), fractions)
def test_sugar_volumes_stay_in_their_interval(one_end: float, other_end: float, share: float) -> None:
    lower, upper = sorted((one_end, other_end))
    smallest, largest = solutes.sugar_volume_interval(lower, upper)
    assert smallest.shape == largest.shape == (4,)
    w = min(max(lower + share * (upper - lower), lower), upper)
    for position, name in enumerate(SUGARS):
        assert smallest[position] <= _apparent_volume(name, w) <= largest[position]


def _apparent_volume(name: str, w: float) -> float:
    """Restate the model for one sugar: its own column, and past its end what sucrose gains from there."""
    if name == "sucrose":
        return float(solutes.sucrose_volume_unchecked(np.array(w)))
    inside = min(w, solutes.SOLUTES[name].highest_mass_fraction)
    there, end = solutes.sucrose_volume_unchecked(np.array([w, inside]))
    return float(apparent_volume(name, inside) + there - end)


@given(drinks, st.floats(0.3, 1.0), st.floats(0.0, 1.0))
def test_volume_lies_between_what_the_intervals_make_of_it(
    masses: np.ndarray, narrow: float, share: float
) -> None:
    # What the proof relies on: over a range that holds w, no sugar's part of the volume is outside.
    masses = masses.copy()
    masses[INDEX["fructose"]] += 4.0 * share
    w = mixture.dissolved_mass_fraction(masses)
    assume(w <= 0.85)
    smallest, largest = solutes.sugar_volume_interval(narrow * w, w + (1.0 - narrow) * (0.85 - w))
    sugars = masses[[INDEX[name] for name in SUGARS]]
    without = masses.copy()
    without[[INDEX[name] for name in SUGARS]] = 0.0
    rest = mixture.volume_l(without, check=False)
    volume = mixture.volume_l(masses)
    slack = 1e-14 * volume
    assert rest + float(smallest @ sugars) - slack <= volume <= rest + float(largest @ sugars) + slack


def test_sugar_interval_is_no_wider_than_it_must_be() -> None:
    w = np.linspace(0.02, 0.3, 100_001)
    smallest, largest = solutes.sugar_volume_interval(0.02, 0.3)
    maltose = apparent_volume("maltose", w)
    # Maltose turns at w = 0.0785, inside: neither end is its least value.
    assert maltose.min() < min(maltose[0], maltose[-1]) - 1e-6
    assert smallest[3] == pytest.approx(maltose.min(), abs=1e-11)
    assert largest[3] == pytest.approx(maltose.max(), abs=1e-11)
    sucrose = solutes.sucrose_volume_unchecked(w)
    assert (smallest[0], largest[0]) == pytest.approx((sucrose.min(), sucrose.max()), abs=1e-12)


@pytest.mark.parametrize(
    ("lower", "upper"), [(-0.1, 0.2), (0.3, 0.2), (0.1, 0.86), (math.nan, 0.1), (0.1, math.nan)]
)
def test_sugar_interval_refuses_what_is_no_interval(lower: float, upper: float) -> None:
    with pytest.raises(RangeError):
        solutes.sugar_volume_interval(lower, upper)


@pytest.mark.parametrize("name", ["glucose", "fructose", "maltose"])
@pytest.mark.parametrize("w", [0.5, 0.7, 0.85])
def test_beyond_a_sugars_column_its_volume_rises_as_that_of_sucrose(name: str, w: float) -> None:
    volume = mixture.volume_l(one(water=1.0 - w, **{name: w}))
    water = (1.0 - w) * density.specific_volume_ethanol_water(0.0)
    assert volume == pytest.approx(water + w * _apparent_volume(name, w), rel=1e-14)


# Composition in % w/w and kg/m3 at 20 °C. All from memory, of handbooks of sugar and honey and makers' sheets
# with three digits: 0.6 % is half their last digit and what samples differ by. Sugars held at the ends of
# their columns came out 1.4, 1.0 and 1.0 % too dense.
SYRUPS = {
    "honey with 17.1 % water": (
        {
            "water": 17.1,
            "fructose": 40.9,
            "glucose": 35.8,
            "maltose": 1.4,
            "sucrose": 0.9,
            "other_soluble": 3.9,
        },
        1424.0,
    ),
    "invert syrup of 75 %": ({"water": 25.0, "fructose": 37.5, "glucose": 37.5}, 1370.0),
    "55 % fructose syrup of 77 % solids": ({"water": 23.0, "fructose": 42.35, "glucose": 34.65}, 1385.0),
}


@pytest.mark.parametrize("name", SYRUPS)
def test_thick_syrups_weigh_what_handbooks_say(name: str) -> None:
    composition, density_kg_m3 = SYRUPS[name]
    masses = one(**{component: percent / 100.0 for component, percent in composition.items()})
    assert mixture.density_kg_m3(masses) == pytest.approx(density_kg_m3, rel=0.006)


def test_a_second_statement_of_the_model_agrees_on_thick_syrups() -> None:
    # The optimisers' oracle is written from the published formulas alone.
    generator = np.random.default_rng(11)
    masses = generator.random((500, 15)) * np.array([0.4, 0.2, *([1.0] * 4), *([0.02] * 9)]) + LIQUID
    thick = masses[np.abs(mixture.dissolved_mass_fraction(masses) - 0.7) < 0.15]
    assert len(thick) > 200
    assert mixture.volume_l(thick) == pytest.approx([oracle.volume_l(row) for row in thick], rel=1e-12)


def test_partials_past_the_columns_match_central_differences() -> None:
    masses = one(water=0.25, ethanol=0.1, fructose=0.5, glucose=0.15)
    partials, step = mixture.partial_specific_volumes(masses), 1e-6
    for j in range(6):
        up, down = masses.copy(), masses.copy()
        up[j] += step
        down[j] = max(down[j] - step, 0.0)
        slope = (mixture.volume_l(up) - mixture.volume_l(down)) / (up[j] - down[j])
        assert partials[j] == pytest.approx(slope, abs=1e-6)


@given(st.lists(drinks, min_size=1, max_size=5))
@settings(max_examples=30)
def test_one_code_path_for_one_mixture_and_many(batch: list[np.ndarray]) -> None:
    together = np.stack(batch)
    volumes, partials = mixture.volume_and_partials(together)
    for i, masses in enumerate(batch):
        volume, partial = mixture.volume_and_partials(masses)
        assert isinstance(volume, float)
        assert volumes[i] == volume
        assert np.array_equal(partials[i], partial)
        for figure in FIGURES:
            assert figure(together)[i] == figure(masses)


FIGURES = (
    mixture.volume_l,
    mixture.density_kg_m3,
    mixture.strength_pct_vol,
    mixture.sugar_g_l,
    mixture.invert_sugar_g_l,
    mixture.acid_g_l,
    mixture.dissolved_mass_fraction,
)


def test_blocks_leave_no_seam() -> None:
    generator = np.random.default_rng(5)
    batch = generator.random((2 * mixture.ROWS_PER_BLOCK + 3, 15)) * SCALES + LIQUID
    volumes = mixture.volume_l(batch)
    for i in (0, mixture.ROWS_PER_BLOCK - 1, mixture.ROWS_PER_BLOCK, len(batch) - 1):
        assert volumes[i] == mixture.volume_l(batch[i])


def test_leading_axes_are_kept_and_the_input_is_left_alone() -> None:
    batch = np.random.default_rng(7).random((2, 3, 15)) * SCALES + LIQUID
    before = batch.copy()
    assert mixture.volume_l(batch).shape == (2, 3)
    assert mixture.partial_specific_volumes(batch).shape == (2, 3, 15)
    assert mixture.volume_l(np.empty((0, 15))).shape == (0,)
    assert np.array_equal(batch, before)
    with pytest.raises(ValueError, match="last axis of 15"):
        mixture.volume_l(np.zeros(14))


@pytest.mark.parametrize("figure", FIGURES)
@pytest.mark.parametrize("bad", [-1e-9, math.nan, math.inf])
def test_impossible_masses_are_refused(figure: object, bad: float) -> None:
    masses = drink(20.0, 100.0)
    masses[INDEX["glycerol"]] = bad
    with pytest.raises(RangeError) as caught:
        figure(np.stack([drink(20.0, 100.0), masses]))  # type: ignore[operator]
    assert caught.value.value == bad or math.isnan(bad)


@pytest.mark.parametrize("figure", FIGURES[:-1])
def test_more_than_85_per_cent_dissolved_is_refused(figure: object) -> None:
    syrup = one(water=0.14, sucrose=0.86)
    with pytest.raises(RangeError) as caught:
        figure(syrup)  # type: ignore[operator]
    assert caught.value.value == pytest.approx(0.86)
    assert caught.value.upper == 0.85
    with pytest.raises(RangeError):
        figure(one(sucrose=1.0))  # type: ignore[operator]
    assert figure(one(water=0.15, sucrose=0.85)) >= 0.0  # type: ignore[operator]


def test_dissolved_fraction_alone_takes_solids() -> None:
    assert mixture.dissolved_mass_fraction(one(sucrose=1.0)) == 1.0
    assert mixture.dissolved_mass_fraction(np.zeros(15)) == 0.0


def test_unchecked_clips_and_never_raises() -> None:
    solids = one(sucrose=1.0)
    held = float(solutes.sucrose_volume_unchecked(np.array(0.85)))
    assert mixture.volume_l(solids, check=False) == pytest.approx(held, rel=1e-14)
    volume, partials = mixture.volume_and_partials(solids, check=False)
    assert float(partials @ solids) == pytest.approx(volume, rel=1e-14)
    assert np.all(np.isfinite(partials))
    # What a solver leaves behind: a hair below nothing.
    masses = drink(20.0, 100.0)
    masses[INDEX["ethanol"]] = -1e-12
    assert mixture.volume_l(masses, check=False) == pytest.approx(
        mixture.volume_l(np.maximum(masses, 0.0)), rel=1e-11
    )


def test_nothing_has_a_volume_of_nothing_and_no_strength() -> None:
    assert mixture.volume_l(np.zeros(15)) == 0.0
    assert np.all(np.isfinite(mixture.partial_specific_volumes(np.zeros(15))))
    for figure in FIGURES[1:-1]:
        with pytest.raises(RangeError):
            figure(np.zeros(15))
        assert math.isnan(figure(np.zeros(15), check=False))
