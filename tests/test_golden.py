"""Whole screens, letter by letter: 80 columns, no colour.

A screen that changed on purpose is rewritten with ``FORMULATE_UPDATE_GOLDEN=1``; read the difference
before committing it.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

GOLDEN = Path(__file__).parent / "golden"

EXAMPLES = ROOT / "examples"

SCREENS: dict[str, list[str]] = {
    **{
        f"solve-{path.stem}": ["solve", path.relative_to(ROOT).as_posix()]
        for path in sorted((EXAMPLES / "bottles").glob("*.yaml"))
    },
    "solve-damson-aperitif-cautions": ["solve", "examples/bottles/damson-aperitif.yaml", "--cautions"],
    "predict-quince-cordial": ["predict", "examples/recipes/quince-cordial.yaml"],
    "label-amber-digestif": ["label", "examples/recipes/amber-digestif.yaml", "--serve", "30 mL"],
    "library-gentian-root": ["library", "gentian-root"],
    "library-bitter": ["library", "bitter"],
    "check": ["check", *(path.relative_to(ROOT).as_posix() for path in sorted(EXAMPLES.rglob("*.yaml")))],
    "wrong-kind-of-file": ["solve", "examples/shelf.yaml"],
    "prices-north-cellar": ["prices", "examples/price-list-shelf.yaml"],
    "buy-damson-aperitif": ["buy", "examples/bottles/damson-aperitif.yaml"],
    "adjust-damson-jar-card": ["adjust", "examples/jars/damson-jar.yaml", "--card"],
    "menu-autumn-drinks": ["menu", "examples/menus/autumn.yaml", "--part", "drinks"],
    "suppose-dear-autumn": ["suppose", "examples/scenarios/dear-autumn.yaml", "--workers", "1"],
    "suppose-damson-year": ["suppose", "examples/scenarios/damson-year.yaml", "--workers", "1"],
    "pour-amber-hour": ["pour", "examples/drinks/amber-hour.yaml", "--batch", "6 bottles of 70 cl"],
    "pour-orchard-fizz": ["pour", "examples/drinks/orchard-fizz.yaml", "--cautions"],
    "standards-prohibited": ["standards", "prohibited", "--in", "US"],
    "standards-duty": ["standards", "duty"],
    "help": ["--help"],
}

NAMES_OF_OUTCOMES = {0: "done", 2: "a wrong file", 3: "no recipe"}


@pytest.mark.parametrize("name", SCREENS)
def test_screen(name: str, run_here: RunCommand) -> None:
    done = run_here(*SCREENS[name])
    assert not done.crash, done.crash
    assert not [line for line in done.stdout.splitlines() if line != line.rstrip()]
    shown = (
        f"$ formulate {' '.join(SCREENS[name])}\n{done.stdout}"
        f"[standard error]\n{done.stderr}"
        f"[exit code {done.exit_code}: {NAMES_OF_OUTCOMES[done.exit_code]}]\n"
    )
    kept = GOLDEN / f"{name}.txt"
    if os.environ.get("FORMULATE_UPDATE_GOLDEN") == "1":
        kept.parent.mkdir(exist_ok=True)
        kept.write_text(shown, encoding="utf-8", newline="\n")
    assert shown == kept.read_text(encoding="utf-8")


def test_every_golden_file_is_compared() -> None:
    assert {path.stem for path in GOLDEN.iterdir()} == set(SCREENS)


def test_no_golden_file_depends_on_the_solver_or_the_machine() -> None:
    from importlib import metadata

    for path in GOLDEN.glob("*.txt"):
        text = path.read_text(encoding="utf-8")
        assert metadata.version("highspy") not in text
        assert ROOT.as_posix() not in text
        assert "seconds" not in text
