"""The kitchen's published, remembered and customary figures, one CSV per source, and how each is computed."""

from __future__ import annotations

import csv
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np

from formulate.physics import ageing, enzyme, extraction, flash, kinetics, texture
from formulate.physics.components import COMPONENTS, INDEX
from formulate.physics.texture import sucrose_saturation

from .published_rows import Row

FOLDER = Path(__file__).parent / "published_kitchen"
# Rows in each file. A row lost from a file, or a file lost, must show.
ROW_COUNTS = {
    "anthocyanin_heat_2021": 21,
    "bar_practice": 2,
    "basil_1992": 3,
    "flash_point": 11,
    "fresh_to_dried": 3,
    "grape_marc_2013": 4,
    "methanol": 1,
    "sokolovsky_1958": 11,
    "viscosity": 29,
}
CONFIDENCES = ("published", "derived", "from memory", "common practice")


def rows() -> list[Row]:
    found = []
    for path in sorted(FOLDER.glob("*.csv")):
        with path.open(newline="", encoding="utf-8") as handle:
            for line, record in enumerate(csv.DictReader(handle), start=2):
                numbers = {name: float(record.pop(name)) for name in ("value", "tolerance")}
                found.append(Row(file=path.stem, line=line, **record, **numbers))
    return found


def rate_per_h(of: extraction.Kinetics, at_c: float) -> float:
    """Rate of the diffusion part by Arrhenius' law, worked out here and not by the program."""
    inverse = 1.0 / (of.reference_c + 273.15) - 1.0 / (at_c + 273.15)
    return math.exp(of.activation_kj_mol * 1000.0 / 8.314462618 * inverse) / of.time_constant_h


def time_to_approach_h(share: float, at_c: float, of: extraction.Kinetics) -> float:
    """Hours until a share of the way to equilibrium is done; none where the wash alone gives it."""
    wash = of.wash_share
    return -math.log((1.0 - share) / (1.0 - wash)) / rate_per_h(of, at_c) if share > wash else 0.0


def two_point_activation_kj_mol(cold: float, cold_c: float, hot: float, hot_c: float) -> float:
    """Activation energy of the Arrhenius line through two rates."""
    inverse = 1.0 / (cold_c + 273.15) - 1.0 / (hot_c + 273.15)
    return 8.314462618e-3 * math.log(hot / cold) / inverse


# Sant'Anna et al. 2013: anthocyanin from grape marc, 50 % ethanol, 50 mL/g. k = 0.034/min at 25 and
# 0.157/min at 60 degrees Celsius; the line through these two has 36.1 kJ/mol. The authors state 29.5,
# presumably a line through all their temperatures; from 25 it misses their own 60 by a quarter.
GRAPE_MARC = extraction.Kinetics(
    1.0 / (60.0 * 0.034), 25.0, two_point_activation_kj_mol(0.034, 25.0, 0.157, 60.0)
)


def _half_life_h(at_c: float, *of: float) -> float:
    return math.log(2.0) / kinetics.anthocyanin_rate_per_h(at_c, *of)


def _line_from_ends(a: dict[str, float]) -> float:
    """Half-life of a first-order loss whose Arrhenius line runs through the series' 50 and 80 °C."""
    energy = two_point_activation_kj_mol(1.0 / a["h50"], 50.0, 1.0 / a["h80"], 80.0)
    return _half_life_h(a["t"], math.log(2.0) / a["h50"], energy)


def _mixed(**kg: float) -> np.ndarray:
    masses = np.zeros(len(COMPONENTS))
    for name, mass in kg.items():
        masses[INDEX[name]] = mass
    return masses


def held_in_water(at_c: float) -> float:
    """Sucrose in saturated water, g/g: what a kilogram per kilogram of water is over."""
    over = float(sucrose_saturation(_mixed(water=1.0, sucrose=1.0), at_c)[0])
    return 1.0 / (1.0 + over)


def _drink_viscosity(a: dict[str, float]) -> float:
    """Of one solute in water, counted as a drink is."""
    solute, w = next((name, w) for name, w in a.items() if name in INDEX)
    return texture.viscosity_mpa_s(_mixed(**{"water": 1.0 - w, solute: w}), a["t"])


def _syrup_viscosity(a: dict[str, float]) -> float:
    return texture.viscosity_mpa_s(_mixed(water=1.0 - a["w"], sucrose=a["w"]), a["t"])


def _named(a: dict[str, float]) -> tuple[str, float]:
    (pair,) = a.items()
    return pair


def _finish_hours(a: dict[str, float]) -> float:
    found = enzyme.time_to_finish_h(2.0, a["t"])
    assert found.hours is not None
    return found.hours


COMPUTED: dict[str, Callable[[dict[str, float]], float]] = {
    "extraction_rate_per_min": lambda a: rate_per_h(GRAPE_MARC, a["t"]) / 60.0,
    "extraction_rate_per_min_by_stated_activation": lambda a: (
        rate_per_h(extraction.Kinetics(1.0 / (60.0 * a["k25"]), 25.0, a["ea"]), a["t"]) / 60.0
    ),
    "activation_two_points": lambda a: two_point_activation_kj_mol(
        a["cold"], a["cold_c"], a["hot"], a["hot_c"]
    ),
    "activation_from_half_lives": lambda a: two_point_activation_kj_mol(
        1.0 / a["cold"], a["cold_c"], 1.0 / a["hot"], a["hot_c"]
    ),
    "half_life_of_rate": lambda a: _half_life_h(50.0, a["k"]),
    "half_life_from_ends": _line_from_ends,
    "half_life_default": lambda a: _half_life_h(a["t"]),
    "rate_default": lambda a: kinetics.anthocyanin_rate_per_h(a["t"]),
    "anthocyanin_lost_default": lambda a: 100.0 * (1.0 - kinetics.anthocyanin_left(a["time_h"], a["t"])),
    "sucrose_solubility_water": lambda a: 100.0 * held_in_water(a["t"]),
    "flash_point": lambda a: flash.flash_point_c(a["percent"])[0],
    "viscosity_sucrose_water": _syrup_viscosity,
    "viscosity_of_a_drink": _drink_viscosity,
    "viscosity_ethanol_water": lambda a: texture.viscosity_ethanol_water_mpa_s(a["w"], a["t"]),
    "oil_lost_default": lambda a: 100.0 * (1.0 - ageing.potency_left(a["months"] / 12.0, "soft_leaf")),
    "fresh_to_dried": lambda a: ageing.fresh_to_dried_ratio(a["fresh"]),
    "methanol_upper_bound": lambda a: 100.0 * enzyme.METHANOL_G_PER_G_PECTIN * a["pectin_g"] / a["alcohol_l"],
    "enzyme_hours": _finish_hours,
    "arrhenius_per_10k": lambda a: float(
        kinetics.factor_unchecked(np.array(a["t"] + 5.0), a["t"] - 5.0, a["ea"])
    ),
}
