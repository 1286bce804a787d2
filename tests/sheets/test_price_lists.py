"""Price lists as suppliers send them: what is taken, and every cell that is not, by its name."""

from __future__ import annotations

import datetime
import time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from making import HEAD, ROWS, Spoil, book_file, long_book, shelf_file, text_file

from formulate.errors import SpecError
from formulate.files.listed_shelf import load_shelf
from formulate.files.shelf import Shelf
from formulate.files.tables import cell_name, letters_of, number_of
from formulate.files.workbook import open_sheet
from formulate.quantity import AmountBasis


def _prices(shelf: Shelf) -> dict[str, list[tuple[float, float]]]:
    return {
        name: [(offer.price.value, offer.pack.value if offer.pack else 0.0) for offer in offers]
        for name, offers in shelf.offers.items()
    }


EXPECTED = {"white-sugar": [(1.15, 1.0)], "vodka-40": [(9.40, 0.7)], "gin-40": [(15.90, 0.7)]}


def test_rows_of_a_workbook_become_offers_and_stock(tmp_path: Path) -> None:
    book_file(tmp_path / "list.xlsx")
    shelf = load_shelf(shelf_file(tmp_path, "list.xlsx"))
    assert _prices(shelf) == EXPECTED
    (vodka,) = shelf.offers["vodka-40"]
    assert vodka.supplier == "north cellar"
    assert vodka.on_hand is not None
    assert (vodka.on_hand.value, vodka.on_hand.basis) == (4.0, AmountBasis.BOTTLES)
    assert shelf.offers["gin-40"][0].on_hand is None


@pytest.mark.parametrize("separator", [";", ",", "\t"])
@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_text_files_are_read_whatever_parts_and_codes_them(
    separator: str, coding: str, tmp_path: Path
) -> None:
    text_file(tmp_path / "list.csv", separator, coding)
    assert _prices(load_shelf(shelf_file(tmp_path, "list.csv", "    decimal: comma\n"))) == EXPECTED


def test_a_first_line_that_names_the_separator_is_no_row(tmp_path: Path) -> None:
    path = text_file(tmp_path / "list.csv")
    path.write_bytes(b"sep=;\r\n" + path.read_bytes())
    assert _prices(load_shelf(shelf_file(tmp_path, "list.csv"))) == EXPECTED


def test_columns_may_be_named_by_their_letters(tmp_path: Path) -> None:
    text_file(tmp_path / "list.csv", separator=",")
    path = shelf_file(tmp_path, "list.csv")
    named = path.read_text(encoding="utf-8").replace("Article", "column B").replace("Net price", "column D")
    path.write_text(named.replace("Size", "column C").replace("Stock", "column E"), encoding="utf-8")
    assert _prices(load_shelf(path)) == EXPECTED


def test_an_article_number_finds_a_row_too(tmp_path: Path) -> None:
    book_file(tmp_path / "list.xlsx")
    path = shelf_file(tmp_path, "list.xlsx")
    text = path.read_text(encoding="utf-8").replace("product: Article", "product: No.")
    path.write_text(
        text.replace("Vodka grain 40,", "1040,").replace("gin-40: Dry gin 40", "gin-40: '1052'"),
        encoding="utf-8",
    )
    assert _prices(load_shelf(path)) == EXPECTED


def _set(cell: str, value: Any, shown: str | None = None) -> Spoil:
    def spoil(page: Any) -> None:
        page[cell] = value
        if shown is not None:
            page[cell].number_format = shown

    return spoil


