"""First screens: short, nothing twice, all that guests must know; and nothing that `--all` does not tell.

The lengths asked for are those agreed for a cook's screen: 24 lines in an ordinary case, 32 for ten things
weighed in, beside three lines of care; what guests must know is never cut for it.
"""

from __future__ import annotations

import io
import json
import re
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, RunCommand
from rich.console import Console

from formulate.describe.records import DrinkRecord
from formulate.optimise.watch import Progress
from formulate.report.progress import progress_text
from formulate.report.terminal import show_drink
from tests.jobs.test_cautions import HAZARDS, RULES, _predict

EXAMPLES = ROOT / "examples"
SOLVED = sorted(
    path.stem for path in (EXAMPLES / "bottles").glob("*.yaml") if path.stem != "damson-too-cheap"
)
COMMANDS: dict[str, list[str]] = {
    **{f"solve {name}": ["solve", f"examples/bottles/{name}.yaml"] for name in SOLVED},
    "predict": ["predict", "examples/recipes/quince-cordial.yaml"],
    "scale": ["scale", "examples/recipes/lemon-leaf-40.yaml", "--to", "12 L bottled"],
    "reformulate": ["reformulate", "examples/recipes/damson-aperitif.yaml", "--without", "centaury-herb"],
    "adjust": ["adjust", "examples/jars/damson-jar.yaml"],
    "pour stirred": ["pour", "examples/drinks/amber-hour.yaml"],
    "pour shaken": ["pour", "examples/drinks/orchard-fizz.yaml"],
    "infuse": ["infuse", "examples/bottles/blackcurrant-liqueur.yaml"],
    "label": ["label", "examples/recipes/amber-digestif.yaml"],
}
ORDINARY, FREE_THINGS, FREE_CARE, PER_THING = 24, 5, 3, (32 - 24) / (10 - 5)
ROOM = {"reformulate": 8, "infuse": 6, "scale": 2}
"""Two columns more and the other ways; a table of plans and what to type: these say more by nature."""


def _things(document: dict[str, Any]) -> int:
    """Count what is weighed, poured or added."""
    for key in ("recipe", "lines", "additions", "ingredients"):
        if document.get(key):
            return len(document[key])
    return 0


@pytest.mark.parametrize("name", COMMANDS)
def test_a_first_screen_is_short(name: str, run_here: RunCommand) -> None:
    shown = run_here(*COMMANDS[name]).stdout.splitlines()
    document = json.loads(run_here(*COMMANDS[name], "--json").stdout)
    start = next((number for number, line in enumerate(shown) if line.startswith("  ! ")), len(shown))
    care = [line for line in shown[start:] if line.startswith(("  ! ", "    "))]
    more = PER_THING * max(0, _things(document) - FREE_THINGS) + max(0, len(care) - FREE_CARE)
    more += len(document.get("purchases", ()))  # what is bought whole takes a line
    assert len(shown) <= ORDINARY + more + ROOM.get(name.split()[0], 0), "\n".join(shown)
    assert shown[-1].startswith("More: ")


@pytest.mark.parametrize("name", COMMANDS)
def test_nothing_is_said_twice_and_all_of_it_is_told_in_full(name: str, run_here: RunCommand) -> None:
    first = run_here(*COMMANDS[name]).stdout
    everything = " ".join(run_here(*COMMANDS[name], "--all").stdout.split())
    points = [" ".join(one.split()) for one in re.split(r"^  [·!] ", first, flags=re.MULTILINE)[1:]]
    assert len(points) == len(set(points))
    document = json.loads(run_here(*COMMANDS[name], "--json").stdout)
    told = document["warnings"]
    for note in told:
        text = " ".join(note["text"].split())
        assert text in everything or f"{text[0].lower()}{text[1:]}" in everything, note["code"]
    texts = [note["text"] for note in told]
    assert len(texts) == len(set(texts)), "the same remark twice"


def _first_screen(record: DrinkRecord, width: int) -> str:
    console = Console(file=io.StringIO(), width=width, highlight=False, emoji=False)
    show_drink(console, record)
    assert isinstance(console.file, io.StringIO)
    return " ".join(console.file.getvalue().split())


GUESTS = sorted(code for code, row in RULES.items() if row.place == "serving" and code in HAZARDS)


