"""Every command as a person meets it: exit code, standard output and standard error, each on its own."""

from __future__ import annotations

import json
import re
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, Finished, RunCommand

from formulate.cli.main import app
from formulate.jobs.files import FILE_KINDS

EXAMPLES = ROOT / "examples"
BOTTLES = sorted(path.stem for path in (EXAMPLES / "bottles").glob("*.yaml"))
TOO_CHEAP = "damson-too-cheap"
SOLVED = [name for name in BOTTLES if name != TOO_CHEAP]

COMMANDS = tuple(
    str(command.name or command.callback.__name__).replace("_", "-") for command in app.registered_commands
)

SOLVE_NAMES: dict[str, Any] = {
    "schema_version": 1,
    "status": "",
    "name": "",
    "recipe": [{"ingredient": "", "step": "", "mass_g": 0.0, "cost": 0.0}],
    "predicted": {
        "volume_l": 0.0,
        "strength_pct_vol": 0.0,
        "sugar_g_l": 0.0,
        "acid_g_l": 0.0,
        "bitterness_value": 0.0,
        "density_kg_m3": 0.0,
        "refractive_index": 0.0,
    },
    "targets": [
        {
            "target": "",
            "lower": 0.0,
            "upper": 0.0,
            "value": 0.0,
            "unit": "",
            "binding": True,
            "shadow_price": 0.0,
            "source": "",
        }
    ],
    "cost": {"total": 0.0, "per_litre": 0.0, "currency": "", "proven_gap": 0.0},
    "warnings": [{"code": "", "text": "", "source": ""}],
    "solver": {"name": "", "passes": 0, "seconds": 0.0},
}
"""The names DESIGN section 6 promises to keep, each with a value of its kind."""


def _bottle(name: str) -> Path:
    return EXAMPLES / "bottles" / f"{name}.yaml"


def _only_stdout(done: Finished) -> str:
    assert (done.exit_code, done.stderr, done.crash) == (0, "", "")
    return done.stdout


def _only_stderr(done: Finished, exit_code: int) -> str:
    assert not done.crash, done.crash
    assert (done.exit_code, done.stdout) == (exit_code, "")
    assert done.stderr.strip()
    return done.stderr


@pytest.fixture
def bar(tmp_path: Path) -> Path:
    """A copy of the examples to change."""
    return Path(shutil.copytree(EXAMPLES, tmp_path / "bar"))


def _changed(folder: Path, name: str, *changes: tuple[str, str]) -> Path:
    """Change words in a file of a copy, each of which must be there."""
    path = folder / name
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, f"{old!r} is not in {name}"
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    return path


def _document(done: Finished) -> Any:
    return json.loads(_only_stdout(done))


# --- the program itself -------------------------------------------------------------------------------


def test_alone_it_shows_help_and_exits_2(run_apart: RunCommand) -> None:
    told = _only_stderr(run_apart(), 2)
    assert all(f"  {command} " in told for command in COMMANDS)


def test_help_names_every_command_and_nothing_else(run_here: RunCommand) -> None:
    told = _only_stdout(run_here("--help"))
    listed = re.findall(r"^  ([a-z-]+) {2,}\S", told.partition("Commands:")[2], re.MULTILINE)
    assert sorted(listed) == sorted(COMMANDS)
    assert {"init", "check", "library", "solve", "predict", "schema"} <= set(COMMANDS)


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("option", ["-h", "--help"])
def test_each_command_has_help(command: str, option: str, run_here: RunCommand) -> None:
    told = _only_stdout(run_here(command, option))
    assert told.startswith(f"Usage: formulate {command} ")
    assert re.search(r"^  [A-Z].*\.$", told, re.MULTILINE), "a sentence that says what it does"
    assert max(map(len, told.splitlines())) <= 80


def test_help_loads_nothing_heavy(run_apart: RunCommand) -> None:
    script = (
        "import sys\n"
        "sys.argv = ['formulate', '--help']\n"
        "from formulate.cli.main import run\n"
        "try:\n"
        "    run()\n"
        "except SystemExit as left:\n"
        "    heavy = ('scipy', 'pulp', 'pint', 'highspy', 'numpy', 'pydantic', 'ruamel')\n"
        "    print(left.code, [name for name in heavy if name in sys.modules], file=sys.stderr)\n"
    )
    done = run_apart("-c", script, command=(sys.executable,))
    assert done.stdout.startswith("Usage: ")
    assert done.stderr == "0 []\n"


