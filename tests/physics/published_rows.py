"""The published values beside this file, one CSV per source, and how each quantity is computed here."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import brentq

from formulate.physics import density, mixture, refraction, solutes, strength, thermal

FOLDER = Path(__file__).parent / "published"
# Rows in each file. A row lost from a file, or a file lost, must show.
ROW_COUNTS = {
    "beet_sugar_handbook": 9,
    "bureau_of_standards_1913": 48,
    "cfr_27_part_30": 10,
    "crc_102e": 148,
    "excess_volume": 2,
    "icumsa_1974": 18,
    "icumsa_sps4": 70,
    "mixture_model": 66,
    "oiml_r22": 151,
    "oiv_extract": 6,
    "perry_7e": 11,
    "spirits_with_sugar": 14,
    "thermoml": 29,
    "wine_glossary": 1,
}


@dataclass(frozen=True)
class Row:
    file: str
    line: int
    quantity: str
    inputs: str
    value: float
    unit: str
    tolerance: float
    source: str
    confidence: str
    reason: str

    @property
    def arguments(self) -> dict[str, float]:
        pairs = (part.split("=") for part in self.inputs.split(";") if "=" in part)
        return {name: float(number) for name, number in pairs}

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.quantity}({self.inputs})"


def rows() -> list[Row]:
    found = []
    for path in sorted(FOLDER.glob("*.csv")):
        with path.open(newline="", encoding="utf-8") as handle:
            for line, record in enumerate(csv.DictReader(handle), start=2):
                found.append(
                    Row(
                        file=path.stem,
                        line=line,
                        quantity=record["quantity"],
                        inputs=record["inputs"],
                        value=float(record["value"]),
                        unit=record["unit"],
                        tolerance=float(record["tolerance"]),
                        source=record["source"],
                        confidence=record["confidence"],
                        reason=record["reason"],
                    )
                )
    return found


def drink(abv_pct: float, sucrose_g_l: float) -> np.ndarray:
    """One litre of this strength and sugar: the water is what makes the volume come out."""
    masses = np.zeros(len(mixture.COMPONENTS))
    masses[mixture.INDEX["ethanol"]] = abv_pct / 100.0 * density.density_ethanol_water(1.0) / 1000.0
    masses[mixture.INDEX["sucrose"]] = sucrose_g_l / 1000.0
    low, high = 0.0, 1.1
    for _ in range(60):
        masses[0] = 0.5 * (low + high)
        low, high = (masses[0], high) if mixture.volume_l(masses) < 1.0 else (low, masses[0])
    return masses


def litre_at_15(abv_pct: float, sucrose_g_l: float) -> np.ndarray:
    """One litre at 15 °C of this strength and sugar, both by volume at 15 °C too."""
    masses = np.zeros(len(mixture.COMPONENTS))
    masses[mixture.INDEX["ethanol"]] = abv_pct / 100.0 * density.density_ethanol_water(1.0, 15.0) / 1000.0
    masses[mixture.INDEX["sucrose"]] = sucrose_g_l / 1000.0
    low, high = 0.0, 1.1
    for _ in range(60):
        masses[0] = 0.5 * (low + high)
        volume_l = 1000.0 * masses.sum() / thermal.density_mixture_kg_m3(masses, 15.0)
        low, high = (masses[0], high) if volume_l < 1.0 else (low, masses[0])
    return masses


def strength_if_weighed(abv_pct: float, sucrose_g_l: float, density_kg_m3: float) -> float:
    """% vol that the masses for this strength give where their volume is as measured, not as calculated."""
    masses = litre_at_15(abv_pct, sucrose_g_l)
    return abv_pct * density_kg_m3 / (1000.0 * float(masses.sum()))


def in_water(solute: str, w: float, temperature_c: float) -> float:
    """Density of a solute in water as the model of a whole drink has it."""
    masses = np.zeros(len(mixture.COMPONENTS))
    masses[0], masses[mixture.INDEX[solute]] = 1.0 - w, w
    return float(thermal.density_mixture_kg_m3(masses, temperature_c))


WATER_G_CM3 = 0.998203
"""What the fits of single solutes were made with."""


def apparent_volume(solute: str, w: float | np.ndarray) -> Any:
    """Volume a solute seems to add to water, L/kg: its own quadratic; of sucrose by the textbook form."""
    if solute == "sucrose":
        water = density.density_water(20.0)
        return 1000.0 * (1.0 / density.density_sucrose_water(w) - (1.0 - w) / water) / w
    return np.polyval(solutes.SOLUTES[solute].volume[::-1], w)


def solute_density(solute: str, w: float | np.ndarray) -> Any:
    """kg/m3 of one solute in water by its own fit."""
    return 1000.0 / (w * apparent_volume(solute, w) + (1.0 - w) / WATER_G_CM3)


def solute_index(solute: str, w: float | np.ndarray) -> Any:
    """nD of one solute in water by its own fit: specific refractions add by mass (Lorentz-Lorenz)."""
    own = np.polyval(solutes.SOLUTES[solute].refraction[::-1], w)
    product = (w * own + (1.0 - w) * solutes.SPECIFIC_REFRACTION_WATER) * solute_density(solute, w) / 1000.0
    return np.sqrt((1.0 + 2.0 * product) / (1.0 - product))


def clear_strength(kg_m3: float) -> float:
    """% vol that a spirit without sugar has at this density, as a hydrometer tells it."""

    def gap(p: float) -> float:
        return density.density_ethanol_water(p) - kg_m3

    return strength.abv_from_mass_fraction(brentq(gap, 0.0, 1.0, xtol=1e-14))


def _of_proof(proof: float) -> float:
    return strength.mass_fraction_from_abv(proof / 2.0, strength.SIXTY_FAHRENHEIT_C)


def _water_to_reduce(litres: float, strong: float, weak: float, at: float = 20.0) -> float:
    """Litres of water that bring a spirit down: the ethanol stays, so the mass grows by the ratio."""
    before, after = (strength.mass_fraction_from_abv(abv, at) for abv in (strong, weak))
    spirit_kg = litres * density.density_ethanol_water(before, at)
    return spirit_kg * (before / after - 1.0) / density.density_ethanol_water(0.0, at)


def _expansion(p: float, at: float) -> float:
    warm, cool = (density.density_ethanol_water(p, at + step) for step in (1e-3, -1e-3))
    return (cool - warm) / 2e-3 / density.density_ethanol_water(p, at)


def _extract(gravity: float) -> float:
    """Dry extract, g/L: the sucrose solution with this 20/20 specific gravity (OIV-MA-AS2-03B)."""
    grams_a_litre = gravity * density.density_water(20.0)

    def gap(w: float) -> float:
        return density.density_sucrose_water(w) - grams_a_litre

    return brentq(gap, 0.0, 0.85, xtol=1e-14) * grams_a_litre


def _fahrenheit(degrees: float) -> float:
    return (degrees - 32.0) / 1.8


def _table6_water(proof: float) -> float:
    fraction = _of_proof(proof)
    at = strength.SIXTY_FAHRENHEIT_C
    spirit, water = density.density_ethanol_water(fraction, at), density.density_ethanol_water(0.0, at)
    return 100.0 * (1.0 - fraction) * spirit / water


def _reduce_proof(a: dict[str, float]) -> float:
    return _water_to_reduce(100.0, a["from"] / 2.0, a["to"] / 2.0, strength.SIXTY_FAHRENHEIT_C)


def _volume_factor(a: dict[str, float]) -> float:
    fraction, warm = _of_proof(a["proof"]), _fahrenheit(a["F"])
    at_60 = density.density_ethanol_water(fraction, strength.SIXTY_FAHRENHEIT_C)
    return density.density_ethanol_water(fraction, warm) / at_60


def obscuration_proof_per_g_l(proof: float) -> float:
    """Degrees of proof that 1 g/L of sugar hides from a hydrometer."""
    hidden = proof - 2.0 * clear_strength(mixture.density_kg_m3(drink(proof / 2.0, 1.0)))
    shown_clear = 2.0 * clear_strength(mixture.density_kg_m3(drink(proof / 2.0, 0.0)))
    return hidden - (proof - shown_clear)


def _equal_volumes(each: float, temperature_c: float) -> float:
    ethanol = each * density.density_ethanol_water(1.0, temperature_c)
    water = each * density.density_ethanol_water(0.0, temperature_c)
    together = density.density_ethanol_water(ethanol / (ethanol + water), temperature_c)
    return (ethanol + water) / together


def _excess_volume(temperature_c: float) -> tuple[float, float]:
    """Least excess molar volume of ethanol and water in cm3/mol, and the mole fraction where it is."""
    ethanol_g_mol, water_g_mol = 46.068, 18.015
    moles = np.linspace(0.0, 1.0, 10001)
    ethanol, water = moles * ethanol_g_mol, (1.0 - moles) * water_g_mol
    mixed = density.density_ethanol_water(ethanol / (ethanol + water), temperature_c)
    pure_ethanol = density.density_ethanol_water(1.0, temperature_c)
    pure_water = density.density_ethanol_water(0.0, temperature_c)
    excess = 1000.0 * ((ethanol + water) / mixed - ethanol / pure_ethanol - water / pure_water)
    least = int(np.argmin(excess))
    return float(excess[least]), float(moles[least])


def _solute_quantities() -> dict[str, Callable[[dict[str, float]], float]]:
    found: dict[str, Callable[[dict[str, float]], float]] = {}
    for solute in solutes.SOLUTES:
        printed = "NaCl" if solute == "salt" else solute
        found[f"density_{printed}_water"] = lambda a, s=solute: solute_density(s, a["w"])
        found[f"nD_{printed}_water"] = lambda a, s=solute: solute_index(s, a["w"])
        found[f"apparent_specific_volume_{printed}"] = lambda a, s=solute: apparent_volume(s, a["w"])
    return found


COMPUTED: dict[str, Callable[[dict[str, float]], float]] = {
    **_solute_quantities(),
    "mass_fraction_ethanol_from_abv20": lambda a: strength.mass_fraction_from_abv(a["abv"]),
    "density_ethanol_water": lambda a: density.density_ethanol_water(a.get("p", a.get("w")), a["t"]),
    "density_at_abv": lambda a: density.density_ethanol_water(
        strength.mass_fraction_from_abv(a["abv20"]), a["t"]
    ),
    "nD_ethanol_water": lambda a: refraction.refractive_index_ethanol_water(a["w"]),
    "density_sucrose_water": lambda a: density.density_sucrose_water(a["w"], a["t"]),
    "apparent_specific_volume_sucrose": lambda a: solutes.sucrose_volume_unchecked(np.array(a["w"])),
    "sg20_20_sucrose_water": lambda a: density.density_sucrose_water(a["w"]) / density.density_water(20.0),
    "nD_sucrose_water": lambda a: refraction.refractive_index_sucrose_water(a["w"]),
    "density_ternary": lambda a: mixture.density_kg_m3(drink(a["abv"], a["sucrose_g_L"])),
    "density_spirit_at_15": lambda a: float(
        thermal.density_mixture_kg_m3(litre_at_15(a["abv15"], a["sugar_g_L"]), 15.0)
    ),
    "strength_from_masses_at_15": lambda a: strength_if_weighed(a["abv15"], a["sugar_g_L"], a["density"]),
    "density_of_a_drink": lambda a: next(
        in_water(name, w, a["t"]) for name, w in a.items() if name in mixture.INDEX
    ),
    "water_mass_per_litre": lambda a: 1000.0 * float(drink(a["abv"], a["sucrose_g_L"])[0]),
    "nD_ternary": lambda a: refraction.refractive_index_mixture(drink(a["abv"], a["sucrose_g_L"])),
    # A one-digit rule of the regulation for 80 to 100 proof: the middle of that range is checked here,
    # both ends in test_mixture.
    "obscuration_proof_per_g_L": lambda a: obscuration_proof_per_g_l(90.0),
    "obscuration_model_proof_per_g_L": lambda a: obscuration_proof_per_g_l(a["proof"]),
    "sucrose_g_L_from_sg20_20": lambda a: _extract(a["d"]),
    "cfr_table6_water_parts": lambda a: _table6_water(a["proof"]),
    "cfr_water_to_reduce": _reduce_proof,
    "cfr_table7_volume_factor": _volume_factor,
    "volume_50ml_ethanol_plus_50ml_water": lambda a: _equal_volumes(50.0, a["t"]),
    "volume_100L_ethanol_plus_100L_water": lambda a: _equal_volumes(100.0, a["t"]),
    "thermal_expansion_coefficient": lambda a: _expansion(
        strength.mass_fraction_from_abv(a["abv20"]), a["t"]
    ),
    "water_to_reduce_one_litre": lambda a: 1000.0 * _water_to_reduce(1.0, a["from"], a["to"]),
    "excess_molar_volume_minimum": lambda a: _excess_volume(a["t"])[0],
    "excess_molar_volume_minimum_at": lambda a: _excess_volume(a["t"])[1],
}
