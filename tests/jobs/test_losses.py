"""Losses that leave nothing: said at the step, not as the complaint of a formula further on."""

from __future__ import annotations

from pathlib import Path

import pytest

from formulate.describe.records import DrinkRecord
from formulate.errors import SpecError
from formulate.jobs.predict import predict_recipe

SHELF = "name: Test shelf\ncurrency: EUR\noffers: {vodka-40: {pack: 70 cl, price: 11 EUR}}\n"


def _predicted(folder: Path, steps: str, spirit: str = "1 kg") -> DrinkRecord:
    (folder / "shelf.yaml").write_text(SHELF, "utf-8")
    text = f"recipe: Thinned\nshelf: shelf.yaml\n{steps}ingredients:\n"
    text += f"  - vodka-40: {{amount: {spirit}, step: infuse}}\n  - water: {{amount: 1 kg, step: finish}}\n"
    path = folder / "thinned.yaml"
    path.write_text(text, "utf-8")
    return predict_recipe(path)


@pytest.mark.parametrize(
    ("steps", "line", "said"),
    [
        (
            "steps:\n  - infuse: {fixed_loss: 5 kg}\n  - finish\n",
            4,
            "the losses of infuse take more than there is: 5000 g of 1000 g of liquor.",
        ),
        (
            "steps:\n  - infuse\n  - finish: {loss: 50 %, fixed_loss: 1 L}\n",
            5,
            "the losses of finish take more than there is: 2000 g of 2000 g of liquor.",
        ),
    ],
)
def test_losses_above_what_there_is_are_told_at_the_step(
    tmp_path: Path, steps: str, line: int, said: str
) -> None:
    with pytest.raises(SpecError) as caught:
        _predicted(tmp_path, steps)
    (problem,) = caught.value.problems
    assert said in problem.message
    assert problem.location is not None
    assert problem.location.line == line
    assert problem.path == f"steps.{line - 4}"


def test_losses_that_leave_a_little_are_counted(tmp_path: Path) -> None:
    # 1000 g less 10 % less 400 g leaves 500 g of spirit; with 1 kg of water 1500 g are bottled.
    record = _predicted(tmp_path, "steps:\n  - infuse: {loss: 10 %, fixed_loss: 400 g}\n  - finish\n")
    assert record.predicted.volume_l * record.predicted.density_kg_m3 == pytest.approx(1500.0, abs=1e-6)


def test_less_than_a_drop_is_no_batch(tmp_path: Path) -> None:
    (tmp_path / "shelf.yaml").write_text(SHELF, "utf-8")
    path = tmp_path / "drop.yaml"
    path.write_text(
        "recipe: Drop\nshelf: shelf.yaml\ningredients:\n  - vodka-40: {amount: 1e-30 kg}\n", "utf-8"
    )
    with pytest.raises(SpecError, match="less than a drop is weighed in"):
        predict_recipe(path)
