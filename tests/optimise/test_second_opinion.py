"""The linear program at an answer, solved again through PuLP, SciPy and a file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import LinearConstraint, linprog, milp
from scipy.sparse import csr_array

from formulate.errors import FormulateError
from formulate.optimise.answer import Answer
from formulate.optimise.linear import LinearModel, LinearStatus, RowBuilder
from formulate.optimise.pulp_model import export_model, solve_model
from formulate.optimise.solve import model_at, solve
from tests.optimise.shelves import random_shelf


@pytest.fixture(scope="module", params=[(0, 1), (1, 1), (2, 2)], ids=["one step", "one step b", "two steps"])
def answered(request: pytest.FixtureRequest) -> tuple[Answer, LinearModel]:
    seed, steps = request.param
    answer = solve(random_shelf(np.random.default_rng(seed), 18, "narrow", lossy=True, steps=steps))
    return answer, model_at(answer)


def _knapsack() -> LinearModel:
    """Return the textbook problem: most value in 10 kg from four items of 5, 4, 6 and 3 kg."""
    rows = RowBuilder()
    rows.add(range(4), np.array([5.0, 4.0, 6.0, 3.0]), -np.inf, 10.0)
    return rows.assemble(
        np.array([-10.0, -40.0, -30.0, -50.0]), np.zeros(4), np.ones(4), np.ones(4, dtype=bool)
    )


def _closeness(answer: Answer) -> float:
    """Return how near the program must come: the answer is the cheapest only to its proven gap."""
    return max(1e-6, answer.proven_gap)


def test_pulp_finds_the_same_cost(answered: tuple[Answer, LinearModel]) -> None:
    answer, model = answered
    again = solve_model(model)
    assert again.status is LinearStatus.OPTIMAL
    assert again.objective == pytest.approx(answer.cost_per_l, rel=_closeness(answer))


def test_scipy_finds_the_same_cost(answered: tuple[Answer, LinearModel]) -> None:
    answer, model = answered
    matrix = csr_array((model.values, model.indices, model.starts), shape=(model.rows, model.columns))
    upper, lower = np.isfinite(model.row_upper), np.isfinite(model.row_lower)
    dense = matrix.toarray()
    again = linprog(
        model.cost,
        A_ub=np.vstack([dense[upper], -dense[lower]]),
        b_ub=np.concatenate([model.row_upper[upper], -model.row_lower[lower]]),
        bounds=np.column_stack([model.column_lower, model.column_upper]),
    )
    assert again.fun == pytest.approx(answer.cost_per_l, rel=_closeness(answer))


def test_whole_numbers_against_the_textbook() -> None:
    # Every subset of the four items within 10 kg: the best holds items 2 and 4 (7 kg, worth 90).
    result = solve_model(_knapsack())
    assert result.status is LinearStatus.OPTIMAL
    assert result.objective == pytest.approx(-90.0)
    np.testing.assert_allclose(result.values, [0.0, 1.0, 0.0, 1.0], atol=1e-9)
    assert result.row_duals.size == 0  # a model with whole numbers has none, and zeros would lie


def test_whole_numbers_against_scipy() -> None:
    rng = np.random.default_rng(7)
    rows = RowBuilder()
    weights = rng.integers(1, 30, size=(3, 12)).astype(float)
    for row in weights:
        rows.add(range(12), row, -np.inf, 90.0)
    cost = -rng.integers(1, 40, size=12).astype(float)
    model = rows.assemble(cost, np.zeros(12), np.full(12, 3.0), np.ones(12, dtype=bool))
    again = milp(cost, constraints=LinearConstraint(weights, ub=90.0), integrality=np.ones(12), bounds=(0, 3))
    assert solve_model(model).objective == pytest.approx(again.fun)


def test_a_model_without_a_point_says_so() -> None:
    model = _knapsack()
    assert solve_model(replace(model, row_lower=np.array([50.0]))).status is LinearStatus.INFEASIBLE


@pytest.mark.parametrize("whole", [False, True])
@pytest.mark.parametrize("cutoff", [np.inf, 5.0])
def test_a_model_without_a_bottom_is_not_one_without_a_point(whole: bool, cutoff: float) -> None:
    """Least of -x with x no less than y: x may be anything. With whole numbers the solver knows only that
    there is no optimum, which PuLP tells as no point."""
    rows = RowBuilder()
    rows.add([0, 1], np.array([1.0, -1.0]), 0.0, np.inf)
    model = rows.assemble(np.array([-1.0, 0.0]), np.zeros(2), np.full(2, np.inf), np.full(2, whole))
    assert solve_model(model, cutoff=cutoff).status is LinearStatus.UNBOUNDED
    # No y is both at least 3 and at most 2.
    nothing = replace(model, column_lower=np.array([0.0, 3.0]), column_upper=np.array([np.inf, 2.0]))
    expected = LinearStatus.INFEASIBLE if np.isinf(cutoff) else LinearStatus.CUT_OFF
    assert solve_model(nothing, cutoff=cutoff).status is expected


def test_the_solver_prints_nothing(
    answered: tuple[Answer, LinearModel], capfd: pytest.CaptureFixture[str]
) -> None:
    solve_model(answered[1])
    assert capfd.readouterr().out == ""


def test_export_keeps_every_row_and_refuses_other_endings(
    answered: tuple[Answer, LinearModel], tmp_path: Path
) -> None:
    import highspy

    answer, model = answered
    for name in ("model.lp", "model.mps"):
        export_model(model, tmp_path / name)
        reader = highspy.Highs()
        reader.setOptionValue("output_flag", False)
        reader.readModel(str(tmp_path / name))
        reader.run()
        # PuLP writes twelve digits into an .lp file.
        assert reader.getInfo().objective_function_value == pytest.approx(
            answer.cost_per_l, rel=_closeness(answer)
        )
    with pytest.raises(FormulateError, match=r"written as \.lp or \.mps"):
        export_model(model, tmp_path / "model.txt")
