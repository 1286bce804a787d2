"""Workbooks that are written: their formulas give our totals, worked out by programs that are not ours.

The formulas are worked out twice: by the library `formulas`, and by LibreOffice where it is installed.
"""

from __future__ import annotations

import random
import re
import shutil
import subprocess
import warnings
import zipfile
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, RunCommand
from hypothesis import given, settings
from hypothesis import strategies as st

from formulate.bar.prices import UnitPrice
from formulate.describe.buy_record import BuyRecord
from formulate.describe.menu_record import MenuRecord
from formulate.describe.pour_record import PourRecord
from formulate.jobs.pour import pour_drink
from formulate.quantity.amounts import to_cents
from formulate.report.sheets import _Bill, _buying_list, buy_workbook, menu_workbook, pour_workbook
from formulate.report.workbook import Book, Column, Formula, safe_text
from tests.worked_examples import bought_example, planned_example

EXAMPLES = ROOT / "examples"
CENT = 0.005
SOFFICE = shutil.which("soffice")
needs_office = pytest.mark.skipif(SOFFICE is None, reason="LibreOffice (soffice) is not installed here")

Sheet = Mapping[tuple[str, str], Any]
"""Values by name of the sheet and of the cell."""


@pytest.fixture(scope="module")
def menu() -> MenuRecord:
    return planned_example("autumn")


@pytest.fixture(scope="module")
def bought() -> BuyRecord:
    return bought_example("quince-cordial")


@pytest.fixture(scope="module")
def poured() -> PourRecord:
    return pour_drink(EXAMPLES / "drinks" / "amber-hour.yaml")


def _by_formulas(path: Path) -> dict[tuple[str, str], Any]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import formulas

        worked = formulas.ExcelModel().loads(str(path)).finish().calculate()
    found = {}
    for name, ranges in worked.items():
        sheet, _, cell = str(name).rpartition("!")
        if ":" not in cell:
            found[sheet.rpartition("]")[2].rstrip("'").casefold(), cell] = ranges.value[0, 0]
    return found


def _by_office(path: Path, folder: Path) -> dict[tuple[str, str], Any]:
    from openpyxl import load_workbook

    assert SOFFICE is not None
    out = folder / "recalculated"
    subprocess.run(
        [
            SOFFICE,
            f"-env:UserInstallation={(folder / 'profile').as_uri()}",
            "--headless",
            "--convert-to",
            "xlsx:Calc MS Excel 2007 XML",
            "--outdir",
            str(out),
            str(path),
        ],
        check=True,
        capture_output=True,
        timeout=180,
    )
    book = load_workbook(out / path.name, data_only=True)
    return {
        (page.title.casefold(), cell.coordinate): cell.value
        for page in book.worksheets
        for row in page.iter_rows()
        for cell in row
        if cell.value is not None
    }


def _row(cells: Sheet, sheet: str, label: str) -> int:
    (row,) = [
        int(name[1:])
        for (page, name), value in cells.items()
        if page == sheet and name[0] == "A" and value == label
    ]
    return row


def _check_menu(cells: Sheet, record: MenuRecord) -> None:
    last = _row(cells, "buying list", "In all")
    sums = {column: float(cells["buying list", f"{column}{last}"]) for column in "IJKL"}
    assert sums["L"] == pytest.approx(record.to_pay, abs=1e-6)
    assert sums["J"] == pytest.approx(record.tax, abs=1e-6)
    assert sums["K"] == pytest.approx(record.deposit, abs=1e-6)
    costs = _row(cells, "buying list", "Costs the bar (without tax, which comes back)")
    assert float(cells["buying list", f"L{costs}"]) == pytest.approx(record.total, abs=1e-6)
    mix = _row(cells, "drinks", "The mix")
    assert record.mix is not None
    assert float(cells["drinks", f"I{mix}"]) == pytest.approx(record.mix.sales_without_tax, abs=CENT)
    assert float(cells["drinks", f"J{mix}"]) == pytest.approx(record.mix.cost, abs=CENT)
    assert float(cells["drinks", f"K{mix}"]) == pytest.approx(record.mix.contribution, abs=CENT)
    assert float(cells["drinks", f"F{mix}"]) == pytest.approx(record.mix.cost_share, abs=1e-9)
    for drink in record.drinks:
        row = _row(cells, "drinks", drink.name)
        price = drink.price
        assert price is not None
        for column, value in (
            ("C", price.cost),
            ("E", price.price_without_tax),
            ("F", price.cost_share),
            ("G", price.contribution),
            ("H", price.price_for_target),
        ):
            assert float(cells["drinks", f"{column}{row}"]) == pytest.approx(value, rel=1e-9)


