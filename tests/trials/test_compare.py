"""`compare`: one table, blind sheets in balance, and what answers are worth, against SciPy's binomials."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import pytest
from conftest import ROOT, RunCommand
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

import formulate
from formulate.errors import FormulateError
from formulate.learn.tasting import dose_factor, paired_test, sheet_of, triangle_test

TRIALS = ROOT / "examples" / "trials"
THREE = [TRIALS / f"{name}.yaml" for name in ("fridge", "warm", "hot")]


@given(st.integers(1, 60), st.data())
def test_triangle_and_paired_tests_are_the_exact_binomials(of: int, data: st.DataObject) -> None:
    right = data.draw(st.integers(0, of))
    odd, pair = triangle_test(right, of), paired_test(right, of)
    assert odd.chance == pytest.approx(binomtest(right, of, 1 / 3, "greater").pvalue, rel=1e-12)
    assert pair.chance == pytest.approx(binomtest(right, of, 0.5, "two-sided").pvalue, rel=1e-9)
    assert odd.shown == (odd.chance < 0.05)
    if odd.needed is not None:
        assert binomtest(odd.needed, of, 1 / 3, "greater").pvalue < 0.05
        assert binomtest(odd.needed - 1, of, 1 / 3, "greater").pvalue >= 0.05


def test_the_figures_that_the_trade_knows() -> None:
    # 13/729 and 73/729, by counting.
    assert triangle_test(5, 6).chance == pytest.approx(13 / 729)
    assert triangle_test(5, 6).shown
    assert triangle_test(4, 6).chance == pytest.approx(73 / 729)
    assert not triangle_test(4, 6).shown
    assert dose_factor(0.72) == pytest.approx(1.39, abs=0.005)


@given(st.integers(1, 4), st.integers(0, 2**32))
def test_triangles_are_in_balance(blocks: int, seed: int) -> None:
    sheet = sheet_of(["a", "b"], 6 * blocks, seed)
    orders = Counter("".join(glass.drink[0] for glass in row) for row in sheet.tasters)
    assert set(orders.values()) == {blocks}
    assert len(orders) == 6
    codes = [glass.code for row in sheet.tasters for glass in row]
    assert len(set(codes)) == len(codes)
    assert all(100 <= code <= 999 for code in codes)


@pytest.mark.parametrize("count", [3, 4, 5, 6])
def test_rankings_are_in_balance(count: int) -> None:
    names = [str(number) for number in range(count)]
    rows = count if count % 2 == 0 else 2 * count
    sheet = sheet_of(names, rows, 3)
    orders = [[glass.drink for glass in row] for row in sheet.tasters]
    for place in range(count):
        assert set(Counter(order[place] for order in orders).values()) == {rows // count}
    after = Counter(pair for order in orders for pair in pairwise(order))
    assert len(after) == count * (count - 1)
    assert len(set(after.values())) == 1


def test_the_same_seed_gives_the_same_sheet_and_no_sheet_tells_a_name(run_here: RunCommand) -> None:
    asked = ["compare", *map(str, THREE[:2]), "--tasters", "6", "--seed", "5"]
    sheet = run_here(*asked, "--blind").stdout
    assert sheet == run_here(*asked, "--blind").stdout
    assert "Fridge" not in sheet
    assert "Warm" not in sheet
    key = run_here(*asked, "--key").stdout
    assert "A is Fridge, two days." in key
    codes = [word for line in sheet.splitlines() for word in line.split()[1:] if word.isdigit()]
    assert len(codes) == 18
    assert all(f"{code} " in key for code in codes)
    assert run_here(*asked[:-1], "6", "--blind").stdout != sheet


def test_three_trials_side_by_side() -> None:
    record = formulate.compare(*THREE)
    rows = {row.what: row for row in record.rows}
    assert record.trials == ("Fridge, two days", "Warm, an hour", "Hot, twenty minutes")
    # 611, 612 and 609 g in the bottles of the 647.5 g that the recipe's fifth weighs in.
    assert rows["yield"].values == pytest.approx([100 * mass / 647.459 for mass in (611, 612, 609)], rel=1e-5)
    # The refractometer alone would leave a degree; joined with the weights it is a few tenths.
    assert all(0.0 < doubt < 0.4 for doubt in rows["strength"].doubts)
    assert rows["colour, thinned 1 to"].best == (0,)
    assert rows["hands at work"].best == (2,)
    assert rows["rough, neat"].best == (0,)
    assert rows["bitter, neat"].best == ()
    assert rows["strength"].best == (), "what cannot be told apart is no better"
    assert record.following.endswith(".")
    assert record.following.count(". ") <= 1
    assert record.to_dict()["try_next"] == record.following


def test_a_screen_is_short_and_narrow(run_here: RunCommand) -> None:
    done = run_here("compare", *map(str, THREE))
    assert (done.exit_code, done.stderr) == (0, "")
    assert max(map(len, done.stdout.splitlines())) <= 80


def test_answers_are_of_two_trials() -> None:
    with pytest.raises(FormulateError, match="Give just those two"):
        formulate.compare(*THREE, triangle="5 of 6")
    with pytest.raises(FormulateError, match="so many of so many"):
        formulate.compare(*THREE[:2], triangle="7 of 6")
    record = formulate.compare(*THREE[:2], triangle="5 of 6", paired="4 of 6", dilution="0.72")
    assert [(test.test, test.shown) for test in record.tests] == [("triangle", True), ("paired", False)]
    assert record.dose_factor == pytest.approx(1 / 0.72)
