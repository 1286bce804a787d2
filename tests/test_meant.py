"""Slips of typing are asked about: what costs nothing, packs of a tonne, bottles of 700 L, strange prices."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

ASKED = "Is this meant? Then write `meant: true` beside it."


@pytest.fixture
def breaks(tmp_path: Path) -> Path:
    """A copy of an invented bar."""
    return Path(shutil.copytree(ROOT / "tests" / "cases" / "breaks", tmp_path / "breaks"))


def _edited(path: Path, before: str, after: str) -> Path:
    text = path.read_text("utf-8")
    assert text.count(before) == 1
    path.write_text(text.replace(before, after), "utf-8")
    return path


def test_the_case_is_asked_about_by_check_and_by_every_command(breaks: Path, run_here: RunCommand) -> None:
    for command in ("check", "solve", "buy"):
        done = run_here(command, breaks / "bottles" / "07-typos.yaml")
        assert (done.exit_code, done.stdout, done.crash) == (2, "", "")
        assert "07-typos-shelf.yaml:19:34: offers.vodka-40.price: costs nothing, got 0 EUR." in done.stderr
        assert "07-typos-shelf.yaml:34:23: offers.white-sugar.pack: a pack no bar takes in" in done.stderr
        assert done.stderr.count(ASKED) == 2


def test_what_is_said_to_be_meant_is_taken(breaks: Path, run_here: RunCommand) -> None:
    shelf = breaks / "07-typos-shelf.yaml"
    _edited(shelf, "price: 0 EUR,", "price: 0 EUR, meant: true,")
    _edited(shelf, "{pack: 1000 kg,", "{meant: true, pack: 1000 kg,")
    assert run_here("check", shelf).exit_code == 0
    assert run_here("check", breaks / "bottles" / "07-typos.yaml").exit_code == 0


@pytest.mark.parametrize(
    ("file", "before", "after", "place"),
    [
        ("shelf.yaml", "vodka-40: {pack: 70 cl,", "vodka-40: {pack: 70 L,", "offers.vodka-40.pack"),
        ("bottles/amber-digestif.yaml", "2 bottles of 70 cl", "2 bottles of 70 L", "size"),
        ("drinks/amber-hour.yaml", "gin-40: 45 mL", "gin-40: 45 L", "amount"),
        (
            "shelf.yaml",
            "offers:",
            "ingredients:\n  plum: {based_on: plum, retention: 90 kg/kg}\noffers:",
            "retention",
        ),
    ],
)
def test_a_figure_no_bar_means_is_asked_about(
    file: str, before: str, after: str, place: str, breaks: Path, run_here: RunCommand
) -> None:
    path = breaks / file
    text = path.read_text("utf-8")
    path.write_text(text.replace(before, after, 1), "utf-8")
    done = run_here("check", path)
    assert done.exit_code == 2
    assert place in done.stderr.splitlines()[0]
    assert ASKED in done.stderr


def test_a_price_thirty_times_the_usual_is_asked_about_and_one_within_is_not(
    breaks: Path, run_here: RunCommand
) -> None:
    """A kilogram of sweetener is taken to be about 3 euros: 91 is beyond thirty times, 89 is not."""
    shelf = breaks / "shelf.yaml"
    _edited(shelf, "pack: 1 kg, price: 1.15 EUR", "pack: 1 kg, price: 89 EUR")
    assert ASKED not in " ".join(run_here("check", shelf).stdout.split())
    _edited(shelf, "price: 89 EUR", "price: 91 EUR")
    assert ASKED in " ".join(run_here("check", shelf).stdout.split())
    solved = run_here("solve", breaks / "bottles" / "amber-digestif.yaml", "--json")
    asked = [one for one in json.loads(solved.stdout)["warnings"] if one["code"] == "strange_price"]
    assert len(asked) == 1
    assert "white-sugar 91 a kilogram (usual: about 3)" in asked[0]["text"]
    assert ASKED in " ".join(run_here("solve", breaks / "bottles" / "amber-digestif.yaml").stdout.split())
    _edited(shelf, "price: 91 EUR", "meant: true, price: 91 EUR")
    assert ASKED not in " ".join(run_here("check", shelf).stdout.split())


@pytest.mark.parametrize("name", ["vodka-40", "white-sugar", "honey"])
def test_a_price_that_rises_never_lowers_the_cost(name: str, breaks: Path, run_here: RunCommand) -> None:
    """A law: every recipe costs as much as before, or more."""
    shelf = breaks / "shelf.yaml"
    before = shelf.read_text("utf-8")
    line = next(one for one in before.splitlines() if one.startswith(f"  {name}: "))
    price = line.partition("price: ")[2].partition(" EUR")[0]
    costs = []
    for factor in (1.0, 1.5, 6.0):
        dearer = line.replace(f"price: {price} EUR", f"price: {factor * float(price):.4f} EUR")
        shelf.write_text(before.replace(line, dearer), "utf-8")
        done = run_here("solve", breaks / "bottles" / "amber-digestif.yaml", "--json")
        costs.append(json.loads(done.stdout)["cost"]["per_litre"])
    assert costs[0] > 0.0
    assert costs[1] >= costs[0] * (1.0 - 1e-6)
    assert costs[2] >= costs[1] * (1.0 - 1e-6)
