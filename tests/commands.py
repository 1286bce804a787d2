"""What the tests of the commands share: the examples, and what a command may say where."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from conftest import ROOT, Finished

EXAMPLES = ROOT / "examples"
BOTTLES = sorted(path.stem for path in (EXAMPLES / "bottles").glob("*.yaml"))
TOO_CHEAP = "damson-too-cheap"
SOLVED = [name for name in BOTTLES if name != TOO_CHEAP]


def bottle_file(name: str) -> Path:
    """Find an example bottle."""
    return EXAMPLES / "bottles" / f"{name}.yaml"


def only_stdout(done: Finished) -> str:
    """Return what was said of a command that went well: nothing on standard error."""
    assert (done.exit_code, done.stderr, done.crash) == (0, "", "")
    return done.stdout


def only_stderr(done: Finished, exit_code: int) -> str:
    """Return what was said of a command that did not: nothing on standard output."""
    assert not done.crash, done.crash
    assert (done.exit_code, done.stdout) == (exit_code, "")
    assert done.stderr.strip()
    return done.stderr


def edited(folder: Path, name: str, *changes: tuple[str, str]) -> Path:
    """Change words in a file of a copy, each of which must be there."""
    path = folder / name
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, f"{old!r} is not in {name}"
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    return path


def document_of(done: Finished) -> Any:
    """Read the JSON document of a command that went well."""
    return json.loads(only_stdout(done))
