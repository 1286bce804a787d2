"""Every answer that somebody makes or serves from tells guests' cautions first, and all of them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from conftest import RunCommand

from formulate.jobs.adjust import adjust_texts
from formulate.jobs.buy import buy_bottle
from formulate.report.buy_text import buy_text
from formulate.report.first_screen import More
from formulate.report.measuring_text import card_text, care_text

COMMANDS = {
    "solve": ["solve", "examples/bottles/damson-aperitif.yaml"],
    "predict": ["predict", "examples/recipes/amber-digestif.yaml"],
    "predict a jar": ["predict", "examples/jars/damson-jar.yaml"],
    "infuse": ["infuse", "examples/recipes/damson-aperitif.yaml"],
    "reformulate": ["reformulate", "examples/recipes/damson-aperitif.yaml", "--without", "citric-acid"],
    "adjust": ["adjust", "examples/jars/damson-jar.yaml"],
    "adjust with a card": ["adjust", "examples/jars/damson-jar.yaml", "--card"],
    "scale": ["scale", "examples/recipes/damson-aperitif.yaml", "--to", "12 L bottled"],
    "buy": ["buy", "examples/bottles/damson-aperitif.yaml"],
    "pour": ["pour", "examples/drinks/amber-hour.yaml"],
    "menu": ["menu", "examples/menus/autumn.yaml"],
}
BULLET, FIRST = "  · ", "  ! "


def _bullets(text: str) -> list[str]:
    """Read the points under the last heading, or those of a first screen, each on one line."""
    _, headed, part = text.rpartition("\nTake care\n")
    points = re.split(rf"^{BULLET if headed else FIRST}", part, flags=re.MULTILINE)[1:]
    return [" ".join(re.split(r"\n  \S", point)[0].split()) for point in points]


@pytest.mark.parametrize("name", COMMANDS)
def test_what_guests_must_know_is_first_and_whole(name: str, run_here: RunCommand) -> None:
    command = COMMANDS[name]
    document = json.loads(run_here(*command, "--json").stdout)
    document = document if "cautions" in document else document["drink"]
    cautions = document["cautions"]
    guests = [note for note in cautions if note["for_guests"]]
    assert cautions[: len(guests)] == guests
    assert "pregnancy" in {note["code"] for note in guests}, "all of these hold gentian"
    shown = _bullets(run_here(*command).stdout)
    assert shown[: len(guests)] == [" ".join(note["short"].split()) for note in guests]
    in_full = _bullets(run_here(*command, "--cautions").stdout)
    assert len(in_full) == len(cautions)
    assert {note["code"] for note in cautions} <= {note["code"] for note in document["warnings"]}


SHELF = """\
currency: EUR
offers:
  vodka-40: {pack: 70 cl, price: 12 EUR}
  white-sugar: {pack: 1 kg, price: 1 EUR}
  hazel: {pack: 1 kg, price: 9 EUR}
ingredients:
  hazel: {name: Hazelnut paste, family: other, composition: {insoluble: 40 % w/w, water: 60 % w/w}}
"""
BOTTLE = """\
name: Hazel
size: 2 L bottled
shelf: shelf.yaml
targets: {strength: 20 to 22 % vol, sugar: 180 to 220 g/L}
ingredients: [vodka-40, water, white-sugar, hazel: {exactly: 50 g per L bottled}]
"""


@pytest.fixture
def hazel(tmp_path: Path) -> Path:
    (tmp_path / "shelf.yaml").write_text(SHELF, encoding="utf-8")
    (tmp_path / "bottle.yaml").write_text(BOTTLE, encoding="utf-8")
    return tmp_path / "bottle.yaml"


def test_who_buys_learns_of_nuts(hazel: Path) -> None:
    # Hazelnut is no. 8 of Annex II to Reg. (EU) 1169/2011 (from memory).
    assert _bullets(buy_text(buy_bottle(hazel)))[0] == "Allergens to name: nuts."


def test_a_batch_known_by_its_figures_alone_is_taken_to_hold_what_its_bottle_lists(hazel: Path) -> None:
    record = adjust_texts(None, bottle=hazel, volume="2 L", strength="24 % vol", sugar="230 g/L", card=True)
    assert _bullets(care_text(record))[0] == "Allergens to name: nuts."
    assert "nuts (hazel (in the batch))" in care_text(record, More.CAUTIONS).replace("\n    ", " ")
    assert "contents_unknown" in {note.code for note in record.notes}
    assert "If 2.00 L of it reads" in card_text(record.card, record.volume_l)


def test_a_batch_that_adding_does_not_mend_has_its_cautions_too(hazel: Path) -> None:
    record = adjust_texts(None, bottle=hazel, volume="2 L", strength="21 % vol", sugar="400 g/L", room="2 L")
    assert record.status == "impossible"
    assert "allergens" in {note.code for note in record.cautions}


def test_a_jar_knows_what_went_in(tmp_path: Path, hazel: Path) -> None:
    (tmp_path / "jar.yaml").write_text(
        "jar: Plain\nbottle: bottle.yaml\nshelf: shelf.yaml\ningredients:\n"
        "  - vodka-40: {amount: 1000 g}\n  - white-sugar: {amount: 300 g}\n",
        encoding="utf-8",
    )
    record = adjust_texts(tmp_path / "jar.yaml")
    assert "hazel" not in {one.ingredient for one in record.additions}
    assert "contents_unknown" not in {note.code for note in record.notes}
    assert "allergens" not in {note.code for note in record.cautions}, "no hazel went into this one"