def test_version_names_its_own_and_the_solvers(run_here: RunCommand) -> None:
    from importlib import metadata

    from formulate import __version__

    told = _only_stdout(run_here("--version"))
    assert told == f"formulate {__version__} (solver: HiGHS {metadata.version('highspy')})\n"


@pytest.mark.parametrize(
    "arguments",
    [
        ["slove"],
        ["solve"],
        ["solve", "a.yaml", "b.yaml"],
        ["solve", "--no-such-option", "a.yaml"],
        ["solve", "examples"],
        ["predict"],
        ["check"],
        ["schema"],
    ],
)
def test_wrong_usage_exits_2(arguments: list[str], run_here: RunCommand) -> None:
    told = _only_stderr(run_here(*arguments), 2)
    assert "Error: " in told
    assert "formulate" in told


@pytest.fixture
def script() -> Path:
    beside = shutil.which("formulate", path=str(Path(sys.executable).parent))
    if beside is None:
        pytest.skip("completion hangs on the installed script's name, and no script is installed here")
    return Path(beside)


def test_completion_script_for_bash(script: Path, run_apart: RunCommand) -> None:
    told = _only_stdout(run_apart(command=(script,), environment={"_FORMULATE_COMPLETE": "source_bash"}))
    assert "complete -o default -F _formulate_completion formulate" in told


@pytest.mark.parametrize(
    ("words", "expected"), [("formulate s", {"solve", "schema"}), ("formulate pre", {"predict"})]
)
def test_completion_offers_commands(
    words: str, expected: set[str], script: Path, run_apart: RunCommand
) -> None:
    typed = {"_FORMULATE_COMPLETE": "complete_bash", "COMP_WORDS": words, "COMP_CWORD": "1"}
    offered = set(_only_stdout(run_apart(command=(script,), environment=typed)).split())
    assert offered == {command for command in COMMANDS if command.startswith(words.split()[1])}
    assert expected <= offered


