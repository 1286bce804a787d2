"""One staged batch worked by hand: two fruits, two botanicals, press with a rinse, finish, filter.

Every figure on the right is typed from the arithmetic in the comment beside it, in grams, and depends on
those above it alone; the densities are OIML R 22 and SPS-4 as stated in `optimise.oracle`. The chain must
agree to 0.01 %. Compositions, contents and the work itself are invented; time constants are those of
common practice (fine-cut root 36 h and leaf 8 h at 20 C, crushed fruit 1.5 h at 50 C, 30 kJ/mol).
"""

from __future__ import annotations

from math import exp

import numpy as np
import pytest
from optimise.oracle import (
    PURE_ETHANOL_KG_M3,
    ethanol_water_density_kg_m3,
    fraction_from_strength,
    sucrose_volume_l_kg,
)

from formulate.blend.chain import Chain, ChainRun, Step
from formulate.blend.materials import BITTERNESS, LIQUOR, Materials
from formulate.blend.profile import profile
from formulate.blend.separation import strain_through
from formulate.physics.extraction import Kinetics
from formulate.physics.mixture import COMPONENTS, INDEX

TO_A_TEN_THOUSANDTH = 1e-4

ROWS = {
    # OIML R 22: 50 % vol at 20 C is 0.424257 of ethanol by mass.
    "spirit-50": {"ethanol": 0.424257, "water": 0.575743},
    # 100 g: 94.2 g dissolves, 5.8 g is solid; 0.5 g/kg of anthocyanin.
    "plum": {
        "water": 0.85,
        "glucose": 0.04,
        "fructose": 0.03,
        "malic_acid": 0.012,
        "other_soluble": 0.01,
        "anthocyanin": 0.5e-3,
    },
    # 100 g: 90.5 g dissolves, 9.5 g is solid; 2 g/kg of anthocyanin.
    "blackcurrant": {
        "water": 0.80,
        "glucose": 0.03,
        "fructose": 0.04,
        "citric_acid": 0.025,
        "other_soluble": 0.01,
        "anthocyanin": 2.0e-3,
    },
    # 35 g and 23 g of 100 g dissolve; bitterness values 20 000 and 3 000 per gram, written in thousands.
    "root": {"water": 0.10, "sucrose": 0.05, "other_soluble": 0.20, BITTERNESS: 20.0},
    "leaf": {"water": 0.08, "other_soluble": 0.15, BITTERNESS: 3.0},
    "white-sugar": {"sucrose": 1.0},
    "water": {"water": 1.0},
    "citric-acid": {"citric_acid": 1.0},
}
RETENTION = {"plum": 0.24, "blackcurrant": 0.36, "root": 1.8, "leaf": 3.0}
BY_STRENGTH = ((0.0, 0.75), (20.0, 0.9), (40.0, 1.0), (55.0, 1.0), (70.0, 1.0), (95.0, 0.6))
COLOUR_BY_STRENGTH = ((0.0, 0.6), (20.0, 0.85), (40.0, 1.0), (60.0, 1.0), (80.0, 0.8))
ROOT = Kinetics(36.0, 20.0, 30.0, 0.0, BY_STRENGTH)
LEAF = Kinetics(8.0, 20.0, 30.0, 0.1, BY_STRENGTH)
FRUIT = Kinetics(1.5, 50.0, 30.0, 0.0, COLOUR_BY_STRENGTH)
HOW = {"plum": (None, FRUIT), "blackcurrant": (None, FRUIT), "root": (ROOT, None), "leaf": (LEAF, None)}
ADDED_KG = (
    {"spirit-50": 1.5, "plum": 1.2, "blackcurrant": 0.8, "root": 0.012, "leaf": 0.008},
    {"white-sugar": 0.450, "water": 0.600, "citric-acid": 0.004},
    {},
)


