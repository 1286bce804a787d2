"""Files, names, terminals and signals as bad as they come: no trace, no hang, and no name obeyed."""

from __future__ import annotations

import contextlib
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from conftest import PLAIN_TERMINAL, ROOT, Finished, RunCommand

POSIX = pytest.mark.skipif(os.name != "posix", reason="pipes, signals and devices as POSIX has them")
STEERS = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff]")
"""What a terminal obeys or does not show; JSON has no use for any of it outside of escapes either."""


@pytest.fixture
def breaks(tmp_path: Path) -> Path:
    """A copy of the cases that once broke a command."""
    copied = Path(shutil.copytree(ROOT / "tests" / "cases" / "breaks", tmp_path / "breaks"))
    with contextlib.suppress(OSError):
        (copied / "loop.yaml").symlink_to("loop.yaml")
    return copied


def refused(done: Finished, place: str) -> str:
    """Hold a refusal to what a refusal is: exit 2, nothing on standard output, a place first."""
    assert (done.exit_code, done.stdout, done.crash) == (2, "", "")
    assert re.match(rf"\S*{re.escape(place)}:", done.stderr), done.stderr
    assert "Traceback" not in done.stderr
    return " ".join(done.stderr.split())


# --- the cases ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("command", "file", "place", "says"),
    [
        ("solve", "bottles/06-loop.yaml", "bottles/06-loop.yaml:3:8", "no file there"),
        ("solve", "loop.yaml", "loop.yaml:1:1", "cannot be read"),
        ("predict", "recipes/04-long-name.yaml", "recipes/04-long-name.yaml:2:9", "no file there"),
        ("solve", "bottles/03-surrogates.yaml", "bottles/03-surrogates.yaml:2:7", "not a size"),
        ("adjust", "jars/08-zero.yaml", "jars/08-zero.yaml:5:9", "must be above zero"),
        ("adjust", "jars/09-noplace.yaml", "jars/09-noplace.yaml:3:9", "no file there"),
        ("adjust", "jars/10-reading.yaml", "jars/10-reading.yaml:7:13", "contradict"),
        ("gauge", "jars/10-reading.yaml", "jars/10-reading.yaml:7:13", "contradict"),
    ],
)
def test_what_cannot_be_used_is_refused_at_its_place(
    command: str, file: str, place: str, says: str, breaks: Path, run_here: RunCommand
) -> None:
    assert says in refused(run_here(command, file, folder=breaks), place)
    document = json.loads(run_here(command, file, "--json", folder=breaks).stdout)
    first = document["errors"][0]
    assert f"{first['path']}:{first['line']}:{first['column']}".endswith(place)


def test_a_bottle_that_takes_longer_than_the_menu_is_told_of(breaks: Path, run_here: RunCommand) -> None:
    done = run_here("menu", breaks / "menus" / "01-takes-longer-than-menu.yaml")
    assert (done.exit_code, done.stderr, done.crash) == (4, "", "")
    assert "damson-aperitif: 14.85 L cannot be made in time." in " ".join(done.stdout.split())


HOSTILE = {
    "escape": ("\x1b[2J\x1b[8m", r"\x1b[2J\x1b[8m"),
    "one-byte escape": ("\x9b2J", r"\x9b2J"),
    "newline": ("\n\nNo cautions.", r"\n\nNo cautions."),
    "return": ("\rsafe", r"\rsafe"),
    "turned around": ("\u202egnp\u2066", r"\u202egnp\u2066"),
    "unseen": ("\u200b\u2060\ufeff", r"\u200b\u2060\ufeff"),
    "line of another kind": ("\u2028x", r"\u2028x"),
    "bell": ("\x07\x08", r"\x07\x08"),
}
NAMED = {
    "solve": ("bottles/amber-digestif.yaml", "name: Amber digestif", "name: "),
    "check": ("bottles/amber-digestif.yaml", "name: Amber digestif", "name: "),
    "buy": ("bottles/amber-digestif.yaml", "name: Amber digestif", "name: "),
    "predict": ("recipes/damson-aperitif.yaml", "recipe: Damson and grapefruit aperitif", "recipe: "),
    "label": ("recipes/damson-aperitif.yaml", "recipe: Damson and grapefruit aperitif", "recipe: "),
    "pour": ("drinks/amber-hour.yaml", "drink: Amber hour", "drink: "),
    "gauge": ("jars/08-zero.yaml", "reading: Damson aperitif, sweetened by eye", "reading: "),
}


