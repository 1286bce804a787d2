"""Random shelves: questions of every kind the optimiser must answer, from a seed.

Not a test. A shelf is made only of its generator: ``random_shelf(shelf_rng(seed), ...)`` is the same
question for ever, on every machine NumPy's PCG64 runs on. `random_kitchen` draws staged questions, with
plants that take time to give up what they have. The first four ingredients are always a
spirit (in a cordial without alcohol: a juice), water, sugar and citric acid, so that most shelves
have a recipe; the rest are drawn from the kinds of things a bar buys. Compositions, prices and
retentions are invented, of the size of the real ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import Chain, Step
from formulate.blend.materials import BITTERNESS, LIQUOR, Materials
from formulate.blend.separation import strain_through
from formulate.optimise.problem import BlendProblem, Limit, Origin, Over
from formulate.physics.density import density_ethanol_water, specific_volume_ethanol_water
from formulate.physics.extraction import Kinetics, class_kinetics
from formulate.physics.mixture import CITRIC_EQUIVALENT, COMPONENTS, INDEX, SUGARS, volume_l

FloatArray = NDArray[np.float64]

KINDS = ("narrow", "wide", "no sugar", "no strength", "cordial", "ingredient limits", "low strength")

# OIML R 22 at 20 C and p = 1: 0.789239 in print; all digits, so that a band here is a band of the profile.
PURE_ETHANOL_KG_L = float(density_ethanol_water(1.0, 20.0)) / 1000.0
WATER, ETHANOL, SUCROSE = INDEX["water"], INDEX["ethanol"], INDEX["sucrose"]
OTHER = INDEX["other_soluble"]
SUGAR_INDICES = [INDEX[name] for name in SUGARS]
ACID_INDICES = [INDEX[name] for name in CITRIC_EQUIVALENT]
BITTER, COLOUR = LIQUOR, LIQUOR + 1

PLANT_CLASSES = {"fruit": "crushed_fruit", "root": "root", "leaf": "leaf", "peel": "dried_peel"}
STRAININGS = (("cloth",), ("coarse-sieve", "cloth"), ("cloth", "press"), ("fine-sieve", "press", "paper"))
BATCH_L = 5.0


def shelf_rng(seed: int) -> np.random.Generator:
    """The generator behind a seed."""
    return np.random.default_rng(seed)


def random_shelf(
    rng: np.random.Generator, n: int, kind: str, *, lossy: bool = False, steps: int = 1
) -> BlendProblem:
    """Draw a question.

    Parameters
    ----------
    rng : numpy.random.Generator
        See `shelf_rng`.
    n : int
        Ingredients, at least 4.
    kind : str
        One of `KINDS`.
    lossy : bool
        Cakes keep liquor, and steps lose some.
    steps : int
        With more than one, every ingredient may go into every step.

    Returns
    -------
    BlendProblem
        For 5 L bottled.
    """
    if kind not in KINDS:
        raise ValueError(f"kind is one of {KINDS}, got {kind!r}")
    dry = kind == "cordial" and rng.random() < 0.5
    types = [
        str(name) for name in rng.choice(["spirit", "fruit", "sugar", "acid", "herb", "juice", "liqueur"], n)
    ]
    types[:4] = ["spirit", "water", "sugar", "acid"]
    if dry:
        types = ["juice" if name in ("spirit", "liqueur") else name for name in types]
    content, prices, retention = np.zeros((n, LIQUOR + 1)), np.zeros(n), np.zeros(n)
    for i, name in enumerate(types):
        prices[i], retention[i] = _fill_row(rng, content[i], name, plain=i < 4)
    if kind == "low strength":
        _balance_prices(rng, types, content, prices)
    if not lossy:
        retention[:] = 0.0
    materials = Materials(
        ids=tuple(f"{name}-{i}" for i, name in enumerate(types)),
        carried=(*COMPONENTS, BITTERNESS),
        content=content,
        solids=np.clip(1.0 - content[:, :LIQUOR].sum(axis=1), 0.0, 1.0),
        retention=retention,
    )
    place_ingredient = np.repeat(np.arange(n, dtype=np.int32), steps)
    place_step = np.tile(np.arange(steps, dtype=np.int32), n)
    return BlendProblem(
        chain=Chain(materials, _steps(rng, steps, lossy)),
        price_per_kg=prices,
        place_ingredient=place_ingredient,
        place_step=place_step,
        limits=tuple(_limits(rng, kind, dry, types, materials)),
        volume_l=5.0,
    )


def random_kitchen(rng: np.random.Generator, n: int) -> BlendProblem:
    """Draw a staged question that has a recipe.

    A reference recipe is drawn first and the limits are set around what it makes, so that one recipe is
    known to meet them; it is hardly ever the cheapest.

    Parameters
    ----------
    rng : numpy.random.Generator
        See `shelf_rng`.
    n : int
        Ingredients, at least 8.

    Returns
    -------
    BlendProblem
        For 5 L bottled: one or two infusions, strained, then a finish. Plants go into infusions only, half
        of them where there are two into one of the two; spirit, water, sugar and acid into any step.
    """
    infusions = int(rng.integers(1, 3))
    steps = (*(_infusion(rng, k) for k in range(infusions)), _finish(rng))
    names = ["spirit", "fruit", "root", "leaf", "peel", "sugar", "juice", "liqueur", "acid"]
    types = [str(name) for name in rng.choice(names, n)]
    types[:8] = ["spirit", "water", "sugar", "acid", "fruit", "fruit", "root", "leaf"]
    content, prices, retention = np.zeros((n, LIQUOR + 2)), np.zeros(n), np.zeros(n)
    kinetics: list[tuple[Kinetics | None, ...]] = []
    for i, name in enumerate(types):
        row_name = "herb" if name in ("root", "leaf", "peel") else name
        prices[i], retention[i] = _fill_row(rng, content[i], row_name, plain=i < 4)
        if name == "fruit" and (i == 4 or rng.random() < 0.5):
            content[i, COLOUR] = rng.uniform(0.5e-3, 2.5e-3)
        kinetics.append(_plant_kinetics(rng, name))
    materials = Materials(
        ids=tuple(f"{name}-{i}" for i, name in enumerate(types)),
        carried=(*COMPONENTS, BITTERNESS, "anthocyanin"),
        content=content,
        solids=np.clip(1.0 - content[:, :LIQUOR].sum(axis=1), 0.0, 1.0),
        retention=retention,
        kinetics=tuple(kinetics),
    )
    places = [_places(rng, i, name, infusions) for i, name in enumerate(types)]
    chain = Chain(materials, steps)
    return BlendProblem(
        chain=chain,
        price_per_kg=prices,
        place_ingredient=np.repeat(np.arange(n, dtype=np.int32), [len(steps) for steps in places]),
        place_step=np.concatenate(places).astype(np.int32),
        limits=tuple(_kitchen_limits(rng, types, chain, _reference(rng, types, places, chain))),
        volume_l=BATCH_L,
    )


def attribute_limit(lower_g_l: float, upper_g_l: float) -> Limit:
    """A band of anthocyanin."""
    return bottle_limit("anthocyanin", [COLOUR], [1.0], lower_g_l / 1e3, upper_g_l / 1e3, "g/L", 1e3)


def strength_limit(lower_pct_vol: float, upper_pct_vol: float) -> Limit:
    """A band of strength."""
    kg_l = PURE_ETHANOL_KG_L / 100.0
    return bottle_limit(
        "strength", [ETHANOL], [1.0], lower_pct_vol * kg_l, upper_pct_vol * kg_l, "% vol", 1 / kg_l
    )


def sugar_limit(lower_g_l: float, upper_g_l: float) -> Limit:
    """A band of sugar."""
    weights = [1.0] * len(SUGAR_INDICES)
    return bottle_limit("sugar", SUGAR_INDICES, weights, lower_g_l / 1e3, upper_g_l / 1e3, "g/L", 1e3)


def acid_limit(lower_g_l: float, upper_g_l: float) -> Limit:
    """A band of acid as citric acid."""
    weights = list(CITRIC_EQUIVALENT.values())
    return bottle_limit("acid", ACID_INDICES, weights, lower_g_l / 1e3, upper_g_l / 1e3, "g/L", 1e3)


def bitterness_limit(lower: float, upper: float) -> Limit:
    """A band of bitterness value."""
    return bottle_limit("bitterness", [BITTER], [1.0], lower / 1e3, upper / 1e3, "", 1e3)


def bottle_limit(
    name: str,
    indices: Sequence[int],
    weights: Sequence[float],
    lower: float,
    upper: float,
    unit: str = "",
    display: float = 1.0,
) -> Limit:
    """A limit on what is bottled, in kg per litre."""
    return Limit(
        Over.BOTTLE,
        np.array(indices, dtype=np.int32),
        np.array(weights, dtype=float),
        lower,
        upper,
        Origin(name, name),
        unit,
        display,
        is_target=True,
    )


def mass_limit(
    name: str, indices: Sequence[int], weights: Sequence[float], lower: float, upper: float
) -> Limit:
    """A limit on what is weighed in, in kg per litre."""
    index_array = np.array(indices, dtype=np.int32)
    return Limit(
        Over.MASSES, index_array, np.array(weights, dtype=float), lower, upper, Origin(name, name), "kg/L"
    )


def _fill_row(rng: np.random.Generator, row: FloatArray, name: str, *, plain: bool) -> tuple[float, float]:
    """Compose one ingredient; return its price per kg and what its cake keeps."""
    if name == "spirit":
        row[ETHANOL] = rng.uniform(0.32, 0.34) if plain else rng.uniform(0.3, 0.94)
        row[WATER] = 1.0 - row[ETHANOL]
        return rng.uniform(8.0, 25.0) * row[ETHANOL] / 0.33, 0.0
    if name == "water":
        row[WATER] = 1.0
        return 0.002, 0.0
    if name == "sugar":
        share = 1.0 if plain else rng.uniform(0.6, 1.0)
        row[SUCROSE if plain else rng.choice(SUGAR_INDICES)] = share
        row[WATER] = 1.0 - share
        return rng.uniform(0.8, 4.0), 0.0
    if name == "acid":
        row[INDEX["citric_acid"] if plain else rng.choice(ACID_INDICES[:4])] = 1.0
        return rng.uniform(3.0, 15.0), 0.0
    if name == "fruit":
        row[WATER] = rng.uniform(0.75, 0.87)
        row[SUGAR_INDICES[:3]] = rng.uniform(0.0, 0.03, 3)
        row[INDEX["citric_acid"]], row[OTHER] = rng.uniform(0.003, 0.02), 0.01
        return rng.uniform(2.0, 9.0), rng.uniform(0.05, 0.3)
    if name == "herb":
        row[WATER], row[SUCROSE], row[OTHER], row[BITTER] = 0.1, 0.03, 0.15, rng.uniform(1.0, 20.0)
        return rng.uniform(15.0, 60.0), rng.uniform(1.0, 3.0)
    if name == "juice":
        row[SUGAR_INDICES[:3]] = rng.uniform(0.0, 0.04, 3)
        row[INDEX["citric_acid"]], row[INDEX["malic_acid"]] = rng.uniform(0.001, 0.02, 2)
        row[WATER] = 1.0 - row.sum()
        return rng.uniform(1.5, 6.0), 0.0
    row[ETHANOL], row[SUCROSE], row[INDEX["glycerol"]] = rng.uniform(0.1, 0.2), rng.uniform(0.1, 0.3), 0.005
    row[WATER] = 1.0 - row.sum()
    row[BITTER] = rng.uniform(0.0, 0.05)
    return rng.uniform(8.0, 20.0), 0.0


def _balance_prices(
    rng: np.random.Generator, types: Sequence[str], content: FloatArray, prices: FloatArray
) -> None:
    """Price the liquids so that the cheapest litre lies between the ends of the strength band.

    Cost per kilogram is c(p) = c0 (1 + k p), linear in the ethanol fraction as blends of two liquids
    are; the volume per kilogram u(p) is concave below about 19 % vol, so c/u can have its least value
    inside. It lies at p0 where c'/c = u'/u = r, that is k = r / (1 - r p0). Dearer spirits than the
    balanced first one are left as they are.
    """
    middle, step = rng.uniform(0.085, 0.12), 1e-5
    above, at, below = (float(specific_volume_ethanol_water(middle + shift)) for shift in (step, 0.0, -step))
    ratio = (above - below) / (2.0 * step) / at
    base = rng.uniform(0.5, 2.0)
    for i, name in enumerate(types):
        if name in ("spirit", "water"):
            dearer = 1.0 if i < 2 else rng.uniform(1.01, 1.5)
            prices[i] = base * (1.0 + ratio / (1.0 - ratio * middle) * content[i, ETHANOL]) * dearer
        elif name in ("sugar", "liqueur", "juice"):
            prices[i] += 2.0 * base


def _steps(rng: np.random.Generator, count: int, lossy: bool) -> tuple[Step, ...]:
    names = ["mix"] if count == 1 else [f"step-{number}" for number in range(count)]
    if not lossy:
        return tuple(Step(name) for name in names)
    fixed = rng.random() < 0.5
    return tuple(
        Step(
            name,
            loss_fraction=float(rng.uniform(0.0, 0.05)),
            fixed_loss_kg=float(rng.uniform(0.01, 0.1)) if fixed else 0.0,
        )
        for name in names
    )


def _limits(
    rng: np.random.Generator, kind: str, dry: bool, types: Sequence[str], materials: Materials
) -> list[Limit]:
    strength, sugar, acid = rng.uniform(15.0, 30.0), rng.uniform(80.0, 280.0), rng.uniform(3.0, 9.0)
    limits: list[Limit] = []
    if kind == "wide":
        limits += [strength_limit(10.0, 40.0), sugar_limit(50.0, 300.0), acid_limit(2.0, 10.0)]
    elif kind == "low strength":
        limits += [strength_limit(8.0, 18.0), sugar_limit(40.0, 200.0)]
    elif kind == "cordial":
        limits += [sugar_limit(sugar, sugar + 40.0), acid_limit(acid, acid + 2.0)]
        limits += [] if dry else [strength_limit(-np.inf, 0.5)]
    else:
        if kind != "no strength":
            limits.append(strength_limit(strength - 0.3, strength + 0.3))
        if kind != "no sugar":
            limits.append(sugar_limit(sugar - 5.0, sugar + 5.0))
        limits.append(acid_limit(acid - 1.0, acid + 1.0))
    if "herb" in types and kind != "low strength":
        limits.append(bitterness_limit(20.0, 50.0))
    fruits = [i for i, name in enumerate(types) if name == "fruit"]
    for i in fruits[:2]:
        limits.append(mass_limit(f"{materials.ids[i]} band", [i], [1.0], 0.05, 0.3))
    if kind == "ingredient limits":
        limits += _ingredient_limits(rng, types, materials)
    return limits


def _ingredient_limits(rng: np.random.Generator, types: Sequence[str], materials: Materials) -> list[Limit]:
    """At most per litre, a share of the mass, a ratio, and a share of the bitterness."""
    n = len(types)
    limits = [mass_limit("white sugar at most", [2], [1.0], -np.inf, float(rng.uniform(0.1, 0.25)))]
    mild = [i for i, name in enumerate(types) if name not in ("acid", "herb")]
    used = int(rng.choice(mild[2:]))
    share = float(rng.uniform(0.01, 0.05))
    weights = np.full(n, -share)
    weights[used] += 1.0
    limits.append(mass_limit(f"{materials.ids[used]} share", range(n), weights, 0.0, np.inf))
    sweet = [i for i, name in enumerate(types) if name in ("sugar", "liqueur", "juice")]
    if len(sweet) > 1:
        ratio = float(rng.uniform(0.3, 0.8))
        limits.append(mass_limit("sweet ratio", [sweet[0], sweet[1]], [1.0, -ratio], -np.inf, 0.0))
    herbs = [i for i, name in enumerate(types) if name == "herb"]
    if len(herbs) > 1:
        bitter = materials.content[:, BITTER]
        weights = -0.3 * bitter
        weights[herbs[0]] += bitter[herbs[0]]
        some = np.flatnonzero(bitter)
        limits.append(mass_limit("bitter share", some.tolist(), weights[some], 0.0, np.inf))
    return limits


def _infusion(rng: np.random.Generator, number: int) -> Step:
    strained = strain_through(STRAININGS[rng.integers(len(STRAININGS))])
    return Step(
        f"infuse-{number}",
        loss_fraction=strained.loss_fraction,
        fixed_loss_kg=strained.hold_up_kg,
        cake_factor=strained.cake_factor,
        rinse_kg_per_kg=float(rng.uniform(0.3, 1.0)) if rng.random() < 0.4 else 0.0,
        time_h=float(np.exp(rng.uniform(np.log(1.0), np.log(72.0)))),
        temperature_c=float(rng.uniform(18.0, 60.0)),
    )


def _finish(rng: np.random.Generator) -> Step:
    loss, fixed = float(rng.uniform(0.0, 0.01)), float(rng.choice([0.0, 0.015, 0.03]))
    return Step("finish", loss_fraction=loss, fixed_loss_kg=fixed, strains=False)


def _plant_kinetics(rng: np.random.Generator, name: str) -> tuple[Kinetics | None, ...]:
    """How bitterness and colour leave a plant: its class's own figures, faster or slower."""
    if name not in PLANT_CLASSES:
        return (None, None)
    bitter = "limonoid" if name == "peel" else "bitter_glycoside"
    faster, washed = float(rng.lognormal(0.0, 0.3)), float(rng.choice([0.0, rng.uniform(0.05, 0.2)]))
    return tuple(
        replace(kinetics, time_constant_h=kinetics.time_constant_h * faster, wash_share=washed)
        for kinetics in (
            class_kinetics(PLANT_CLASSES[name], bitter),
            class_kinetics(PLANT_CLASSES[name], "anthocyanin"),
        )
    )


