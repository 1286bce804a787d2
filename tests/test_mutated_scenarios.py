"""Broken and odd scenarios files: never a traceback, always a place, and no figure that is none."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from conftest import RunCommand
from mutations import mutate
from test_mutated_files import _faults

from tests.jobs.supposed import write_bar

CHUNKS, PER_CHUNK = 2, 60
NO_RECIPE = 3
CASES = """\
cases:
  dear: {prices: {honey: +20 %, white-sugar: 1.40 EUR}}
  no vodka: {gone: [vodka-40]}
  sweeter: {targets: {sugar: 220 ± 5 g/L, cost: at most 9.50 EUR/L}}
grid: {prices: {honey: [-10 %, 12 EUR/kg]}}
draws: {count: 3, seed: 2, prices: {honey: ±20 %, white-sugar: 1 to 3 EUR/kg, vodka-40: -5 to +10 %}}
"""


@pytest.mark.slow
@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_no_scenarios_file_brings_it_down(chunk: int, run_here: RunCommand, tmp_path: Path) -> None:
    path = write_bar(tmp_path, CASES)
    good = path.read_text(encoding="utf-8")
    found, codes = [], set()
    for number in range(chunk * PER_CHUNK, (chunk + 1) * PER_CHUNK):
        rng = random.Random(f"suppose {number}")
        command = [rng.choice(("suppose", "suppose", "check")), path.name]
        path.write_bytes(mutate(good, rng))
        if command[0] == "suppose":
            command += ["--workers", "1"]
        command += ["--json"] if rng.random() < 0.5 else []
        done = run_here(*command, folder=tmp_path)
        codes.add(done.exit_code)
        # Where no case has a recipe, that is the answer, and the exit code says so.
        if done.exit_code != NO_RECIPE or not done.stdout:
            found += [
                f"variant {number}, {' '.join(command)}: {one}" for one in _faults(done, command, tmp_path)
            ]
    assert not found, "\n\n".join(found)
    assert {0, 2} <= codes
