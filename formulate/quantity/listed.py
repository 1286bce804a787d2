"""Figures as suppliers' lists write them: ``1.234,50``, ``1 234,50 €``, ``6 x 0,7 l``.

A file of ours is written with a decimal point. What a supplier sends may have a comma, and groups its
thousands by a point, a blank or an apostrophe. Where a figure can be read in two ways and nobody said which
sign parts the decimals, it is refused.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Literal

from formulate.errors import UnitError
from formulate.quantity.amounts import Amount, AmountBasis, parse_amount
from formulate.quantity.units import Dimension, factor, find_unit, shown, unit_name

__all__ = ["DecimalSign", "decimal_text", "parse_listed_amount", "parse_listed_money", "parse_listed_number"]

DecimalSign = Literal["dot", "comma"]

LONGEST_TEXT = 200
SIGNS: dict[str, frozenset[str]] = {
    "€": frozenset({"EUR"}),
    "£": frozenset({"GBP", "EGP", "LBP"}),
    "$": frozenset({"USD", "CAD", "AUD", "NZD", "SGD", "HKD", "TWD", "MXN", "ARS", "CLP", "COP"}),
    "¥": frozenset({"JPY", "CNY"}),
    "₹": frozenset({"INR"}),
    "zł": frozenset({"PLN"}),
    "kr": frozenset({"SEK", "NOK", "DKK", "ISK"}),
    "fr": frozenset({"CHF"}),
}
"""Signs that lists write for a currency, and the codes of ISO 4217 they may stand for (from memory)."""

_SHORT = {
    **dict.fromkeys(("pc", "pcs", "pce", "pz", "ea", "each"), "pieces"),
    **dict.fromkeys(("btl", "btls", "bt", "bot"), "bottles"),
    **dict.fromkeys(("lt", "ltr", "ltrs"), "L"),
}
"""How lists shorten what is counted or measured (common practice)."""

_CHARACTERS = {
    ord(c): " " for c in "\u00a0\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\t\r\n"
} | {
    ord("\u2212"): "-",
    ord("\u2019"): "'",
    ord("×"): "x",
}
_MARK = {"dot": ".", "comma": ","}
_LEADING = re.compile(r"[-+]?\s*[0-9.,][0-9.,' ]*")
_CASE = re.compile(r"(?P<count>[1-9][0-9]{0,2})\s*[xX*]\s*(?P<each>[0-9.,].*)")
_PER = re.compile(r"\s*(?:/|\bper\b|\ba\b)\s*(?P<unit>[^\W\d]+)\s*$", re.IGNORECASE)


def _plain(text: str) -> str:
    return " ".join(text.translate(_CHARACTERS).split())


def decimal_text(value: float | Fraction) -> str:
    """Write a number in plain digits with a decimal point, as few as say it."""
    text = f"{float(value):.12f}"
    return text.rstrip("0").rstrip(".")


def parse_listed_number(text: str, decimal: DecimalSign | None = None) -> Fraction:
    """Read one number of a list.

    Parameters
    ----------
    text : str
        Such as ``1.234,50``, ``1 234,50`` with any kind of blank, ``1'234.50`` or ``12,5``.
    decimal : {"dot", "comma"}, optional
        Which sign parts the decimals. Without it a number that can be read in two ways is refused.

    Returns
    -------
    Fraction
        Exactly what is written.

    Raises
    ------
    UnitError
        If it is no number, or could be two.
    """
    typed, got = _plain(text), shown(text)
    found = re.fullmatch(r"(?P<sign>[-+]?)\s*(?P<digits>[0-9.,' ]*[0-9][0-9.,' ]*)", typed)
    if found is None or len(typed) > LONGEST_TEXT:
        raise UnitError(f"no number, got {got or 'nothing'}.")
    digits = found["digits"].strip()
    mark = _MARK[decimal] if decimal is not None else _told_by_itself(digits, got)
    whole, has_decimals, decimals = digits.partition(mark)
    if not re.fullmatch(r"[0-9]*", decimals) or (has_decimals and not decimals):
        raise UnitError(_wrong_mark(digits, mark, got) if decimal else f"no number, got {got}.")
    grouped = re.fullmatch(r"[0-9]{1,3}(?:([.,' ])[0-9]{3})(?:\1[0-9]{3})*", whole)
    if whole and not whole.isdigit() and (grouped is None or whole.startswith("0")):
        raise UnitError(_wrong_mark(digits, mark, got))
    plain = re.sub(r"[^0-9]", "", whole) or "0"
    if len(plain) + len(decimals) > 40:
        raise UnitError(f"a number far outside anything a bar weighs, got {got}. Check the digits.")
    value = Fraction(f"{plain}.{decimals}" if decimals else plain)
    return -value if found["sign"] == "-" else value


def _told_by_itself(digits: str, got: str) -> str:
    """Tell the decimal sign where the number itself says it."""
    marks = [character for character in digits if character in ".,"]
    if not marks:
        return "."
    if len(set(marks)) == 2:
        return marks[-1] if marks.count(marks[-1]) == 1 else "."
    (mark,) = set(marks)
    if len(marks) > 1:
        return "," if mark == "." else "."
    before, _, after = digits.partition(mark)
    if re.fullmatch(r"[1-9][0-9]{0,2}", before.strip()) and re.fullmatch(r"[0-9]{3}", after):
        point, none = f"{before}.{after}", f"{before}{after}"
        raise UnitError(
            f"may be {point} or {none}, got {got}. Say `decimal: comma` or `decimal: dot` for the list."
        )
    return mark


def _wrong_mark(digits: str, mark: str, got: str) -> str:
    other = "," if mark == "." else "."
    said, is_said = ("a decimal dot", "commas") if mark == "," else ("a decimal comma", "dots")
    if digits.count(other) == 1 and mark not in digits:
        return f"{said} where the list has decimal {is_said}, got {got}. Correct the cell, or `decimal:`."
    return f"the digits are not grouped by thousands, got {got}. Write the number plainly."


def parse_listed_money(
    text: str, currency: str, decimal: DecimalSign | None = None
) -> tuple[Fraction, Literal["kg", "L"] | None]:
    """Read a price of a list, with or without the sign or code of its currency.

    Parameters
    ----------
    text : str
        Such as ``9,40``, ``€ 9.40``, ``9.40 EUR/kg`` or ``9,40 €/l``.
    currency : str
        What the list is said to be in.
    decimal : {"dot", "comma"}, optional
        See `parse_listed_number`.

    Returns
    -------
    Fraction
        Of one pack, kg or L; may be nothing or less.
    {"kg", "L"} or None
        What the cell itself says it is for.

    Raises
    ------
    UnitError
        If it is no price, or one in another currency.
    """
    typed, got = _plain(text), shown(text)
    per: Literal["kg", "L"] | None = None
    said = _PER.search(typed)
    each = Fraction(1)
    if said is not None and re.search(r"[0-9]", typed[: said.start()]):
        unit = unit_name(said["unit"])
        mass, volume = find_unit(unit, Dimension.MASS), find_unit(unit, Dimension.VOLUME)
        if mass is not None:
            per, each = "kg", factor(Dimension.MASS, mass)
        elif volume is not None:
            per, each = "L", factor(Dimension.VOLUME, volume)
        else:
            raise UnitError(f"a price is per kg, per L or for the pack, got {got}.")
        typed = typed[: said.start()].strip()
    words = [word for word in re.split(r"[-+]?[0-9][0-9.,' ]*|[-+]?[.,][0-9]+", typed) if word.strip(" -+.")]
    for word in words:
        refuse_currency(word, currency, got)
        typed = typed.replace(word, " ", 1)
    return parse_listed_number(typed, decimal) / each, per


def refuse_currency(word: str, currency: str, got: str) -> None:
    """Refuse a sign or code that does not stand for a currency.

    Parameters
    ----------
    word : str
        Sign or code.
    currency : str
        Code of what is meant.
    got : str
        As typed, for the message.

    Raises
    ------
    UnitError
    """
    name = word.strip(" -+.").strip()
    if name.upper() == currency or currency in SIGNS.get(name.lower(), ()):
        return
    if name.lower() in SIGNS or re.fullmatch(r"[A-Z]{3}", name):
        raise UnitError(f"another currency than {currency}, got {got}.")
    raise UnitError(f"no price, got {got}.")


def parse_listed_amount(text: str, unit: str = "", decimal: DecimalSign | None = None) -> Amount:
    """Read the size of a pack, or what is in stock.

    Parameters
    ----------
    text : str
        Such as ``70 cl``, ``0,7 l`` or ``6 x 0.7 L``.
    unit : str
        Of a number that has none in its cell.
    decimal : {"dot", "comma"}, optional
        See `parse_listed_number`.

    Raises
    ------
    UnitError
        If the unit is missing, or it is no amount.
    """
    typed, got = _plain(text), shown(text)
    case = _CASE.fullmatch(typed)
    count, each = (int(case["count"]), case["each"]) if case else (1, typed)
    found = _LEADING.match(each)
    if found is None:
        raise UnitError(f"no amount, got {got or 'nothing'}.")
    value = parse_listed_number(found[0], decimal)
    if value < 0:
        raise UnitError(f"less than nothing, got {got}.")
    own, unit = _unit_of(each[found.end() :]), _unit_of(unit)
    if own and unit and own != unit:
        raise UnitError(f"another unit than the one beside it, {unit}: got {got}.")
    if not own and not unit:
        raise UnitError(f"the unit is missing, got {got}. Name a column or a unit for it in the shelf file.")
    one = parse_amount(f"{decimal_text(value)} {own or unit}")
    if count > 1 and one.basis not in (AmountBasis.MASS, AmountBasis.VOLUME, AmountBasis.PIECES):
        raise UnitError(f"no size of a pack, got {got}.")
    # Six times 0.7 is 4.2, whatever the last bit of the float says.
    return (
        one if count == 1 else Amount(round(one.value * count, 12), one.basis, f"{count} x {one.text}", count)
    )


def _unit_of(text: str) -> str:
    name = " ".join(text.split()).rstrip(".")
    return unit_name(_SHORT.get(name.casefold(), name if name in ("L", "mL") else name.lower()))
