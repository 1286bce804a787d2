"""A bottle and a menu so plain that a case of them takes a few milliseconds and is worked out by hand."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from formulate.cli.main import run

SHELF = """\
name: Plain
currency: EUR
offers:
  neutral-spirit-96:
    - {pack: 1 L, price: 23.50 EUR, supplier: near}
    - {pack: 5 L, price: 104 EUR, supplier: far}
  white-sugar: {pack: 1 kg, price: 1.15 EUR}
  honey: {pack: 500 g, price: 5.40 EUR}
  vodka-40: {pack: 70 cl, price: 10 EUR}
"""
BOTTLE = """\
name: Plain liqueur
size: 1 L bottled
shelf: shelf.yaml
targets: {strength: 30 ± 0.5 % vol, sugar: 200 ± 5 g/L}
ingredients:
  - neutral-spirit-96
  - vodka-40
  - water
  - white-sugar
  - honey: {exactly: 50 g per L bottled}
"""
DRINK = """\
drink: Sweet
shelf: shelf.yaml
method: built
house: {plain-liqueur: bottle.yaml}
ingredients:
  - vodka-40: 40 mL
  - plain-liqueur: 20 mL
price: 9 EUR
"""
MENU = """\
menu: Plain menu
shelf: shelf.yaml
for: 2 weeks
drinks:
  - {drink: sweet.yaml, sells: 50 per week}
"""


def write_bar(folder: Path, cases: str, *, about: str = "bottle", **texts: str) -> Path:
    """Write the files into a folder and return the scenarios file."""
    files = {"shelf": SHELF, "bottle": BOTTLE, "sweet": DRINK, "menu": MENU} | texts
    for name, text in files.items():
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    path = folder / "scenarios.yaml"
    path.write_text(f"suppose: Test\n{about}: {about}.yaml\n{cases}", encoding="utf-8")
    return path


def run_in_a_group_of_its_own(arguments: list[str]) -> None:
    """Run `formulate` in a process that was forked for it, so that it can be killed with its workers."""
    os.setsid()
    for stream in (sys.stdout, sys.stderr):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
    sys.argv = ["formulate", *arguments]
    run()
