"""Reading the number at the start of a quantity, strictly, and saying what is wrong with it."""

from __future__ import annotations

import re
from fractions import Fraction

from formulate.errors import UnitError
from formulate.quantity.units import Dimension, refuse_unit, shown, unit_name

_PLAIN_CHARACTERS = {
    ord(c): " " for c in "\u00a0\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\t"
} | {
    ord("\u2212"): "-",
    ord("\u03bc"): "µ",
    ord("³"): "3",
    ord("º"): "°",
}
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[+-]?\.?(?:nan|inf|infinity|infinite)\b", re.IGNORECASE)

# A number whose exponent is never given back, so that 1e-3 g is no range from 1 e to 3 g.
_ATOM = r"[+-]?(?>[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)(?>(?:[eE][+-]?[0-9]+)?)"
_RANGE = re.compile(
    rf"(?P<low>{_ATOM})(?P<low_unit>[^-–—0-9]*?)(?:\s*[-–—]\s*|\s+to\s+)(?P<high>{_ATOM})(?P<unit>[^-–—]*)",
    re.IGNORECASE,
)
_DASH = re.compile(r"(?<=[0-9]) ?[-–—] ?(?=[+-]?[.0-9])")

LONGEST_TEXT = 120
_LARGEST_EXPONENT = 30
Number = tuple[Fraction, str]


def _plain(text: str) -> str:
    text = text.translate(_PLAIN_CHARACTERS).replace("+/-", "±").replace("+-", "±")
    return " ".join(text.split())


def refuse_range(typed: str) -> None:
    """Refuse ``5-7 g`` or ``5 to 7 g`` where one value is meant.

    Raises
    ------
    UnitError
        With both values to choose from.
    """
    found = _RANGE.fullmatch(typed)
    # Three digits after a comma may be thousands: `split` asks which is meant.
    if found is None or re.search(r",[0-9]{3}(?![0-9])", typed):
        return
    unit = found["unit"].strip()
    low = f"{found['low']} {found['low_unit'].strip() or unit}".strip().replace(",", ".")
    high = f"{found['high']} {unit}".strip().replace(",", ".")
    raise UnitError(f"one value is meant here, got {shown(typed)}. Give {low} or {high}.")


def split(text: str, typed: str, example: str) -> Number:
    """Split ``22 % vol`` into the exact number and the spelling of the unit."""
    got = shown(typed)
    if _NOT_FINITE.match(text):
        raise UnitError(f"not a finite number, got {got}. Give a plain number, e.g. {example}.")
    found = _NUMBER.match(text)
    if found is None:
        if re.match(r"[€$£¥]", text):
            raise UnitError(
                f"a currency is written as three capital letters, got {got}. Write e.g. 9.50 EUR."
            )
        raise UnitError(
            f"no number found, got {got or 'nothing'}. Write a number and its unit, e.g. {example}."
        )
    digits, rest = found[0], text[found.end() :]
    if re.match(r",[0-9]", rest):
        # Both ends of a range at once, so that the advice needs no advice itself.
        point = _DASH.sub(" to ", re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text), count=1)
        if re.match(r"(?:,[0-9]{3})+(?![0-9])", rest):
            plain = _DASH.sub(" to ", re.sub(r"(?<=[0-9]),(?=[0-9]{3})", "", text), count=1)
            raise UnitError(
                f"a comma inside the number, got {got}. Write {plain} or {point}, whichever is meant."
            )
        raise UnitError(f"a decimal comma, got {got}. Write {point}.")
    if re.match(r"[ _'][0-9]{3}(?![0-9])", rest):
        plain = re.sub(r"(?<=[0-9])[ _'](?=[0-9]{3}(?![0-9]))", "", text)
        raise UnitError(f"digits are not grouped, got {got}. Write {plain}.")
    if re.match(r" ?[-–—] ?[.0-9]", rest):
        plain = re.sub(r"(?<=[^eE]) ?[-–—] ?", " to ", text, count=1)
        raise UnitError(f"a range is written with 'to', got {got}. Write {plain}.")
    if re.match(r"[ ._'/]*[0-9]", rest):
        raise UnitError(f"not one number and one unit, got {got}. Write e.g. {example}.")
    _, _, exponent = digits.lower().partition("e")
    if len(digits) > 40 or len(exponent) > 4 or abs(int(exponent or 0)) > _LARGEST_EXPONENT:
        raise UnitError(f"a number far outside anything a bar weighs, got {got}. Check the digits.")
    return Fraction(digits), unit_name(rest)


def text_of(value: object, dimension: Dimension | None, example: str) -> str:
    """Bring a value from a file into one-line text, or refuse it.

    Raises
    ------
    UnitError
        If it is a bare number where a unit belongs, or no quantity at all.
    """
    if isinstance(value, str):
        if len(value) > LONGEST_TEXT:
            raise UnitError(f"too long for a quantity, got {shown(value)}. Write e.g. {example}.")
        return _plain(value)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        if dimension in (Dimension.RATIO, Dimension.BITTERNESS):
            return repr(value)
        if dimension is not None:
            raise refuse_unit("", repr(value), dimension)
        raise UnitError(f"the unit is missing, got {value!r}. Write e.g. {example}.")
    kind = {dict: "a map", list: "a list", bool: str(value).lower(), type(None): "nothing"}.get(
        type(value), shown(value)
    )
    raise UnitError(f"must be a quantity, got {kind}. Write e.g. {example}.")