SPOILT: dict[str, tuple[Spoil, str, str]] = {
    # what was done to the sheet: how, the cell told, and words of the reason; the head stands in row 3
    "merged": (lambda page: page.merge_cells("D4:D5"), "Prices!D4", "merged with others, D4:D5"),
    "merged product": (lambda page: page.merge_cells("B4:B5"), "Prices!B4", "merged"),
    "price in words": (_set("D4", "on request"), "Prices!D4", "no price, got on request"),
    "other sign": (_set("D4", "9,40,1"), "Prices!D4", "grouped"),
    "two ways": (_set("D4", "1,234"), "Prices!D4", "may be 1.234 or 1234"),
    "no unit": (_set("C4", 70), "Prices!C4", "the unit is missing, got 70"),
    "strange unit": (_set("C4", "1 crate"), "Prices!C4", "not an amount"),
    "no size": (_set("C4", None), "Prices!C4", "size of the pack is missing"),
    "no price": (_set("D4", None), "Prices!D4", "the price is missing"),
    "formula": (_set("D4", "=2*4.7"), "Prices!D4", "a formula saved without its result"),
    "error": (_set("D4", "#REF!"), "Prices!D4", "an error of the spreadsheet, got #REF!"),
    "nothing": (_set("D4", 0), "Prices!D4", "a price of nothing, got 0"),
    "less": (_set("D4", -9.4), "Prices!D4", "less than nothing, got -9.4"),
    "currency in the text": (_set("D4", "9.40 SEK"), "Prices!D4", "another currency than EUR"),
    "currency sign": (_set("D4", "£9.40"), "Prices!D4", "another currency than EUR"),
    "currency as shown": (_set("D4", 9.4, "[$£-809]#,##0.00"), "Prices!D4", "9.4 shown with £"),
    "date": (_set("D4", datetime.date(2026, 5, 1)), "Prices!D4", "a date or time, got 2026-05-01"),
    "yes": (_set("D4", True), "Prices!D4", "true or false"),
    "stock below nothing": (_set("E4", "-2 bottles"), "Prices!E4", "less than nothing"),
    "stock of no unit": (_set("E4", 4), "Prices!E4", "the unit is missing"),
    "per another measure": (_set("D4", "9.40/fl"), "Prices!D4", "per kg, per L or for the pack"),
    "huge": (_set("D4", 1e15), "Prices!D4", "far outside"),
}


@pytest.mark.parametrize("name", SPOILT)
def test_a_cell_that_cannot_be_used_is_named_and_nothing_is_taken(name: str, tmp_path: Path) -> None:
    spoil, cell, words = SPOILT[name]
    book_file(tmp_path / "list.xlsx", spoil)
    path = shelf_file(tmp_path, "list.xlsx")
    with pytest.raises(SpecError) as caught:
        load_shelf(path)
    told = [one for one in caught.value.problems if one.location is not None and one.location.cell == cell]
    assert told, str(caught.value)
    assert words in str(caught.value)
    assert told[0].path == "vodka-40"
    assert str(told[0]).startswith(f"{(tmp_path / 'list.xlsx').as_posix()}:{cell}: vodka-40: ")


@pytest.mark.parametrize("size", ["6 x 70 cl", "24 pieces"])
def test_a_price_for_one_of_a_case_is_not_taken_for_the_case(tmp_path: Path, size: str) -> None:
    text = "Article;Size;Price;Unit\nVodka grain 40;{};9,40;{}\n"
    path = shelf_file(tmp_path, "list.csv")
    columns = "{product: Article, pack: Size, price: Price, per: Unit}"
    shelf = path.read_text("utf-8").replace(
        "{product: Article, pack: Size, price: Net price, on_hand: Stock}", columns
    )
    path.write_text(shelf.replace(", gin-40: Dry gin 40", ""), encoding="utf-8")
    for unit in ("Bottle", "each", "piece"):
        (tmp_path / "list.csv").write_text(text.format(size, unit), encoding="utf-8")
        with pytest.raises(SpecError, match=f"D2: vodka-40: a price for '{unit.lower()}' where a pack is"):
            load_shelf(path)
    (tmp_path / "list.csv").write_text(text.format(size, "case"), encoding="utf-8")
    assert load_shelf(path).offers["vodka-40"][0].price.value == 9.40
    # Of a single bottle either word means the same.
    (tmp_path / "list.csv").write_text(text.format("70 cl", "Bottle"), encoding="utf-8")
    assert load_shelf(path).offers["vodka-40"][0].price.value == 9.40


def test_every_row_that_cannot_be_used_is_told_at_once(tmp_path: Path) -> None:
    def spoil(page: Any) -> None:
        page["D4"], page["C5"], page["E4"] = "?", None, "many"

    book_file(tmp_path / "list.xlsx", spoil)
    with pytest.raises(SpecError) as caught:
        load_shelf(shelf_file(tmp_path, "list.xlsx"))
    cells = [problem.location.cell for problem in caught.value.problems if problem.location]
    assert cells == ["Prices!D4", "Prices!E4", "Prices!C5"]


