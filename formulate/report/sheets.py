"""Costings, buying lists and menus as workbooks whose sums are live formulas.

What a formula gives is what the screen says, to the cent: lines of a bill are rounded each as the bill rounds
them, costings add up what is used and round only in what is shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from formulate.report.workbook import Book, Column, Formula, Page

if TYPE_CHECKING:
    from formulate.bar.costing import PriceRecord
    from formulate.bar.prices import UnitPrice
    from formulate.describe.buy_record import BuyRecord
    from formulate.describe.menu_record import MenuRecord
    from formulate.describe.pour_record import PourLine, PourRecord
    from formulate.describe.records import DrinkRecord

__all__ = ["buy_workbook", "drink_workbook", "menu_results", "menu_workbook", "pour_workbook"]


def drink_workbook(record: DrinkRecord) -> bytes:
    """Write the costing of a recipe."""
    book = Book(record.name)
    _recipe_costing(book, record)
    return book.content()


def buy_workbook(record: BuyRecord) -> bytes:
    """Write a buying list by supplier, and the costing of the recipe it is for."""
    book = Book(record.drink.name)
    lines = [
        _Bill(
            line.name,
            line.supplier,
            line.pack,
            None,
            line.packs,
            line.bought_kg,
            (line.without_tax, line.tax, line.deposit),
            line.each,
        )
        for line in record.lines
        if line.cost > 0.0
    ]
    _buying_list(
        book, f"To buy for {record.drink.name}", lines, record.currency, tax_reclaimed=record.tax_reclaimed
    )
    _recipe_costing(book, record.drink)
    return book.content()


def menu_workbook(record: MenuRecord) -> bytes:
    """Write a menu: its drinks, what each of them costs, buying list, batches and stock."""
    return _with_menu(Book(record.name), record).content()


def menu_results(record: MenuRecord, content: bytes) -> bytes:
    """Write the same into a workbook that a person filled in, as sheets of their own; all else stays.

    Parameters
    ----------
    record : MenuRecord
    content : bytes
        Of the workbook. Sheets of an earlier answer are replaced.

    Raises
    ------
    FormulateError
        If it holds pictures, charts or macros, which would not survive.
    """
    return _with_menu(Book(record.name, into=content), record).content()


def _with_menu(book: Book, record: MenuRecord) -> Book:
    drinks = book.page("Drinks", _drink_columns(record.currency))
    costs = _drink_costings(
        book, [(row.name, row.lines, row.price) for row in record.drinks], record.currency
    )
    _drinks(drinks, record, costs)
    lines = [
        _Bill(
            line.name,
            line.supplier,
            line.pack,
            f"{line.order_by.date or line.order_by.text}",
            line.packs,
            line.amount_kg,
            (line.without_tax, line.tax, line.deposit),
            line.each,
        )
        for line in record.lines
    ]
    _buying_list(
        book, f"To buy for {record.name}", lines, record.currency, tax_reclaimed=record.tax_reclaimed
    )
    _batches(book, record)
    _stock(book, record)
    return book


def _batches(book: Book, record: MenuRecord) -> None:
    page = book.page(
        "Batches",
        [
            Column("Begin", width=16),
            Column("Poured from", width=16),
            Column("Make", width=30),
            Column("Batches", "count", 9),
            Column("L each", "litres", 9),
            Column("L in all", "litres", 9),
            Column("In", width=16),
            Column("Fills", width=16),
        ],
    )
    page.title(f"{record.name}: what is made, and when")
    page.head()
    for row in record.calendar:
        at = page.row + 1
        fills = "" if row.bottles is None or row.bottle_l is None else _bottles(row.bottles, row.bottle_l)
        page.line(
            row.begin.text,
            row.ready.text,
            row.name,
            max(row.batches, 1),
            row.each_l,
            Formula(f"=D{at}*E{at}"),
            row.vessel,
            fills,
        )


def _bottles(count: int, size_l: float) -> str:
    return f"{count} x {size_l * 100.0:g} cl"


def _stock(book: Book, record: MenuRecord) -> None:
    page = book.page(
        "Stock and pars",
        [
            Column("What", width=30),
            Column("Counted in", width=12),
            Column("There now", "amount"),
            Column("A week", "amount"),
            Column("At the end", "amount"),
            Column("Par", "amount"),
            Column("Order at", "amount"),
            Column(f"Worth at the end {record.currency}", "money", 16),
        ],
    )
    page.title(f"{record.name}: stock and pars")
    page.head()
    first = page.row + 1
    for row in record.stock:
        unit, per_kg = ("pieces", 1.0) if row.in_pieces else ("g", 1000.0)
        if row.litre_kg is not None:
            unit, per_kg = "L", 1.0 / row.litre_kg
            if row.bottle_l is not None:
                unit, per_kg = f"{row.bottle_l * 100.0:g} cl", per_kg / row.bottle_l
        masses = (row.on_hand_kg, row.per_week_kg, row.left_kg, row.par_kg, row.order_at_kg)
        counted = [None if mass is None else mass * per_kg for mass in masses]
        page.line(row.name, unit, *counted, row.left_worth)
    if record.stock:
        page.line("In all", *[None] * 6, _sum("H", first, page.row), bold=True, above=True)


def pour_workbook(record: PourRecord) -> bytes:
    """Write the costing of one drink."""
    book = Book(record.name)
    currency = "" if record.price is None else record.price.currency
    _drink_costings(book, [(record.name, record.lines, record.price)], currency, selling=True)
    return book.content()


def _recipe_costing(book: Book, record: DrinkRecord) -> None:
    cost = record.cost
    currency = "" if cost is None else cost.currency
    page = book.page(
        "Costing",
        [
            Column("Ingredient", width=30),
            Column("Step"),
            Column("g", "grams"),
            Column("As a bar measures it", width=24),
            Column(f"{currency} per kg used".strip(), "price"),
            Column(f"Cost {currency}".strip(), "money"),
        ],
    )
    page.title(f"{record.name}: costing", "Counted by what is used, not by whole packs.")
    page.head()
    first = page.row + 1
    for line in record.recipe:
        row = page.row + 1
        per_kg = None if line.cost is None or line.mass_kg <= 0.0 else line.cost / line.mass_kg
        sum_ = None if per_kg is None else Formula(f"=C{row}/1000*E{row}")
        page.line(line.ingredient, line.step, line.mass_kg * 1000.0, line.measure.text, per_kg, sum_)
    if cost is None:
        page.blank()
        page.line("A price is missing on the shelf: no total.")
        return
    total = page.line("In all", None, None, None, None, _sum("F", first, page.row), bold=True, above=True)
    litres = page.line("Litres bottled", None, None, None, None, float(record.predicted.volume_l))
    page.line("Per litre bottled", None, None, None, None, Formula(f"=F{total}/F{litres}"), bold=True)


class _Bill:
    """A line of a buying list."""

    def __init__(
        self,
        name: str,
        supplier: str,
        pack: str,
        order_by: str | None,
        packs: int | None,
        kilograms: float,
        sums: tuple[float, float, float],
        each: UnitPrice | None,
    ) -> None:
        self.name, self.supplier, self.pack, self.order_by = name, supplier, pack, order_by
        self.take = kilograms if packs is None else float(packs)
        many = "" if packs == 1 else "s"
        self.unit = "kg" if packs is None else f"piece{many}" if pack == "piece" else f"pack{many}"
        self.sums, self.each = sums, each


def _buying_list(
    book: Book, title: str, lines: Sequence[_Bill], currency: str, *, tax_reclaimed: bool
) -> None:
    """Write bills by supplier: packs times price, tax on that, deposits, and what is to pay."""
    page = book.page(
        "Buying list",
        [
            Column("To buy", width=30),
            Column("Pack", width=20),
            Column("Order by", width=14),
            Column("Take", "amount", 10),
            Column("", width=8),
            Column(f"{currency} each", "price"),
            Column("Tax %", "share", 8),
            Column("Deposit each", "money", 10),
            Column(f"{currency} without tax", "money"),
            Column("Tax", "money"),
            Column("Deposit", "money"),
            Column("To pay", "money"),
        ],
    )
    page.title(title, f"Prices in {currency}, without tax. Each line is rounded to the cent, as a bill is.")
    page.head()
    totals: list[int] = []
    for supplier, group in groupby(lines, key=lambda line: line.supplier):
        page.line(f"from {supplier or 'no named supplier'}", bold=True)
        first = page.row + 1
        for line in group:
            _bill_line(page, line)
        sums = [_sum(column, first, page.row) for column in "IJKL"]
        totals.append(page.line("subtotal", *[None] * 7, *sums, bold=True, above=True))
        page.blank()
    if not totals:
        page.line("Nothing to buy.")
        return
    every = [Formula("=" + "+".join(f"{column}{row}" for row in totals)) for column in "IJKL"]
    last = page.line("In all", *[None] * 7, *every, bold=True, above=True)
    costs = Formula(f"=I{last}" if tax_reclaimed else f"=I{last}+J{last}")
    what = "without tax, which comes back" if tax_reclaimed else "with tax"
    page.line(f"Costs the bar ({what})", *[None] * 10, costs, bold=True)


def _bill_line(page: Page, line: _Bill) -> None:
    row = page.row + 1
    without, tax, deposit = line.sums
    if line.each is None:
        sums: list[float | Formula] = [without, tax, deposit]
        each = [None, None, None]
    else:
        each = [line.each.net, line.each.tax_share, line.each.deposit]  # type: ignore[list-item]
        sums = [
            Formula(
                f"=ROUND(ROUND(D{row}*F{row}*(1+G{row}),2)-J{row},2)"
                if line.each.asked_with_tax
                else f"=ROUND(D{row}*F{row},2)"
            ),
            Formula(f"=ROUND(D{row}*F{row}*G{row},2)"),
            Formula(f"=ROUND(D{row}*H{row},2)"),
        ]
    pack = "" if line.pack in ("piece", "by weight") else line.pack
    page.line(
        line.name, pack, line.order_by, line.take, line.unit, *each, *sums, Formula(f"=I{row}+J{row}+K{row}")
    )


def _drink_columns(currency: str) -> list[Column]:
    return [
        Column("Drink", width=30),
        Column("Sold", "count", 9),
        Column(f"Cost {currency}", "money"),
        Column("Price", "money"),
        Column("Without tax", "money"),
        Column("Cost %", "share", 9),
        Column("Leaves", "money"),
        Column("Price for the target", "money"),
        Column("Sales without tax", "money", 14),
        Column("Cost of sales", "money", 14),
        Column("Left", "money", 14),
    ]


def _drinks(page: Page, record: MenuRecord, costs: Sequence[str | None]) -> None:
    priced = [row.price for row in record.drinks if row.price is not None]
    target = next((price.target_share for price in priced if price.target_share), None)
    weeks = f"{record.weeks} week{'' if record.weeks == 1 else 's'}"
    page.title(f"{record.name}: {weeks}", "Cost by what is used, at the lowest price of the shelf.")
    aim = page.given("Cost % aimed at", target, "share")
    tax = page.given("Tax in the menu's prices", _selling_tax(priced), "share")
    page.blank()
    page.head()
    first = page.row + 1
    for drink, cost in zip(record.drinks, costs, strict=True):
        row = page.row + 1
        asked = None if drink.price is None else drink.price.price
        page.line(
            drink.name,
            drink.sold,
            None if cost is None else Formula(f"={cost}"),
            asked,
            *_priced(row, aim, tax, has_cost=cost is not None, has_price=asked is not None),
        )
    if record.mix is None:
        return
    last = page.row
    row = last + 1
    page.line(
        "The mix",
        *[None] * 4,
        Formula(f"=J{row}/I{row}"),
        None,
        None,
        *(_sum(column, first, last) for column in "IJK"),
        bold=True,
        above=True,
    )


def _priced(row: int, aim: str, tax: str, *, has_cost: bool, has_price: bool) -> list[Formula | None]:
    """Write what follows from a drink's cost in C, its price in D and how often it is sold in B."""
    for_target = Formula(f'=IF({aim}>0,C{row}/{aim}*(1+{tax}),"")') if has_cost else None
    if not (has_cost and has_price):
        return [None, None, None, for_target, None, None, None]
    return [
        Formula(f"=D{row}/(1+{tax})"),
        Formula(f"=C{row}/E{row}"),
        Formula(f"=E{row}-C{row}"),
        for_target,
        Formula(f"=B{row}*E{row}"),
        Formula(f"=B{row}*C{row}"),
        Formula(f"=I{row}-J{row}"),
    ]


