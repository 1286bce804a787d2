"""What `solve` writes predicts what was solved, replaces nothing unasked, and is whole or not there."""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path
from typing import Any

import pytest
from conftest import RunCommand

from formulate.errors import FormulateError, NotWrittenError
from formulate.files.disk import write_all
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
        told = only_stderr(run_here("solve", bottle_file("quince-cordial"), option, path, "--force"), 2)
        assert "was not written by this program" in " ".join(told.split())
        assert path.read_bytes() == precious
        path.unlink()
        assert run_here("solve", bottle_file("quince-cordial"), option, path).exit_code == 0
        path.write_bytes(path.read_bytes() + b"\n")
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


CALLS = ("open", "write", "fsync", "link", "replace")
"""Of the system, those that writing goes through; each may fail, at any of its calls."""


def _failing_at(call: int, patch: pytest.MonkeyPatch, within: Path) -> list[str]:
    """Let the system fail at the n-th call that concerns writing into a folder; returns the calls made."""
    made: list[str] = []
    ours: set[int] = set()

    def failing(name: str, really: Any) -> Any:
        def called(first: Any, *rest: Any, **named: Any) -> Any:
            concerns = first in ours if isinstance(first, int) else within in Path(first).parents
            writes = name != "open" or bool(rest and rest[0] & (os.O_WRONLY | os.O_RDWR))
            if concerns and writes:
                made.append(name)
                if len(made) == call:
                    raise OSError(errno.ENOSPC, "No space left on device")
            result = really(first, *rest, **named)
            if name == "open" and concerns and writes:
                ours.add(result)
            return result

        return called

    for name in CALLS:
        patch.setattr(os, name, failing(name, getattr(os, name)))
    return made


@pytest.mark.parametrize("old", [False, True], ids=["new", "replacing"])
def test_a_disk_that_fails_at_any_call_leaves_all_or_nothing(old: bool, tmp_path: Path) -> None:
    """Every call is made to fail once: nothing is half there, and no litter is left."""
    new = {tmp_path / name: f"new {name}" for name in ("recipe.yaml", "model.lp", "book.xlsx")}
    before = {path: f"old {path.name}" for path in list(new)[:2]} if old else {}

    def written(call: int) -> tuple[list[str], FormulateError | None]:
        for path in tmp_path.iterdir():
            path.unlink()
        for path, text in before.items():
            path.write_text(text, "utf-8")
        failed = None
        with pytest.MonkeyPatch.context() as patch:
            made = _failing_at(call, patch, tmp_path)
            try:
                write_all(new, replace=old)
            except NotWrittenError as error:
                failed = error
        return made, failed

    calls, none = written(0)
    assert none is None
    assert {"open", "write", "fsync", "link"} <= set(calls)
    assert ("replace" in calls) is old
    for call in range(1, len(calls) + 1):
        made, failed = written(call)
        now = {path: path.read_text("utf-8") for path in tmp_path.iterdir()}
        # A disk without second names still does what is asked, by a copy or by holding the place.
        assert (failed is None) is (calls[call - 1] == "link"), made
        if failed is not None:
            assert "cannot be written (No space left on device). Nothing was written." in str(failed)
        assert now == (new if failed is None else before), (call, made)


def test_the_answer_is_shown_where_its_file_cannot_be_written(tmp_path: Path, run_here: RunCommand) -> None:
    for more in ([], ["--json"]):
        with pytest.MonkeyPatch.context() as patch:
            _failing_at(2, patch, tmp_path)
            done = run_here("solve", bottle_file("few-things"), "-o", tmp_path / "recipe.yaml", *more)
        assert (done.exit_code, done.crash) == (2, "")
        assert "cannot be written (No space left on device)" in " ".join(done.stderr.split())
        assert "Few-things bitter" in done.stdout
        assert not more or json.loads(done.stdout)["status"] == "optimal"
        assert not list(tmp_path.iterdir())


def test_somebody_who_writes_the_same_new_file_meanwhile_is_not_replaced(tmp_path: Path) -> None:
    path = tmp_path / "recipe.yaml"
    path.write_text("theirs", "utf-8")
    with pytest.raises(NotWrittenError, match="somebody else wrote it meanwhile"):
        write_all({tmp_path / "first.yaml": "ours", path: "ours"}, replace=False)
    assert [(item.name, item.read_text("utf-8")) for item in tmp_path.iterdir()] == [
        ("recipe.yaml", "theirs")
    ]


@pytest.mark.skipif(os.name != "posix", reason="links and modes as POSIX has them")
def test_a_link_stays_a_link_and_a_mode_a_mode(tmp_path: Path, run_here: RunCommand) -> None:
    real, link = tmp_path / "real.yaml", tmp_path / "link.yaml"
    assert run_here("solve", bottle_file("few-things"), "-o", real).exit_code == 0
    real.chmod(0o640)
    link.symlink_to(real)
    real.write_bytes(real.read_bytes() + b"# seen\n")
    assert run_here("solve", bottle_file("few-things"), "-o", link, "--force").exit_code == 0
    assert link.is_symlink()
    assert b"# seen" not in real.read_bytes()
    assert real.stat().st_mode & 0o777 == 0o640


@pytest.mark.skipif(os.name != "posix", reason="pipes with names are of POSIX")
def test_force_replaces_no_pipe_and_no_device(tmp_path: Path, run_here: RunCommand) -> None:
    pipe = tmp_path / "pipe.yaml"
    os.mkfifo(pipe)
    for path in (pipe, Path("/dev/null")):
        told = only_stderr(run_here("solve", bottle_file("few-things"), "-o", path, "--force"), 2)
        assert "is a pipe or a device" in " ".join(told.split())
    assert pipe.is_fifo()
