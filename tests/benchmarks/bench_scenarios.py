"""Time many scenarios of the example on one worker, on two, and on a scheduler with two workers.

Run from the top of the repository::

    python -m tests.benchmarks.bench_scenarios [--count 1000] [--without-cluster]

It prints and asserts nothing: the figures depend on the machine, and on what else it does. The load average
is shown beside each row: above the number of cores, other work takes its share and two workers gain less than
they could. Drawn are the prices of what goes into the damson aperitif. Shown are seconds of the whole command
with the start of its processes, the ratio to one worker, processor seconds, and whether the document is
the same, byte by byte.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TOP = Path(__file__).parents[2]
BOTTLE = TOP / "examples/bottles/damson-aperitif.yaml"
SCENARIOS = """\
suppose: Prices
bottle: {bottle}
draws:
  count: {count}
  seed: 7
  prices: {{damson: ±20 %, vodka-40: ±10 %, white-sugar: ±20 %, whole-grapefruit: ±30 %, gentian-root: ±20 %}}
"""


def timed(path: Path, *options: str) -> tuple[float, float, bytes]:
    """Run the command; return seconds, processor seconds of it and its processes, and its document."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    started = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "formulate", "suppose", str(path), "--json", *options],
        cwd=TOP,
        env={**os.environ, "PYTHONPATH": str(TOP)},
        capture_output=True,
        check=True,
    )
    took = time.perf_counter() - started
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return took, used, done.stdout


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--without-cluster", action="store_true")
    asked = parser.parse_args()
    first: tuple[float, bytes] | None = None
    print(f"{asked.count} scenarios, {os.cpu_count()} cores")
    print("way                  s  ratio  processor s  load  document")

    def row(way: str, path: Path, *options: str) -> None:
        nonlocal first
        took, used, document = timed(path, *options)
        first = first or (took, document)
        same = "same bytes" if document == first[1] else "DIFFERENT"
        load = os.getloadavg()[0]
        print(
            f"{way:14s}  {took:6.1f}  {first[0] / took:5.2f}  {used:11.1f}  {load:4.1f}  {same}", flush=True
        )

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "scenarios.yaml"
        bottle = os.path.relpath(BOTTLE, folder)
        path.write_text(SCENARIOS.format(bottle=bottle, count=asked.count), encoding="utf-8")
        row("1 worker", path, "--workers", "1")
        row("2 workers", path, "--workers", "2")
        if not asked.without_cluster:
            from distributed import LocalCluster

            with LocalCluster(
                n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
            ) as cluster:
                row("2 on a cluster", path, "--scheduler", cluster.scheduler_address)


if __name__ == "__main__":
    main()
