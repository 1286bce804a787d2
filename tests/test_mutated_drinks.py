"""Broken and odd drink and menu files, and shelves under them: never a traceback, always a place."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from conftest import RunCommand
from mutations import mutate
from test_mutated_files import GOOD, _faults, _write_examples

CHUNKS, PER_CHUNK = 4, 25
DRINKS = [name for name in GOOD if name.startswith("drinks/")]
MENUS = [name for name in GOOD if name.startswith("menus/")]
OFF_TARGET = 4


def _variant(number: int) -> tuple[str, bytes, list[str]]:
    rng = random.Random(f"pour {number}")
    target = rng.choices(("drink", "menu", "shelf"), weights=(5, 4, 2))[0]
    name = {"drink": rng.choice(DRINKS), "menu": rng.choice(MENUS), "shelf": "shelf.yaml"}[target]
    reader = ["pour", name] if target == "drink" else ["menu", rng.choice(MENUS), "--seconds", "2"]
    if target == "shelf" and rng.random() < 0.6:
        reader = ["pour", rng.choice(DRINKS)]
    if target != "shelf" and rng.random() < 0.2:
        reader = ["check", name]
    if rng.random() < 0.5:
        reader.append("--json")
    return name, mutate(GOOD[name], rng), reader


@pytest.mark.slow
@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_no_drink_or_menu_brings_it_down(chunk: int, run_here: RunCommand, tmp_path: Path) -> None:
    _write_examples(tmp_path)
    found, codes = [], set()
    for number in range(chunk * PER_CHUNK, (chunk + 1) * PER_CHUNK):
        name, raw, command = _variant(number)
        (tmp_path / name).write_bytes(raw)
        done = run_here(*command, folder=tmp_path)
        codes.add(done.exit_code)
        # A menu whose vessels are too small is shown, and its exit code says so.
        short = done.exit_code == OFF_TARGET and command[0] == "menu" and "short" in done.stdout
        if not (short or (done.exit_code == OFF_TARGET and "cannot be made in time" in done.stdout)):
            said = f"variant {number}, {' '.join(command)}"
            found += [f"{said}: {fault}" for fault in _faults(done, command, tmp_path)]
        (tmp_path / name).write_text(GOOD[name], encoding="utf-8")
    assert not found, "\n\n".join(found)
    assert {0, 2} <= codes
