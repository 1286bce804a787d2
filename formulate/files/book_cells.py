"""One cell to what would stand in a file, and back: whatever would not come back the same gets no cell."""

from __future__ import annotations

import re
from datetime import date, datetime
from typing import Any

from formulate.files.book_layout import BookColumn, Form

__all__ = ["Cell", "cell_of", "typed"]

Cell = str | float | None

_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")


def typed(
    column: BookColumn, value: object, currency: str, shown_as: str, *, knows_formats: bool = True
) -> Any:
    """Turn a cell into what would stand in a file.

    Raises
    ------
    ValueError
        In words, if it cannot be read in one way.
    """
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    unit = currency if column.unit == "money" else column.unit
    if column.form is Form.YES:
        words = {"yes": True, "no": False, "true": True, "false": False}
        word = str(value).strip().lower()
        if word not in words:
            raise ValueError(f"must be yes or no, got {value}. Choose one.")
        return words[word]
    if isinstance(value, bool):
        raise ValueError(f"must be text, got {str(value).lower()}. Type it in words.")
    if isinstance(value, datetime) and (value.hour or value.minute):
        return f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, (datetime, date)):
        return f"{value:%Y-%m-%d}"
    if isinstance(value, (int, float)):
        if unit == "%":
            if not knows_formats:
                raise ValueError("a percentage is read as text in an .ods. Type '20 % with the apostrophe.")
            value = round(value * 100.0, 10) if shown_as.rstrip().endswith("%") else value
        text = _figure(float(value), money=column.unit == "money")
        if column.form is Form.NUMBER:
            return _number(text)
        return f"{text} {unit}".strip()
    text = str(value).strip()
    if column.form is Form.NUMBER and _NUMBER.fullmatch(text):
        return _number(text)
    if column.form in (Form.NAMES, Form.NAME_OR_NAMES):
        names = [name.strip() for name in text.split(",") if name.strip()]
        return names[0] if column.form is Form.NAME_OR_NAMES and len(names) == 1 else names
    return f"{text} {unit}" if unit and _NUMBER.fullmatch(text) else text


def _number(text: str) -> int | float | str:
    if text.isdigit():
        return int(text)
    return float(text) if _NUMBER.fullmatch(text) else text


def _figure(value: float, *, money: bool) -> str:
    if money and abs(value * 100.0 - round(value * 100.0)) < 1e-9:
        return f"{value:.2f}"
    return f"{value:.12g}" if abs(value) < 1e12 else repr(value)


def cell_of(column: BookColumn, value: Any, currency: str) -> Cell:
    """Write a value as a cell that gives it back as it was; None where none does."""
    cell: Cell
    if isinstance(value, bool):
        cell = ("yes" if value else "no") if column.form is Form.YES else None
    elif isinstance(value, list):
        cell = ", ".join(value) if value and all(isinstance(one, str) for one in value) else None
    elif isinstance(value, (int, float)):
        cell = float(value)
    elif isinstance(value, str):
        cell = value
        if column.unit == "money" and re.fullmatch(rf"[0-9]+\.[0-9]{{2}} {re.escape(currency)}", value):
            cell = float(value.split()[0])
    else:
        cell = None
    if cell is None or (isinstance(cell, str) and not all(one.isprintable() for one in cell)):
        return None
    try:
        return cell if typed(column, cell, currency, "") == value else None
    except ValueError:
        return None
