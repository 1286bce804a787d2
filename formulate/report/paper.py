"""Papers to one HTML file that prints, and to PDF. Whatever a file says is text here, never markup."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from formulate.describe.records import ADVICE
from formulate.errors import FormulateError
from formulate.quantity.document import MARK
from formulate.quantity.words import duration
from formulate.report.menu_text import counted
from formulate.report.numbers import band_text, grams, kilograms, money, target_value
from formulate.report.plain import shortened

if TYPE_CHECKING:
    from jinja2 import Environment

    from formulate.describe.batch_sheet import Action, BatchSheet
    from formulate.describe.menu_record import MenuLine, ParRow
    from formulate.describe.papers import LabelSheet, Papers
    from formulate.describe.records import RecipeLineRecord

__all__ = ["ENDINGS", "SIZES", "paper_html", "paper_pdf"]

SIZES = {"a4": "A4", "letter": "letter"}
ENDINGS = (".html", ".pdf")
PAGES = Path(__file__).with_name("paper_pages")
LONGEST_TEXT = 600
"""Characters of one text that are printed: more is no name and no remark."""
LONGEST_NAME = 90
KILOGRAMS_FROM_KG = 100.0

HOW = {
    "stirred": "Stir on ice, strain.",
    "shaken": "Shake on ice, strain.",
    "thrown": "Throw over ice, strain.",
    "built": "Build in the glass on ice.",
    "batched": "Pour from the cold bottle.",
}
QUESTIONS = (
    ("look", "dull", "bright"),
    ("nose", "faint", "strong"),
    ("sweet", "little", "much"),
    ("sour", "little", "much"),
    ("bitter", "little", "much"),
    ("body", "thin", "full"),
    ("stays", "short", "long"),
    ("would serve it", "never", "gladly"),
)


class CardGrid(NamedTuple):
    """What to add, by strength down and sugar across."""

    sugars: list[float]
    rows: list[tuple[float, list[str]]]


def paper_html(papers: Papers, size: str = "a4") -> str:
    """Write papers as one HTML file that needs no other.

    Parameters
    ----------
    papers : Papers
    size : str
        A key of `SIZES`.
    """
    from markupsafe import Markup

    style = Markup((PAGES / "style.css").read_text("utf-8"))
    return (
        _environment()
        .get_template("pages.html")
        .render(papers=papers, size=SIZES[size], style=style, mark=MARK)
    )


def paper_pdf(papers: Papers, size: str = "a4") -> bytes:
    """Write papers as PDF.

    Raises
    ------
    FormulateError
        If what draws it is not installed.
    """
    html = paper_html(papers, size)
    try:
        import weasyprint
    except (ImportError, OSError):  # OSError: Pango is missing on this system
        raise FormulateError(
            "A PDF needs WeasyPrint and the system's Pango. Type pip install '.[pdf]' in the folder of the "
            "program; or write .html and print it from any browser."
        ) from None
    drawn = bytes(weasyprint.HTML(string=html, url_fetcher=_fetch_nothing).write_pdf())
    return drawn + f"% {MARK}\n".encode()  # a remark after the end, as the format allows


def _fetch_nothing(url: str, *_: Any, **__: Any) -> Any:
    raise ValueError(f"nothing is fetched: {url}")


@cache
def _environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(PAGES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_printed,
    )
    environment.filters |= {
        "amount": _amount,
        "card_grid": _card_grid,
        "checks": _checks,
        "clock": _clock,
        "counted_in": _counted_in,
        "day": _day,
        "duration": duration,
        "grouped": _grouped,
        "hour": _hour,
        "how": lambda method: HOW.get(method, ""),
        "label_lines": _label_lines,
        "mass": _mass,
        "money": money,
        "short": lambda name: shortened(name, LONGEST_NAME),
        "take": _take,
        "unit": _unit,
        "weighed": _weighed,
    }
    environment.globals |= {"advice": ADVICE, "questions": QUESTIONS}
    return environment


def _printed(value: object) -> object:
    """Take out of a text what cannot be printed: control characters, and marks that turn its direction."""
    if type(value) is not str:
        return value
    text = value if len(value) <= LONGEST_TEXT else f"{value[:LONGEST_TEXT]}..."
    return "".join(one if one.isprintable() or one in " \n" else " " for one in text)


def _unit(page: BatchSheet) -> str:
    return "kg" if _is_large(page) else "g"


def _is_large(page: BatchSheet) -> bool:
    return any(line.mass_kg >= KILOGRAMS_FROM_KG for line in page.drink.recipe)


def _mass(mass_kg: float, page: BatchSheet, *, down: bool = False) -> str:
    return kilograms(mass_kg, down=down) if _is_large(page) else grams(mass_kg, down=down)


def _weighed(
    lines: Sequence[RecipeLineRecord], page: BatchSheet
) -> Iterator[tuple[RecipeLineRecord, str, str]]:
    """Give each line with its figure and what a zeroed scale shows by then: the sum of the figures shown."""
    total = 0.0
    for line in lines:
        shown = _mass(line.mass_kg, page, down=line.no_more)
        total += float(shown)
        digits = len(shown.partition(".")[2])
        yield line, shown, f"{total:.{max(digits, 0)}f}" if total < 200.0 else f"{total:.{_digits(page)}f}"


def _digits(page: BatchSheet) -> int:
    return 3 if _is_large(page) else 0


def _checks(page: BatchSheet) -> Iterator[tuple[str, str, str, str, str]]:
    """Give what can be read of the finished batch, what it should be and may be, and its key in a file."""
    drink = page.drink
    yield "hydrometer, SG 20/20 at 20 °C", f"{drink.hydrometer_sg:.3f}", "", "", "density"
    if drink.refractometer_brix is not None:
        yield "refractometer at 20 °C", f"{drink.refractometer_brix:.1f}", "", "Brix", "refraction"
    targets = {target.measure: target for target in drink.targets if target.measure}
    for name, value, unit in (
        ("strength", float(drink.predicted.strength_pct_vol), "% vol"),
        ("sugar", float(drink.predicted.sugar_g_l), "g/L"),
        ("acid", float(drink.predicted.acid_g_l), "g/L"),
    ):
        target = targets.get(name)
        if target is None and value < 0.05:
            continue
        band = "" if target is None else band_text(name, target.lower, target.upper)
        ends = (None, None) if target is None else (target.lower, target.upper)
        yield name, target_value(name, value, *ends), band, unit, name


def _card_grid(page: BatchSheet) -> CardGrid:
    sugars = sorted({row.sugar_g_l for row in page.card})
    strengths = sorted({row.strength_pct_vol for row in page.card})
    cells = {(row.strength_pct_vol, row.sugar_g_l): row for row in page.card}

    def text(strength: float, sugar: float) -> str:
        row = cells.get((strength, sugar))
        if row is None:
            return ""
        if row.additions is None:
            return f"adding does not help: {row.why}"
        return ", ".join(f"{grams(mass)} g {name}" for name, mass in row.additions) or "nothing"

    return CardGrid(
        sugars, [(strength, [text(strength, sugar) for sugar in sugars]) for strength in strengths]
    )


def _clock(action: Action) -> str:
    if action.at is not None:
        return f"{action.at:%a} {_hour(action.at)}"
    if action.after_h is None:
        return "when done"
    return "at once" if action.after_h == 0.0 else f"+ {duration(action.after_h)}"


def _hour(moment: datetime) -> str:
    return f"{moment:%H:%M}"


def _day(moment: datetime) -> str:
    return f"{moment:%A} {moment.day} {moment:%B %Y}"


def _grouped(text: str) -> str:
    return " ".join(text[start : start + 4] for start in range(0, len(text), 4))


def _amount(row: ParRow, name: str) -> str:
    mass_kg = getattr(row, name)
    return counted(row, mass_kg) if mass_kg else ""


def _counted_in(row: ParRow) -> str:
    if row.in_pieces:
        return "pieces"
    if row.litre_kg is None:
        return "g"
    return "L" if row.bottle_l is None else f"bottles of {row.bottle_l * 100:g} cl"


def _take(line: MenuLine) -> str:
    if line.packs is None:
        return f"{math.ceil(line.amount_kg * 1000.0 - 1e-6)} g"
    return f"{line.packs}"


def _label_lines(page: LabelSheet) -> Iterator[tuple[str, str]]:
    """Give the lines of a label in the order the law asks for where it is sold."""
    one = page.label
    is_us = one.jurisdiction == "US"
    names = [category.name for category in one.categories if category.fits and not category.general]
    volume = "" if one.bottle_l is None else _volume(one.bottle_l, us=is_us)
    yield "name", one.name
    if is_us:
        yield "text", names[0] if names else "class and type: ____________"
        yield "figures", f"Alc. {one.strength_text}% by vol."
        yield "figures", volume or "net contents: ________"
        yield "text", "bottled by, city and state: ______________________"
    else:
        yield "text", names[0] if names else "legal name: ____________"
        yield "figures", f"{one.strength_text} % vol   {volume or '____ cl'}"
    if one.ingredients:
        yield (
            "text",
            f"Ingredients: {', '.join(part.name.partition(',')[0].lower() for part in one.ingredients)}",
        )
    if one.allergens:
        yield "text", f"CONTAINS: {', '.join(allergen.name for allergen in one.allergens)}"
    if not is_us:
        yield "text", f"100 mL: {one.energy.kj:.0f} kJ / {one.energy.kcal:.0f} kcal"
    if one.keep:
        yield "text", one.keep
    yield "text", f"Lot {page.lot or '____________'}"
    yield "text", f"Bottled {page.bottled.isoformat() if page.bottled else '____________'}"
    if not is_us:
        yield "text", "made by, address: ______________________"
    for note in one.notes:
        if note.code == "us_government_warning" and is_us:
            yield "text", "[Government Warning here, word for word: 27 CFR 16.21]"


def _volume(litres: float, *, us: bool) -> str:
    if us:
        return f"{litres * 1000:g} mL" if litres < 1.0 else f"{litres:g} L"
    return f"{litres * 100:g} cl" if litres < 1.0 else f"{litres:g} L"
