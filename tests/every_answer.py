"""Every screen and every JSON document of the examples, kept in a folder: what no refactoring may change.

``python -m tests.every_answer before`` keeps them, ``python -m tests.every_answer after --against before``
keeps them again and names what differs. Seconds, and counts that depend on them, are left out.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
EXAMPLES = ROOT / "examples"
DAMSON = "examples/recipes/damson-aperitif.yaml"
FEW = "examples/bottles/few-things.yaml"

VOLATILE = {"seconds", "proof_solves", "passes", "version"}
"""What says how, not what."""


def _examples(folder: str) -> list[str]:
    return [path.relative_to(ROOT).as_posix() for path in sorted((EXAMPLES / folder).glob("*.yaml"))]


def commands() -> list[list[str]]:
    """List every command with every example that it takes, once as a screen and once as a document."""
    asked: list[list[str]] = [["check", *_examples("bottles"), *_examples("drinks"), *_examples("menus")]]
    for bottle in _examples("bottles"):
        asked += [["solve", bottle], ["solve", bottle, "--weigh"], ["solve", bottle, "--prices", "--proof"]]
        asked += [["solve", bottle, "--middle", "--cautions"], ["buy", bottle], ["label", bottle]]
        asked += [["infuse", bottle]]
    for recipe in _examples("recipes"):
        asked += [["predict", recipe], ["label", recipe, "--serve", "30 mL"]]
        asked += [["scale", recipe, "--to", "12 L bottled"]]
    for jar in _examples("jars"):
        asked += [["predict", jar], ["gauge", jar], ["adjust", jar, "--card"]]
    for drink in _examples("drinks"):
        asked += [["pour", drink, "--cautions"], ["pour", drink, "--batch", "6 bottles of 70 cl"]]
    asked += [["compare", *_examples("trials")]]
    asked += [["menu", menu] for menu in _examples("menus")]
    asked += [["suppose", scenarios, "--workers", "1"] for scenarios in _examples("scenarios")]
    asked += [["reformulate", DAMSON, "--without", name] for name in ("citric-acid", "vodka-40", "damson")]
    asked += [
        ["solve", "examples/bottles/damson-too-cheap.yaml", "--nearest"],
        ["buy", FEW, "--adapt"],
        ["tradeoff", FEW, "--vary", "sugar", "--from", "145 g/L", "--to", "155 g/L", "--points", "3"],
        ["prices", "examples/price-list-shelf.yaml"],
        ["gauge", "--density", "1.0452", "--refraction", "30.2 Brix"],
        *(["library", *words] for words in (["gentian-root"], ["damson"], ["bitter"], ["wormwood"])),
        *(["standards", *words] for words in ([], ["prohibited"], ["duty"], ["restricted-substances"])),
        ["solve", "examples/shelf.yaml"],
        *(["schema", kind] for kind in ("bottle", "shelf", "recipe", "drink", "menu")),
    ]
    return [*asked, *([*arguments, "--json"] for arguments in asked)]


def _steady(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _steady(item) for name, item in value.items() if name not in VOLATILE}
    return [_steady(item) for item in value] if isinstance(value, list) else value


def answer(arguments: list[str]) -> str:
    """Run one command in a process of its own; return what it said and how it ended."""
    plain = {**os.environ, "NO_COLOR": "1", "TERM": "dumb", "COLUMNS": "80"}
    command = [sys.executable, "-m", "formulate", *arguments]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, env=plain, check=False)
    try:
        said = json.dumps(_steady(json.loads(done.stdout)), indent=1, ensure_ascii=False)
    except ValueError:
        said = done.stdout
    return f"$ formulate {' '.join(arguments)}\n{said}\n[{done.returncode}]\n{done.stderr}"


def keep(folder: Path) -> dict[str, str]:
    """Write every answer to a folder; return them by the name of their file."""
    folder.mkdir(parents=True, exist_ok=True)
    every = commands()
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        answers = list(pool.map(answer, every))
    named = {
        f"{number:03}-{words[0]}.txt": text
        for number, (words, text) in enumerate(zip(every, answers, strict=True))
    }
    for name, text in named.items():
        (folder / name).write_text(text, encoding="utf-8")
    return named


def main() -> int:
    """Keep the answers; with ``--against``, end with 1 where any differs."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--against", type=Path)
    given = parser.parse_args()
    after = keep(given.folder)
    if given.against is None:
        return 0
    before = {path.name: path.read_text(encoding="utf-8") for path in given.against.glob("*.txt")}
    differing = sorted(name for name in before | after if before.get(name) != after.get(name))
    print(f"{len(after)} answers, {len(differing)} differ")
    for name in differing:
        print(f"{name}: {after.get(name, 'gone').splitlines()[0]}")
    return 1 if differing else 0


if __name__ == "__main__":
    raise SystemExit(main())