@pytest.mark.parametrize(
    ("command", "kind"), [*(("check", kind) for kind in HOSTILE), *((one, "all") for one in NAMED)]
)
def test_a_name_is_shown_written_out_and_obeyed_by_no_terminal(
    command: str, kind: str, breaks: Path, run_here: RunCommand
) -> None:
    file, before, key = NAMED[command]
    typed, shown = HOSTILE.get(kind) or tuple(map("".join, zip(*HOSTILE.values(), strict=True)))
    path = breaks / file
    name = f"Fine{typed}"
    path.write_text(path.read_text("utf-8").replace(before, f"{key}{json.dumps(name)}"), "utf-8")
    told = run_here(command, path)
    assert (told.exit_code in (0, 4), told.crash) == (True, "")
    assert not STEERS.search(told.stdout)
    assert not STEERS.search(told.stderr)
    assert "".join(f"Fine{shown}".split()) in "".join(told.stdout.split())
    document = run_here(command, path, "--json").stdout
    assert not STEERS.search(document)
    laid_out = json.loads(document)
    assert name in (laid_out.get("name"), *(one["name"] for one in laid_out.get("files", ())))


@pytest.mark.parametrize("half", [r"\ud83d", r"\ude00", r"a\udfff"])
def test_half_a_character_is_refused_where_it_stands(half: str, breaks: Path, run_here: RunCommand) -> None:
    path = breaks / "recipes" / "gentian-tincture.yaml"
    path.write_text(path.read_text("utf-8").replace("Gentian tincture", f'"Fine {half}"'), "utf-8")
    assert "half a character" in refused(run_here("predict", path), "recipes/gentian-tincture.yaml:1:9")


def test_both_halves_of_a_character_make_it_as_json_writes(breaks: Path, run_here: RunCommand) -> None:
    path = breaks / "recipes" / "gentian-tincture.yaml"
    path.write_text(path.read_text("utf-8").replace("Gentian tincture", r'"Fine \ud83c\udf4b"'), "utf-8")
    assert json.loads(run_here("predict", path, "--json").stdout)["name"] == "Fine 🍋"


# --- what stands at a path ----------------------------------------------------------------------------


READING = ["check", "solve", "predict", "infuse", "tradeoff", "buy", "label", "pour", "menu", "suppose",
           "prices", "gauge", "adjust", "scale", "reformulate"]  # fmt: skip
MORE = {"tradeoff": ("--vary", "sugar", "--from", "1 g/L", "--to", "2 g/L"), "scale": ("--to", "5 L bottled")}


@POSIX
@pytest.mark.parametrize("command", READING)
def test_a_pipe_or_a_device_is_never_waited_for(command: str, tmp_path: Path, run_here: RunCommand) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")
    for path in (tmp_path / "pipe.yaml", Path("/dev/zero")):
        done = run_here(command, path, *MORE.get(command, ()))
        assert "this is a pipe or a device" in refused(done, f"{path.name}:1:1")


@POSIX
def test_a_list_that_is_a_pipe_or_has_too_long_a_name_is_refused(breaks: Path, run_here: RunCommand) -> None:
    os.mkfifo(breaks / "list.csv")
    shelf = breaks / "shelf.yaml"
    text = shelf.read_text("utf-8")
    for name in ("list.csv", f"{'x' * 5000}.csv"):
        lists = f"price_lists:\n  - {{file: {name}, items: {{}}}}\n"
        shelf.write_text(f"{text}\n{lists}", "utf-8")
        done = run_here("check", shelf)
        assert (done.exit_code, done.crash) == (2, "")
        assert done.stderr.startswith(f"{shelf.as_posix()}:")


@POSIX
@pytest.mark.skipif(os.name == "posix" and os.geteuid() == 0, reason="root may read everything")
def test_a_folder_nobody_may_read_is_told_of(breaks: Path, run_here: RunCommand) -> None:
    (breaks / "bottles").chmod(0)
    try:
        done = run_here("solve", breaks / "bottles" / "amber-digestif.yaml")
    finally:
        (breaks / "bottles").chmod(0o755)
    assert "cannot be read" in refused(done, "amber-digestif.yaml:1:1")