def batch() -> tuple[Materials, ChainRun]:
    """Six hours at 45 C, pressed and run through paper, the cake rinsed; sweetened; filtered."""
    carried = (*COMPONENTS, BITTERNESS, "anthocyanin")
    content = np.zeros((len(ROWS), len(carried)))
    for row, parts in zip(content, ROWS.values(), strict=True):
        for name, share in parts.items():
            row[carried.index(name)] = share
    materials = Materials(
        ids=tuple(ROWS),
        carried=carried,
        content=content,
        solids=1.0 - content[:, :LIQUOR].sum(axis=1),
        retention=np.array([RETENTION.get(name, 0.0) for name in ROWS]),
        kinetics=tuple(HOW.get(name, (None, None)) for name in ROWS),
    )
    pressed = strain_through(["press", "paper"])
    steps = (
        Step(
            "press",
            loss_fraction=pressed.loss_fraction,
            fixed_loss_kg=pressed.hold_up_kg,
            cake_factor=pressed.cake_factor,
            rinse_kg_per_kg=0.5,
            time_h=6.0,
            temperature_c=45.0,
        ),
        Step("finish"),
        Step("filter", loss_fraction=0.01, fixed_loss_kg=0.015),
    )
    masses = np.array([[added.get(name, 0.0) for name in ROWS] for added in ADDED_KG])
    return materials, Chain(materials, steps).run(masses)


def grams(totals: np.ndarray, *names: str) -> float:
    return 1000.0 * float(sum(totals[INDEX[name]] for name in names))


def close(value: float) -> object:
    return pytest.approx(value, rel=TO_A_TEN_THOUSANDTH)


def test_what_dissolves_and_what_the_cake_keeps() -> None:
    _, run = batch()
    gross = run.gross[0]
    assert grams(gross, "ethanol") == close(636.386)  # 1500 x 0.424257
    # 1500 x 0.575743 + 1200 x 0.85 + 800 x 0.80 + 12 x 0.10 + 8 x 0.08
    # = 863.6145 + 1020 + 640 + 1.2 + 0.64
    assert grams(gross, "water") == close(2525.4545)
    assert grams(gross, "glucose") == close(72.0)  # 1200 x 0.04 + 800 x 0.03
    assert grams(gross, "fructose") == close(68.0)  # 1200 x 0.03 + 800 x 0.04
    assert grams(gross, "malic_acid") == close(14.4)  # 1200 x 0.012
    assert grams(gross, "citric_acid") == close(20.0)  # 800 x 0.025
    assert grams(gross, "sucrose") == close(0.6)  # 12 x 0.05
    assert grams(gross, "other_soluble") == close(23.6)  # 12 + 8 + 12 x 0.20 + 8 x 0.15
    # 636.3855 + 2525.4545 + 72 + 68 + 14.4 + 20 + 0.6 + 23.6
    assert 1000.0 * gross[:LIQUOR].sum() == close(3360.44)
    # 1200 x 0.058 + 800 x 0.095 + 12 x 0.65 + 8 x 0.77 = 69.6 + 76 + 7.8 + 6.16
    assert 1000.0 * run.solids_kg[0] == close(159.56)
    # By a hand-squeezed bag 1200 x 0.24 + 800 x 0.36 + 12 x 1.8 + 8 x 3 = 621.6; a press leaves half.
    assert 1000.0 * run.kept_kg[0] == close(310.8)
    assert 1000.0 * run.rinse_kg[0] == close(155.4)  # half of what it holds


