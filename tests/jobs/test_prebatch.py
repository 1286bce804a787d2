"""Batches made ahead: what may be in a sealed bottle, how it is measured, how long it keeps."""

from __future__ import annotations

from pathlib import Path

import pytest

from formulate.describe.pour_record import PourRecord
from formulate.jobs.pour import pour_drink

SHELF = """\
currency: EUR
offers:
  gin-40: {pack: 70 cl, price: 15 EUR}
  lemon-juice: {price: 4 EUR/kg}
  sweet-vermouth-15: {pack: 1 L, price: 9 EUR}
  soda-water: {pack: 1 L, price: 1 EUR}
  fresh-cream: {pack: 1 L, price: 6 EUR}
ingredients:
  soda-water: {name: Soda water, family: water, density: 998 kg/m3, composition: {water: 100 % w/w}}
  fresh-cream:
    name: Fresh cream
    family: other
    density: 1000 kg/m3
    composition: {water: 60 % w/w, insoluble: 40 % w/w}
"""
DRINK = """\
drink: Long
shelf: shelf.yaml
method: built
ingredients:
  - gin-40: 45 mL
"""


def _batch(folder: Path, *lines: str, leave_out: tuple[str, ...] = ()) -> PourRecord:
    (folder / "shelf.yaml").write_text(SHELF, encoding="utf-8")
    text = DRINK + "".join(f"  - {line}\n" for line in lines)
    (folder / "drink.yaml").write_text(text, encoding="utf-8")
    return pour_drink(folder / "drink.yaml", batch="6 bottles of 70 cl", leave_out=leave_out)


def _codes(record: PourRecord) -> set[str]:
    return {note.code for note in record.notes}


@pytest.mark.parametrize("name", ["soda-water", "fresh-cream"])
def test_gas_and_dairy_never_go_into_a_batch(tmp_path: Path, name: str) -> None:
    # Only gin and the water of the melt, 45 mL of gin for each drink; the other is poured at service.
    record = _batch(tmp_path, f"{name}: 90 mL")
    assert record.batch is not None
    assert [line.ingredient for line in record.batch.lines] == ["gin-40", "water"]
    assert [(line.ingredient, line.text) for line in record.batch.at_service] == [(name, "90 mL")]
    gin = record.batch.lines[0].volume_l
    assert gin is not None
    assert gin / record.batch.serves == pytest.approx(0.045, rel=1e-6)
    assert "batch_at_service" in _codes(record)


def test_the_keeping_line_is_that_of_what_keeps_least(tmp_path: Path) -> None:
    # Gin alone says nothing; wine opens for weeks; juice, whatever else is in it, is for the same day.
    assert not _codes(_batch(tmp_path)) & {"batch_keeping", "batch_fresh"}
    wine = _batch(tmp_path, "sweet-vermouth-15: 30 mL")
    (note,) = [note for note in wine.notes if note.code == "batch_keeping"]
    assert "3 to 6 weeks" in note.text
    both = _batch(tmp_path, "sweet-vermouth-15: 30 mL", "lemon-juice: 20 mL")
    (note,) = [note for note in both.notes if note.code in ("batch_keeping", "batch_fresh")]
    assert "24 hours" in note.text
    kept = _batch(tmp_path, "sweet-vermouth-15: 30 mL", "lemon-juice: 20 mL", leave_out=("lemon-juice",))
    assert "batch_keeping" in _codes(kept)
    assert kept.batch is not None
    assert all(line.volume_l is not None and line.mass_kg > 0.0 for line in kept.batch.lines)
