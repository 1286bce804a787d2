"""What the README and the guide beside the examples show is what happens."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "examples" / "README.md").read_text(encoding="utf-8")
BOTH = README + GUIDE
BLOCKS = re.findall(r"^```([a-z]*)\n(.*?)^```$", BOTH, re.MULTILINE | re.DOTALL)


LEFT_OUT = "...\n"
"""A line that stands for one or more lines of what is printed."""


def _blocks(language: str) -> list[str]:
    return [text for name, text in BLOCKS if name == language]


CONSOLE = [
    (command, expected)
    for text in _blocks("console")
    for command, expected in re.findall(r"^\$ ([^\n]*)\n((?:(?!\$ )[^\n]*\n)*)", text, re.MULTILINE)
]


def test_every_block_has_a_language_this_file_tests() -> None:
    assert {name for name, _ in BLOCKS} == {"sh", "console", "yaml", "python"}
    assert BOTH.count("```") == 2 * len(BLOCKS)


def test_console_blocks_start_with_a_command() -> None:
    assert len(CONSOLE) >= 2
    assert sum(len(f"$ {command}\n{expected}") for command, expected in CONSOLE) == sum(
        len(text) for text in _blocks("console")
    )


@pytest.mark.parametrize(("command", "expected"), CONSOLE, ids=[command for command, _ in CONSOLE])
def test_console_block_prints_what_it_shows(command: str, expected: str, run_here: RunCommand) -> None:
    program, *arguments = command.split()
    assert program == "formulate"
    done = run_here(*arguments)
    assert not done.crash, done.crash
    printed = done.stdout + done.stderr
    if LEFT_OUT not in expected.splitlines(keepends=True):
        assert printed == expected
        return
    parts = re.split(r"^\.\.\.\n", expected, flags=re.MULTILINE)
    assert all(part.count("\n") >= 1 for part in parts[:-1]), "what stands between is shown"
    assert re.fullmatch(r"(?:[^\n]*\n)+?".join(map(re.escape, parts)), printed), printed


def test_lines_left_out_hide_no_change() -> None:
    shown = [text for _, text in CONSOLE if LEFT_OUT in text.splitlines(keepends=True)]
    assert shown, "else the README need not explain the sign"
    assert all(text.count("\n") >= 10 for text in shown)


@pytest.mark.parametrize("text", _blocks("python"))
def test_python_block_runs_as_it_stands(text: str, run_apart: RunCommand) -> None:
    done = run_apart("-W", "error", "-c", text, command=(sys.executable,))
    assert (done.exit_code, done.stderr) == (0, "")
    assert re.fullmatch(r"[0-9.]+ % vol, [0-9.]+ per litre\n(?:[0-9]+ g [a-z0-9-]+\n){3}", done.stdout)


@pytest.mark.parametrize("text", _blocks("yaml"))
def test_yaml_block_is_an_example_file(text: str) -> None:
    examples = {path.read_text(encoding="utf-8"): path for path in (ROOT / "examples").rglob("*.yaml")}
    assert text in examples
    assert examples[text].name in BOTH.replace(text, ""), "the file shown is one that is named"


def test_shell_blocks_are_one_line_each() -> None:
    assert len(_blocks("sh")) == 2
    assert all(text.count("\n") == 1 and text.endswith("\n") for text in _blocks("sh"))


def test_shell_blocks_name_files_and_options_that_exist(run_here: RunCommand) -> None:
    solve, tests = _blocks("sh")
    command = re.search(r"\.venv/bin/formulate (\S.*)$", solve.strip())
    assert command is not None
    assert run_here(*command[1].split()).exit_code == 0
    pyproject = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    assert "--group dev" in tests
    assert "[dependency-groups]\ndev = [" in pyproject
    for option, package in (
        ("-m pytest", "pytest>="),
        ("-n auto", "pytest-xdist>="),
        ("--dist", "pytest-xdist>="),
    ):
        assert option in tests
        assert f'"{package}' in pyproject


def test_every_command_is_in_the_table(run_here: RunCommand) -> None:
    told = run_here("--help").stdout
    commands = set(re.findall(r"^  ([a-z-]+) {2,}\S", told.partition("--help  ")[2], re.MULTILINE))
    table = set(re.findall(r"^\| `([a-z-]+)(?: [^`]*)?` \|", README, re.MULTILINE))
    assert commands == table


def test_every_option_the_readme_names_exists(run_here: RunCommand) -> None:
    commands = re.findall(r"^\| `([a-z-]+)", README, re.MULTILINE)
    known = "".join(run_here(*command, "--help").stdout for command in [[], *([name] for name in commands)])
    prose = re.sub(r"^```.*?^```$", "", BOTH, flags=re.MULTILINE | re.DOTALL)
    named = set(re.findall(r"(?<![\w-])(--[a-z][a-z-]*|-[a-z](?![\w-]))", prose))
    assert {"--json", "-o"} <= named
    assert not [option for option in named if not re.search(rf"(?<![\w-]){option}(?![\w-])", known)]


@pytest.mark.parametrize(("text", "folder"), [(README, ROOT), (GUIDE, ROOT / "examples")])
def test_links_lead_somewhere(text: str, folder: Path) -> None:
    links = re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", text)
    assert links
    assert not [link for link in links if "://" not in link and not (folder / link).exists()]


def test_links_within_lead_to_a_heading() -> None:
    headings = {
        text: {re.sub(r"[^a-z0-9 -]", "", line.lower()).replace(" ", "-") for line in titles}
        for text in (README, GUIDE)
        for titles in [re.findall(r"^#+ (.*)$", re.sub(r"^```.*?^```$", "", text, flags=re.M | re.S), re.M)]
    }
    for text, other in ((README, GUIDE), (GUIDE, README)):
        here = set(re.findall(r"\]\(#([^)]+)\)", text))
        there = set(re.findall(r"\]\([^)#]*README\.md#([^)]+)\)", text))
        assert here <= headings[text]
        assert there <= headings[other]