def _check_bought(cells: Sheet, record: BuyRecord) -> None:
    last = _row(cells, "buying list", "In all")
    assert float(cells["buying list", f"I{last}"]) == pytest.approx(record.total, abs=1e-6)
    assert float(cells["buying list", f"L{last}"]) == pytest.approx(record.to_pay, abs=1e-6)
    total = _row(cells, "costing", "In all")
    cost = record.drink.cost
    assert cost is not None
    assert float(cells["costing", f"F{total}"]) == pytest.approx(cost.total, abs=CENT)
    assert float(cells["costing", f"F{total + 2}"]) == pytest.approx(cost.per_litre, abs=CENT)


def _check_poured(cells: Sheet, record: PourRecord) -> None:
    price = record.price
    assert price is not None
    for label, value in (
        ("One drink", price.cost),
        ("Leaves", price.contribution),
        ("Price for it", price.price_for_target),
    ):
        assert float(cells["costing", f"F{_row(cells, 'costing', label)}"]) == pytest.approx(value, rel=1e-9)


def test_a_menu_costs_the_sum_of_its_lines_to_the_cent(menu: MenuRecord, bought: BuyRecord) -> None:
    """Added up as exact decimals, as on a bill by hand."""
    for record in (menu, bought):
        for whole, part in (("total", "cost"), ("to_pay", "to_pay"), ("tax", "tax"), ("deposit", "deposit")):
            if record is bought and part == "to_pay":
                continue
            lines = [Decimal(f"{getattr(line, part):.2f}") for line in record.lines]
            assert all(
                float(cents) == getattr(line, part) for cents, line in zip(lines, record.lines, strict=True)
            )
            assert Decimal(f"{getattr(record, whole):.2f}") == sum(lines)
            assert getattr(record, whole) == float(sum(lines))


def test_the_formulas_library_works_out_our_totals(
    menu: MenuRecord, bought: BuyRecord, poured: PourRecord, tmp_path: Path
) -> None:
    (tmp_path / "menu.xlsx").write_bytes(menu_workbook(menu))
    _check_menu(_by_formulas(tmp_path / "menu.xlsx"), menu)
    (tmp_path / "buy.xlsx").write_bytes(buy_workbook(bought))
    _check_bought(_by_formulas(tmp_path / "buy.xlsx"), bought)
    (tmp_path / "pour.xlsx").write_bytes(pour_workbook(poured))
    _check_poured(_by_formulas(tmp_path / "pour.xlsx"), poured)


@pytest.mark.slow
@needs_office
def test_libreoffice_works_out_our_totals(
    menu: MenuRecord, bought: BuyRecord, poured: PourRecord, tmp_path: Path
) -> None:
    (tmp_path / "menu.xlsx").write_bytes(menu_workbook(menu))
    _check_menu(_by_office(tmp_path / "menu.xlsx", tmp_path), menu)
    (tmp_path / "buy.xlsx").write_bytes(buy_workbook(bought))
    _check_bought(_by_office(tmp_path / "buy.xlsx", tmp_path), bought)
    (tmp_path / "pour.xlsx").write_bytes(pour_workbook(poured))
    _check_poured(_by_office(tmp_path / "pour.xlsx", tmp_path), poured)