def test_what_nobody_asked_for_may_be_as_wrong_as_it_likes(tmp_path: Path) -> None:
    def spoil(page: Any) -> None:
        page["D6"], page["C7"] = "?", None
        page.merge_cells("B6:D6")

    book_file(tmp_path / "list.xlsx", spoil)
    assert _prices(load_shelf(shelf_file(tmp_path, "list.xlsx"))) == EXPECTED


def test_a_product_that_stands_twice_is_refused_in_both_places(tmp_path: Path) -> None:
    book_file(tmp_path / "list.xlsx", rows=[*ROWS, ROWS[0]])
    with pytest.raises(SpecError) as caught:
        load_shelf(shelf_file(tmp_path, "list.xlsx"))
    assert [problem.location.cell for problem in caught.value.problems if problem.location] == [
        "Prices!B4",
        "Prices!B8",
    ]
    assert "stands in Prices!B8 too" in str(caught.value)


def test_a_product_that_is_not_there_is_told_at_its_line_with_the_nearest(tmp_path: Path) -> None:
    book_file(tmp_path / "list.xlsx")
    path = shelf_file(tmp_path, "list.xlsx")
    path.write_text(path.read_text(encoding="utf-8").replace("Dry gin 40", "Dry gin 4O"), encoding="utf-8")
    with pytest.raises(SpecError) as caught:
        load_shelf(path)
    (problem,) = caught.value.problems
    assert problem.path == "price_lists.0.items.gin-40"
    assert problem.location is not None
    assert problem.location.line == 10
    assert "Nearest there: 'Dry gin 40'." in problem.message


def _compound(path: Path, inside: str) -> None:
    path.write_bytes(bytes.fromhex("d0cf11e0a1b11ae1") + b"\0" * 600 + inside.encode("utf-16-le"))


FILES: dict[str, tuple[Any, str]] = {
    "none.xlsx": (lambda path: None, "no file there"),
    "folder.xlsx": (lambda path: path.mkdir(), "this is a folder"),
    "empty.xlsx": (lambda path: path.write_bytes(b""), "the file is empty"),
    "empty.csv": (lambda path: path.write_bytes(b"\n \n"), "the file is empty"),
    "text.xlsx": (lambda path: path.write_text("Article;Size"), "no workbook, whatever its ending says"),
    "old.xlsx": (lambda path: _compound(path, "Workbook"), "of the old kind (.xls)"),
    "secret.xlsx": (lambda path: _compound(path, "EncryptedPackage"), "behind a password"),
    "broken.xlsx": (lambda path: path.write_bytes(b"PK\x03\x04" + b"x" * 400), "damaged"),
    "book.csv": (lambda path: book_file(path), "a workbook that is called a text file"),
    "list.ods": (lambda path: path.write_bytes(b"PK\x03\x04"), "Save it as .xlsx or .csv"),
    "other.csv": (
        lambda path: path.write_text("Article;Price\nVodka grain 40;9"),
        "has the heads 'Net price', 'Size', 'Stock'. Row 1 has Article, Price.",
    ),
    "null.csv": (lambda path: path.write_bytes(b"Article;\0"), "NUL"),
    "odd.csv": (lambda path: path.write_bytes(b"Article;\x81\x8d"), "neither UTF-8 nor Windows-1252"),
    "quote.csv": (
        lambda path: path.write_text(";".join(HEAD) + '\n1;"Vodka grain 40;70 cl;9.40;\n'),
        'a quote (") is not closed',
    ),
}


@pytest.mark.parametrize("name", FILES)
def test_a_file_that_is_no_list_is_told_at_its_line(name: str, tmp_path: Path) -> None:
    make, words = FILES[name]
    make(tmp_path / name)
    with pytest.raises(SpecError) as caught:
        load_shelf(shelf_file(tmp_path, name))
    (problem,) = caught.value.problems
    assert words in problem.message
    assert problem.path.startswith("price_lists.0.")
    assert problem.location is not None
    assert problem.location.file == (tmp_path / "shelf.yaml").as_posix()


def _rename(page: Any) -> None:
    page.parent.create_sheet("Notes")