def test_what_is_pressed_out_and_rinsed_out() -> None:
    _, run = batch()
    carried = run.carried[0]
    # The rinse mixes with the hold: 310.8 + 155.4 = 466.2, of which 310.8 stays. Of the first liquor
    # 310.8 x 310.8/466.2 = 207.2 stays, of the water 103.6; out come 155.4, 51.8 of it water of the rinse.
    # 3360.44 - 207.2 = 3153.24 is strained; 0.5 % in the press, 15.7662; 15 in the paper; 3122.4738 is left,
    # 0.929186 of the liquor.
    assert grams(carried, "ethanol") == close(591.320)  # 636.3855 x 0.929186
    assert grams(carried, "water") == close(2398.417)  # 2525.4545 x 0.929186 + 51.8 = 2346.617 + 51.8
    assert grams(carried, "glucose", "fructose") == close(130.086)  # 140 x 0.929186
    assert 1000.0 * carried[:LIQUOR].sum() == close(3174.274)  # 3122.4738 + 51.8
    assert 1000.0 * run.lost_kg[0] == close(30.766)  # 15.7662 + 15


def test_what_the_plants_give_up() -> None:
    materials, run = batch()
    # Solvent: 636.3855 of 3161.84 g is 0.201271; OIML R 22: 968.438 kg/m3;
    # 100 x 0.201271 x 968.438/789.239 = 24.6970 % vol.
    density = ethanol_water_density_kg_m3(0.201271)
    assert density == close(968.438)
    assert 100.0 * 0.201271 * density / PURE_ETHANOL_KG_M3 == close(24.6970)
    # Between 20 and 40 % vol: bitterness 0.9 + 0.1 x 4.6970/20 = 0.923485, colour 0.85 + 0.15 x 4.6970/20
    # = 0.885228.
    # Arrhenius, 30 000/8.314463 = 3608.171 K: from 20 to 45 C 3608.171 x (1/293.15 - 1/318.15)
    # = 3608.171 x 2.680515e-4 = 0.967175, e^ = 2.630504; from 50 to 45 C 3608.171 x (-4.863332e-5)
    # = -0.175477, e^ = 0.839056.
    assert exp(0.967175) == close(2.630504)
    assert exp(-0.175477) == close(0.839056)
    # Root: 6 h x 2.630504/36 h = 0.438417; 1 - e^- = 0.354943. Leaf: 6 x 2.630504/8 = 1.972878,
    # e^- = 0.139056, 0.1 + 0.9 x 0.860944 = 0.874850. Fruit: 6 x 0.839056/1.5 = 3.356226, e^- = 0.034867,
    # 0.965133.
    # Bitterness: 12 g x 20 000 x 0.354943 x 0.923485 = 78 668; 8 x 3 000 x 0.874850 x 0.923485 = 19 389.9.
    bitterness = materials.column(BITTERNESS)
    assert 1e6 * run.gross[0, bitterness] == close(98_058.0)
    assert 1e6 * run.carried[0, bitterness] == close(91_114.0)  # x 0.929186
    # Colour: 1200 g x 0.0005 + 800 x 0.002 = 2.2 g; x 0.965133 = 2.123293; x 0.885228 = 1.879598. The heat
    # takes 0.009/h x e^(80 000/8.314463 x -4.863332e-5) = 0.009 x e^-0.467940 = 0.00563662/h; over 6 h
    # e^-0.0338197 = 0.966746 is left: 1.817093 g.
    colour = materials.column("anthocyanin")
    assert 1000.0 * run.gross[0, colour] == close(1.817093)
    assert 1000.0 * run.carried[0, colour] == close(1.688417)  # x 0.929186


