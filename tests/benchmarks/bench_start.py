"""How long the command takes to start: modules loaded, help, a whole solve against its imports.

Run from the top of the repository::

    python -m tests.benchmarks.bench_start [bottle file] [--repeats 5]

Every figure is a fresh process. It prints and asserts nothing: the figures depend on the machine.
"""

from __future__ import annotations

import argparse
import importlib.util
import subprocess
import sys
import time
from collections.abc import Sequence
from statistics import median

COMMAND = "formulate.cli.main"
LIBRARIES = "import numpy, highspy, ruamel.yaml, pydantic, typer, rich"
HEAVY = (
    "numpy",
    "scipy",
    "pulp",
    "highspy",
    "pydantic",
    "pint",
    "rich",
    "ruamel.yaml",
    "matplotlib",
    "fastapi",
)


def seconds(command: list[str]) -> tuple[float, int]:
    """Run a fresh process; how long it took and its exit code."""
    started = time.perf_counter()
    done = subprocess.run(command, capture_output=True, check=False)
    return time.perf_counter() - started, done.returncode


def show(name: str, command: list[str], repeats: int) -> float:
    """Print the median of several runs after one to warm the files; return it."""
    seconds(command)
    runs = [seconds(command) for _ in range(repeats)]
    took = [run[0] for run in runs]
    code = "" if runs[-1][1] == 0 else f"  (exit code {runs[-1][1]})"
    print(f"  {name:<34}{1e3 * median(took):>8.0f} ms  {1e3 * min(took):.0f} to {1e3 * max(took):.0f}{code}")
    return median(took)


def loaded(statement: str) -> str:
    """How many modules a statement loads beyond a bare interpreter, and which heavy ones."""
    code = (
        "import sys; before = set(sys.modules)\n"
        f"{statement}\n"
        f"heavy = [name for name in {HEAVY!r} if name in sys.modules]\n"
        "print(len(set(sys.modules) - before), 'modules; of the heavy ones:', ', '.join(heavy) or 'none')"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    lines = done.stdout.strip().splitlines()
    return lines[-1] if done.returncode == 0 and lines else f"failed: {done.stderr.strip().splitlines()[-1:]}"


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("bottle", nargs="?", help="a bottle file to solve")
    parser.add_argument("--repeats", type=int, default=5)
    chosen = parser.parse_args(arguments)
    python = sys.executable
    print(f"Median, least and greatest of {chosen.repeats} fresh processes")
    nothing = show("python, nothing", [python, "-c", "pass"], chosen.repeats)
    imports = show("its libraries imported", [python, "-c", LIBRARIES], chosen.repeats)
    show(
        "formulate.optimise.solve imported",
        [python, "-c", "import formulate.optimise.solve"],
        chosen.repeats,
    )
    print(f"  import formulate: {loaded('import formulate')}")
    print(f"  import formulate.optimise.solve: {loaded('import formulate.optimise.solve')}")
    if importlib.util.find_spec(COMMAND) is None:
        print(f"  No command yet ({COMMAND} does not exist): help and solve are not measured.")
        return
    print(f"  import {COMMAND}: {loaded(f'import {COMMAND}')}")
    command = [python, "-c", f"from {COMMAND} import run; run()"]
    show("formulate --help", [*command, "--help"], chosen.repeats)
    if chosen.bottle is None:
        print("  No bottle file given: a whole solve is not measured.")
        return
    whole = show("formulate solve", [*command, "solve", chosen.bottle], chosen.repeats)
    print(f"  a whole solve is {whole / imports:.2f} times its imports, {whole / nothing:.1f} times nothing")


if __name__ == "__main__":
    main()
