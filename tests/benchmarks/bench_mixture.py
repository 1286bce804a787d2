"""Measure the mixture model on a million drinks: time, ratio to bare NumPy, and peak memory.

Run from the top of the repository: ``python -m tests.benchmarks.bench_mixture [drinks]``.
It prints and asserts nothing: the figures depend on the machine.
"""

from __future__ import annotations

import sys
import time
import tracemalloc
from collections.abc import Callable

import numpy as np

from formulate.physics.coefficients import OIML_A
from formulate.physics.components import COMPONENTS, CONSTANT_VOLUMES
from formulate.physics.mixture import SUCROSE_VOLUME_AT_ENDS, partial_specific_volumes, volume_l
from formulate.physics.numerics import Array
from formulate.physics.solutes import SOLUTES, SUCROSE_RISE, SUCROSE_WATER_KG_M3

REPEATS = 5


def bare_volume(masses: Array) -> Array:
    """The same arithmetic as expressions on whole arrays: no checks, no blocks."""

    def polynomial(coefficients: tuple[float, ...], x: Array) -> Array:
        result = np.full(x.shape, coefficients[-1])
        for coefficient in coefficients[-2::-1]:
            result = result * x + coefficient
        return result

    base = masses[:, 0] + masses[:, 1]
    solutes = masses[:, 2:].sum(axis=1)
    dissolved = solutes / (base + solutes)
    rise = polynomial(SUCROSE_RISE, dissolved)
    water = SUCROSE_WATER_KG_M3
    sucrose = 1000.0 * (water - (1.0 - dissolved) * rise) / (water * (water + dissolved * rise))
    volume = 1000.0 * base / polynomial(OIML_A, masses[:, 1] / base) + masses[:, 2] * sucrose
    for column, name in enumerate(("glucose", "fructose", "maltose"), start=3):
        fit = SOLUTES[name]
        own = polynomial(fit.volume, np.minimum(dissolved, fit.highest_mass_fraction))
        past = np.maximum(sucrose - SUCROSE_VOLUME_AT_ENDS[column - 3], 0.0)
        volume = volume + masses[:, column] * (own + past)
    for column, constant in enumerate(CONSTANT_VOLUMES, start=6):
        volume = volume + constant * masses[:, column]
    return volume


def drinks(count: int) -> Array:
    """Random liqueurs: water and ethanol, up to a third of sugars, a little of the rest."""
    masses = np.random.default_rng(1).random((count, len(COMPONENTS)))
    masses *= np.array([0.6, 0.3, 0.2, 0.1, 0.1, 0.05, *([0.005] * 9)])
    masses[:, 0] += 0.2
    return masses


def best_seconds(function: Callable[[Array], Array], masses: Array) -> float:
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        function(masses)
        times.append(time.perf_counter() - start)
    return min(times)


def peak_bytes(function: Callable[[Array], Array], masses: Array) -> int:
    tracemalloc.start()
    function(masses)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak


def main(count: int) -> None:
    masses = drinks(count)
    difference = float(np.max(np.abs(volume_l(masses) / bare_volume(masses) - 1.0)))
    bare = best_seconds(bare_volume, masses)
    print(f"{count} drinks, {masses.nbytes / 2**20:.0f} MiB of masses; same volumes to {difference:.1e}")
    print(f"{'':<26}{'seconds':>9}{'x bare':>8}{'peak MiB':>10}  (the answer's own array included)")
    for name, function in (
        ("bare NumPy", bare_volume),
        ("volume_l", volume_l),
        ("partial_specific_volumes", partial_specific_volumes),
    ):
        seconds = bare if function is bare_volume else best_seconds(function, masses)
        peak = peak_bytes(function, masses) / 2**20
        print(f"{name:<26}{seconds:>9.3f}{seconds / bare:>8.2f}{peak:>10.1f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