def _selling_tax(priced: Iterable[PriceRecord]) -> float:
    return next((price.selling_tax_share for price in priced), 0.0)


def _drink_costings(
    book: Book,
    drinks: Sequence[tuple[str, Sequence[PourLine], PriceRecord | None]],
    currency: str,
    *,
    selling: bool = False,
) -> list[str | None]:
    """Write what goes into each drink and what that costs; return where the cost of each one stands."""
    page = book.page(
        "Costing",
        [
            Column("Ingredient", width=30),
            Column("As poured", width=16),
            Column("mL", "grams", 9),
            Column("g, or pieces", "grams"),
            Column(f"{currency} per kg, or piece".strip(), "price", 14),
            Column(f"Cost {currency}".strip(), "money"),
        ],
    )
    page.title("What one drink costs", "Counted by what is used, at the lowest price of the shelf.")
    page.head()
    places: list[str | None] = []
    for name, lines, price in drinks:
        page.line(name, bold=True)
        first = page.row + 1
        for line in lines:
            _poured_line(page, line)
        if price is None:
            page.line("A price is missing on the shelf: no total.")
            page.blank()
            places.append(None)
            continue
        used = page.line("used", *[None] * 4, _sum("F", first, page.row), above=True)
        spilt = f"waste, {100.0 * price.waste_share:g} %"
        waste = page.line(spilt, *[None] * 4, Formula(f"=F{used}*{price.waste_share!r}"))
        cost = page.line("One drink", *[None] * 4, Formula(f"=F{used}+F{waste}"), bold=True, above=True)
        if selling:
            _selling(page, cost, price)
        page.blank()
        places.append(f"{page.reference}!F{cost}")
    return places


