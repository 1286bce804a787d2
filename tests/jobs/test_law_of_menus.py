"""What is over a limit, or lifted, is said first on a menu, and by every case that is supposed."""

from __future__ import annotations

from pathlib import Path

from conftest import RunCommand

from formulate.jobs.suppose import suppose
from tests.jobs.restricted_kitchen import bottle, write

LIFTED = "lifted: [{limit: old-coumarin, name: bar manager, reason: a test, date: 2026-11-20}]"
ROOT = "rhubarb-root: {exactly: 14 g per L bottled}"


def a_menu(folder: Path, pour: str, targets: str = "") -> Path:
    """Write a menu of one drink of a bottle with rhubarb root, for serves of 20 mL: 40 mg/g x 14 g/L."""
    bottle(folder, [ROOT], targets=targets, rules=f"jurisdiction: EU\nserve: 20 mL\n{LIFTED}")
    write(
        folder,
        "drink.yaml",
        f"drink: Long root\nshelf: shelf.yaml\nhouse: {{root: bottle.yaml}}\nmethod: built\n"
        f"ingredients:\n  - root: {pour}\nprice: 9 EUR\n",
    )
    text = "menu: Roots\nshelf: shelf.yaml\nfor: 4 weeks\nhouse: {root: {keeps: 20 weeks}}\n"
    return write(folder, "menu.yaml", f"{text}drinks:\n  - {{drink: drink.yaml, sells: 20 per week}}\n")


def test_a_menu_says_first_what_may_not_be_served(tmp_path: Path, run_here: RunCommand) -> None:
    # 14 g/L x 40 mg/g x 80 mL = 44.8 mg, of which the cake keeps a fortieth (28 g keep about 50 of 2000 g).
    done = run_here("menu", "--all", a_menu(tmp_path, "80 mL"))
    assert done.exit_code == 4
    assert done.stdout.startswith("Long root: OVER THE LIMIT: hydroxyanthracenes may come to 43.")
    assert done.stdout.count("OVER THE LIMIT") == 1
    assert "NOT KEPT: coumarin" in done.stdout
    fine = run_here("menu", "--all", a_menu(tmp_path, "20 mL"))  # 11.2 mg
    assert fine.exit_code == 0
    assert fine.stdout.startswith("Roots: 4 weeks")


def test_what_is_supposed_of_a_menu_says_it_too(tmp_path: Path) -> None:
    a_menu(tmp_path, "80 mL")
    path = write(
        tmp_path, "cases.yaml", "suppose: Dear\nmenu: menu.yaml\ncases:\n  dear: {prices: {vodka-40: +9 %}}\n"
    )
    notes = suppose(path).notes
    assert notes[0].code == "over_limit"
    assert "limit_lifted" in {note.code for note in notes}
    assert len([note for note in notes if note.code == "over_limit"]) == 1, "the case says the same"


def test_what_is_supposed_of_a_bottle_says_what_is_lifted_and_whose_law(tmp_path: Path) -> None:
    bottle(tmp_path, ["wormwood-herb", "gentian-root"], rules=LIFTED)
    path = write(
        tmp_path,
        "cases.yaml",
        "suppose: Dear\nbottle: bottle.yaml\ncases:\n  dear: {prices: {wormwood-herb: +9 %}}\n",
    )
    notes = {note.code: note.text for note in suppose(path).notes}
    assert notes["limit_lifted"].startswith("NOT KEPT: coumarin, 10 mg/kg (old-coumarin), lifted by bar man")
    assert "strictest of the EU, the US and the UK" in notes["no_jurisdiction"]
