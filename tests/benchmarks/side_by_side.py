"""Benchmarks of two checkouts in turns, as ratios: the only fair way on a machine that does other things too.

Run from the top of the repository, with another commit checked out beside it (`git worktree add`)::

    python -m tests.benchmarks.side_by_side ../before [--turns 3]

What counts is the time of the processor, not of the clock. It prints and asserts nothing.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
from pathlib import Path
from statistics import median

RUNS = {
    "solve": ("bench_solve", "--sizes", "10", "--repeats", "3"),
    "packs": ("bench_packs", "--ingredients", "10", "--seeds", "2"),
    "explore": ("bench_explore", "--seeds", "4", "--curve", "12", "--clash", "12", "--points", "20"),
    "menu": ("bench_menu", "--bottles", "3", "--seconds", "5"),
}


def processor_seconds(folder: Path, module: str, *arguments: str) -> float:
    """Run one benchmark of one checkout; how long it and its children used a processor."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [sys.executable, "-m", f"tests.benchmarks.{module}", *arguments]
    subprocess.run(command, cwd=folder, capture_output=True, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("before", type=Path, help="the other checkout")
    parser.add_argument("--turns", type=int, default=3)
    chosen = parser.parse_args()
    checkouts = (chosen.before, Path())
    for name, run in RUNS.items():
        turns = [[processor_seconds(folder, *run) for folder in checkouts] for _ in range(chosen.turns)]
        before, after = zip(*turns, strict=True)
        print(
            f"{name:<8} before {median(before):6.2f} s ({min(before):.2f} to {max(before):.2f}), "
            f"now {median(after):6.2f} s ({min(after):.2f} to {max(after):.2f}): "
            f"{median(after) / median(before):.2f}"
        )


if __name__ == "__main__":
    main()
