"""A thousand broken and odd files: never a traceback, never exit code 1, every message with its place."""

from __future__ import annotations

import json
import math
import random
import re
from pathlib import Path

import pytest
from conftest import ROOT, Finished, RunCommand
from mutations import mutate

CHUNKS, PER_CHUNK, QUICK_CHUNKS = 20, 50, 3

EXAMPLES = ROOT / "examples"
GOOD = {
    path.relative_to(EXAMPLES).as_posix(): path.read_text(encoding="utf-8")
    for path in (EXAMPLES / "shelf.yaml", *sorted(EXAMPLES.glob("*/*.yaml")))
}
# The one that has no recipe to begin with is left out: most of its variants would only be explained again.
BOTTLES = [name for name in GOOD if name.startswith("bottles/") and "too-cheap" not in name]
RECIPES = [name for name in GOOD if name.startswith("recipes/")]

PLACED = re.compile(r"(?P<file>[^\n]+?):(?P<line>\d+):(?P<column>\d+): .")
EXCERPT = re.compile(r" *\d* \|( |$)")
OVER = re.compile(r'OVER THE LIMIT|NOT ALLOWED|"over": true')
NEVER_NEGATIVE = (
    "volume_l",
    "density_kg_m3",
    "strength_pct_vol",
    "sugar_g_l",
    "acid_g_l",
    "bitterness_value",
)
INNER_WORDS = re.compile(
    r"\b(pydantic|pulp|ruamel|yaml\.org|scanner|HiGHS|NoneType|Traceback|Input should|dict_type|simplex)\b"
)


def _variant(number: int) -> tuple[str, bytes, list[list[str]]]:
    """Break one example; return which, its bytes, and the commands that read it."""
    rng = random.Random(f"formulate {number}")
    target = rng.choices(("bottle", "shelf", "recipe"), weights=(5, 3, 2))[0]
    if target == "shelf":
        name = "shelf.yaml"
        reader = rng.choice([["solve", bottle] for bottle in BOTTLES] + [["check", "shelf.yaml"]] * 2)
    else:
        name = rng.choice(BOTTLES if target == "bottle" else RECIPES)
        reader = ["solve" if target == "bottle" else "predict", name]
        if rng.random() < 0.2:
            reader = ["check", name, "shelf.yaml"]
    if rng.random() < 0.5:
        reader.append("--json")
    return name, mutate(GOOD[name], rng), reader


def _write_examples(folder: Path) -> None:
    for name, text in GOOD.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")


def _faults(done: Finished, command: list[str], folder: Path) -> list[str]:
    """List what a command did that no file may make it do."""
    if done.crash or "Traceback" in done.stderr:
        return [done.crash or done.stderr]
    if done.exit_code == 4 and command[0] == "predict" and OVER.search(done.stdout):
        return []  # a saved recipe over a limit of the law is shown, and its exit code says so
    if done.exit_code == 4 and "does not fit:" in " ".join(done.stdout.split()):
        return []  # so is one that is larger than the vessel its file names
    if done.exit_code not in (0, 2, 3):
        return [f"exit code {done.exit_code}: {done.stderr}"]
    faults = [f"speaks of {word[0]}: {done.stderr}" for word in INNER_WORDS.finditer(done.stderr)]
    told = done.stderr
    if "--json" in command:
        try:
            document = json.loads(
                done.stdout, parse_constant=lambda word: faults.append(f"{word} in the JSON")
            )
        except ValueError as error:
            return [*faults, f"not JSON ({error}): {done.stdout}"]
        if done.exit_code == 0:
            faults += _odd_figures(document)
        if done.exit_code == 2:
            told = document["message"]
            faults += [f"speaks of {word[0]}: {told}" for word in INNER_WORDS.finditer(told)]
            faults += [f"said beside the document: {done.stderr}"] if done.stderr else []
    elif done.exit_code == 0:
        faults += [
            f"{word[0]} shown: {done.stdout}" for word in re.finditer(r"\b(nan|inf|None)\b", done.stdout)
        ]
    if done.exit_code == 0:
        if not done.stdout.strip():
            faults.append("no answer on standard output")
        if done.stderr:
            faults.append(f"done, but said {done.stderr!r}")
    elif done.exit_code == 2:
        faults += _unplaced(told, folder)
        if "--json" not in command:
            # `check` still names the files that are right.
            odd = [] if command[0] == "check" and done.stdout.startswith("ok ") else [done.stdout]
            faults += [f"a wrong file, but standard output holds {text!r}" for text in odd if text]
    elif "--json" not in command:
        if done.stdout:
            faults.append(f"no recipe, but standard output holds {done.stdout!r}")
        if not done.stderr.strip():
            faults.append("no recipe, and not a word why")
    return faults


