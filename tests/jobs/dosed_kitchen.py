"""Not a test. A bar that has every plant and fruit, and recipes held against their usual doses by hand.

The doses are those of `tests/files/doses.csv`, not of the program; what is an accent beside others is written
out here a second time.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from pathlib import Path

from formulate.describe.solved import SolvedBottle
from formulate.files.library import Library
from formulate.jobs.solve import solve_bottle

__all__ = [
    "DOSES",
    "FORMULAS",
    "FRUIT",
    "PLAIN",
    "RED_BITTER",
    "bottle",
    "grams_per_l",
    "out_of_range",
    "priced_shelf",
    "ranges",
    "solved_with",
]

PLAIN = {"strength": "24 ± 0.3 % vol", "sugar": "180 ± 5 g/L"}
RED_BITTER = (
    "gentian-root",
    "angelica-root",
    "seville-orange-peel-dried",
    "chamomile-flower",
    "ceylon-cinnamon",
)

FILES = Path(__file__).parents[1] / "files"
ROUNDING = 1e-6


def _rows(name: str) -> list[dict[str, str]]:
    with (FILES / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


DOSES = {row["id"]: row for row in _rows("doses.csv")}
FORMULAS = _rows("formulas.csv")
FRUIT = frozenset(one.id for one in Library.built_in().all() if one.family == "fruit")
LED = frozenset(  # its range is of drinks led by it: a tenth of usual beside others
    ("orange-flesh", "lemon-flesh", "grapefruit-flesh", "coffee-roasted", "coffee-robusta-roasted")
) | {"cacao-nib", "hibiscus-calyx", "ginger-fresh", "carrot"}
ACCENT_OF_FRUIT = 30.0
PRICES = {"neutral-spirit-96": "20 EUR/L", "vodka-40": "12 EUR/L", "white-sugar": "1.20 EUR/kg"}


def priced_shelf(folder: Path, names: Iterable[str] = DOSES) -> Path:
    """Write a shelf with spirit, sugar and these plants; roots and herbs dear, fruit cheap."""
    lines = [f"  {name}: {{price: {price}}}" for name, price in PRICES.items()]
    lines += [f"  {name}: {{price: {6 if name in FRUIT else 35} EUR/kg}}" for name in names]
    path = folder / "shelf.yaml"
    path.write_text("\n".join(["currency: EUR", "offers:", *lines, ""]), encoding="utf-8")
    return path


def bottle(
    folder: Path, plants: Iterable[str], targets: Mapping[str, str], more: str = "", name: str = "bottle.yaml"
) -> Path:
    """Write a bottle file; plants are lines of its list, beside spirit, water and sugar."""
    asked = "\n".join(f"  {target}: {band}" for target, band in targets.items())
    listed = "\n".join(f"  - {line}" for line in ("neutral-spirit-96", "water", "white-sugar", *plants))
    path = folder / name
    path.write_text(
        f"name: A try\nsize: 5 L bottled\nshelf: shelf.yaml\njurisdiction: EU\n{more}"
        f"targets:\n{asked}\nsteps:\n  - mix: {{strain: true}}\ningredients:\n{listed}\n",
        encoding="utf-8",
    )
    return path


def solved_with(folder: Path, *plants: str, more: str = "", **targets: str) -> SolvedBottle:
    """Solve a plain liqueur with plants, from a shelf that has them all."""
    priced_shelf(folder)
    return solve_bottle(bottle(folder, plants, PLAIN | targets, more))


def grams_per_l(solved: SolvedBottle) -> dict[str, float]:
    """Return what is weighed in of each, g per litre bottled."""
    volume = float(solved.record.predicted.volume_l)
    found: dict[str, float] = {}
    for line in solved.record.recipe:
        found[line.ingredient] = found.get(line.ingredient, 0.0) + 1000.0 * line.mass_kg / volume
    return found


def ranges(names: Iterable[str], *, concentrate: bool = False) -> dict[str, tuple[float, float]]:
    """Return the range of each of what is surely in a drink, by hand."""
    listed = [name for name in names if name in DOSES]
    found = {}
    for name in listed:
        row = DOSES[name]
        low, usual, high = (float(row[f"{key}_g_per_l"]) for key in ("low", "usual", "high"))
        if concentrate:
            given = [row[f"concentrate_{key}_g_per_l"] for key in ("low", "usual", "high")]
            if given[0]:
                low, only, high = map(float, given)
                if low == high:  # one formula only
                    low, high = only / 2.0, only * 2.0
            elif name not in FRUIT | LED:
                low, high = usual, 10.0 * high
        elif name in FRUIT and sum(other in FRUIT for other in listed) > 1:
            low = ACCENT_OF_FRUIT
        elif name in LED and len(listed) > 1:
            low = 0.1 * usual
        found[name] = (low, high)
    return found


def out_of_range(
    grams: Mapping[str, float], names: Iterable[str], *, concentrate: bool = False
) -> dict[str, tuple[float, float, float]]:
    """Return what a recipe has too little or too much of: grams per litre, and its range."""
    return {
        name: (grams.get(name, 0.0), low, high)
        for name, (low, high) in ranges(names, concentrate=concentrate).items()
        if not low * (1.0 - ROUNDING) <= grams.get(name, 0.0) <= high * (1.0 + ROUNDING)
    }
