"""Laws of a chain of steps whose plants take time, over random chains of one to four steps."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from formulate.blend.chain import Chain, ChainRun, Step, ethanol_fraction
from formulate.blend.materials import BITTERNESS, LIQUOR, Materials
from formulate.physics.extraction import (
    CLASS_KINETICS,
    EQUILIBRIUM,
    Kinetics,
    approach,
)
from formulate.physics.kinetics import factor_unchecked
from formulate.physics.mixture import COMPONENTS, INDEX
from formulate.physics.strength import abv_from_mass_fraction, mass_fraction_from_abv

ACTIVITIES = (BITTERNESS, "anthocyanin", "oil")
PLANTS = slice(3, None)  # after spirit, water and sugar
SPIRIT, WATER, SUGAR = 0, 1, 2
BATCHES = 3

some = settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
seeds = st.integers(0, 2**31)


@dataclass(frozen=True)
class Drawn:
    """A chain, and masses for three batches of it, shape (3, steps, ingredients)."""

    chain: Chain
    masses: np.ndarray

    def run(self, steps: tuple[Step, ...] | None = None, masses: np.ndarray | None = None) -> ChainRun:
        chain = self.chain if steps is None else Chain(self.chain.materials, steps)
        return chain.run(self.masses if masses is None else masses)


def drawn(seed: int, *, strongest_pct_vol: float = 95.0) -> Drawn:
    """Plants of every class on a spirit, with kinetics, losses, strainings and rinses."""
    rng = np.random.default_rng(seed)
    count, plants = int(rng.integers(1, 5)), int(rng.integers(1, 9))
    n = 3 + plants
    content, retention = np.zeros((n, LIQUOR + len(ACTIVITIES))), np.zeros(n)
    ethanol = float(mass_fraction_from_abv(rng.uniform(1.0, strongest_pct_vol)))
    content[SPIRIT, [INDEX["water"], INDEX["ethanol"]]] = 1.0 - ethanol, ethanol
    content[WATER, INDEX["water"]] = content[SUGAR, INDEX["sucrose"]] = 1.0
    kinetics: list[tuple[Kinetics | None, ...]] = [(None,) * len(ACTIVITIES)] * 3
    for row, kept in zip(content[PLANTS], retention[PLANTS].reshape(-1, 1), strict=True):
        row[INDEX["water"]], row[INDEX["fructose"]] = rng.uniform(0.05, 0.8), rng.uniform(0.0, 0.1)
        row[LIQUOR:] = rng.uniform(0.0, 10.0, len(ACTIVITIES)) * (rng.random(len(ACTIVITIES)) < 0.7)
        kept[:] = rng.uniform(0.0, 2.0)
        kinetics.append(
            tuple(
                None if rng.random() < 0.1 else _kinetics(rng, names)
                for names in (("bitter_glycoside", "limonoid"), ("anthocyanin",), tuple(EQUILIBRIUM))
            )
        )
    materials = Materials(
        ids=tuple(f"i{number}" for number in range(n)),
        carried=(*COMPONENTS, *ACTIVITIES),
        content=content,
        solids=np.clip(1.0 - content[:, :LIQUOR].sum(axis=1), 0.0, 1.0),
        retention=retention,
        kinetics=tuple(kinetics),
    )
    steps = tuple(
        Step(
            f"s{number}",
            loss_fraction=float(rng.uniform(0.0, 0.1)),
            fixed_loss_kg=float(rng.choice([0.0, rng.uniform(0.0, 0.05)])),
            cake_factor=float(rng.uniform(0.5, 1.8)),
            rinse_kg_per_kg=float(rng.choice([0.0, rng.uniform(0.0, 2.0)])),
            time_h=float(rng.exponential(20.0)) if (timed := rng.random() < 0.8) else None,
            temperature_c=float(rng.uniform(0.0, 80.0)) if timed else None,
        )
        for number in range(count)
    )
    masses = rng.exponential(1.0, (BATCHES, count, n)) * (rng.random((BATCHES, count, n)) < 0.6)
    masses[:, :, PLANTS] *= 0.1  # the cakes of all eight keep less than a tenth of the liquor below
    masses[:, 0, [SPIRIT, WATER]] += 10.0
    return Drawn(Chain(materials, steps), masses)


def _kinetics(rng: np.random.Generator, substances: tuple[str, ...]) -> Kinetics:
    start = CLASS_KINETICS[str(rng.choice(list(CLASS_KINETICS)))]
    return replace(
        start,
        time_constant_h=start.time_constant_h * float(rng.lognormal(0.0, 0.5)),
        activation_kj_mol=float(rng.uniform(0.0, 60.0)),
        wash_share=float(rng.choice([0.0, rng.uniform(0.0, 1.0)])),
        equilibrium=EQUILIBRIUM[str(rng.choice(substances))],
    )


def changed(chain: Chain, position: int, **fields: Any) -> tuple[Step, ...]:
    steps = list(chain.steps)
    steps[position] = replace(steps[position], **fields)
    return tuple(steps)


def activities(run: ChainRun) -> np.ndarray:
    """What is bottled of bitterness and oil: the activities that heat does not destroy."""
    return run.bottled[:, [LIQUOR, LIQUOR + 2]]


def timed_steps(chain: Chain) -> list[int]:
    return [number for number, step in enumerate(chain.steps) if step.time_h is not None]


@some
@given(seeds)
def test_mass_in_and_rinse_is_bottled_and_cake_and_losses_and_solids(seed: int) -> None:
    d = drawn(seed)
    run = d.run()
    weighed_in = d.masses.sum(axis=(1, 2)) + run.rinse_kg.sum(axis=1)
    bottled = run.bottled[:, :LIQUOR].sum(axis=1)
    out = bottled + run.kept_kg.sum(axis=1) + run.lost_kg.sum(axis=1) + run.solids_kg.sum(axis=1)
    np.testing.assert_allclose(out, weighed_in, rtol=1e-12)
    assert (run.carried >= 0.0).all()
    assert (run.lost_kg >= 0.0).all()


@some
@given(seeds)
def test_extraction_is_between_nothing_and_all_there_is(seed: int) -> None:
    """Per step, what is drawn out of the plants and survives, of what they hold."""
    d = drawn(seed)
    run = d.run()
    before = np.zeros((BATCHES, len(ACTIVITIES)))
    for number in range(len(d.chain.steps)):
        after = run.gross[:, number, LIQUOR:]
        there = d.masses[:, number] @ d.chain.materials.content[:, LIQUOR:]
        rounding = 1e-12 * (before + there)
        assert (after <= before + there + rounding).all()
        assert (after >= 0.0).all()
        # What is already dissolved is not taken up again; only colour is destroyed.
        kept = [0, 2]
        assert (after[:, kept] >= (before - rounding)[:, kept]).all()
        before = run.carried[:, number, LIQUOR:]
        assert (before <= after).all()


@some
@given(seeds, st.data())
def test_longer_never_extracts_less(seed: int, data: Any) -> None:
    d = drawn(seed)
    for number in timed_steps(d.chain):
        longer = d.chain.steps[number].time_h + data.draw(st.floats(0.0, 200.0))
        more = d.run(changed(d.chain, number, time_h=longer))
        assert (activities(more) >= activities(d.run()) * (1.0 - 1e-12)).all()


@some
@given(seeds, st.data())
def test_hotter_never_extracts_less_in_the_same_time(seed: int, data: Any) -> None:
    """Colour aside, which heat destroys as well."""
    d = drawn(seed)
    for number in timed_steps(d.chain):
        hotter = data.draw(st.floats(d.chain.steps[number].temperature_c, 100.0))
        more = d.run(changed(d.chain, number, temperature_c=hotter))
        assert (activities(more) >= activities(d.run()) * (1.0 - 1e-12)).all()


@some
@given(seeds, st.floats(0.0, 0.999), st.floats(0.0, 99.0), st.floats(0.0, 1.0))
def test_hotter_is_never_slower_to_a_given_extraction(
    seed: int, share: float, cold_c: float, towards: float
) -> None:
    """The time to a share of the way falls with temperature, and infusing that long gets there."""
    kinetics = _kinetics(np.random.default_rng(seed), tuple(EQUILIBRIUM))
    hot_c = cold_c + towards * (100.0 - cold_c)
    wanted = -np.log(min((1.0 - share) / (1.0 - kinetics.wash_share), 1.0))
    slow, fast = (
        wanted
        * kinetics.time_constant_h
        / float(factor_unchecked(np.array(at), kinetics.reference_c, kinetics.activation_kj_mol))
        for at in (cold_c, hot_c)
    )
    assert fast <= slow
    for time_h, at in ((slow, cold_c), (fast, hot_c)):
        reached = float(approach(time_h, at, kinetics))
        assert reached == pytest.approx(max(share, kinetics.wash_share), abs=1e-9)


@some
@given(seeds, st.floats(1.0, 40.0), st.floats(0.0, 1.0))
def test_stronger_never_extracts_less_where_tables_rise(seed: int, weak: float, towards: float) -> None:
    """Up to 40 % vol every table of strength rises or is level; the masses of liquor stay the same."""
    d = drawn(seed)
    runs = []
    for strength in (weak, weak + towards * (40.0 - weak)):
        content = d.chain.materials.content.copy()
        ethanol = float(mass_fraction_from_abv(strength))
        content[SPIRIT, [INDEX["water"], INDEX["ethanol"]]] = 1.0 - ethanol, ethanol
        run = Chain(replace(d.chain.materials, content=content), d.chain.steps).run(d.masses)
        assert (abv_from_mass_fraction(ethanol_fraction(run.gross)) <= 40.0 + 1e-9).all()
        runs.append(run)
    weaker, stronger = runs
    np.testing.assert_allclose(
        stronger.bottled[:, :LIQUOR].sum(axis=1), weaker.bottled[:, :LIQUOR].sum(axis=1), rtol=1e-12
    )
    # Colour included: time and heat are the same.
    assert (stronger.bottled[:, LIQUOR:] >= weaker.bottled[:, LIQUOR:] * (1.0 - 1e-12)).all()


@some
@given(seeds, st.data())
def test_colour_is_lost_with_heat_once_it_is_out(seed: int, data: Any) -> None:
    """In a step that adds no plant, longer or hotter only destroys; bitterness is left alone."""
    d = drawn(seed)
    colour = LIQUOR + 1
    for number in timed_steps(d.chain):
        if number == 0:
            continue
        masses = d.masses.copy()
        masses[:, number, PLANTS] = 0.0
        step = d.chain.steps[number]
        longer = step.time_h + data.draw(st.floats(0.0, 50.0))
        hotter = data.draw(st.floats(step.temperature_c, 90.0))
        base, more = (
            d.run(steps, masses)
            for steps in (d.chain.steps, changed(d.chain, number, time_h=longer, temperature_c=hotter))
        )
        assert (more.bottled[:, colour] <= base.bottled[:, colour] * (1.0 + 1e-12)).all()
        np.testing.assert_allclose(activities(more), activities(base), rtol=1e-12)
        # All that flows in meets the heat: 0.009/h at 50 C (published, blueberry extract at pH 3), 80 kJ/mol.
        inverse = 1.0 / 323.15 - 1.0 / (hotter + 273.15)
        rate_per_h = 0.009 * np.exp(80_000.0 / 8.314462618 * inverse)
        np.testing.assert_allclose(
            more.gross[:, number, colour],
            more.carried[:, number - 1, colour] * np.exp(-rate_per_h * longer),
            rtol=1e-9,
        )


@some
@given(seeds, st.floats(0.0, 3.0), st.data())
def test_a_rinse_never_lowers_the_yield(seed: int, rinse: float, data: Any) -> None:
    """More bottled, of everything that is not changed by the weaker liquor of later steps."""
    d = drawn(seed)
    number = data.draw(st.integers(0, len(d.chain.steps) - 1))
    less = d.chain.steps[number].rinse_kg_per_kg
    base, more = d.run(), d.run(changed(d.chain, number, rinse_kg_per_kg=less + rinse))
    assert (more.bottled[:, :LIQUOR] >= base.bottled[:, :LIQUOR] * (1.0 - 1e-12)).all()
    # Activities of the rinsed step itself: a later step draws at its own, now lower, strength.
    assert (more.carried[:, number, LIQUOR:] >= base.carried[:, number, LIQUOR:] * (1.0 - 1e-12)).all()
    assert (more.kept_kg == base.kept_kg).all()


@some
@given(seeds, st.floats(0.1, 10.0))
def test_batches_in_an_array_equal_batches_one_by_one(seed: int, batches: float) -> None:
    d = drawn(seed)
    counts = np.array([1.0, batches, 0.5])
    together = d.chain.run(d.masses, counts)
    for number, count in enumerate(counts):
        alone = d.chain.run(d.masses[number], float(count))
        # Products of matrices may add up in another order: a few units of the last place.
        for name in ("gross", "carried", "kept_kg", "rinse_kg", "lost_kg", "solids_kg"):
            np.testing.assert_allclose(
                getattr(together, name)[number], getattr(alone, name), rtol=1e-12, atol=1e-13
            )