def _random_bills(count: int) -> list[_Bill]:
    """Bills with many halves of a cent, where rounding is easily one cent off."""
    chance = random.Random(20261127)
    bills = []
    for number in range(count):
        packs = chance.randint(1, 40)
        price = chance.choice((chance.randint(1, 9999) / 1000, chance.randint(5, 40000) / 100))
        rate = chance.choice((0.0, 0.05, 0.07, 0.19, 0.2, 0.255))
        # A price with tax in it is whole cents; what it is without stands on half a cent all the more.
        with_tax = chance.random() < 0.5
        asked = chance.randint(5, 4000) / 100
        without = asked / (1.0 + rate) if with_tax else price
        each = UnitPrice(without, without * rate, 0.25, without * (1.0 + rate), rate, with_tax, False)
        sums = (to_cents(price * packs), to_cents(each.tax * packs), to_cents(0.25 * packs))
        if with_tax:
            # Held against exact decimals: what is paid is the price as asked, so many times.
            paid, tax = Decimal(str(asked)) * packs, Decimal(str(to_cents(asked * packs * rate / (1 + rate))))
            sums = (float(paid - tax), float(tax), sums[2])
        bills.append(_Bill(f"thing {number}", "one", "70 cl", None, packs, 0.0, sums, each))
    return bills


@pytest.mark.slow
@needs_office
def test_a_thousand_bills_are_rounded_to_the_same_cent_as_libreoffice_rounds_them(tmp_path: Path) -> None:
    bills = _random_bills(1000)
    halves = sum(abs(bill.take * bill.each.net * 1000 % 10 - 5) < 1e-6 for bill in bills if bill.each)
    assert halves > 20, "some of them must stand on half a cent"
    book = Book("bills")
    _buying_list(book, "Bills", bills, "EUR", tax_reclaimed=False)
    (tmp_path / "bills.xlsx").write_bytes(book.content())
    cells = _by_office(tmp_path / "bills.xlsx", tmp_path)
    for bill in bills:
        row = _row(cells, "buying list", bill.name)
        shown = tuple(round(float(cells["buying list", f"{column}{row}"]), 6) for column in "IJK")
        assert shown == bill.sums, bill.name


def _page(text: str) -> bytes:
    book = Book("texts")
    page = book.page("Texts", [Column("Text", width=40), Column("Figure", "money")])
    page.title("Texts")
    page.head()
    page.line(text, 1.5)
    return book.content()


HOSTILE = [
    "=1+1",
    "+1",
    "-1+2",
    "@SUM(A1)",
    "\t=1+1",
    " =1+1",
    '=HYPERLINK("http://x","y")',
    "=cmd|' /c'!A0",
    "%0a=1",
]


@settings(max_examples=40)
@given(st.text(max_size=40) | st.sampled_from(HOSTILE))
def test_text_stays_text_whatever_it_starts_with(text: str) -> None:
    import io

    from openpyxl import load_workbook

    content = _page(text)
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        sheet = packed.read("xl/worksheets/sheet1.xml")
    assert not re.search(rb"<f[ />]", sheet)
    cell = load_workbook(io.BytesIO(content)).worksheets[0]["A4"]
    assert (cell.value or "") == safe_text(text)
    assert cell.data_type != "f"
    assert cell.quotePrefix or not (cell.value or "").lstrip().startswith(("=", "+", "-", "@"))


@pytest.mark.slow
@needs_office
def test_libreoffice_shows_hostile_text_and_runs_none_of_it(tmp_path: Path) -> None:
    book = Book("texts")
    page = book.page("Texts", [Column("Text", width=40)])
    for text in HOSTILE:
        page.line(text)
    (tmp_path / "texts.xlsx").write_bytes(book.content())
    cells = _by_office(tmp_path / "texts.xlsx", tmp_path)
    assert [cells["texts", f"A{row}"] for row in range(1, len(HOSTILE) + 1)] == [
        safe_text(one) for one in HOSTILE
    ]


def test_a_workbook_prints_across_a_page_and_holds_nothing_that_runs(
    menu: MenuRecord, tmp_path: Path
) -> None:
    from openpyxl import load_workbook

    path = tmp_path / "menu.xlsx"
    path.write_bytes(menu_workbook(menu))
    with zipfile.ZipFile(path) as packed:
        names = packed.namelist()
        assert not [name for name in names if "vba" in name.lower() or "external" in name.lower()]
        assert not [name for name in names if b'TargetMode="External"' in packed.read(name)]
    book = load_workbook(path)
    assert book.sheetnames == ["Drinks", "Costing", "Buying list", "Batches", "Stock and pars"]
    for page in book.worksheets:
        assert page.page_setup.orientation == "landscape"
        assert (page.page_setup.fitToWidth, page.page_setup.fitToHeight) == (1, 0)
        head = int(page.freeze_panes[1:]) - 1
        assert page[f"A{head}"].font.b
        assert page.print_title_rows == f"${head}:${head}"
    formulas = [
        cell.value
        for page in book.worksheets
        for row in page.iter_rows()
        for cell in row
        if cell.data_type == "f"
    ]
    assert len(formulas) > 80