def test_what_is_bottled() -> None:
    materials, run = batch()
    # Finish: 3174.274 + 450 + 600 + 4 = 4228.274, nothing lost; later steps draw nothing more out.
    assert 1000.0 * run.gross[1, :LIQUOR].sum() == close(4228.274)
    assert run.carried[1].tolist() == run.gross[1].tolist()
    # Filter: 1 % and 15 g: 4228.274 x 0.99 - 15 = 4170.991, a share of 0.986452.
    bottled = run.bottled
    assert 1000.0 * bottled[:LIQUOR].sum() == close(4170.991)
    assert grams(bottled, "ethanol") == close(583.310)  # 591.320 x 0.986452
    assert grams(bottled, "water") == close(2957.796)  # (2398.417 + 600) x 0.986452
    # Sucrose 0.6 x 0.929186 + 450 = 450.5575; glucose 66.9014, fructose 63.1846 of the 130.086.
    assert grams(bottled, "sucrose") == close(444.454)  # 450.5575 x 0.986452
    assert grams(bottled, "glucose") == close(65.9950)  # 66.9014 x 0.986452
    assert grams(bottled, "fructose") == close(62.3287)  # 63.1846 x 0.986452
    assert grams(bottled, "malic_acid") == close(13.1990)  # 14.4 x 0.929186 x 0.986452
    assert grams(bottled, "citric_acid") == close(22.2778)  # (20 x 0.929186 + 4) x 0.986452
    assert grams(bottled, "other_soluble") == close(21.6317)  # 23.6 x 0.929186 x 0.986452
    # Volume. Ethanol and water: 583.310 of 3541.105 g is 0.164725; OIML R 22: 973.2216 kg/m3, 3638.540 mL.
    assert ethanol_water_density_kg_m3(0.164725) == close(973.2216)
    # Dissolved: 629.886 of 4170.991 is 0.151016. Sucrose at that share by SPS-4: 0.617431 mL/g, 274.419 mL.
    assert sucrose_volume_l_kg(0.151016) == close(0.617431)
    # Glucose 65.9950 x (0.61900 + 0.02518 x 0.151016 + 0.00376 x 0.022806) = 65.9950 x 0.622888 = 41.1075.
    # Fructose 62.3287 x (0.60994 + 0.02663 x 0.151016 + 0.00630 x 0.022806) = 62.3287 x 0.614105 = 38.2764.
    # Malic 13.1990 x 0.615 = 8.1174; citric 22.2778 x 0.597 = 13.2998; other 21.6317 x 0.62 = 13.4117.
    # 3638.540 + 274.419 + 41.1075 + 38.2764 + 8.1174 + 13.2998 + 13.4117 = 4027.172 mL.
    drink = profile(bottled, materials)
    assert 1000.0 * drink.volume_l == close(4027.172)
    assert drink.strength_pct_vol == close(18.3523)  # 100 x (583.310/0.789239)/4027.172 = 73907.9/4027.172
    assert drink.sugar_g_l == close(142.228)  # (444.454 + 65.9950 + 62.3287)/4.027172
    # Malic acid as citric by its acid groups, 2 x 192.124/(3 x 134.087) = 0.955220:
    # (22.2778 + 13.1990 x 0.955220)/4.027172 = 34.8858/4.027172.
    assert drink.acid_g_l == close(8.66259)
    assert drink.bitterness_value == close(22.3184)  # 91 114 x 0.986452/4027.172 mL
    assert drink.attributes_g_l["anthocyanin"] == close(0.413576)  # 1.688417 x 0.986452/4.027172
    assert drink.density_kg_m3 == close(1035.712)  # 4170.991/4.027172


def test_the_batch_adds_up() -> None:
    """Weighed 3520 + 1054, rinse 155.4: 4729.4 g.

    Bottled 4170.991, cake 310.8 and its solids 159.56, lost 30.766 + 57.283: 4729.400 g.
    """
    _, run = batch()
    weighed_in = 1000.0 * (sum(sum(added.values()) for added in ADDED_KG) + run.rinse_kg.sum())
    assert weighed_in == close(4729.4)
    assert 1000.0 * run.lost_kg[2] == close(57.283)  # 42.283 + 15
    out = run.bottled[:LIQUOR].sum() + run.kept_kg.sum() + run.lost_kg.sum() + run.solids_kg.sum()
    assert 1000.0 * out == pytest.approx(weighed_in, rel=1e-12)


def test_the_spirit_is_the_one_of_the_table() -> None:
    assert fraction_from_strength(50.0) == pytest.approx(0.424257, abs=5e-7)
