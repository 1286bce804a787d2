"""Rows of money add up to the sum that is printed below them."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand
from hypothesis import given
from hypothesis import strategies as st

from formulate.quantity.amounts import cents_adding_up, to_cents

GOLDEN = ROOT / "tests" / "golden"
SOLVED = sorted(path for path in GOLDEN.glob("solve-*.txt") if " in all;" in path.read_text(encoding="utf-8"))


def test_the_largest_remainders_take_the_missing_cents() -> None:
    # By hand: cut to 3.33 three times is 9.99, and a cent is missing; of equals the first takes it.
    assert cents_adding_up([10.0 / 3.0] * 3, 10.0) == [3.34, 3.33, 3.33]
    # Hamilton's method by hand: 0.10 + 0.20 + 0.30 are cut, two cents are missing, .009 and .008 take them.
    assert cents_adding_up([0.109, 0.203, 0.308], 0.62) == [0.11, 0.20, 0.31]
    assert cents_adding_up([28.2, 0.0, 0.7682, 3.1584, 0.2160], 32.34) == [28.2, 0.0, 0.77, 3.16, 0.21]
    assert cents_adding_up([], 0.0) == []
    # What stands on a cent as a bill writes it keeps it, though the nearest double lies below.
    assert cents_adding_up([0.29, 0.57], 0.86) == [0.29, 0.57]


@given(st.lists(st.floats(0.0, 9_999.0), max_size=30))
def test_parts_add_up_and_none_is_a_cent_off(amounts: list[float]) -> None:
    total = to_cents(sum(amounts))
    parts = cents_adding_up(amounts, total)
    assert sum(Fraction(f"{part:.2f}") for part in parts) == Fraction(f"{total:.2f}")
    assert all(abs(part - amount) < 0.01 + 1e-9 for part, amount in zip(parts, amounts, strict=True))


def test_there_are_screens_to_add_up() -> None:
    assert len(SOLVED) >= 8


@pytest.mark.parametrize("path", SOLVED, ids=[path.stem for path in SOLVED])
def test_the_lines_of_a_recipe_add_up(path: Path) -> None:
    table, *below = re.split(r"\n\n", path.read_text(encoding="utf-8"))
    total = re.search(r"([0-9.]+) in all;", "\n".join(below))
    assert total is not None
    table = table.partition("\nfrom whole")[0]  # what is bought whole is counted above
    rows = [line for line in table.splitlines()[1:] if re.search(r" \d+\.\d\d$", line)]
    assert len(rows) >= 3
    assert sum(Fraction(row.split()[-1]) for row in rows) == Fraction(total[1])


@pytest.mark.parametrize("name", ["amber-hour", "orchard-fizz"])
def test_the_lines_of_a_drink_add_up(name: str, run_here: RunCommand) -> None:
    text = run_here("pour", ROOT / "examples" / "drinks" / f"{name}.yaml", "--all").stdout
    _, table, *_ = re.split(r"\n\n", text)
    glass = table.partition("\non the glass")
    costs = [
        sum(Fraction(found[1]) for line in part.splitlines() if (found := re.search(r" (\d+\.\d\d)$", line)))
        for part in (glass[0], glass[2])
    ]
    said = re.search(r"Costs ([0-9.]+) EUR a drink: ([^.]*\.[^.]*\.?[^\n]*)\.\n", text)
    assert said is not None
    parts = {
        word: Fraction(number) for number, word in re.findall(r"([0-9.]+) (poured|garnish|waste)", said[2])
    }
    assert costs == [parts["poured"], parts.get("garnish", Fraction(0))]
    assert sum(parts.values()) == Fraction(said[1])


@pytest.mark.parametrize(("amount", "cents"), [(0.125, 0.13), (0.375, 0.38), (2.665, 2.67), (4.445, 4.45)])
def test_half_a_cent_goes_up_as_in_spreadsheets(amount: float, cents: float) -> None:
    assert to_cents(amount) == cents