def _places(rng: np.random.Generator, i: int, name: str, infusions: int) -> FloatArray:
    """Steps an ingredient may be added in."""
    choices = infusions if name in PLANT_CLASSES else infusions + 1
    free = i < 4 or rng.random() < 0.5
    return np.arange(choices) if free else np.array([rng.integers(choices)])


def _reference(
    rng: np.random.Generator, types: Sequence[str], places: Sequence[FloatArray], chain: Chain
) -> FloatArray:
    """A plausible recipe for the batch, kg by step and ingredient."""
    usual = {"spirit": 0.05, "fruit": 0.12, "root": 0.003, "leaf": 0.003, "peel": 0.003, "acid": 0.0005}
    masses = np.zeros((len(chain.steps), len(types)))
    for i, (name, allowed) in enumerate(zip(types, places, strict=True)):
        mass = (0.45, 0.25, 0.18, 0.004)[i] if i < 4 else usual.get(name, 0.02)
        masses[rng.choice(allowed), i] = mass * rng.uniform(0.3, 1.7)
    masses[:, 0] = rng.dirichlet((2.0,) * len(chain.steps)) * masses[:, 0].sum()
    for _ in range(20):
        masses *= BATCH_L / float(volume_l(chain.run(masses).bottled[:LIQUOR]))
    return masses


