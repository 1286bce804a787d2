"""Recipes mixed of others: within the limits of the bottle file, out of no more than the mixture has."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from conftest import ROOT

from formulate.describe.menu_record import MenuRecord
from formulate.formulation.solving import sized_problem
from formulate.jobs.menu import plan_menu
from formulate.optimise.answer import Answer, verify
from formulate.optimise.mip.integer_terms import Choices
from formulate.planning import adapt
from formulate.planning.mixtures import mixture
from formulate.planning.other_recipes import OtherRecipe, at_prices
from tests.worked_examples import solved_example

SHELF = ROOT / "examples/shelf.yaml"


def _others(name: str) -> list[OtherRecipe]:
    """Ask for a bottle where each thing it is made of costs nothing, and where it is dear."""
    solved = solved_example(name)
    first = solved.answer
    problem = sized_problem(first.problem, first.volume_l)
    found = []
    for position in np.flatnonzero(first.masses_kg.sum(axis=0) > 0.0):
        for factor in (1e-3, 20.0):
            other = at_prices(problem, {int(position): factor}, Choices())
            if other is not None and np.abs(_litre(other) - _litre(first)).max() > 1e-4:
                found.append(OtherRecipe(0, solved.formulation.bottle, first, other))
    return found


def _litre(answer: Answer) -> np.ndarray:
    return answer.masses_kg / answer.volume_l


@pytest.mark.parametrize(
    ("name", "room"),
    [
        ("amber-digestif", 1e-4),
        ("damson-aperitif", 1e-4),
        ("lemon-leaf-liqueur", 1e-4),
        ("wormwood-aperitif", 1e-4),
        # here mixing moves more, so more room is what the program gives them
        ("quince-cordial", 1e-3),
        ("creme-de-cassis", 3e-3),
    ],
)
def test_what_lies_between_recipes_is_one(name: str, room: float) -> None:
    others = _others(name)
    assert others
    rng = np.random.default_rng(1)
    recipes = np.array([_litre(others[0].first), *(_litre(one.other) for one in others)])
    for _ in range(6):
        shares = rng.dirichlet(np.ones(len(recipes)))
        answer = mixture(others, shares, room)
        assert answer is not None
        most = np.tensordot(shares, recipes.sum(axis=1), axes=1) * (1.0 + room)
        assert (_litre(answer).sum(axis=0) <= most + 1e-9).all()
        # held against the limits from its masses alone; a limit missed is an error
        problem = sized_problem(others[0].first.problem, others[0].first.volume_l)
        assert verify(problem, answer.masses_kg, answer.purchases_kg).profile.volume_l > 0.0


def test_a_recipe_alone_stays_as_it_is() -> None:
    others = _others("wormwood-aperitif")
    shares = np.zeros(len(others) + 1)
    shares[1] = 1.0
    assert mixture(others, shares, 1e-4) is others[0].other
    assert mixture(others, np.eye(len(shares))[0], 1e-4) is others[0].first


def _menu(folder: Path, name: str, sold: int, more: str = "", *, adapt: bool = True) -> MenuRecord:
    bottle = (ROOT / f"examples/bottles/{name}.yaml").as_posix()
    drink = (
        f"drink: Bitter\nshelf: {SHELF.as_posix()}\nmethod: built\nhouse: {{bitter: {bottle}}}\n"
        "ingredients:\n  - bitter: 40 mL\n"
    )
    (folder / "drink.yaml").write_text(drink, encoding="utf-8")
    menu = (
        f"menu: Test\nshelf: {SHELF.as_posix()}\nfor: 1 week\n"
        f"drinks:\n  - {{drink: drink.yaml, sells: {sold} per week}}\n{more}"
    )
    (folder / "menu.yaml").write_text(menu, encoding="utf-8")
    return plan_menu(folder / "menu.yaml", adapt=adapt)


@pytest.mark.parametrize(
    ("name", "sold"), [("wormwood-aperitif", 200), ("quince-cordial", 140), ("amber-digestif", 140)]
)
def test_a_mixture_is_taken_where_it_saves(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, sold: int
) -> None:
    taken = []

    def seen(others: list[OtherRecipe], shares: np.ndarray, room: float) -> Answer | None:
        taken.append((mixture(others, shares, room), float(shares.max())))
        return taken[-1][0]

    monkeypatch.setattr(adapt, "mixture", seen)
    fixed = _menu(tmp_path, name, sold, adapt=False)
    # what is bought suffices by the recipe as it is: the plan is played through before it is told
    record = _menu(tmp_path, name, sold)
    ((answer, share),) = taken
    assert share < 0.999
    assert answer is not None
    assert record.saved == pytest.approx(fixed.total - record.total, abs=0.02)
    assert record.saved > 1.0
    (row,) = record.adapted
    weighed = sum(line.now_g_l for line in row.lines)
    assert weighed == pytest.approx(1000.0 * float(_litre(answer).sum()), abs=0.2)
    assert row.now.strength_pct_vol == pytest.approx(answer.profile.strength_pct_vol)


def test_what_a_vessel_cannot_make_is_short_with_and_without_mixtures(tmp_path: Path) -> None:
    # 4 L in the jar, 2 days a batch: three batches a week and a half, far from 1 000 drinks of 40 mL
    house = "house:\n  bitter: {vessel: jar-4l, takes: 2 days}\n"
    fixed = _menu(tmp_path, "wormwood-aperitif", 1000, house, adapt=False)
    adapted = _menu(tmp_path, "wormwood-aperitif", 1000, house)
    assert (fixed.status, adapted.status) == ("short", "short")
    assert adapted.house[0].short_l <= fixed.house[0].short_l + 1e-3
