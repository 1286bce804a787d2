"""The wheel carries the library of ingredients and works far from the repository."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    builder = pytest.importorskip("hatchling.build", reason="hatchling is not here to build with")
    folder = tmp_path_factory.mktemp("wheel")
    script = f"from {builder.__name__} import build_wheel; print(build_wheel({str(folder)!r}))"
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, encoding="utf-8", timeout=120
    )
    assert done.returncode == 0, done.stderr
    return folder / done.stdout.split()[-1]


def test_wheel_holds_the_package_and_its_data_and_nothing_else(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    top = {name.split("/")[0] for name in names}
    assert len(top) == 2
    assert {name for name in top if not name.endswith(".dist-info")} == {"formulate"}
    data = {path.relative_to(ROOT).as_posix() for path in (ROOT / "specs").rglob("*.yaml")}
    assert len(data) > 10
    assert {f"formulate/{name}" for name in data} <= set(names)
    code = {path.relative_to(ROOT).as_posix() for path in (ROOT / "formulate").rglob("*.py")}
    assert code <= set(names)
    tables = {path.relative_to(ROOT).as_posix() for path in (ROOT / "formulate").rglob("*.csv")}
    assert tables <= set(names)
    assert not [name for name in names if "__pycache__" in name or name.startswith(("tests", "examples"))]


def test_wheel_solves_far_from_the_repository(wheel: Path, tmp_path: Path, run_apart: RunCommand) -> None:
    installed, elsewhere = tmp_path / "installed", tmp_path / "elsewhere"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(installed)
    shutil.copytree(ROOT / "examples", elsewhere)
    there = {"PYTHONPATH": str(installed)}
    script = "import formulate; print(formulate.__file__)"
    found = run_apart("-c", script, command=(sys.executable,), folder=elsewhere, environment=there)
    assert Path(found.stdout.strip()).is_relative_to(installed)
    done = run_apart("solve", "bottles/damson-aperitif.yaml", "--json", folder=elsewhere, environment=there)
    assert (done.exit_code, done.stderr) == (0, "")
    assert json.loads(done.stdout)["status"] == "optimal"
    begun = run_apart("init", "new-bar", folder=elsewhere, environment=there)
    assert begun.exit_code == 0, begun.stderr
    assert len(begun.stdout.splitlines()) >= 2
