"""The house of DEVELOPERS, proved by reading every import: rooms in order, one door per library."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from conftest import ROOT

PACKAGE = ROOT / "formulate"
LONGEST_FILE = 500

ORDER = (
    "errors",
    "quantity",
    "physics",
    "files",
    "blend",
    "optimise",
    "bar",
    "rules",
    "formulation",
    "learn",
    "describe",
    "planning",
    "jobs",
    "report",
    "page",
    "cli",
)
"""The rooms as data flows: a room imports only from those before it."""

NARROWER = {
    # room: all it may import of ours at run time, where that is less than every room before it
    "quantity": {"errors"},
    "physics": {"errors"},
    # of the formulas only the names of what a drink is made of, which load nothing
    "files": {"errors", "quantity", "physics.components"},
    # a problem is numbers: whoever asks it knows of files, the optimiser does not
    "optimise": {"errors", "physics", "blend"},
    # and of what a person writes only the table of measures: their digits and words
    "report": {"errors", "quantity", "describe", "files.measures"},
    # the page works nothing out: it asks jobs, and lays out their records
    "page": {"errors", "describe", "jobs", "report"},
    "cli": {"errors", "quantity", "describe", "jobs", "report", "page"},
}
LARGEST_ROOM = 0.2

DOORS = {
    # library: the only files or rooms that may import it, whether at run time or for a type
    "pint": {"quantity/units.py"},
    "ruamel": {"files/located.py"},
    "pydantic": {"files"},
    "pulp": {"optimise/pulp_model.py"},
    "highspy": {"optimise/highs.py"},
    "scipy": {"optimise"},
    "joblib": {"jobs/side_by_side.py"},
    "distributed": {"jobs/side_by_side.py"},
    "numpy": {
        "physics",
        "blend",
        "optimise",
        "bar",
        "rules",
        "formulation",
        "learn",
        "describe",
        "planning",
        "jobs",
    },
    "rich": {"report/terminal.py", "report/ingredient_screen.py", "report/progress.py"},
    "markupsafe": {"report/paper.py"},
    "weasyprint": {"report/paper.py"},
    "pandas": {"quantity/document.py"},
    "jinja2": {"report/paper.py", "page/app.py"},
    "matplotlib": {"report"},
    "python_calamine": {"files/workbook.py"},  # workbooks in
    "openpyxl": {"report/workbook.py"},  # and out
    "typer": {"cli"},
    "fastapi": {"page/app.py"},
    "starlette": {"page/app.py"},
    "uvicorn": {"page/serving.py"},
}


@dataclass(frozen=True)
class Import:
    """One module that a file imports, and where."""

    file: str
    line: int
    module: str
    for_types_only: bool

    def __str__(self) -> str:
        return f"formulate/{self.file}:{self.line} imports {self.module}"


def _files() -> list[Path]:
    return sorted(path for path in PACKAGE.rglob("*.py") if "specs" not in path.relative_to(PACKAGE).parts)


def _type_checking_lines(tree: ast.Module) -> set[int]:
    lines: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            lines |= {
                inner.lineno for part in node.body for inner in ast.walk(part) if hasattr(inner, "lineno")
            }
    return lines


def _imports_of(text: str, file: str, *, whole: bool = False) -> Iterator[Import]:
    tree = ast.parse(text)
    for_types = _type_checking_lines(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            modules = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"formulate/{file}:{node.lineno}: a relative import hides its room"
            module = node.module or ""
            # What is taken from a package may be a module: `from formulate.physics import mixture`.
            modules = [
                f"{module}.{alias.name}" if whole or module.count(".") < 2 else module for alias in node.names
            ]
        else:
            continue
        for module in dict.fromkeys(modules):
            yield Import(file, node.lineno, module, node.lineno in for_types)


def _imports() -> list[Import]:
    return [
        found
        for path in _files()
        for found in _imports_of(path.read_text(encoding="utf-8"), path.relative_to(PACKAGE).as_posix())
    ]


def _room(file: str) -> str:
    return file.split("/")[0].removesuffix(".py")


def _is_allowed(found: Import) -> bool:
    here, there = _room(found.file), found.module.split(".")[1]
    if here in ("__init__", "__main__") or there in (here, "__version__"):
        return True
    if there not in ORDER or ORDER.index(there) >= ORDER.index(here):
        return False
    if here not in NARROWER or (found.for_types_only and here == "report"):
        return True
    inner = ".".join(found.module.split(".")[1:3])
    return there in NARROWER[here] or inner in NARROWER[here]


def _breaks_a_door(found: Import) -> bool:
    library = found.module.split(".")[0]
    if library in sys.stdlib_module_names or library == "formulate":
        return False
    doors = DOORS.get(library, set())
    return found.file not in doors and _room(found.file) not in doors


def test_every_file_stands_in_a_room() -> None:
    rooms = {_room(path.relative_to(PACKAGE).as_posix()) for path in _files()}
    assert rooms - {"__init__", "__main__"} == set(ORDER)


def test_rooms_import_only_from_above() -> None:
    imports = [found for found in _imports() if found.module.split(".")[0] == "formulate"]
    assert len(imports) > 100
    assert not [str(found) for found in imports if not _is_allowed(found)]


def _imported(imports: Iterable[tuple[str, str]]) -> dict[str, set[str]]:
    """Say for each file which files it imports at run time, inside functions too."""
    names = {_module(path): path for path in _files()}
    graph: dict[str, set[str]] = {name: set() for name in names}
    for here, there in imports:
        # `formulate.physics.mixture` may be a file, or a name of the file `formulate.physics`.
        target = there if there in names else there.rpartition(".")[0]
        if target in names and target != here:
            graph.setdefault(here, set()).add(target)
    return graph


def _module(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def _circle(graph: dict[str, set[str]]) -> list[str]:
    """Return files that import each other in a circle; nothing where there are none."""
    left = {name: set(targets) for name, targets in graph.items()}
    while free := [name for name, targets in left.items() if not targets & set(left)]:
        for name in free:
            del left[name]
    return sorted(left)


def _at_run_time() -> list[tuple[str, str]]:
    return [
        (_module(PACKAGE / found.file), found.module)
        for path in _files()
        for found in _imports_of(
            path.read_text(encoding="utf-8"), path.relative_to(PACKAGE).as_posix(), whole=True
        )
        if not found.for_types_only
    ]


def test_no_files_import_each_other_in_a_circle() -> None:
    assert not _circle(_imported(_at_run_time()))


def test_a_circle_is_found_wherever_it_is_closed() -> None:
    closing = ("formulate.blend.chain", "formulate.blend.profile.Profile")
    assert _circle(
        _imported([*_at_run_time(), closing, ("formulate.blend.materials", "formulate.blend.chain")])
    )


def test_no_room_holds_more_than_a_fifth_of_the_code() -> None:
    lines: dict[str, int] = {}
    for path in _files():
        room = _room(path.relative_to(PACKAGE).as_posix())
        lines[room] = lines.get(room, 0) + len(path.read_text(encoding="utf-8").splitlines())
    assert {room for room, count in lines.items() if count > LARGEST_ROOM * sum(lines.values())} == set()


def test_each_library_has_one_door() -> None:
    assert not [str(found) for found in _imports() if _breaks_a_door(found)]


@pytest.mark.parametrize(
    ("file", "line", "refused"),
    [
        ("physics/density.py", "from formulate.quantity import Band", True),
        ("physics/density.py", "from formulate.errors import RangeError", False),
        ("files/aims.py", "from formulate.physics import mixture", True),
        ("blend/chain.py", "import formulate.optimise.slp", True),
        ("optimise/slp.py", "from formulate.files.bottle import Bottle", True),
        ("rules/law.py", "def f():\n    from formulate.formulation.caps import cap_limits", True),
        ("jobs/solve.py", "def f():\n    from formulate.report.numbers import money", True),
        ("jobs/solve.py", "from formulate import __version__", False),
        ("report/terminal.py", "from formulate.describe.records import Note", False),
        ("report/terminal.py", "from formulate.jobs.solve import solve_bottle", True),
        ("report/terminal.py", "if TYPE_CHECKING:\n    from formulate.jobs.solve import solve_bottle", False),
        ("report/terminal.py", "if TYPE_CHECKING:\n    from formulate.cli.main import app", True),
        ("cli/main.py", "from formulate.optimise.solve import solve", True),
        ("quantity/bands.py", "import pint", True),
        ("quantity/units.py", "from pint import UnitRegistry", False),
        ("jobs/solve.py", "import scipy.optimize", True),
        ("files/shelf.py", "import ruamel.yaml", True),
        ("cli/main.py", "from rich.console import Console", True),
        ("cli/main.py", "import click", True),
    ],
)
def test_the_walk_sees_what_it_must(file: str, line: str, refused: bool) -> None:
    found = list(_imports_of(line, file))
    assert found
    broken = [
        one
        for one in found
        if _breaks_a_door(one) or (one.module.startswith("formulate") and not _is_allowed(one))
    ]
    assert bool(broken) is refused


@pytest.mark.parametrize("path", _files(), ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_no_file_is_too_long(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_FILE


def _test_files() -> list[Path]:
    return sorted((ROOT / "tests").rglob("*.py"))


def _is_fixture(function: ast.FunctionDef) -> bool:
    return any("fixture" in ast.unparse(decorator) for decorator in function.decorator_list)


def test_every_function_that_asserts_is_run() -> None:
    # A check called `check_density` in a test file is collected by nobody and passes for ever.
    lost = []
    for path in _test_files():
        text = path.read_text(encoding="utf-8")
        used = {node.id for node in ast.walk(ast.parse(text)) if isinstance(node, ast.Name)}
        elsewhere = "\n".join(other.read_text(encoding="utf-8") for other in _test_files() if other != path)
        for node in ast.parse(text).body:
            if not isinstance(node, ast.FunctionDef) or node.name.startswith("test_") or _is_fixture(node):
                continue
            asserts = any(isinstance(inner, ast.Assert) for inner in ast.walk(node))
            if asserts and node.name not in used and f" {node.name}" not in elsewhere:
                lost.append(f"{path.relative_to(ROOT)}:{node.lineno} {node.name}")
    assert not lost


def test_every_test_can_fail() -> None:
    """Every test function asserts, expects an error, or hands its work to something that does."""
    idle = []
    for path in _test_files():
        tree = ast.parse(path.read_text(encoding="utf-8"))
        asserting = {
            node.name
            for node in tree.body
            if isinstance(node, ast.FunctionDef) and any(isinstance(i, ast.Assert) for i in ast.walk(node))
        }
        for node in ast.walk(tree):
            if not isinstance(node, ast.FunctionDef) or not node.name.startswith("test_"):
                continue
            body = list(ast.walk(node))
            calls = {ast.unparse(i.func).split(".")[-1] for i in body if isinstance(i, ast.Call)}
            checks = any(isinstance(i, ast.Assert) for i in body)
            if not checks and not calls & (asserting | {"raises", "fail", "warns"}):
                imported = {a.name for i in ast.walk(tree) if isinstance(i, ast.ImportFrom) for a in i.names}
                if not calls & imported:
                    idle.append(f"{path.relative_to(ROOT)}:{node.lineno} {node.name}")
    assert not idle


def test_no_test_accepts_any_exception_at_all() -> None:
    broad = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in _test_files()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        and ast.unparse(node.func).endswith("raises")
        and node.args
        and ast.unparse(node.args[0]) in ("Exception", "BaseException")
    ]
    assert not broad


def test_every_slow_test_is_there() -> None:
    """A name in the list that no test has would leave a slow test among the quick ones."""
    for name in (ROOT / "tests" / "slow.txt").read_text(encoding="utf-8").split():
        file, _, function = name.partition("::")
        assert f"def {function}(" in (ROOT / file).read_text(encoding="utf-8"), name
