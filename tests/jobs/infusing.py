"""A jar of round figures and what is asked of its table of plans, for the tests of `infuse`."""

from __future__ import annotations

from pathlib import Path

from formulate.describe.infuse_record import InfuseRecord, Plan

SHELF = """\
currency: EUR
vessels: {jar-1l: 1 L}
offers:
  spirit: {price: 10 EUR/kg}
  root: {price: 50 EUR/kg}
  berry: {price: 5 EUR/kg}
ingredients:
  spirit:
    name: Spirit by weight
    composition: {ethanol: 50 % w/w, water: 50 % w/w}
  root:
    name: Root
    composition: {water: 10 % w/w, other_soluble: 20 % w/w, insoluble: 70 % w/w}
    bitterness: {value: 20000, extracted: 90 %}
    infusion: {like: root}
  berry:
    name: Berry
    composition: {water: 88 % w/w, fructose: 8 % w/w, pectin: 2 % w/w, insoluble: 2 % w/w}
    attributes: {anthocyanin: 2 mg/g}
    infusion: {like: crushed_fruit}
    ph: 3.0
"""

RECIPE = """\
recipe: Root and berry
shelf: shelf.yaml
steps:
  - infuse: {separate: [coarse-sieve, cloth]}
  - finish: {strain: false}
ingredients:
  - spirit: {amount: 1000 g, step: infuse}
  - root: {amount: 10 g, step: infuse}
  - berry: {amount: 500 g, step: infuse}
"""


def written_jar(folder: Path) -> Path:
    """Write a recipe of round figures and its shelf."""
    (folder / "shelf.yaml").write_text(SHELF, encoding="utf-8")
    path = folder / "jar.yaml"
    path.write_text(RECIPE, encoding="utf-8")
    return path


def row_of(record: InfuseRecord, time_h: float, temperature_c: float, enzyme: str | None = None) -> Plan:
    """Find a row of a table of plans."""
    found = [
        plan
        for plan in record.plans
        if (plan.time_h, plan.temperature_c, plan.enzyme) == (time_h, temperature_c, enzyme)
    ]
    assert len(found) == 1
    return found[0]