def _kitchen_limits(
    rng: np.random.Generator, types: Sequence[str], chain: Chain, masses: FloatArray
) -> list[Limit]:
    bottled = chain.run(masses).bottled / BATCH_L
    wide = 4.0 if rng.random() < 0.3 else 1.0
    strength = 100.0 * bottled[ETHANOL] / PURE_ETHANOL_KG_L
    sugar = 1e3 * float(bottled[SUGAR_INDICES].sum())
    acid = 1e3 * float(bottled[ACID_INDICES] @ np.array(list(CITRIC_EQUIVALENT.values())))
    bitterness, colour = 1e3 * bottled[BITTER], 1e3 * bottled[COLOUR]
    limits = [
        strength_limit(strength - 0.3 * wide, strength + 0.3 * wide),
        sugar_limit(sugar - 5.0 * wide, sugar + 5.0 * wide),
        acid_limit(max(acid - 0.7, 0.0), acid + 0.7),
        bitterness_limit(0.85 * bitterness, 1.15 * bitterness),
    ]
    if rng.random() < 0.6:
        limits.append(attribute_limit(0.85 * colour, (1.3 * colour) if rng.random() < 0.5 else np.inf))
    used = masses.sum(axis=0) / BATCH_L
    plants = [i for i, name in enumerate(types) if name in PLANT_CLASSES]
    for i in rng.choice(plants, min(3, len(plants)), replace=False).tolist():
        least = float(rng.uniform(0.3, 0.9)) * float(used[i])
        limits.append(mass_limit(f"{chain.materials.ids[i]} at least", [i], [1.0], least, np.inf))
    return limits