def _odd_figures(document: dict[str, object]) -> list[str]:
    """Check what must be true of the figures of any answer."""
    faults = [
        f"a mass of {line['mass_g']} g of {line['ingredient']}"
        for line in document.get("recipe", [])
        if not (math.isfinite(line["mass_g"]) and line["mass_g"] > 0.0)
    ]
    predicted = document.get("predicted")
    if predicted is not None:
        faults += [
            f"{name} is {predicted[name]}"
            for name in NEVER_NEGATIVE
            if predicted[name] is None or predicted[name] < 0.0
        ]
        if predicted["strength_pct_vol"] is not None and predicted["strength_pct_vol"] > 100.0 + 1e-6:
            faults.append(f"a strength of {predicted['strength_pct_vol']} % vol")
    for target in document.get("targets", []) if document.get("status") in ("optimal", "feasible") else []:
        value, lower, upper = target["value"], target["lower"], target["upper"]
        slack = 1e-6 * max(abs(value), abs(lower or 0.0), abs(upper or 0.0))
        if (lower is not None and value < lower - slack) or (upper is not None and value > upper + slack):
            faults.append(f"{target['target']} is {value}, outside {lower} to {upper}")
    return faults


def _unplaced(told: str, folder: Path) -> list[str]:
    """List messages about a wrong file that do not say where in it."""
    faults: list[str] = []
    placed = 0
    for line in told.splitlines():
        match = PLACED.match(line)
        if match:
            placed += 1
            place = folder / match["file"]
            lines = len(place.read_bytes().splitlines()) + 1 if place.exists() else 1
            if not (1 <= int(match["line"]) <= lines and int(match["column"]) >= 1):
                faults.append(f"points outside the file: {line}")
        elif not EXCERPT.match(line) and not re.fullmatch(r"\.\.\. and \d+ more\.", line):
            faults.append(f"without a place: {line}")
    return faults if placed else [*faults, f"no place at all: {told}"]


@pytest.fixture(autouse=True)
def _short_explanations(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let each question about a clash give up early: what is told gets shorter, how it is told stays."""
    monkeypatch.setattr("formulate.optimise.diagnose.SECONDS_PER_QUESTION", 0.1)


@pytest.mark.parametrize(
    "chunk",
    [*range(QUICK_CHUNKS), *(pytest.param(n, marks=pytest.mark.slow) for n in range(QUICK_CHUNKS, CHUNKS))],
)
def test_no_file_brings_it_down(chunk: int, run_here: RunCommand, tmp_path: Path) -> None:
    _write_examples(tmp_path)
    found, codes = [], []
    for number in range(chunk * PER_CHUNK, (chunk + 1) * PER_CHUNK):
        name, raw, command = _variant(number)
        (tmp_path / name).write_bytes(raw)
        done = run_here(*command, folder=tmp_path)
        codes.append(done.exit_code)
        found += [
            f"variant {number}, {' '.join(command)}: {fault}" for fault in _faults(done, command, tmp_path)
        ]
        (tmp_path / name).write_text(GOOD[name], encoding="utf-8")
    assert not found, "\n\n".join(found)
    # If nearly all variants were refused by the reader, the rest of the program would go untested.
    assert codes.count(0) >= PER_CHUNK // 5
    assert codes.count(2) >= PER_CHUNK // 5
