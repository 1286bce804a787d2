"""One workbook both ways: it says what the folder says, loses nothing, and points at the wrong cell."""

from __future__ import annotations

import json
import shutil
import subprocess
import time
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from conftest import ROOT, RunCommand
from hypothesis import given, settings
from hypothesis import strategies as st

import formulate
from formulate.errors import SpecError
from formulate.files.book import read_book
from formulate.files.loading import load_any
from formulate.files.located import load_document
from formulate.files.menu import load_menu
from formulate.report.bar_book import bar_document, bar_workbook
from tests.commands import EXAMPLES, only_stderr, only_stdout
from tests.hostile import HOSTILE

SOFFICE = shutil.which("soffice")
needs_libreoffice = pytest.mark.skipif(
    SOFFICE is None, reason="LibreOffice (soffice) is not here to open workbooks in another program"
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Copy the examples, with both kinds of workbook of them beside."""
    there = tmp_path_factory.mktemp("bar") / "bar"
    shutil.copytree(EXAMPLES, there)
    record = formulate.workbook(there)
    (there / "bar.xlsx").write_bytes(bar_workbook(record))
    (there / "bar.ods").write_bytes(bar_document(record))
    return there


def _files(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*.yaml"))


def _changed(folder: Path, tmp_path: Path, *cells: tuple[str, str, object]) -> Path:
    """Copy the workbook beside itself with some cells typed over, as a person does in a spreadsheet."""
    book = openpyxl.load_workbook(folder / "bar.xlsx")
    for sheet, at, value in cells:
        book[sheet][at] = value
    path = folder / f"{tmp_path.name}.xlsx"
    book.save(path)
    return path


def _cell(folder: Path, sheet: str, first: str, head: str, name: str = "") -> str:
    """Find the cell of a row by what stands in its first columns, and of a column by its head."""
    page = openpyxl.load_workbook(folder / "bar.xlsx")[sheet]
    (column,) = [cell.column_letter for cell in page[3] if cell.value == head]
    (row,) = [
        row[0].row
        for row in page.iter_rows(min_row=4)
        if row[0].value == first and (not name or row[1].value == name)
    ]
    return f"{column}{row}"


# --- both ways ------------------------------------------------------------------------------------


@pytest.mark.parametrize("book", ["bar.xlsx", "bar.ods"])
def test_every_file_says_the_same_in_the_workbook(folder: Path, book: str) -> None:
    assert set(read_book(folder / book).files) == set(_files(folder))
    for name in _files(folder):
        assert load_any(folder / book / name) == load_any(folder / name), name


@pytest.mark.parametrize("book", ["bar.xlsx", "bar.ods"])
def test_taking_back_what_was_not_changed_changes_no_letter(folder: Path, book: str) -> None:
    before = {name: (folder / name).read_bytes() for name in _files(folder)}
    taken = formulate.take(folder / book, folder)
    assert (taken.new, taken.changed, taken.only_there) == ((), (), ())
    assert {name: (folder / name).read_bytes() for name in _files(folder)} == before


def test_taken_into_an_empty_folder_every_file_says_the_same(folder: Path, tmp_path: Path) -> None:
    shutil.copytree(folder / "lists", tmp_path / "lists")
    taken = formulate.take(folder / "bar.xlsx", tmp_path)
    assert list(taken.new) == list(read_book(folder / "bar.xlsx").files)
    for name in _files(folder):
        assert load_any(tmp_path / name) == load_any(folder / name), name


def test_one_changed_cell_changes_one_value_and_keeps_every_remark(folder: Path, tmp_path: Path) -> None:
    own = tmp_path / "own"
    shutil.copytree(folder, own)
    at = _cell(folder, "Bought", "damson", "price")
    book = _changed(own, tmp_path, ("Bought", at, 5.2))
    taken = formulate.take(book, own)
    assert taken.changed == ("shelf.yaml",)
    before = (folder / "shelf.yaml").read_text("utf-8").splitlines()
    after = (own / "shelf.yaml").read_text("utf-8").splitlines()
    differing = [(old, new) for old, new in zip(before, after, strict=True) if old != new]
    ((old, new),) = differing
    assert new == old.replace("4.80 EUR", "5.20 EUR")


def test_rows_added_and_taken_out_are_files_and_lines_added_and_taken_out(
    folder: Path, tmp_path: Path
) -> None:
    own = tmp_path / "own"
    shutil.copytree(folder, own)
    page = openpyxl.load_workbook(folder / "bar.xlsx")
    last = {name: page[name].max_row for name in page.sheetnames}
    for name in last:
        while not page[name].cell(last[name] - 1, 1).value:
            last[name] -= 1
    gone = int(_cell(folder, "Poured", "orchard-fizz", "amount", "lemon-juice")[1:])
    width = page["Poured"].max_column
    letters = [page["Poured"].cell(3, column).column_letter for column in range(1, width + 1)]
    book = _changed(
        own,
        tmp_path,
        *(("Poured", f"{letter}{gone}", None) for letter in letters),
        ("Drinks", f"A{last['Drinks']}", "quiet-hour"),
        ("Drinks", f"B{last['Drinks']}", "Quiet hour"),
        ("Drinks", f"C{last['Drinks']}", "stirred"),
        ("Poured", f"A{last['Poured']}", "quiet-hour"),
        ("Poured", f"B{last['Poured']}", "gin-40"),
        ("Poured", f"C{last['Poured']}", 50),
    )
    taken = formulate.take(book, own)
    assert (taken.new, taken.changed) == (("drinks/quiet-hour.yaml",), ("drinks/orchard-fizz.yaml",))
    assert (own / "drinks" / "quiet-hour.yaml").read_text("utf-8") == (
        "drink: Quiet hour\nmethod: stirred\nshelf: ../shelf.yaml\ningredients:\n  - gin-40: 50 mL\n"
    )
    assert "lemon-juice" not in (own / "drinks" / "orchard-fizz.yaml").read_text("utf-8")


TEXTS = st.text(st.characters(exclude_categories=["Cs", "Cc", "Cn"]), min_size=1, max_size=30)


@given(
    drinks=st.lists(TEXTS, min_size=1, max_size=3),
    notes=TEXTS,
    supplier=TEXTS,
    price=st.decimals(0, 999, places=2),
)
@settings(max_examples=25, deadline=None)
def test_no_text_is_lost_on_the_way(
    tmp_path_factory: pytest.TempPathFactory, drinks: list[str], notes: str, supplier: str, price: Any
) -> None:
    from formulate.files.editing import in_one_line

    there = tmp_path_factory.mktemp("texts")
    offer = {"vodka-40": {"pack": "70 cl", "price": f"{price} EUR", "supplier": supplier}}
    (there / "shelf.yaml").write_text(
        f"name: {in_one_line(notes)}\ncurrency: EUR\noffers: {in_one_line(offer)}\n", encoding="utf-8"
    )
    for number, name in enumerate(drinks):
        (there / f"drink-{number}.yaml").write_text(
            f"drink: {in_one_line(name)}\nshelf: shelf.yaml\nmethod: built\nnotes: {in_one_line(notes)}\n"
            "ingredients:\n  - vodka-40: 45 mL\n",
            encoding="utf-8",
        )
    try:
        record = formulate.workbook(there)
    except SpecError:
        return  # blank texts are refused in files as well
    for ending, content in ((".xlsx", bar_workbook(record)), (".ods", bar_document(record))):
        (there / f"bar{ending}").write_bytes(content)
        for name in record.files:
            assert load_any(there / f"bar{ending}" / name) == load_any(there / name)


# --- wrong cells ----------------------------------------------------------------------------------


def test_each_wrong_cell_is_named_marked_and_nothing_is_taken(
    folder: Path, tmp_path: Path, run_here: RunCommand
) -> None:
    own = tmp_path / "own"
    shutil.copytree(folder, own)
    wrong = {
        "Bought": (_cell(folder, "Bought", "damson", "price"), "cheap"),
        "Drinks": (_cell(folder, "Drinks", "amber-hour", "method"), "stired"),
        "Poured": (_cell(folder, "Poured", "orchard-fizz", "amount", "lemon-juice"), "two"),
        "'House bottles'": (_cell(folder, "House bottles", "quince-cordial", "sugar"), "sweet"),
        "'Bottle steps'": ("A4", "no-such-bottle"),
    }
    book = _changed(own, tmp_path, *((name.strip("'"), at, typed) for name, (at, typed) in wrong.items()))
    before = {path: path.read_bytes() for path in own.rglob("*.yaml")}
    done = run_here("take", book, "--into", own, "--marked", tmp_path / "marked.xlsx")
    assert (done.exit_code, done.stdout) == (2, "")
    assert "'Bottle steps'!A4: no row for 'no-such-bottle'" in " ".join(done.stderr.split())
    _changed(own, tmp_path, *((name.strip("'"), at, typed) for name, (at, typed) in list(wrong.items())[:-1]))
    done = run_here("take", book, "--into", own, "--marked", tmp_path / "marked.xlsx", "--force")
    told = "".join(done.stderr.split())
    marked = openpyxl.load_workbook(tmp_path / "marked.xlsx")
    for name, (at, _) in list(wrong.items())[:-1]:
        assert f"{name}!{at}:".replace(" ", "") in told
        assert marked[name.strip("'")][at].comment is not None, at
        assert marked[name.strip("'")][at].border.top.style == "thick"
    assert {path: path.read_bytes() for path in own.rglob("*.yaml")} == before


@pytest.mark.parametrize(
    ("sheet", "at", "typed", "words"),
    [
        ("Bought", "A3", "thing", "no row of heads|no column headed 'what'"),
        ("Menus", "A4", None, "which file this belongs to is missing"),
        ("Vessels", "A5", "jar-4l", "'jar-4l' is there twice"),
        ("Poured", "D4", "perhaps", "must be yes or no, got perhaps"),
        ("Drinks", "I4", "{glass: ", "cannot be read"),
    ],
)
def test_what_a_row_lacks_is_said_where_it_lacks(
    folder: Path, tmp_path: Path, sheet: str, at: str, typed: str | None, words: str
) -> None:
    book = _changed(folder, tmp_path, (sheet, at, typed))
    with pytest.raises(SpecError, match=words) as told:
        read_book(book)
    assert all(problem.location and problem.location.cell for problem in told.value.problems)


def test_a_percentage_and_a_bare_number_are_read_as_their_head_says(folder: Path, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(folder / "bar.xlsx")
    book["Bar"]["B8"] = 0.07
    book["Bar"]["B8"].number_format = "0%"
    assert book["Bar"]["A8"].value == "waste at the bar"
    book["House bottles"][_cell(folder, "House bottles", "quince-cordial", "sugar")] = 410
    path = folder / f"{tmp_path.name}.xlsx"
    book.save(path)
    files = read_book(path).files
    assert files["shelf.yaml"].data["service"]["waste"] == "7 %"
    assert files["bottles/quince-cordial.yaml"].data["targets"]["sugar"] == "410 g/L"


def test_a_damaged_workbook_and_one_that_is_too_large_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a.xlsx").write_bytes(b"PK\x03\x04 no")
    (tmp_path / "a.ods").write_bytes(b"no")
    for name in ("a.xlsx", "a.ods"):
        with pytest.raises(SpecError, match="damaged"):
            read_book(tmp_path / name)
    cell = '<table:table-cell table:number-columns-repeated="16000"><text:p>x</text:p></table:table-cell>'
    row = f'<table:table-row table:number-rows-repeated="1000000">{cell}</table:table-row>'
    bomb = f'<r xmlns:table="t" xmlns:text="x">{row}</r>'
    with zipfile.ZipFile(tmp_path / "b.ods", "w") as packed:
        packed.writestr("content.xml", bomb)
    with pytest.raises(SpecError, match="too many cells"):
        read_book(tmp_path / "b.ods")


# --- it stands for the folder ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("command", "inner"),
    [
        ("solve", "bottles/damson-aperitif.yaml"),
        ("predict", "recipes/amber-digestif.yaml"),
        ("predict", "jars/damson-jar.yaml"),
        ("adjust", "jars/damson-jar.yaml"),
        ("pour", "drinks/amber-hour.yaml"),
        ("buy", "bottles/lemon-leaf-40.yaml"),
        ("label", "recipes/damson-aperitif.yaml"),
        ("reformulate", "recipes/damson-aperitif.yaml"),
        ("infuse", "bottles/red-fruit-bitter.yaml"),
    ],
)
def test_every_command_takes_a_file_of_the_workbook(
    folder: Path, command: str, inner: str, run_here: RunCommand
) -> None:
    by_file = run_here(command, folder / inner)
    by_book = run_here(command, folder / "bar.xlsx" / inner)
    assert by_file.exit_code == by_book.exit_code
    told = [
        done.stdout.replace((folder / "bar.xlsx").as_posix(), folder.as_posix())
        for done in (by_book, by_file)
    ]
    assert " ".join(told[0].split()) == " ".join(told[1].split())
    assert by_book.stdout


def test_a_workbook_with_one_menu_is_that_menu(folder: Path, run_here: RunCommand) -> None:
    assert load_menu(folder / "bar.xlsx") == load_menu(folder / "menus" / "autumn.yaml")
    told = " ".join(only_stderr(run_here("solve", folder / "bar.xlsx"), 2).split())
    assert "Name one: " in told
    assert "bar.xlsx/bottles/amber-digestif.yaml" in told


def test_check_reads_every_file_of_a_workbook(folder: Path, run_here: RunCommand) -> None:
    told = only_stdout(run_here("check", folder / "bar.xlsx"))
    assert told.count("ok  ") == len(_files(folder))


# --- what a person types --------------------------------------------------------------------------

MONTH: dict[str, list[dict[str, object]]] = {
    "Bar": [
        {
            "name of the bar": "Two rooms",
            "currency": "EUR",
            "an hour of work": "18 EUR/h",
            "cost aimed at": "22 %",
        }
    ],
    "Vessels": [{"vessel": "kettle-12l", "holds, to the brim": 12}],
    "Bought": [
        {"what": "vodka-40", "pack": "70 cl", "price": 9.4, "supplier": "north cellar"},
        {
            "what": "gin-40",
            "pack": "70 cl",
            "price": 15.9,
            "supplier": "north cellar",
            "on hand": "3 bottles",
        },
        {"what": "raspberry", "pack": "1 kg", "price": 7.9, "supplier": "harbour supplies"},
        {"what": "white-sugar", "pack": "1 kg", "price": 1.15, "supplier": "harbour supplies"},
        {"what": "citric-acid", "pack": "500 g", "price": 4.3, "supplier": "harbour supplies"},
        {"what": "lemon-juice", "price": "4.20 EUR/kg", "supplier": "pressed here"},
    ],
    "House bottles": [
        {
            "file": "raspberry",
            "name": "Raspberry liqueur",
            "size": "5 L bottled",
            "strength": "20 % vol",
            "sugar": 200,
            "acid": "4 to 7 g/L",
        }
    ],
    "Bottle contents": [
        {"file": "raspberry", "what": name, "at least": least, "step": step}
        for name, least, step in (
            ("vodka-40", None, None),
            ("water", None, None),
            ("raspberry", "200 g per L bottled", "infuse"),
            ("white-sugar", None, None),
            ("citric-acid", None, None),
        )
    ],
    "Drinks": [
        {"file": "red-hour", "name": "Red hour", "method": "shaken", "price": 12},
        {"file": "long-room", "name": "Long room", "method": "built", "price": 9.5},
    ],
    "Poured": [
        {"file": "red-hour", "what": "gin-40", "amount": 40},
        {"file": "red-hour", "what": "raspberry-liqueur", "amount": 20},
        {"file": "red-hour", "what": "lemon-juice", "amount": 20},
        {"file": "long-room", "what": "raspberry-liqueur", "amount": "4 cl"},
        {"file": "long-room", "what": "water", "amount": 120, "after the ice": "yes"},
    ],
    "House in drinks": [
        {"file": name, "house bottle": "raspberry-liqueur", "its file": "../bottles/raspberry.yaml"}
        for name in ("red-hour", "long-room")
    ],
    "Menus": [
        {"file": "front", "name": "Front bar", "for": "4 weeks", "days open": 6},
        {"file": "back", "name": "Back bar", "for": "4 weeks", "days open": 4},
    ],
    "Menu by week": [
        {"file": "front", "drink": "../drinks/red-hour.yaml", "sells": "60 per week"},
        {"file": "front", "drink": "../drinks/long-room.yaml", "sells": "12 per day"},
        {"file": "back", "drink": "../drinks/red-hour.yaml", "sells": "25 per week", "price": 13.5},
    ],
    "Made for the menu": [
        {"file": name, "house bottle": "raspberry-liqueur", "in vessel": "kettle-12l", "takes": 3, "work": 45}
        for name in ("front", "back")
    ],
    "Counts": [{"file": "front", "what": "gin-40", "on hand": "2.5 bottles", "delivery takes": 3}],
}
"""A month of two bars of an invented house, as it is typed into cells; not one line of YAML."""


@pytest.fixture(scope="module")
def month(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Fill in an empty workbook, cell by cell."""
    from formulate.jobs.workbook import empty_workbook

    path = tmp_path_factory.mktemp("month") / "rooms.xlsx"
    path.write_bytes(bar_workbook(empty_workbook()))
    book = openpyxl.load_workbook(path)
    for name, rows in MONTH.items():
        page = book[name]
        if name == "Bar":
            at = {page.cell(row, 1).value: row for row in range(4, 30)}
            for head, value in rows[0].items():
                page.cell(at[head], 2).value = value
            continue
        columns = {cell.value: cell.column for cell in page[3]}
        for number, entry in enumerate(rows):
            for head, value in entry.items():
                page.cell(5 + number, columns[head]).value = value
    notes = book.create_sheet("My own notes")
    notes["A1"] = "=2*21"
    notes["B2"] = "keep me"
    book.save(path)
    return path


def test_a_month_of_two_bars_typed_into_cells_is_planned(month: Path, run_here: RunCommand) -> None:
    only_stdout(run_here("check", month))
    for menu, sold in (("front", {"Red hour": 240, "Long room": 288}), ("back", {"Red hour": 100})):
        done = run_here(
            "menu", month / "menus" / f"{menu}.yaml", "--json", "--sheets", month.with_name(f"{menu}.html")
        )
        plan = json.loads(done.stdout)
        assert plan["status"] == "optimal"
        # By hand: 60 a week for 4 weeks; 12 a day on 6 days for 4 weeks; 25 a week for 4 weeks.
        assert {drink["name"]: round(drink["sold"]) for drink in plan["drinks"]} == sold
        assert plan["lines"]
        assert all(drink["cost"] > 0 for drink in plan["drinks"])
        page = month.with_name(f"{menu}.html").read_text("utf-8")
        assert "Raspberry liqueur" in page
        assert "north cellar" in page


def test_examples_in_grey_are_nothing(tmp_path: Path) -> None:
    from formulate.jobs.workbook import empty_workbook

    path = tmp_path / "empty.xlsx"
    path.write_bytes(bar_workbook(empty_workbook()))
    assert not read_book(path).files
    book = openpyxl.load_workbook(path)
    grey = book["Drinks"]["A4"]
    assert str(grey.value).startswith("e.g. ")
    assert grey.font.color.rgb == "FF767676"
    assert len(book["Drinks"].data_validations.dataValidation) == 1
    assert book["Bought"]["C3"].comment.text.startswith("Of one pack: 9.40")


# --- answers back ---------------------------------------------------------------------------------


def test_answers_go_in_as_sheets_and_touch_nothing_else(
    month: Path, tmp_path: Path, run_here: RunCommand
) -> None:
    path = tmp_path / "rooms.xlsx"
    shutil.copy(month, path)
    before = openpyxl.load_workbook(path)
    for _ in range(2):
        run_here("menu", path / "menus" / "front.yaml", "--results")
    after = openpyxl.load_workbook(path)
    added = [name for name in after.sheetnames if name not in before.sheetnames]
    assert added == [
        f"Result {name}" for name in ("Drinks", "Costing", "Buying list", "Batches", "Stock and pars")
    ]
    for sheet in before.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                same = after[sheet.title][cell.coordinate]
                assert (same.value, same.number_format, same.font.b) == (
                    cell.value,
                    cell.number_format,
                    cell.font.b,
                )
    assert load_any(path / "menus" / "front.yaml") == load_any(month / "menus" / "front.yaml")


def test_what_a_formula_of_ones_own_came_to_is_still_there_after_answers_went_in(
    month: Path, tmp_path: Path, run_here: RunCommand
) -> None:
    path = tmp_path / "rooms.xlsx"
    _with_value(month, path, "<f>2*21</f>", "<f>2*21</f><v>42</v>")
    run_here("menu", path / "menus" / "front.yaml", "--results")
    assert openpyxl.load_workbook(path)["My own notes"]["A1"].value == "=2*21"
    assert openpyxl.load_workbook(path, data_only=True)["My own notes"]["A1"].value == 42


def _with_value(source: Path, target: Path, old: str, new: str) -> None:
    """Put a result beside a formula, as a spreadsheet does when it saves."""
    with zipfile.ZipFile(source) as packed, zipfile.ZipFile(target, "w") as anew:
        changed = 0
        for item in packed.infolist():
            text = packed.read(item)
            if old.encode() in text:
                tail = text[text.index(old.encode()) + len(old) :]
                empty = next(one for one in (b"<v></v>", b"<v />", b"<v/>", b"") if tail.startswith(one))
                text = text.replace(old.encode() + empty, new.encode())
                changed += 1
            anew.writestr(item, text)
    assert changed == 1


def test_a_workbook_with_charts_is_left_alone(month: Path, tmp_path: Path, run_here: RunCommand) -> None:
    from openpyxl.chart import BarChart

    path = tmp_path / "rooms.xlsx"
    book = openpyxl.load_workbook(month)
    book["My own notes"].add_chart(BarChart(), "D4")
    book.save(path)
    before = path.read_bytes()
    told = " ".join(only_stderr_of(run_here("menu", path / "menus" / "front.yaml", "--results")).split())
    assert "holds pictures, charts or macros" in told
    assert path.read_bytes() == before


def only_stderr_of(done: Any) -> str:
    assert (done.exit_code, done.crash) == (2, "")
    return str(done.stderr)


def _converted(path: Path, ending: str, folder: Path) -> Path:
    assert SOFFICE is not None
    own = f"-env:UserInstallation=file://{folder}/profile"
    subprocess.run(
        [SOFFICE, own, "--headless", "--convert-to", ending, "--outdir", str(folder), str(path)],
        check=True,
        capture_output=True,
        timeout=180,
    )
    return folder / f"{path.stem}.{ending.partition(':')[0]}"


@pytest.mark.slow
@needs_libreoffice
def test_another_program_works_every_total_out_again(
    month: Path, tmp_path: Path, run_here: RunCommand
) -> None:
    path = tmp_path / "rooms.xlsx"
    shutil.copy(month, path)
    plan = json.loads(run_here("menu", path / "menus" / "front.yaml", "--json", "--results").stdout)
    (tmp_path / "out").mkdir()
    again = openpyxl.load_workbook(_converted(path, "xlsx", tmp_path / "out"), data_only=True)
    assert again["My own notes"]["A1"].value == 42

    def row_of(sheet: str, first: str) -> list[Any]:
        return next([cell.value for cell in row] for row in again[sheet].iter_rows() if row[0].value == first)

    assert row_of("Result Buying list", "In all")[11] == pytest.approx(plan["cost"]["to_pay"], abs=0.005)
    mix = plan["mix"]
    last = row_of("Result Drinks", "The mix")
    assert last[8:11] == pytest.approx([mix["sales_without_tax"], mix["cost"], mix["contribution"]], abs=0.01)
    for drink in plan["drinks"]:
        assert row_of("Result Drinks", drink["name"])[2] == pytest.approx(drink["cost"], abs=1e-4)
    batches = [row for row in again["Result Batches"].iter_rows(min_row=4, values_only=True) if row[5]]
    made = sum(row["each_l"] * max(row["batches"], 1) for row in plan["calendar"])
    assert sum(row[5] for row in batches) == pytest.approx(made, abs=1e-6)
    errors = [
        (sheet.title, cell.coordinate)
        for sheet in again.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, str) and cell.value.startswith("#")
    ]
    assert not errors


