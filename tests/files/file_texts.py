"""Files of each kind as a person writes them, for the tests of what they become."""

from __future__ import annotations

from pathlib import Path

from formulate.files.bottle import Bottle
from formulate.files.located import load_document
from formulate.files.problems import read_model

BAD_FILES = Path(__file__).parent / "bad_files"

BOTTLE = """\
name: Damson and grapefruit aperitif      # an invented scenario
size: 5 L bottled
shelf: ../shelf.yaml
targets:
  strength: 22 ± 0.3 % vol
  sugar: 180 g/L
  acid: 5 to 7 g/L
  bitterness: like 1.2 g/L gentian-root
  cost: at most 9.50 EUR/L
  anthocyanin: at least 20 mg/L
steps:
  - infuse: {loss: 1 %, fixed_loss: 20 mL, vessel: jar-4l}
  - finish
ingredients:
  - vodka-40
  - water
  - damson: {at_least: 250 g per L bottled, step: infuse}
  - white-sugar: {step: finish}
  - grapefruit-pith: {at_most: 40 g per L bottled, step: infuse}
  - gentian-root: {step: infuse, share_of_bitterness: 30 to 60 %}
  - citric-acid: {exactly: 5 g}
together:
  - {ratio: damson to grapefruit-pith, is: 8 to 12}
  - {sum: [damson, grapefruit-pith], is: at least 250 g per L bottled}
  - {share: [gentian-root, grapefruit-pith], of: bitterness, is: at least 80 %}
measured:
  gentian-root: {bitterness: 18500, lot: A 12, date: 2024-10-01, tasters: 4}
notes: Finish to taste.
"""

SHELF = """\
name: Test shelf
currency: EUR
usual_tolerance: {sugar: 4 g/L}
vessels: {jar-4l: 4 L}
balances:
  - {name: bench, step: 1 g, up_to: 5 kg}
offers:
  vodka-40: {pack: 70 cl, price: 11.20 EUR, supplier: North, on_hand: 3 bottles}
  damson:
    - {price: 4.20 EUR/kg}
    - {pack: 2 kg, price: 7.80 EUR, supplier: South}
  grapefruit-pith: {pack: 6 pieces, price: 3 EUR}
ingredients:
  damson: {based_on: plum, ph: 3.1}
  house-gin: {name: House gin, strength: 43 % vol, bottle: 70 cl}
"""

RECIPE = """\
recipe: Damson and grapefruit aperitif
bottle: damson.yaml
shelf: ../shelf.yaml
volume: 5 L bottled
steps:
  - infuse: {loss: 1 %}
  - finish
ingredients:
  - damson: {amount: 1234.5 g, step: infuse}
  - vodka-40: {amount: 4 bottles, step: infuse}
  - water: {amount: 70 cl, step: finish}
  - water: {amount: 1 kg, step: infuse}
  - lemon: {amount: 3 pieces}
measured:
  damson: {bitterness: 12}
made_by: hand
"""


def read_bottle(text: str = BOTTLE) -> Bottle:
    """Read a bottle file from its text."""
    return read_model(Bottle, load_document(text, "b.yaml"))