def test_a_figure_changed_by_hand_moves_the_totals(menu: MenuRecord, tmp_path: Path) -> None:
    """Five packs more of one line: worked out by the formulas library, and by hand."""
    from openpyxl import load_workbook

    path = tmp_path / "menu.xlsx"
    path.write_bytes(menu_workbook(menu))
    book = load_workbook(path)
    page = book["Buying list"]
    (row,) = [cell.row for cell in page["A"] if cell.value == "white-sugar"]
    assert (page[f"F{row}"].value, page[f"G{row}"].value) == (1.15, 0.2)
    page[f"D{row}"] = page[f"D{row}"].value + 5.0
    book.save(path)
    cells = _by_formulas(path)
    last = _row(cells, "buying list", "In all")
    # five more at 1.15 are 5.75, with a fifth of tax 6.90
    assert float(cells["buying list", f"I{last}"]) == pytest.approx(menu.total + 5.75, abs=1e-6)
    assert float(cells["buying list", f"L{last}"]) == pytest.approx(menu.to_pay + 6.90, abs=1e-6)


@pytest.mark.parametrize(
    "arguments",
    [
        ["buy", "examples/bottles/quince-cordial.yaml"],
        ["menu", "examples/menus/autumn.yaml"],
        ["pour", "examples/drinks/amber-hour.yaml"],
        ["solve", "examples/bottles/lemon-leaf-40.yaml"],
    ],
    ids=lambda arguments: arguments[0],
)
def test_a_command_writes_its_workbook_beside_its_answer(
    arguments: list[str], tmp_path: Path, run_here: RunCommand
) -> None:
    import json

    path = tmp_path / "out.xlsx"
    done = run_here(*arguments, "--xlsx", path, "--json")
    assert (done.exit_code, done.crash) == (0, "")
    assert json.loads(done.stdout)["schema_version"] == 1
    assert done.stderr == f"Written: {path.as_posix()}\n"
    first = path.read_bytes()
    again = run_here(*arguments, "--xlsx", path)
    assert again.exit_code == 2
    assert "there already. Nothing was written" in " ".join(again.stderr.split())
    assert path.read_bytes() == first
    assert run_here(*arguments, "--xlsx", path, "--force").exit_code == 0
    assert not [other for other in tmp_path.iterdir() if other != path]


@pytest.mark.parametrize(
    ("name", "words"),
    [("out.csv", "a workbook is written as .xlsx"), ("none/out.xlsx", "its folder is not there")],
)
def test_a_workbook_that_cannot_be_written_is_refused_before_any_work(
    name: str, words: str, tmp_path: Path, run_here: RunCommand
) -> None:
    done = run_here("buy", "examples/bottles/quince-cordial.yaml", "--xlsx", tmp_path / name)
    assert (done.exit_code, done.stdout) == (2, "")
    assert words in " ".join(done.stderr.split())


def test_a_list_somebody_sent_is_never_replaced(tmp_path: Path, run_here: RunCommand) -> None:
    from openpyxl import Workbook

    path = tmp_path / "list.xlsx"
    Workbook().save(path)
    sent = path.read_bytes()
    done = run_here("buy", "examples/bottles/quince-cordial.yaml", "--xlsx", path, "--force")
    assert done.exit_code == 2
    assert "was not written by this program" in " ".join(done.stderr.split())
    assert path.read_bytes() == sent


def test_a_formula_is_ours_and_a_text_that_looks_like_one_is_not() -> None:
    assert isinstance(Formula("=A1"), str)
    assert safe_text("a\x00b\x1f\ud800c") == "a b  c"
    assert len(safe_text("x" * 40_000)) == 32_767