@pytest.mark.parametrize(
    ("spoil", "more", "words"),
    [
        (_rename, "", "has several sheets: Prices, Notes"),
        (_rename, "    sheet: Prises\n", "no sheet called 'Prises'. Did you mean 'Prices'?"),
        (_set("F3", "Net price"), "", "stands twice, in Prices!D3 and Prices!F3"),
        (lambda page: page.merge_cells("D3:E3"), "", "no row among the first 100 has the head 'Stock'"),
        (lambda page: page.merge_cells("D3:D4"), "", "merged with others, D3:D4"),
        (_set("D3", "Nett price"), "", "Did you mean 'Nett price'?"),
        (None, "    separator: comma\n", "a workbook has no separator"),
    ],
)
def test_a_sheet_or_head_that_cannot_be_found(
    spoil: Spoil | None, more: str, words: str, tmp_path: Path
) -> None:
    book_file(tmp_path / "list.xlsx", spoil)
    with pytest.raises(SpecError) as caught:
        load_shelf(shelf_file(tmp_path, "list.xlsx", more))
    assert words in str(caught.value)


def test_a_decimal_comma_that_parts_cells_as_well_is_seen(tmp_path: Path) -> None:
    lines = [",".join(HEAD), "1040,Vodka grain 40,70 cl,9,40,4 bottles", "1052,Dry gin 40,70 cl,15,"]
    (tmp_path / "list.csv").write_text("\n".join(lines))
    with pytest.raises(SpecError) as caught:
        load_shelf(shelf_file(tmp_path, "list.csv"))
    assert "the row has 6 cells, the head 5" in str(caught.value)


SHELF_LINES = [
    ("currency: EUR\n    items", "items", "prices without a currency"),
    ("currency: EUR\n    items", "currency: SEK\n    items", "not the currency of this shelf, got SEK"),
    ("on_hand: Stock}", "on_hand: Article}", "the same column as product"),
    ("price: Net price, ", "", "stands without"),
    ("{vodka-40: Vodka grain 40,", "{Vodka: Vodka grain 40,", "a name is small letters"),
    ("gin-40: Dry gin 40", "gin-40: Vodka grain 40", "one product for two things"),
    ("    items: {vodka-40: Vodka grain 40, gin-40: Dry gin 40}", "    items: {}", "no items"),
    ("columns: {", "columns: {prise: X, ", "unknown key 'prise'. Did you mean 'price'?"),
    ("    items", "    decimal: point\n    items", "unknown word, got point"),
    ("Net price", "column XFE", "no column of any sheet"),
]


@pytest.mark.parametrize(("old", "new", "words"), SHELF_LINES)
def test_what_is_wrong_in_the_shelf_file_is_told_before_a_list_is_opened(
    old: str, new: str, words: str, tmp_path: Path
) -> None:
    path = shelf_file(tmp_path, "list.xlsx")
    text = path.read_text(encoding="utf-8")
    assert old in text
    text = text.replace(old, new)
    if words == "stands without":
        text = text.replace("on_hand: Stock", "per: Unit, on_hand: Stock")
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SpecError) as caught:
        load_shelf(path)
    assert words in str(caught.value)
    assert "list.xlsx" not in str(caught.value).split("\n")[0].partition(": ")[2]


def test_a_price_on_the_shelf_and_in_the_list_is_refused(tmp_path: Path) -> None:
    book_file(tmp_path / "list.xlsx")
    path = shelf_file(tmp_path, "list.xlsx")
    typed = "offers:\n  vodka-40: {pack: 70 cl, price: 8.10 EUR, supplier: north cellar}\n"
    path.write_text(path.read_text(encoding="utf-8").replace("offers:\n", typed), encoding="utf-8")
    with pytest.raises(SpecError, match=r"Prices!B4: vodka-40: the shelf has a price for the same already"):
        load_shelf(path)


def test_letters_and_numbers_of_columns_are_those_of_the_library() -> None:
    from openpyxl.utils import column_index_from_string, get_column_letter

    for column in (1, 26, 27, 52, 703, 16384):
        assert letters_of(column) == get_column_letter(column)
        assert number_of(letters_of(column)) == column_index_from_string(letters_of(column)) == column
    assert cell_name(14, 3, "North cellar") == "'North cellar'!C14"


