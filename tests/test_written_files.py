"""What `solve` writes predicts what was solved, replaces nothing unasked, and is whole or not there."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from conftest import RunCommand

from tests.commands import (
    EXAMPLES,
    SOLVED,
    bottle_file,
    document_of,
    edited,
    only_stderr,
)


def _figures(document: Any) -> dict[str, Any]:
    """Take every figure that `solve` and `predict` both give."""
    predicted = {key: value for key, value in document["predicted"].items() if isinstance(value, float)}
    return {
        **predicted,
        "total": document["cost"]["total"],
        "per_litre": document["cost"]["per_litre"],
        **{f"{line['ingredient']} in {line['step']}": line["mass_g"] for line in document["recipe"]},
        **{f"target {target['target']}": target["value"] for target in document["targets"]},
        **{f"{step['step']} liquor": step["liquor_g"] for step in document["steps"]},
        **{f"{step['step']} cake": step["kept_in_cake_g"] for step in document["steps"]},
    }


@pytest.mark.parametrize("name", SOLVED)
def test_the_recipe_written_predicts_what_was_solved(name: str, tmp_path: Path, run_here: RunCommand) -> None:
    recipe = tmp_path / "recipe.yaml"
    done = run_here("solve", bottle_file(name), "--json", "-o", recipe)
    assert (done.exit_code, done.stderr) == (0, f"Written: {recipe.as_posix()}\n")
    solved = json.loads(done.stdout)
    predicted = document_of(run_here("predict", recipe, "--json"))
    assert predicted["status"] == "predicted"
    assert predicted["name"] == solved["name"]
    assert _figures(predicted) == pytest.approx(_figures(solved), rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("name", SOLVED)
def test_the_example_recipes_are_what_solve_writes(name: str, bar: Path, run_here: RunCommand) -> None:
    kept = document_of(run_here("predict", EXAMPLES / "recipes" / f"{name}.yaml", "--json"))
    solved = document_of(run_here("solve", bottle_file(name), "--json"))
    assert _figures(kept) == pytest.approx(_figures(solved), rel=1e-6, abs=1e-9)


def test_output_never_replaces_a_file_unasked(tmp_path: Path, run_here: RunCommand) -> None:
    precious = b"my own notes, with bytes \xff that no reader would keep\n"
    for name, option in (("recipe.yaml", "-o"), ("model.lp", "--export")):
        path = tmp_path / name
        path.write_bytes(precious)
        told = only_stderr(run_here("solve", bottle_file("quince-cordial"), option, path), 2)
        said = f"{path.as_posix()}: there already. Nothing was written; add --force to replace it."
        assert " ".join(told.split()) == said
        assert path.read_bytes() == precious
        forced = run_here("solve", bottle_file("quince-cordial"), option, path, "--force")
        assert (forced.exit_code, forced.stderr) == (0, f"Written: {path.as_posix()}\n")
        assert precious not in path.read_bytes()


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["-o", "nowhere/recipe.yaml"], "its folder is not there"),
        (["-o", "recipe.yaml", "--export", "model.txt"], "a model is written as .lp or .mps, got .txt"),
        (["-o", "recipe.yaml", "--export", "model"], "got no ending"),
        (["-o", "both.lp", "--export", "both.lp"], "named for two things"),
        (["--export", "folder.lp"], "this is a folder"),
        (["--export", "folder.lp", "--force"], "this is a folder"),
    ],
)
def test_nothing_is_written_where_anything_cannot_be(
    options: list[str], says: str, tmp_path: Path, run_here: RunCommand
) -> None:
    (tmp_path / "folder.lp").mkdir()
    assert says in only_stderr(run_here("solve", bottle_file("quince-cordial"), *options, folder=tmp_path), 2)
    assert [path.name for path in tmp_path.rglob("*")] == ["folder.lp"]


@pytest.mark.parametrize("exit_code", [2, 3])
def test_a_solve_that_fails_writes_nothing(exit_code: int, bar: Path, run_here: RunCommand) -> None:
    if exit_code == 2:
        edited(bar, "bottles/damson-too-cheap.yaml", ("vodka-40", "votka-40"))
    before = {path: path.read_bytes() for path in bar.rglob("*") if path.is_file()}
    bottle = bar / "bottles" / "damson-too-cheap.yaml"
    done = run_here("solve", bottle, "-o", bar / "new.yaml", "--export", bar / "new.mps")
    only_stderr(done, exit_code)
    assert {path: path.read_bytes() for path in bar.rglob("*") if path.is_file()} == before


def test_a_disk_that_fails_leaves_the_old_file(
    tmp_path: Path, run_here: RunCommand, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(self: Path, target: object) -> Path:
        raise OSError(28, "No space left on device")

    path = tmp_path / "recipe.yaml"
    path.write_text("old", encoding="utf-8")
    monkeypatch.setattr(Path, "replace", full)
    told = only_stderr(run_here("solve", bottle_file("quince-cordial"), "-o", path, "--force"), 2)
    said = f"{path.as_posix()}: cannot be written (No space left on device). Nothing was written."
    assert " ".join(told.split()) == said
    assert [(item.name, item.read_text(encoding="utf-8")) for item in tmp_path.iterdir()] == [
        ("recipe.yaml", "old")
    ]