def test_a_terminal_without_our_letters_still_gets_the_answer(run_apart: RunCommand) -> None:
    done = run_apart(
        "solve", _bottle("lemon-leaf-40"), environment={"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    )
    assert "strength          27.5  % vol (tools: ?1.0)" in _only_stdout(done)


# --- solve --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SOLVED)
def test_solve_shows_a_recipe_no_wider_than_80(name: str, run_here: RunCommand) -> None:
    told = _only_stdout(run_here("solve", _bottle(name)))
    lines = told.splitlines()
    assert max(map(len, lines)) <= 80
    assert not [line for line in lines if line != line.rstrip()]
    assert "No cheaper recipe exists within these limits" in " ".join(told.split())
    assert "Not legal or medical advice" in told


@pytest.mark.parametrize("name", BOTTLES)
def test_json_is_the_whole_of_standard_output(name: str, run_apart: RunCommand) -> None:
    # In a process of its own: the solver writes its banner past Python, to the file descriptor.
    done = run_apart("solve", _bottle(name), "--json")
    assert done.stderr == ""
    assert done.exit_code == (3 if name == TOO_CHEAP else 0)
    document = json.loads(done.stdout)
    assert done.stdout.startswith("{")
    assert document["schema_version"] == 1
    assert document["status"] == ("infeasible" if name == TOO_CHEAP else "optimal")


def _missing(promised: Any, given: Any, path: str = "") -> Iterator[str]:
    """Yield every promised name that is not there or holds another kind of value."""
    if isinstance(promised, dict):
        for key, value in promised.items():
            if not isinstance(given, dict) or key not in given:
                yield f"{path}.{key} is missing"
            else:
                yield from _missing(value, given[key], f"{path}.{key}")
    elif isinstance(promised, list):
        if not given:
            yield f"{path} is empty"
        for number, item in enumerate(given):
            yield from _missing(promised[0], item, f"{path}[{number}]")
    elif isinstance(promised, (bool, str)):
        if not isinstance(given, type(promised)):
            yield f"{path} is {given!r}"
    elif not isinstance(given, (int, float)) or isinstance(given, bool):
        yield f"{path} is {given!r}"


@pytest.mark.parametrize("name", SOLVED)
def test_json_keeps_the_names_it_promised(name: str, run_here: RunCommand) -> None:
    document = _document(run_here("solve", _bottle(name), "--json"))
    one_sided = [
        target for target in document["targets"] if target["lower"] is None or target["upper"] is None
    ]
    for target in one_sided:  # an open side is null; the other side must still be a number
        assert (target["lower"] is None) != (target["upper"] is None)
        target["lower"] = target["upper"] = 0.0
    assert not list(_missing(SOLVE_NAMES, document))


@pytest.mark.parametrize("name", SOLVED)
def test_json_figures_hang_together(name: str, run_here: RunCommand) -> None:
    document = _document(run_here("solve", _bottle(name), "--json"))
    cost, predicted = document["cost"], document["predicted"]
    assert cost["total"] == pytest.approx(sum(line["cost"] for line in document["recipe"]), rel=1e-12)
    assert cost["per_litre"] == pytest.approx(cost["total"] / predicted["volume_l"], rel=1e-12)
    assert predicted["density_kg_m3"] == pytest.approx(
        predicted["mass_kg"] / predicted["volume_l"] * 1000.0, rel=1e-12
    )
    lost = sum(step["kept_in_cake_g"] + step["lost_g"] + step["solids_g"] for step in document["steps"])
    weighed = sum(line["mass_g"] for line in document["recipe"])
    assert weighed - lost == pytest.approx(predicted["mass_kg"] * 1000.0, rel=1e-9)
    for target in document["targets"]:
        slack = 1e-6 * max(abs(target["value"]), 1.0)
        assert target["lower"] is None or target["value"] >= target["lower"] - slack
        assert target["upper"] is None or target["value"] <= target["upper"] + slack
        file, line, _ = target["source"].rsplit(":", 2)
        typed = Path(file).read_text(encoding="utf-8").splitlines()[int(line) - 1]
        # What a category asks is named after it, and points at its line.
        key = "category" if ") " in target["target"] else target["target"]
        assert f"{key}: " in typed


def test_target_lines_of_the_file_are_the_targets_of_the_answer(run_here: RunCommand) -> None:
    document = _document(run_here("solve", _bottle("damson-aperitif"), "--json"))
    assert [target["target"] for target in document["targets"]] == [
        "strength",
        "sugar",
        "acid",
        "cost",
        "bitterness",
    ]


def test_no_recipe_is_told_on_standard_error_with_exit_3(run_here: RunCommand) -> None:
    told = _only_stderr(run_here("solve", "examples/bottles/damson-too-cheap.yaml"), 3)
    assert "no recipe meets every limit (proved)" in told
    assert "examples/bottles/damson-too-cheap.yaml:6" in told
    assert "cost up to " in told


def test_no_recipe_as_json_names_the_clash(run_here: RunCommand) -> None:
    done = run_here("solve", "examples/bottles/damson-too-cheap.yaml", "--json")
    assert (done.exit_code, done.stderr) == (3, "")
    document = json.loads(done.stdout)
    assert document["irreducible"] is True
    sides = {(member["limit"], member["side"]) for member in document["clash"]}
    assert sides == {("strength", "lower"), ("cost", "upper"), ("damson at least", "lower")}
    for member in document["clash"]:
        file, line, column = member["source"].rsplit(":", 2)
        assert file == "examples/bottles/damson-too-cheap.yaml"
        typed = (ROOT / file).read_text(encoding="utf-8").splitlines()[int(line) - 1]
        assert typed[int(column) - 1 :].startswith(member["text"])


def test_the_single_change_offered_is_enough_and_a_smaller_one_is_not(
    bar: Path, run_here: RunCommand
) -> None:
    told = _only_stderr(run_here("solve", bar / "bottles/damson-too-cheap.yaml"), 3)
    offered = re.search(r"cost up to ([0-9.]+) EUR/L", told)
    assert offered is not None
    cost = float(offered[1])
    for allowed, exit_code in ((cost, 0), (cost - 0.02, 3)):
        changed = _changed(bar, "bottles/damson-too-cheap.yaml", ("7.50", f"{allowed:.2f}"))
        assert run_here("solve", changed).exit_code == exit_code
        _changed(bar, "bottles/damson-too-cheap.yaml", (f"{allowed:.2f}", "7.50"))


def test_a_size_nothing_ties_is_told_with_its_place(bar: Path, run_here: RunCommand) -> None:
    # Without a strength, three bottles of vodka can be stretched with syrup without end.
    changed = _changed(bar, "bottles/lemon-leaf-40.yaml", ("  strength: 28 ± 0.5 % vol\n", ""))
    told = _only_stderr(run_here("solve", changed), 3)
    assert re.match(
        r".*lemon-leaf-40\.yaml:3:7: size: .*, got use 3 bottles of vodka-40\. Add a target", told
    )
    done = run_here("solve", changed, "--json")
    assert (done.exit_code, done.stderr) == (3, "")
    assert json.loads(done.stdout)["status"] == "unbounded"


@pytest.mark.parametrize(
    "arguments", [["solve"], ["solve", "--json"], ["predict"], ["check"], ["check", "--json"]]
)
def test_a_missing_file_exits_2(arguments: list[str], run_here: RunCommand) -> None:
    told = _only_stderr(run_here(*arguments, "nowhere.yaml"), 2)
    assert told == "nowhere.yaml:1:1: there is no such file. Check the path.\n"


def test_all_cautions_on_request(run_here: RunCommand) -> None:
    short = _only_stdout(run_here("solve", _bottle("damson-aperitif")))
    full = _only_stdout(run_here("solve", _bottle("damson-aperitif"), "--cautions"))
    hidden = re.search(r"and (\d+) more: add --cautions", short)
    assert hidden is not None
    assert "--cautions" not in full
    shown = [text.partition("Take care")[2].count("\n  · ") for text in (short, full)]
    assert shown[1] - shown[0] == int(hidden[1])


# --- files it writes ----------------------------------------------------------------------------------


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
    done = run_here("solve", _bottle(name), "--json", "-o", recipe)
    assert (done.exit_code, done.stderr) == (0, f"Written: {recipe.as_posix()}\n")
    solved = json.loads(done.stdout)
    predicted = _document(run_here("predict", recipe, "--json"))
    assert predicted["status"] == "predicted"
    assert predicted["name"] == solved["name"]
    assert _figures(predicted) == pytest.approx(_figures(solved), rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("name", SOLVED)
def test_the_example_recipes_are_what_solve_writes(name: str, bar: Path, run_here: RunCommand) -> None:
    kept = _document(run_here("predict", EXAMPLES / "recipes" / f"{name}.yaml", "--json"))
    solved = _document(run_here("solve", _bottle(name), "--json"))
    assert _figures(kept) == pytest.approx(_figures(solved), rel=1e-6, abs=1e-9)


def test_output_never_replaces_a_file_unasked(tmp_path: Path, run_here: RunCommand) -> None:
    precious = b"my own notes, with bytes \xff that no reader would keep\n"
    for name, option in (("recipe.yaml", "-o"), ("model.lp", "--export")):
        path = tmp_path / name
        path.write_bytes(precious)
        told = _only_stderr(run_here("solve", _bottle("quince-cordial"), option, path), 2)
        assert told == (
            f"{path.as_posix()}: there already. Nothing was written; add --force to replace it.\n"
        )
        assert path.read_bytes() == precious
        forced = run_here("solve", _bottle("quince-cordial"), option, path, "--force")
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
    assert says in _only_stderr(run_here("solve", _bottle("quince-cordial"), *options, folder=tmp_path), 2)
    assert [path.name for path in tmp_path.rglob("*")] == ["folder.lp"]


@pytest.mark.parametrize("exit_code", [2, 3])
def test_a_solve_that_fails_writes_nothing(exit_code: int, bar: Path, run_here: RunCommand) -> None:
    if exit_code == 2:
        _changed(bar, "bottles/damson-too-cheap.yaml", ("vodka-40", "votka-40"))
    before = {path: path.read_bytes() for path in bar.rglob("*") if path.is_file()}
    bottle = bar / "bottles" / "damson-too-cheap.yaml"
    done = run_here("solve", bottle, "-o", bar / "new.yaml", "--export", bar / "new.mps")
    _only_stderr(done, exit_code)
    assert {path: path.read_bytes() for path in bar.rglob("*") if path.is_file()} == before


def test_a_disk_that_fails_leaves_the_old_file(
    tmp_path: Path, run_here: RunCommand, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(self: Path, target: object) -> Path:
        raise OSError(28, "No space left on device")

    path = tmp_path / "recipe.yaml"
    path.write_text("old", encoding="utf-8")
    monkeypatch.setattr(Path, "replace", full)
    told = _only_stderr(run_here("solve", _bottle("quince-cordial"), "-o", path, "--force"), 2)
    assert told == f"{path.as_posix()}: cannot be written (No space left on device). Nothing was written.\n"
    assert [(item.name, item.read_text(encoding="utf-8")) for item in tmp_path.iterdir()] == [
        ("recipe.yaml", "old")
    ]


# --- the other commands -------------------------------------------------------------------------------


def test_init_writes_a_folder_whose_bottle_solves(tmp_path: Path, run_here: RunCommand) -> None:
    done = run_here("init", "bar", folder=tmp_path)
    assert (done.exit_code, done.crash) == (0, "")
    written = [tmp_path / line for line in done.stdout.splitlines()]
    assert sorted(path for path in tmp_path.rglob("*") if path.is_file()) == sorted(written)
    next_command = re.fullmatch(r"Next: formulate (solve .+\.yaml)\n", done.stderr)
    assert next_command is not None
    assert "No cheaper recipe exists" in _only_stdout(run_here(*next_command[1].split(), folder=tmp_path))
    assert _only_stdout(run_here("check", *written)).count("ok  ") == len(written)


def test_init_never_replaces_a_file_unasked(tmp_path: Path, run_here: RunCommand) -> None:
    (tmp_path / "shelf.yaml").write_text("mine", encoding="utf-8")
    told = _only_stderr(run_here("init", folder=tmp_path), 2)
    assert told == "shelf.yaml: there already. Nothing was written; add --force to replace.\n"
    assert [path.name for path in tmp_path.rglob("*")] == ["shelf.yaml"]
    assert run_here("init", "--force", folder=tmp_path).exit_code == 0
    assert (tmp_path / "shelf.yaml").read_text(encoding="utf-8") != "mine"


def test_init_where_a_folder_cannot_be_made(tmp_path: Path, run_here: RunCommand) -> None:
    (tmp_path / "bottles").write_text("a file by that name", encoding="utf-8")
    assert "cannot be made" in _only_stderr(run_here("init", folder=tmp_path), 2)
    assert [path.name for path in tmp_path.rglob("*")] == ["bottles"]


def test_check_tells_what_each_file_is(run_here: RunCommand) -> None:
    files = [
        "examples/shelf.yaml",
        "examples/bottles/quince-cordial.yaml",
        "examples/recipes/quince-cordial.yaml",
    ]
    told = _only_stdout(run_here("check", *files))
    assert re.findall(r"^ok  (\S+): (\w+),", told, re.MULTILINE) == list(
        zip(files, ("shelf", "bottle", "recipe"), strict=True)
    )
    document = _document(run_here("check", *files, "--json"))
    assert [(file["path"], file["kind"]) for file in document["files"]] == list(
        zip(files, ("shelf", "bottle", "recipe"), strict=True)
    )


def test_check_tells_the_problems_of_every_file_at_once(bar: Path, run_here: RunCommand) -> None:
    one = _changed(bar, "bottles/quince-cordial.yaml", ("12 g/L", "12 g/kg"))
    other = _changed(bar, "recipes/quince-cordial.yaml", ("2400 g", "-2400 g"))
    told = _only_stderr(run_here("check", bar / "shelf.yaml", one, other), 2)
    assert f"{one.as_posix()}:7:9: targets.acid: " in told
    assert f"{other.as_posix()}:9:22: ingredients.0.quince.amount: " in told


def test_library_searches_and_shows(run_here: RunCommand) -> None:
    found = _only_stdout(run_here("library", "bitter"))
    assert re.search(r"^gentian-root ", found, re.MULTILINE)
    assert not re.search(r"^white-sugar ", found, re.MULTILINE)
    one = _only_stdout(run_here("library", "gentian-root"))
    assert one.startswith("Gentian root, dried (Gentiana lutea)")
    assert "Where it comes from" in one
    everything = _document(run_here("library", "--json"))
    assert len(everything["ingredients"]) > 100
    assert len({item["id"] for item in everything["ingredients"]}) == len(everything["ingredients"])


def test_library_puts_the_shelf_on_top(bar: Path, run_here: RunCommand) -> None:
    shelf = _changed(
        bar, "shelf.yaml", ("offers:", "ingredients:\n  damson: {based_on: damson, ph: 3.1}\n\noffers:")
    )
    own = _document(run_here("library", "damson", "--shelf", shelf, "--json"))["ingredients"]
    assert [(item["id"], item["ph"], item["overrides"]) for item in own] == [("damson", 3.1, ["ph"])]
    assert _document(run_here("library", "damson", "--json"))["ingredients"][0].get("ph") != 3.1


def test_library_that_finds_nothing_offers_a_name(run_here: RunCommand) -> None:
    told = _only_stderr(run_here("library", "gentianroot"), 2)
    assert told == "nothing in the library fits 'gentianroot'. Did you mean 'gentian-root'?\n"


@pytest.mark.parametrize("kind", FILE_KINDS)
def test_schema_of_each_kind(kind: str, tmp_path: Path, run_here: RunCommand) -> None:
    text = _only_stdout(run_here("schema", kind))
    assert json.loads(text)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    done = run_here("schema", kind, "-o", tmp_path / "schema.json")
    assert (done.exit_code, done.stdout) == (0, "")
    assert (tmp_path / "schema.json").read_text(encoding="utf-8").strip() == text.strip()


def test_schema_of_an_unknown_kind(run_here: RunCommand) -> None:
    told = _only_stderr(run_here("schema", "cocktail"), 2)
    assert told == f"no file kind called 'cocktail'. There are: {', '.join(FILE_KINDS)}.\n"


def test_predict_compares_with_the_bottle_it_names(bar: Path, run_here: RunCommand) -> None:
    changed = _changed(bar, "recipes/lemon-leaf-40.yaml", ("431.052922 g", "900 g"))
    told = _only_stdout(run_here("predict", changed))
    strength = next(line for line in told.splitlines() if line.startswith("strength"))
    assert "27.5 to 28.5" in strength
    assert strength.endswith("too low")


# --- a first try in a bar: the example changed in five ways ---------------------------------------------


def test_changed_an_ingredient_taken_out(bar: Path, run_here: RunCommand) -> None:
    path = "bottles/damson-aperitif.yaml"
    before = _document(run_here("solve", bar / path, "--json"))
    changed = _changed(bar, path, ("  - grapefruit-pith: {at_most: 40 g per L bottled, step: infuse}\n", ""))
    # Only gentian is bitter now, and it may bring 60 % of the bitterness at most: no recipe, and it says why.
    told = _only_stderr(run_here("solve", changed), 3)
    assert "gentian-root share of bitterness" in told
    _changed(bar, path, (", share_of_bitterness: 30 to 60 %", ""))
    after = _document(run_here("solve", changed, "--json"))
    assert "grapefruit-pith" not in {line["ingredient"] for line in after["recipe"]}
    assert after["predicted"]["bitterness_value"] == pytest.approx(before["predicted"]["bitterness_value"])


def test_changed_to_an_impossible_target(bar: Path, run_here: RunCommand) -> None:
    # 40 % vol spirit cannot make a 45 % vol liqueur.
    changed = _changed(bar, "bottles/lemon-leaf-40.yaml", ("28 ± 0.5 % vol", "45 ± 0.5 % vol"))
    told = _only_stderr(run_here("solve", changed), 3)
    assert "strength: at least 44.5 % vol" in told
    assert f"{changed.as_posix()}:6" in told
    reachable = re.search(r"strength down to ([0-9.]+) % vol", told)
    assert reachable is not None
    assert 20.0 < float(reachable[1]) < 40.0


def test_changed_by_a_slip_of_the_keyboard(bar: Path, run_here: RunCommand) -> None:
    changed = _changed(
        bar, "bottles/damson-aperitif.yaml", ("damson: {at_least", "damsom: {at_leest"), ("sugar:", "suger:")
    )
    told = _only_stderr(run_here("solve", changed), 2)
    for words in ("Did you mean 'sugar'?", "Did you mean 'at_least'?"):
        assert words in told
    _changed(bar, "bottles/damson-aperitif.yaml", ("at_leest", "at_least"), ("suger:", "sugar:"))
    told = _only_stderr(run_here("solve", changed), 2)
    assert told.startswith(f"{changed.as_posix()}:16:5: ingredients.2: no ingredient called 'damsom'")
    assert "Did you mean 'damson'?" in told


@pytest.mark.parametrize("name", ["damson-aperitif", "quince-cordial"])
@pytest.mark.parametrize(("size", "litres"), [("20000 L bottled", 20_000.0), ("50 mL bottled", 0.05)])
def test_changed_to_a_huge_or_tiny_batch(
    name: str, size: str, litres: float, bar: Path, run_here: RunCommand
) -> None:
    path = f"bottles/{name}.yaml"
    old = "5 L bottled" if name == "damson-aperitif" else "12 bottles of 50 cl"
    if name == "damson-aperitif":
        _changed(bar, path, ("{fixed_loss: 20 g}", "{fixed_loss: 0 g}"))  # what does not grow with the batch
    before = _document(run_here("solve", bar / path, "--json"))
    after = _document(run_here("solve", _changed(bar, path, (f"size: {old}", f"size: {size}")), "--json"))
    factor = litres / before["predicted"]["volume_l"]
    assert after["status"] == "optimal"
    assert after["predicted"]["volume_l"] == pytest.approx(litres, rel=1e-9)
    assert after["cost"]["per_litre"] == pytest.approx(before["cost"]["per_litre"], rel=1e-6)
    assert {line["ingredient"]: line["mass_g"] for line in after["recipe"]} == pytest.approx(
        {line["ingredient"]: line["mass_g"] * factor for line in before["recipe"]}, rel=1e-4
    )


def test_changed_to_a_tiny_batch_with_a_fixed_loss_needs_more_of_everything(
    bar: Path, run_here: RunCommand
) -> None:
    changed = _changed(bar, "bottles/damson-aperitif.yaml", ("5 L bottled", "50 mL bottled"), ("9.50", "20"))
    document = _document(run_here("solve", changed, "--json"))
    # 20 g stay in the vessel where about 52 g are bottled, so it costs about (52 + 20) / 52 of the usual.
    assert document["predicted"]["volume_l"] == pytest.approx(0.05, rel=1e-9)
    assert sum(step["lost_g"] for step in document["steps"]) > 20.0
    assert 11.0 < document["cost"]["per_litre"] < 14.0


def test_changed_to_ounces_and_gallons(bar: Path, run_here: RunCommand) -> None:
    # Exact by definition: 1 lb = 0.45359237 kg, 1 oz = 1/16 lb (international yard and pound agreement,
    # 1959); 1 US gal = 231 in3 = 3.785411784 L, 1 US fl oz = 1/128 gal (NIST Handbook 44, appendix C).
    gallon_l, ounce_g = 3.785411784, 453.59237 / 16.0
    changed = _changed(
        bar,
        "bottles/damson-aperitif.yaml",
        ("size: 5 L bottled", "size: 2 gal bottled"),
        ("180 ± 5 g/L", "24 ± 0.5 oz/gal"),
        ("250 g per L bottled", "32 oz per gal bottled"),
        ("cost: at most 9.50 EUR/L", "cost: at most 36 EUR/gal"),
        ("{fixed_loss: 20 g}", "{fixed_loss: 0.5 oz}"),
    )
    _changed(bar, "shelf.yaml", ("vodka-40: {pack: 70 cl", "vodka-40: {pack: 23.67 fl oz"))
    document = _document(run_here("solve", changed, "--json"))
    targets = {target["target"]: target for target in document["targets"]}
    assert document["predicted"]["volume_l"] == pytest.approx(2 * gallon_l, rel=1e-9)
    assert targets["sugar"]["lower"] == pytest.approx(23.5 * ounce_g / gallon_l, rel=1e-12)
    assert targets["sugar"]["upper"] == pytest.approx(24.5 * ounce_g / gallon_l, rel=1e-12)
    assert targets["cost"]["upper"] == pytest.approx(36.0 / gallon_l, rel=1e-12)
    masses = {line["ingredient"]: line["mass_g"] for line in document["recipe"]}
    assert masses["damson"] == pytest.approx(2 * 32 * ounce_g, rel=1e-6)