def test_values_and_marks_are_those_that_another_reader_gives(tmp_path: Path) -> None:
    """Held against openpyxl, on cells of every kind."""
    from openpyxl import load_workbook

    def spoil(page: Any) -> None:
        page["A9"], page["B9"], page["C9"] = datetime.date(2026, 10, 1), 1.5e-7, " two  blanks "
        page["D9"], page["E9"], page["H12"] = False, "#N/A", "far <off> & \u00a0"
        page["A11"] = datetime.datetime(2026, 10, 1, 14, 30)
        page["B11"], page["C11"], page["D11"] = 12345678901234, "=1+1", datetime.time(14, 30)
        for cell, shown in (("B9", "0.00%"), ("B11", '#,##0.00" EUR"'), ("D4", "[$£-809]#,##0.00")):
            page[cell].number_format = shown
        page.merge_cells("A13:C15")

    path = book_file(tmp_path / "list.xlsx", spoil)
    table = open_sheet(path, None)
    seen = {(row, column): value for row, cells in table.rows() for column, value in cells.items()}
    marks = table.marks(range(1, 16))
    page = load_workbook(path).worksheets[0]
    cells = [cell for row in page.iter_rows() for cell in row if cell.value is not None]
    midnight = datetime.time()
    assert seen == {
        (cell.row, cell.column): (
            cell.value.date()
            if isinstance(cell.value, datetime.datetime) and cell.value.time() == midnight
            else cell.value
        )
        for cell in cells
        if cell.data_type not in "ef"
    }
    at = {(cell.row, cell.column): cell for cell in cells}
    assert {place for place, mark in marks.items() if mark.no_result} == {
        place for place, cell in at.items() if cell.data_type == "f"
    }
    assert {place: mark.error for place, mark in marks.items() if mark.error} == {
        place: cell.value for place, cell in at.items() if cell.data_type == "e"
    }
    # Formats below 164 are built in and say nothing of a currency; those of per cent are told all the same.
    assert {place: marks[place].shown_as for place in at if marks[place].shown_as} == {
        place: cell.number_format
        for place, cell in at.items()
        if cell._style.numFmtId >= 164 or "%" in cell.number_format
    }
    assert [str(merged) for merged in table.merged] == [str(page.merged_cells)]


@settings(max_examples=150)
@given(
    st.lists(st.tuples(st.floats(0, 1), st.integers(0, 255)), min_size=1, max_size=6),
    st.floats(0, 1) | st.just(1.0),
)
def test_a_damaged_workbook_is_refused_and_never_crashes(
    changes: list[tuple[float, int]], kept: float
) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        raw = bytearray(book_file(folder / "list.xlsx").read_bytes())
        for where, byte in changes:
            raw[int(where * (len(raw) - 1))] = byte
        (folder / "list.xlsx").write_bytes(bytes(raw[: int(kept * len(raw)) + 1]))
        refused: tuple[object, ...] | None = None
        names = set(EXPECTED)
        try:
            names = set(load_shelf(shelf_file(folder, "list.xlsx")).offers)
        except SpecError as error:
            refused = error.problems
        assert names == set(EXPECTED)
        assert refused is None or refused, "refused with a reason"


LARGE = 100_000
LARGE_S = 20.0


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["xlsx", "csv"])
def test_a_hundred_thousand_rows_are_read_in_time(kind: str, tmp_path: Path) -> None:
    """In seconds of this process, so that what else a machine does is not counted."""
    if kind == "xlsx":
        long_book(tmp_path / "list.xlsx", LARGE)
    else:
        lines = [f"{row};Thing {row}, grain 40;70 cl;{5 + row % 1000 / 100};" for row in range(LARGE)]
        (tmp_path / "list.csv").write_text("\n".join([";".join(HEAD), *lines]))
    path = shelf_file(tmp_path, f"list.{kind}", "    on_hand_unit: bottles\n")
    text = path.read_text(encoding="utf-8").replace("Vodka grain 40", "'Thing 99, grain 40'")
    path.write_text(text.replace("Dry gin 40", "'Thing 99999, grain 40'"), encoding="utf-8")
    began = time.process_time()
    shelf = load_shelf(path)
    took = time.process_time() - began
    assert _prices(shelf) == {
        "white-sugar": [(1.15, 1.0)],
        "vodka-40": [(5.99, 0.7)],
        "gin-40": [(14.99, 0.7)],
    }
    assert took < LARGE_S
