"""The volume a recipe says against what its amounts make."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import ROOT

from formulate.jobs.predict import predict_recipe


def _said(folder: Path, volume: str) -> list[str]:
    (folder / "shelf.yaml").write_text(
        "currency: EUR\noffers: {vodka-40: {pack: 70 cl, price: 11 EUR}}\n", "utf-8"
    )
    path = folder / "plain.yaml"
    path.write_text(
        f"recipe: Plain\nshelf: shelf.yaml\n{volume}ingredients:\n  - vodka-40: {{amount: 1 kg}}\n", "utf-8"
    )
    return [note.text for note in predict_recipe(path).notes if note.code == "volume_differs"]


# 1 kg of 40 % vol is 1/0.94805 = 1.0548 L (OIML R 22, 948.05 kg/m3 at 20 °C).
@pytest.mark.parametrize("volume", ["", "volume: 1.0548 L bottled\n", "volume: 1.074 L bottled\n"])
def test_a_volume_that_fits_is_not_remarked_on(tmp_path: Path, volume: str) -> None:
    assert _said(tmp_path, volume) == []


@pytest.mark.parametrize(
    ("volume", "words"), [("50 L", "says 50 L bottled"), ("1.08 L", "says 1.08 L"), ("50 cl", "says 500 mL")]
)
def test_a_volume_that_contradicts_the_amounts_is_told(tmp_path: Path, volume: str, words: str) -> None:
    (text,) = _said(tmp_path, f"volume: {volume} bottled\n")
    assert words in text
    assert "make 1.05 L" in text


@pytest.mark.parametrize("path", sorted((ROOT / "examples" / "recipes").glob("*.yaml")), ids=lambda p: p.stem)
def test_the_recipes_written_by_the_solver_keep_their_volume(path: Path) -> None:
    notes = predict_recipe(path).notes
    assert notes
    assert "volume_differs" not in {note.code for note in notes}
