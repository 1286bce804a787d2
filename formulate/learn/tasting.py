"""Tasting without knowing: who gets which glass in which order, and what the answers are worth.

The exact probabilities are those of a fair coin or die: the chance that tasters who cannot tell would have
answered at least as well. Triangle and paired tests as in ISO 4120 and ISO 5495, worked out here.
"""

from __future__ import annotations

import random
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import comb
from typing import Literal

from formulate.errors import UnitError
from formulate.quantity.document import HIDDEN, Record, Result

__all__ = [
    "Glass",
    "TasteTest",
    "TastingSheet",
    "dose_factor",
    "paired_test",
    "parse_right",
    "sheet_of",
    "triangle_test",
]

SHOWN_BELOW = 0.05
"""Chance of guessing so well below which a difference counts as shown (common practice)."""
TRIANGLES = ("AAB", "ABA", "BAA", "BBA", "BAB", "ABB")
"""The six orders of a triangle, each as often as any other."""


@dataclass(frozen=True, slots=True)
class Glass:
    """One glass before one taster.

    Attributes
    ----------
    code : int
        Three digits, no two alike on a sheet.
    drink : str
        What is in it; not on the sheet.
    """

    code: int
    drink: str = field(metadata=HIDDEN)


@dataclass(frozen=True, kw_only=True)
class TastingSheet(Result):
    """Who tastes what, in which order.

    Attributes
    ----------
    test : str
        ``triangle`` where two drinks are tasted, else ``ranking``.
    drinks : tuple of str
    tasters : tuple of tuple of Glass
        One row each.
    seed : int
        Gives the same sheet and key again.
    """

    status: str = field(default="sheet", init=False)
    test: Literal["triangle", "ranking"]
    drinks: tuple[str, ...] = field(metadata=HIDDEN)
    tasters: tuple[tuple[Glass, ...], ...]
    seed: int


@dataclass(frozen=True)
class TasteTest(Record):
    """What the answers of a test are worth.

    Attributes
    ----------
    test : str
    right, of : int
    chance : float
        That tasters who cannot tell answer at least as one-sidedly.
    shown : bool
        Whether that is below one in twenty.
    needed : int or None
        The fewest right answers of as many that would show it; None where so few tasters cannot.
    """

    test: str
    right: int
    of: int
    chance: float
    shown: bool
    needed: int | None


def sheet_of(drinks: Sequence[str], tasters: int, seed: int) -> TastingSheet:
    """Lay out a tasting: triangles for two drinks, else every drink once in a balanced order.

    Parameters
    ----------
    drinks : sequence of str
        At least two.
    tasters : int
    seed : int
    """
    draw = random.Random(seed)
    if len(drinks) == 2:
        orders = []
        for number in range(tasters):
            if number % len(TRIANGLES) == 0:
                block = list(TRIANGLES)
                draw.shuffle(block)
            orders.append([drinks["AB".index(letter)] for letter in block[number % len(TRIANGLES)]])
    else:
        rows = _williams(len(drinks))
        draw.shuffle(rows)
        orders = [[drinks[place] for place in rows[number % len(rows)]] for number in range(tasters)]
    codes = draw.sample(range(100, 1000), sum(map(len, orders)))
    named = iter(codes)
    return TastingSheet(
        test="triangle" if len(drinks) == 2 else "ranking",
        drinks=tuple(drinks),
        tasters=tuple(tuple(Glass(next(named), drink) for drink in order) for order in orders),
        seed=seed,
    )


def _williams(count: int) -> list[list[int]]:
    """Orders in which each drink stands in each place, and after each other one, equally often."""
    first = [0]
    for step in range(1, count):
        first.append((first[-1] + (step if step % 2 else -step)) % count)
    rows = [[(place + shift) % count for place in first] for shift in range(count)]
    return rows if count % 2 == 0 else rows + [row[::-1] for row in rows]


def triangle_test(right: int, of: int) -> TasteTest:
    """Say what picking the odd glass out of three is worth; one in three guesses right."""
    return _test("triangle", right, of, 1.0 / 3.0, sides=1)


def paired_test(right: int, of: int) -> TasteTest:
    """Say what preferring one of two is worth, whichever it is; a coin decides for who cannot tell."""
    return _test("paired", max(right, of - right), of, 0.5, sides=2)


def _test(name: str, right: int, of: int, guess: float, *, sides: int) -> TasteTest:
    needed = next((few for few in range(of + 1) if sides * _at_least(few, of, guess) < SHOWN_BELOW), None)
    chance = min(sides * _at_least(right, of, guess), 1.0)
    return TasteTest(name, right, of, chance, chance < SHOWN_BELOW, needed)


def _at_least(right: int, of: int, guess: float) -> float:
    return sum(comb(of, k) * guess**k * (1.0 - guess) ** (of - k) for k in range(right, of + 1))


def dose_factor(ratio: float) -> float:
    """Return by how much to multiply a dose so that a drink reaches the other's strength of taste.

    Parameters
    ----------
    ratio : float
        To what share the stronger drink is thinned until both taste alike: 0.72 makes 1.39.
    """
    return 1.0 / ratio


def parse_right(text: str) -> tuple[int, int]:
    """Read ``5 of 6``.

    Raises
    ------
    UnitError
        If it is not so many of so many.
    """
    found = re.fullmatch(r"\s*(\d+)\s+of\s+(\d+)\s*", text)
    if found is None or int(found[1]) > int(found[2]) or not int(found[2]) or int(found[2]) > 1000:
        raise UnitError(f"so many of so many tasters, got {text!r}. Write e.g. 5 of 6.")
    return int(found[1]), int(found[2])