@pytest.mark.slow
@needs_libreoffice
@pytest.mark.parametrize(("source", "ending"), [("bar.xlsx", "ods"), ("bar.ods", "xlsx"), ("bar.ods", "ods")])
def test_saved_by_another_program_it_still_says_the_same(
    folder: Path, tmp_path: Path, source: str, ending: str
) -> None:
    saved = _converted(folder / source, ending, tmp_path)
    book = folder / f"saved-{Path(source).suffix[1:]}-{saved.name}"
    shutil.copy(saved, book)
    for name in _files(folder):
        assert load_any(book / name) == load_any(folder / name), name


# --- large, and hostile ---------------------------------------------------------------------------


def test_forty_bottles_a_hundred_and_twenty_drinks_and_three_hundred_goods_are_read_in_three_seconds(
    tmp_path: Path,
) -> None:
    offers = "".join(
        f"  thing-{n}: {{pack: 1 kg, price: {n + 1}.50 EUR, supplier: s {n % 9}}}\n" for n in range(300)
    )
    own = "".join(f"  thing-{n}: {{based_on: white-sugar, name: Thing {n}}}\n" for n in range(300))
    (tmp_path / "shelf.yaml").write_text(
        f"currency: EUR\noffers:\n{offers}ingredients:\n{own}", encoding="utf-8"
    )
    for kind, count in (("bottles", 40), ("drinks", 120)):
        (tmp_path / kind).mkdir()
        for number in range(count):
            lines = "".join(f"  - thing-{(number + at) % 300}: 5 g\n" for at in range(8))
            if kind == "bottles":
                lines = "".join(f"  - thing-{(number + at) % 300}\n" for at in range(8))
            head = f"name: B {number}\nsize: 5 L bottled\ntargets: {{sugar: 200 g/L}}\n"
            if kind == "drinks":
                head = f"drink: D {number}\nmethod: built\n"
            (tmp_path / kind / f"x-{number}.yaml").write_text(
                f"{head}shelf: ../shelf.yaml\ningredients:\n{lines}", encoding="utf-8"
            )
    path = tmp_path / "large.xlsx"
    path.write_bytes(bar_workbook(formulate.workbook(tmp_path)))
    begun = time.process_time()
    book = read_book(path)
    assert time.process_time() - begun < 3.0
    assert len(book.files) == 161
    assert len(book.files["shelf.yaml"].data["offers"]) == 300


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_no_name_is_run_by_a_spreadsheet_and_none_is_changed(tmp_path: Path, name: str) -> None:
    from formulate.files.editing import in_one_line

    (tmp_path / "shelf.yaml").write_text(f"name: {in_one_line(name)}\ncurrency: EUR\n", encoding="utf-8")
    try:
        record = formulate.workbook(tmp_path)
    except SpecError:
        assert any(not (ord(one) >= 32) or not one.isprintable() or len(name) > 1000 for one in name)
        return
    (tmp_path / "bar.xlsx").write_bytes(bar_workbook(record))
    (tmp_path / "bar.ods").write_bytes(bar_document(record))
    for ending in (".xlsx", ".ods"):
        assert load_any(tmp_path / f"bar{ending}" / "shelf.yaml") == load_any(tmp_path / "shelf.yaml")
    formulas = [
        cell.value
        for sheet in openpyxl.load_workbook(tmp_path / "bar.xlsx").worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    ]
    assert all(str(formula).startswith("=IF(") and "VLOOKUP" in str(formula) for formula in formulas)
    content = zipfile.ZipFile(tmp_path / "bar.ods").read("content.xml")
    assert b"table:formula" not in content
    assert b"xlink" not in content


def test_the_root_is_not_written_to() -> None:
    assert not list(ROOT.glob("*.xlsx"))
    assert load_document("a: 1").data == {"a": 1}