def _poured_line(page: Page, line: PourLine) -> None:
    row = page.row + 1
    millilitres = None if line.volume_l is None else line.volume_l * 1000.0
    if line.mass_kg > 0.0:
        each = None if line.cost is None else line.cost / line.mass_kg
        amount, by = line.mass_kg * 1000.0, f"D{row}/1000"
    else:
        each, amount, by = line.cost, 1.0, f"D{row}"
    costs = None if each is None else Formula(f"={by}*E{row}")
    page.line(line.ingredient, line.text, millilitres, amount, each, costs)


def _selling(page: Page, cost: int, price: PriceRecord) -> None:
    """Write what one drink sells for, below its cost."""
    tax = page.line("Tax in the menu's price, %", *[None] * 4, 100.0 * price.selling_tax_share)
    if price.price is not None:
        asked = page.line("Price", *[None] * 4, price.price)
        kept = page.line("Without tax", *[None] * 4, Formula(f"=F{asked}/(1+F{tax}/100)"))
        page.line("Cost %", *[None] * 4, Formula(f"=100*F{cost}/F{kept}"))
        page.line("Leaves", *[None] * 4, Formula(f"=F{kept}-F{cost}"), bold=True)
    if price.target_share is not None:
        aim = page.line("Cost % aimed at", *[None] * 4, 100.0 * price.target_share)
        page.line("Price for it", *[None] * 4, Formula(f"=F{cost}/(F{aim}/100)*(1+F{tax}/100)"), bold=True)


def _sum(column: str, first: int, last: int) -> Formula:
    return Formula(f"=SUM({column}{first}:{column}{last})")
