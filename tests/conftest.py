"""Shared by the whole suite: a plain terminal, one hypothesis profile, the command line run two ways."""

from __future__ import annotations

import functools
import os
import shutil
import subprocess
import sys
import traceback
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
import typer
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).resolve().parent.parent

PLAIN_TERMINAL = {"NO_COLOR": "1", "TERM": "dumb", "COLUMNS": "80"}
"""80 columns and no colour, so that a whole screen can be compared."""

# The same examples every time and no stopwatch: a failure is the code's, never the machine's.
settings.register_profile(
    "formulate", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("formulate")


@dataclass(frozen=True)
class Finished:
    """What a command left behind.

    Attributes
    ----------
    exit_code : int
    stdout, stderr : str
    crash : str
        The traceback of an exception nobody caught, or empty. Only an in-process run can tell.
    """

    exit_code: int
    stdout: str
    stderr: str
    crash: str = ""


RunCommand = Callable[..., Finished]


LONGEST = (
    "test_mutated_files",
    "test_kitchen_against_ipopt",
    "test_suppose_kept",
    "test_infeasible_200",
    "test_reformulate",
    "test_caps",
    "test_no_replacement",
    "test_whole",
    "test_integers",
    "test_benchmarks_run",
    "test_workbooks",
    "test_stocking",
    "test_adjust",
    "test_valid_inequalities",
)
"""Modules of ten seconds and more. One of them begun last would leave all cores but one idle."""


def pytest_configure(config: pytest.Config) -> None:
    """Let whole modules go to the workers in our order, not those with most tests first."""
    if hasattr(config.option, "loadscopereorder"):
        config.option.loadscopereorder = False


SLOW = frozenset((ROOT / "tests" / "slow.txt").read_text(encoding="utf-8").split())
"""Tests that take about a second of one core and more, all their cases together, as measured."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the longest modules; all others stay as they are. Mark what was measured to be slow."""
    for item in items:
        if item.nodeid.partition("[")[0] in SLOW:
            item.add_marker(pytest.mark.slow)
    items.sort(key=lambda item: LONGEST.index(item.path.stem) if item.path.stem in LONGEST else len(LONGEST))


@pytest.fixture(autouse=True, scope="session")
def _plain_terminal() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        for name, value in PLAIN_TERMINAL.items():
            patch.setenv(name, value)
        patch.delenv("FORCE_COLOR", raising=False)
        yield


TEXTS_KEPT = 40
LONG_ENOUGH = 400
"""Characters; shorter texts are read quickly and are mostly written for one test."""


@pytest.fixture(autouse=True, scope="session")
def _each_text_is_scanned_once() -> Iterator[None]:
    """Keep what the YAML scanner makes of a text: a thousand broken bottles have the same shelf.

    Only a text that was scanned to its end is kept, so that errors come when and as they did.
    """
    from ruamel.yaml import YAML

    scan = YAML.parse
    kept: dict[str, list[object]] = {}

    def parse(self: YAML, text: str) -> Iterator[object]:
        if text in kept:
            kept[text] = kept.pop(text)  # the one that was asked for last goes last
            yield from kept[text]
            return
        events = []
        for event in scan(self, text):
            events.append(event)
            yield event
        if isinstance(text, str) and len(text) > LONG_ENOUGH:
            if len(kept) == TEXTS_KEPT:
                del kept[next(iter(kept))]
            kept[text] = events

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(YAML, "parse", parse)
        yield


@pytest.fixture
def bar(tmp_path: Path) -> Path:
    """A copy of the examples to change."""
    return Path(shutil.copytree(ROOT / "examples", tmp_path / "bar"))


_command_once = functools.cache(typer.main.get_command)
"""The commands of an app are the same each time; laying them out takes longer than most of them run."""


@pytest.fixture
def run_here(capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> RunCommand:
    """Run `formulate` in this process, through its own entry point, captured where file descriptors are.

    The arguments are those of the command; `folder` is where it is run from (the top of the
    repository unless said).
    """
    from formulate.cli.main import run

    def start(*arguments: str | Path, folder: Path = ROOT) -> Finished:
        capfd.readouterr()
        code: object = None
        crash = ""
        with monkeypatch.context() as patch:
            patch.setattr(sys, "argv", ["formulate", *map(str, arguments)])
            patch.setattr("typer.main.get_command", _command_once)
            patch.chdir(folder)
            try:
                run()
            except SystemExit as left:
                code = left.code
            except BaseException:  # whatever gets out here is what the person would see as a traceback
                code, crash = 1, traceback.format_exc()
        out, err = capfd.readouterr()
        assert isinstance(code, int), f"left with {code!r}, not with a number"
        return Finished(code, out, err, crash)

    return start


@pytest.fixture
def run_apart() -> RunCommand:
    """Run `python -m formulate` as a process of its own.

    The arguments are those of the command; `folder` is where it is run from; `environment` is
    put over the plain terminal's; `command` replaces ``python -m formulate``.
    """

    def start(
        *arguments: str | Path,
        folder: Path = ROOT,
        environment: dict[str, str] | None = None,
        command: tuple[str | Path, ...] = (sys.executable, "-m", "formulate"),
    ) -> Finished:
        done = subprocess.run(
            [str(part) for part in (*command, *arguments)],
            cwd=folder,
            env={**os.environ, **PLAIN_TERMINAL, "PYTHONUTF8": "1", **(environment or {})},
            capture_output=True,
            encoding="utf-8",
            timeout=120,
        )
        return Finished(done.returncode, done.stdout, done.stderr)

    return start
