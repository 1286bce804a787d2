"""The benchmarks still run and still print every line they promise. Nothing about how fast."""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import ModuleType

import pytest

from tests.benchmarks import (
    bench_explore,
    bench_menu,
    bench_packs,
    bench_scenarios,
    bench_solve,
    bench_start,
)

pytestmark = pytest.mark.slow


Run = Callable[..., str]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a benchmark in this process."""

    def start(module: ModuleType, *arguments: str) -> str:
        monkeypatch.setattr(sys, "argv", [module.__name__, *arguments])
        module.main()
        return capsys.readouterr().out

    return start


@pytest.mark.filterwarnings("ignore::DeprecationWarning:pulp")  # its own engine is one of those timed
def test_solve_benchmark_times_every_engine_and_they_agree(run: Run) -> None:
    lines = run(bench_solve, "--sizes", "10", "--repeats", "1").splitlines()
    rows = {line[2:18].strip(): line.split() for line in lines if line.startswith("  ")}
    for name in ("loop", "loop and proof", "bare LP", "PuLP and CBC", "Ipopt", "SLSQP"):
        # The last figure is the cost against ours: all of them solved the same question. CBC slips rows
        # by up to 1e-7, HiGHS on its own tolerances as much.
        assert abs(float(rows[name][-1])) < 1e-5, name


def test_packs_benchmark_runs(run: Run) -> None:
    lines = run(bench_packs, "--ingredients", "10", "--seeds", "1").splitlines()
    assert lines[-1].startswith("median ")
    assert lines[-1].endswith(" of 2")


def test_menu_benchmark_runs(run: Run) -> None:
    lines = run(bench_menu, "--bottles", "3", "--seconds", "5", "--bare").splitlines()
    assert lines[1].split()[0] == "3"
    assert lines[2].strip().startswith("bare ")


def test_scenarios_benchmark_runs(run: Run) -> None:
    lines = run(bench_scenarios, "--count", "4", "--without-cluster").splitlines()
    assert [line.split()[0] for line in lines[2:]] == ["1", "2"]
    assert all(line.endswith("same bytes") for line in lines[2:])


def test_menu_benchmark_adapts_and_is_never_dearer(run: Run) -> None:
    lines = run(bench_menu, "--bottles", "3", "--seconds", "8", "--adapt").splitlines()
    _, fixed, _, adapted = lines[1].replace(",", "").split()
    assert float(adapted) <= float(fixed) + 0.005
    assert lines[2].split()[0] == "3"


def test_start_benchmark_runs(run: Run) -> None:
    text = run(bench_start, "--repeats", "1")
    assert "its libraries imported" in text
    assert "import formulate.optimise.solve" in text


def test_explore_benchmark_runs_and_nothing_is_left_open(run: Run) -> None:
    text = run(bench_explore, "--seeds", "2", "--curve", "12", "--clash", "12", "--points", "10")
    curves, clashes = text.split("seed       s  members  irreducible")
    assert [line.split()[-1] for line in curves.splitlines()[1:-1]] == ["0"] * 8  # not settled
    assert [line.split()[-1] for line in clashes.splitlines()[1:-1]] == ["True"] * 2