@pytest.mark.parametrize("code", GUESTS)
def test_whatever_a_guest_must_know_stands_on_the_first_screen(code: str, tmp_path: Path) -> None:
    """Over all rules about guests; at every width, since nobody may lose one to a narrow window."""
    needs, _ = HAZARDS[code]
    record = _predict(tmp_path, *needs)
    guests = [note for note in record.cautions if note.for_guests]
    assert code in {note.code for note in guests}
    for width in (40, 80, 120):
        shown = _first_screen(record, width)
        for note in guests:
            assert " ".join((note.short or note.text).split()) in shown


def test_every_rule_about_guests_is_looked_at() -> None:
    about_guests = {code for code, row in RULES.items() if row.place == "serving"}
    assert about_guests - set(GUESTS) == set(), "a rule without a recipe that sets it off"


@pytest.mark.parametrize("width", [40, 80, 120])
def test_no_figure_is_lost_to_a_narrow_window(width: int, tmp_path: Path) -> None:
    record = _predict(
        tmp_path, "{loss: 1 %}", "vodka-40 1000 g", "gentian-root 3 g", "white-sugar 400 g late"
    )
    console = Console(file=io.StringIO(), width=width, highlight=False, emoji=False)
    show_drink(console, record)
    assert isinstance(console.file, io.StringIO)
    lines = console.file.getvalue().splitlines()
    assert "…" not in "".join(lines)
    shown = " ".join(" ".join(lines).split())
    for line in record.recipe:
        assert f"{line.ingredient} " in shown
    assert re.search(rf"strength (?:will be )?{float(record.predicted.strength_pct_vol):.1f} % vol", shown)


@pytest.mark.parametrize(
    "told", [{}, {"NO_COLOR": "1"}, {"FORCE_COLOR": "1"}], ids=["pipe", "no color", "color"]
)
def test_a_pipe_gets_plain_text(
    told: dict[str, str], run_here: RunCommand, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = run_here("solve", "examples/bottles/lemon-leaf-40.yaml").stdout
    for name, value in told.items():
        monkeypatch.setenv(name, value)
    shown = run_here("solve", "examples/bottles/lemon-leaf-40.yaml").stdout
    assert re.sub(r"\x1b\[[0-9;]*m", "", shown) == plain
    assert max(map(len, plain.splitlines())) <= 80
    assert "\x1b" not in plain


def test_read_aloud_the_order_is_that_of_the_work(run_here: RunCommand) -> None:
    """A screen reader meets what to weigh, the work, what it will be, what to mind, the cost."""
    shown = run_here("solve", "examples/bottles/damson-aperitif.yaml").stdout
    marks = [
        "weigh in",
        "Work: ",
        "in the bottle",
        "At 20 °C",
        "  · ",
        "  ! ",
        "Not legal",
        "in all;",
        "More: ",
    ]
    places = [shown.index(mark) for mark in marks]
    assert places == sorted(places)


def test_progress_says_what_is_done_and_the_best_so_far() -> None:
    text = progress_text(Progress("looking for a plan", best=799.456, gap=0.005), 12.4)
    assert text == (
        "looking for a plan · best so far 799.46, at most 0.5 % above any other · 12 s · "
        "Ctrl-C takes the best so far"
    )
    assert progress_text(Progress("trying values", done=3, count=50), 2.0).startswith(
        "trying values 3 of 50 · "
    )
    assert "best so far" not in progress_text(Progress(), 1.0).replace("takes the best so far", "")


WORDS = [("quince-cordial", ""), ("amber-digestif", "medium"), ("wormwood-aperitif", "strong")]


@pytest.mark.parametrize(("name", "word"), WORDS)
def test_predict_says_the_bitterness_in_a_word(name: str, word: str, run_here: RunCommand) -> None:
    """The guide's working bands: light 6 to 12, medium to 24, firm to 48, strong above (from memory)."""
    path = f"examples/recipes/{name}.yaml"
    predicted = json.loads(run_here("predict", path, "--json").stdout)["predicted"]
    assert predicted["bitterness_word"] == word
    row = next(
        (line for line in run_here("predict", path).stdout.splitlines() if line.startswith("bitterness")), ""
    )
    assert word in row
