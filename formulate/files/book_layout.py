"""How the files of a folder stand in one workbook: which sheet, which row, which column.

Data only. A sheet holds one kind of file, or one list or map of such a file; each column is a key of that
file. What no column is for stands in the last one, ``more``, or on the sheet of that name, as in a file.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

__all__ = [
    "FILE",
    "MORE",
    "SHEETS",
    "SHEET_OF_REST",
    "BookColumn",
    "BookSheet",
    "Form",
    "Kind",
    "Rows",
    "folder_of",
]

Kind = str

FILE, MORE = "file", "more"
"""Heads of the first column of what belongs to a file, and of the last."""
SHEET_OF_REST = "More"
EXAMPLE = "e.g. "
"""Begins the first cell of a row that only shows how."""


class Form(Enum):
    """What a cell holds."""

    TEXT = "text"
    YES = "yes"
    """`yes` for true, `no` for false, nothing for unsaid."""
    NUMBER = "number"
    """A whole number without a unit."""
    NAMES = "names"
    """Names with commas between; always a list in the file."""
    NAME_OR_NAMES = "name or names"
    """One name alone, or several with commas between."""


class Rows(Enum):
    """How the rows of a sheet stand in a file."""

    FILE = "the file itself"
    ONE = "a map, one entry, read down"
    MAP = "a map of names to what is said of them"
    OFFERS = "a map of names to one thing or a list of things"
    ITEMS = "a list of names, with what is said of them"
    MAPS = "a list of maps"


@dataclass(frozen=True, slots=True)
class BookColumn:
    """A column.

    Attributes
    ----------
    head : str
        As it stands above it.
    key : tuple of str
        Way to the value within the row's entry; empty for the value of a map with nothing else.
    note : str
        What goes in, with an example.
    unit : str
        What a bare number means; ``money`` for the currency of the shelf.
    form : Form
    choices : str
        Name of a list to choose from, or words with commas between; empty for any text.
    width : int
    """

    head: str
    key: tuple[str, ...]
    note: str = ""
    unit: str = ""
    form: Form = Form.TEXT
    choices: str = ""
    width: int = 14


@dataclass(frozen=True, slots=True)
class BookSheet:
    """A sheet.

    Attributes
    ----------
    name : str
    kind : str
        Of the files its rows belong to.
    at : tuple of str
        Way to its list or map in such a file; empty for the file itself.
    rows : Rows
    name_head : str
        Head of the column with the name of an entry; empty where entries have none.
    name_choices : str
    columns : tuple of BookColumn
    about : str
        What the sheet is for.
    example : tuple of str
        A row of it, shown in grey on an empty sheet.
    """

    name: str
    kind: Kind
    at: tuple[str, ...]
    rows: Rows
    columns: tuple[BookColumn, ...]
    about: str
    name_head: str = ""
    name_choices: str = ""
    example: tuple[str, ...] = ()

    @property
    def heads(self) -> tuple[str, ...]:
        """Every head from the first column on."""
        file = () if self.kind == "shelf" else (FILE,)
        name = (self.name_head,) if self.name_head else ()
        more = () if self.rows is Rows.ONE else (MORE,)
        return (*file, *name, *(column.head for column in self.columns), *more)


FOLDERS: Mapping[Kind, str] = {"bottle": "bottles", "recipe": "recipes", "drink": "drinks", "menu": "menus"}


def folder_of(kind: Kind) -> str:
    """Name the folder that files of a kind stand in."""
    return FOLDERS.get(kind, "")


def _text(
    head: str, *key: str, note: str = "", unit: str = "", choices: str = "", width: int = 14
) -> BookColumn:
    return BookColumn(head, key, note, unit, Form.TEXT, choices, width)


_OFFER = (
    _text("pack", "pack", note="70 cl, 1 kg, 6 pieces or 6 x 70 cl. Nothing for what is sold by weight."),
    _text("price", "price", note="Of one pack: 9.40. Or with its unit: 4.20 EUR/kg.", unit="money"),
    _text("supplier", "supplier", width=20),
    _text("on hand", "on_hand", note="4 bottles, 2.4 kg, 30 pieces"),
    _text("tax rate", "tax_rate", note="If it differs from the bar's: 7 %", unit="%"),
    _text("deposit", "deposit", note="Paid back for the empty one: 0.25", unit="money"),
    _text("seen", "seen", note="Day the price was seen: 2026-11-02"),
    _text("until", "until", note="Last day it holds: 2026-12-31"),
)

_STEPS = (
    _text("time", "time", note="2 h, 3 days; together with a temperature", unit="h"),
    _text("temperature", "temperature", note="50 °C", unit="°C"),
    BookColumn(
        "strained through", ("separate",), "coarse-sieve, fine-sieve, cloth, press, paper", "", Form.NAMES
    ),
    _text("vessel", "vessel", choices="vessels"),
    _text("enzyme", "enzyme", "dose", note="Pectinase per kg of fruit: 2 g/kg", unit="g/kg"),
    _text("enzyme goes in", "enzyme", "when", choices="before spirit,with spirit"),
    _text("lost", "loss", note="In filter and transfer: 1 %", unit="%"),
    _text("lost once", "fixed_loss", note="Per batch: 20 g", unit="g"),
    _text("rinse", "rinse", note="Water for the pressed cake: 0.5 kg/kg", unit="kg/kg"),
    BookColumn("strain", ("strain",), "", "", Form.YES, "yes,no", 8),
)

SHEETS: tuple[BookSheet, ...] = (
    BookSheet(
        "Bar",
        "shelf",
        (),
        Rows.ONE,
        (
            _text("name of the bar", "name"),
            _text("currency", "currency", note="Of every price here", choices="EUR,USD,GBP,CHF"),
            _text("whose law", "jurisdiction", note="Nothing: the strictest of all", choices="EU,UK,US"),
            _text("an hour of work", "wage", note="18 EUR/h"),
            _text("waste at the bar", "service", "waste", note="3 %", unit="%"),
            _text("cost aimed at", "service", "target_cost", note="Of the price without tax: 22 %", unit="%"),
            _text("tax when buying", "tax", "buying", note="20 %", unit="%"),
            _text("tax in menu prices", "tax", "selling", note="20 %", unit="%"),
            _text("strength may be off by", "usual_tolerance", "strength", note="0.3 % vol", unit="% vol"),
            _text("sugar may be off by", "usual_tolerance", "sugar", note="5 g/L", unit="g/L"),
            _text("acid may be off by", "usual_tolerance", "acid", note="0.5 g/L", unit="g/L"),
            _text("bitterness may be off by", "usual_tolerance", "bitterness", note="20 %", unit="%"),
        ),
        "The bar and its habits. What is not filled in takes the usual value.",
    ),
    BookSheet(
        "Bought",
        "shelf",
        ("offers",),
        Rows.OFFERS,
        _OFFER,
        "What can be bought, a row for each way to buy it.",
        "what",
        "ingredients",
        ("vodka-40", "70 cl", "9.40", "north cellar", "4 bottles"),
    ),
    BookSheet(
        "Supplies",
        "shelf",
        ("supplies",),
        Rows.OFFERS,
        _OFFER,
        "What is counted by the piece and not drunk: bottles, corks, labels, straws.",
        "what",
        "",
        ("bottle-70cl", "12 pieces", "10.80", "glass yard", "9 pieces"),
    ),
    BookSheet(
        "Whole fruit",
        "shelf",
        ("whole",),
        Rows.MAP,
        (
            _text("one weighs", "piece", note="380 g", unit="g"),
            _text("price", "price", note="Of one, or with its unit: 2.50 EUR/kg", unit="money"),
            _text("supplier", "supplier", width=20),
            _text("on hand", "on_hand"),
        ),
        "What is bought whole and taken apart; its parts stand under `more`: {parts: {lemon-zest: 5 %}}.",
        "what",
    ),
    BookSheet(
        "Made here",
        "shelf",
        ("house_made",),
        Rows.MAP,
        (
            _text("recipe", "recipe", note="Its file: recipes/gentian-tincture.yaml", width=34),
            _text("lot", "lot"),
            _text("made", "made", note="2026-10-12"),
            _text("good until", "keep_by", note="2027-01-31"),
            _text("on hand", "on_hand", note="60 cl or 500 g"),
            _text("work", "labour", note="20 min, 4 EUR", unit="min"),
        ),
        "Tinctures, syrups and the like that the bar makes and keeps.",
        "what",
        "",
        ("gentian-tincture", "recipes/gentian-tincture.yaml", "A 12", "2026-10-12", "", "60 cl"),
    ),
    BookSheet(
        "Vessels",
        "shelf",
        ("vessels",),
        Rows.MAP,
        (_text("holds, to the brim", note="12 L", unit="L"),),
        "Jars, kettles and kegs.",
        "vessel",
        "",
        ("kettle-12l", "12 L"),
    ),
    BookSheet(
        "House bottles",
        "bottle",
        (),
        Rows.FILE,
        (
            _text("name", "name", width=32),
            _text("size", "size", note="5 L bottled; fill jar-4l (80 % of the vessel)", width=20),
            _text("strength", "targets", "strength", note="22 ± 0.3 % vol", unit="% vol"),
            _text("sugar", "targets", "sugar", note="180 g/L, 170 to 190 g/L", unit="g/L"),
            _text("acid", "targets", "acid", note="5 to 7 g/L", unit="g/L"),
            _text("bitterness", "targets", "bitterness", note="light, medium, firm, strong"),
            _text("cost", "targets", "cost", note="at most 9.50 EUR/L"),
            _text("shelf", "shelf", note="../shelf.yaml"),
        ),
        "What a bottle must be. The cheapest mix that lands there is found.",
        example=(
            "damson-aperitif",
            "Damson aperitif",
            "5 L bottled",
            "22 % vol",
            "180 g/L",
            "5 to 7 g/L",
            "firm",
        ),
    ),
    BookSheet(
        "Bottle contents",
        "bottle",
        ("ingredients",),
        Rows.ITEMS,
        (
            _text("at least", "at_least", note="250 g per L bottled"),
            _text("at most", "at_most", note="2 kg"),
            _text("exactly", "exactly", note="45 g per L bottled"),
            _text("step", "step"),
            BookColumn("may be left out", ("optional",), "", "", Form.YES, "yes,no", 12),
            _text("share of bitterness", "share_of_bitterness", note="30 to 60 %"),
            _text("cut", "cut", choices="whole,coarse,fine,powder"),
        ),
        "What may go into a house bottle, a row for each.",
        "what",
        "ingredients",
        ("damson-aperitif", "damson", "250 g per L bottled", "", "", "infuse"),
    ),
    BookSheet(
        "Bottle steps",
        "bottle",
        ("steps",),
        Rows.ITEMS,
        _STEPS,
        "The work, in order. Nothing here: infuse, strain, finish.",
        "step",
        "",
        ("damson-aperitif", "infuse", "2 h", "50 °C", "fine-sieve, press"),
    ),
    BookSheet(
        "Recipes",
        "recipe",
        (),
        Rows.FILE,
        (
            _text("name", "recipe", width=32),
            _text("bottled", "volume", note="5 L bottled"),
            _text("for bottle", "bottle", note="../bottles/damson-aperitif.yaml", width=30),
            _text("kind", "kind", choices="concentrate"),
            _text("shelf", "shelf", note="../shelf.yaml"),
        ),
        "Recipes that are settled: what is weighed in stands on the next sheet.",
        example=("rose-syrup", "Rose syrup", "2 L bottled"),
    ),
    BookSheet(
        "Recipe contents",
        "recipe",
        ("ingredients",),
        Rows.ITEMS,
        (
            _text("amount", "amount", note="1234.5 g, 2 bottles, 60 cl", unit="g"),
            _text("step", "step"),
            _text("cut", "cut", choices="whole,coarse,fine,powder"),
        ),
        "What is weighed into a recipe.",
        "what",
        "ingredients",
        ("rose-syrup", "white-sugar", "1200 g"),
    ),
    BookSheet(
        "Recipe steps", "recipe", ("steps",), Rows.ITEMS, _STEPS, "The work of a recipe, in order.", "step"
    ),
    BookSheet(
        "Drinks",
        "drink",
        (),
        Rows.FILE,
        (
            _text("name", "drink", width=32),
            _text("method", "method", choices="stirred,shaken,thrown,built,batched"),
            _text("price", "price", note="As the menu writes it: 12.50", unit="money"),
            _text("glass", "glass", note="14 cl", unit="cl"),
            _text("parts come to", "parts_come_to", note="9 cl", unit="cl"),
            _text("melt", "melt", note="As weighed here: 32 %", unit="%"),
            _text("shelf", "shelf", note="../shelf.yaml"),
        ),
        "The drinks of the bar; what is poured stands on the next sheet.",
        example=("amber-hour", "Amber hour", "stirred", "12.50", "14 cl"),
    ),
    BookSheet(
        "Poured",
        "drink",
        ("ingredients",),
        Rows.ITEMS,
        (
            _text("amount", "amount", note="45 mL, 1.5 fl oz, 2 dashes, 2 parts, 3 g", unit="mL"),
            BookColumn("after the ice", ("after",), "", "", Form.YES, "yes,no", 12),
        ),
        "What is poured, in order.",
        "what",
        "ingredients",
        ("amber-hour", "gin-40", "45 mL"),
    ),
    BookSheet(
        "On the glass",
        "drink",
        ("garnish",),
        Rows.ITEMS,
        (
            _text("amount", "amount", note="3 g, 1 piece", unit="g"),
            _text("price of one", "price", note="Instead of an amount: 0.10", unit="money"),
        ),
        "What stands on the glass and is not drunk.",
        "what",
        "",
        ("amber-hour", "grapefruit-zest", "3 g"),
    ),
    BookSheet(
        "House in drinks",
        "drink",
        ("house",),
        Rows.MAP,
        (_text("its file", note="../bottles/damson-aperitif.yaml or ../recipes/rose-syrup.yaml", width=36),),
        "Which house bottle a drink pours.",
        "house bottle",
        "",
        ("amber-hour", "damson-aperitif", "../bottles/damson-aperitif.yaml"),
    ),
    BookSheet(
        "Menus",
        "menu",
        (),
        Rows.FILE,
        (
            _text("name", "menu", width=32),
            _text("for", "for", note="4 weeks"),
            _text("suffices in", "cover", note="In 90 of 100 such times: 90 %", unit="%"),
            BookColumn("days open", ("open_days",), "In a week: 6", "", Form.NUMBER, "", 10),
            _text("shelf", "shelf", note="../shelf.yaml"),
        ),
        "A menu for each bar and time.",
        example=("autumn", "Autumn", "4 weeks", "90 %", "6"),
    ),
    BookSheet(
        "Menu by week",
        "menu",
        ("drinks",),
        Rows.MAPS,
        (
            _text("drink", "drink", note="Its file: ../drinks/amber-hour.yaml", width=32),
            _text("sells", "sells", note="55 ± 12 per week, 14 per day"),
            _text("price", "price", note="If it differs here", unit="money"),
        ),
        "What a menu sells, and how often.",
        example=("autumn", "../drinks/amber-hour.yaml", "55 ± 12 per week"),
    ),
    BookSheet(
        "Made for the menu",
        "menu",
        ("house",),
        Rows.MAP,
        (
            BookColumn("in vessel", ("vessel",), "kettle-12l", "", Form.NAME_OR_NAMES),
            _text("takes", "takes", note="3 days", unit="days"),
            _text("on hand", "on_hand", note="2.3 L, or bottles"),
            _text("par", "par", note="What shall be left"),
            _text("keeps", "keeps", note="3 weeks", unit="weeks"),
            _text("work", "labour", note="45 min", unit="min"),
            _text("least batch", "least_batch", note="3 L", unit="L"),
            _text("bottle", "bottled", "size", note="70 cl", unit="cl"),
            BookColumn(
                "with each bottle", ("bottled", "takes"), "bottle-70cl, cork, label", "", Form.NAMES, "", 24
            ),
            BookColumn("with each batch", ("each_batch",), "filter-paper", "", Form.NAMES),
        ),
        "How house bottles are made for a menu.",
        "house bottle",
        "",
        ("autumn", "damson-aperitif", "kettle-12l", "3 days"),
    ),
    BookSheet(
        "Counts",
        "menu",
        ("pars",),
        Rows.MAP,
        (
            _text("on hand", "on_hand", note="In tenths of a bottle: 3.4 bottles"),
            _text("par", "par", note="What shall be left: 2 bottles"),
            _text("delivery takes", "lead_time", note="3 days", unit="days"),
            _text("keeps", "keeps", note="1 week", unit="weeks"),
        ),
        "What was counted, and what shall be there.",
        "what",
        "ingredients",
        ("autumn", "gin-40", "3.4 bottles", "2 bottles", "3 days"),
    ),
)