# --- where an answer goes -----------------------------------------------------------------------------


SOLVE = (sys.executable, "-m", "formulate", "solve", "examples/bottles/few-things.yaml")


def _started(*more: str, **how: Any) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [*SOLVE, *more],
        cwd=ROOT,
        env={**os.environ, **PLAIN_TERMINAL, "PYTHONUTF8": "1"},
        stderr=subprocess.PIPE,
        text=True,
        **how,
    )


@POSIX
@pytest.mark.parametrize("more", [(), ("--json",)], ids=["words", "document"])
def test_a_full_standard_output_is_told_of_in_a_line(more: tuple[str, ...]) -> None:
    with open("/dev/full", "w") as full:
        done = _started(*more, stdout=full)
        said = done.communicate(timeout=60)[1]
    assert done.returncode == 2
    assert said == "The answer cannot be written to standard output: No space left on device.\n"


@POSIX
@pytest.mark.parametrize("more", [(), ("--json",)], ids=["words", "document"])
def test_a_reader_who_leaves_ends_the_command_in_silence(more: tuple[str, ...]) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = _started(*more, stdout=writing)
    os.close(writing)
    assert (done.communicate(timeout=60)[1], done.returncode) == ("", 141)


@POSIX
def test_a_closed_standard_output_is_told_of_and_no_file_takes_its_place(tmp_path: Path) -> None:
    saved = tmp_path / "recipe.yaml"
    command = " ".join((*SOLVE, "-o", str(saved), ">&-"))
    done = subprocess.run(command, shell=True, cwd=ROOT, stderr=subprocess.PIPE, text=True, timeout=60)
    assert done.returncode == 2
    assert done.stderr == "The answer cannot be written to standard output: it is closed.\n"
    assert not saved.exists()


# --- stopped ------------------------------------------------------------------------------------------


@contextlib.contextmanager
def _interrupted(after_s: float) -> Iterator[None]:
    """Send this process what Ctrl-C sends, a while from now."""
    before = signal.setitimer(signal.ITIMER_REAL, after_s)
    handler = signal.signal(signal.SIGALRM, lambda *_: signal.raise_signal(signal.SIGINT))
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, *before)
        signal.signal(signal.SIGALRM, handler)


@POSIX
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # a file that was being opened
@pytest.mark.parametrize("after_ms", [1, 3, 10, 30, 100])
def test_ctrl_c_anywhere_leaves_with_130_and_one_document(after_ms: int, run_here: RunCommand) -> None:
    """What is loaded already makes no difference; once the answer stands there is nothing to stop."""
    bottle = ROOT / "examples" / "bottles" / "damson-aperitif.yaml"
    whole = run_here("solve", bottle, "--prices").stdout
    with _interrupted(after_ms / 1000.0):
        done = run_here("solve", bottle, "--json", "--prices")
    status = json.loads(done.stdout)["status"]
    assert (done.crash, done.stderr) == ("", "")
    assert (done.exit_code, status) in ((130, "stopped"), (130, "optimal"), (0, "optimal"))
    with _interrupted(after_ms / 1000.0):
        told = run_here("solve", bottle, "--prices")
    assert (told.crash, told.stderr) == ("", "")
    assert told.exit_code == 130 or told.stdout == whole
    assert whole.startswith(told.stdout)  # the recipe may stand while its prices are still worked out
    if after_ms <= 10:
        assert (done.exit_code, status, told.exit_code, told.stdout) == (130, "stopped", 130, "")


@POSIX
def test_ctrl_c_while_it_starts_leaves_with_130() -> None:
    done = _started("--json", stdout=subprocess.PIPE)
    time.sleep(0.12)
    done.send_signal(signal.SIGINT)
    out, said = done.communicate(timeout=60)
    # Before a line of ours ran the interpreter alone decides; after the answer there is nothing to stop.
    assert done.returncode in (130, -signal.SIGINT, 0)
    assert "formulate/cli" not in said
    assert done.returncode == -signal.SIGINT or json.loads(out)["status"] in ("stopped", "optimal")
