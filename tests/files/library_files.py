"""Not a test. The files of the ingredient library, read by a plain YAML parser and not by the program."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML

FOLDER = Path(__file__).parents[2] / "specs" / "ingredients"
FILES = sorted(FOLDER.glob("*.yaml"))

SUGARS = ("sucrose", "glucose", "fructose", "maltose")

# Molar mass / protons given up (IUPAC 2021 atomic weights; quinic, lactic and ascorbic count one).
EQUIVALENT_MASS_G = {
    "citric_acid": 192.124 / 3,
    "malic_acid": 134.087 / 2,
    "tartaric_acid": 150.087 / 2,
    "lactic_acid": 90.078,
    "quinic_acid": 192.167,
    "ascorbic_acid": 176.124,
}


def _read(path: Path) -> dict[str, Any]:
    return YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))


DOCUMENTS = {path.name: _read(path) for path in FILES}
LIBRARY: dict[str, dict[str, Any]] = {
    name: block for document in DOCUMENTS.values() for name, block in document["ingredients"].items()
}
FAMILY = {name: document["family"] for document in DOCUMENTS.values() for name in document["ingredients"]}


def number_in(text: str, unit: str) -> Decimal:
    match = re.fullmatch(r"(\d+(?:\.\d+)?) " + re.escape(unit), text)
    assert match, f"{text!r} is not a number with unit {unit!r}"
    return Decimal(match[1])


def composition_of(name: str) -> dict[str, Decimal]:
    return {key: number_in(text, "% w/w") for key, text in LIBRARY[name].get("composition", {}).items()}


def sugar_of(name: str) -> float:
    return float(sum(value for key, value in composition_of(name).items() if key in SUGARS))


def acid_as_citric(name: str) -> float:
    parts = composition_of(name)
    citric_g = EQUIVALENT_MASS_G["citric_acid"]
    return sum(float(parts.get(key, 0)) * citric_g / grams for key, grams in EQUIVALENT_MASS_G.items())
