"""Bands, the limits on a figure, and single quantities: reading and writing."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from decimal import Context, Decimal
from fractions import Fraction
from typing import Literal

from formulate.errors import UnitError
from formulate.quantity.numbers import Number, refuse_range, split, text_of
from formulate.quantity.units import AT_MOST_ONE, EXAMPLES, Dimension, accepted_units, read_number, shown

_EXAMPLE_BAND = {
    Dimension.STRENGTH: "22 ± 0.3 % vol",
    Dimension.MASS_CONCENTRATION: "180 ± 5 g/L",
    Dimension.BITTERNESS: "25 ± 4",
    Dimension.SHARE: "30 to 60 %",
    Dimension.RATIO: "8 to 12",
}
ABOUT = re.compile(
    r"(?P<word>about|around|approximately|approx\.?|roughly|circa|ca\.?|~|≈)\s*(?P<rest>.*)", re.IGNORECASE
)
_ONE_SIDED = re.compile(r"(at most|at least|exactly)\s+(.*)", re.IGNORECASE)
_LIKE_AT_MOST = re.compile(
    r"(?P<word><=|≤|<|max(?:imum|\.)?|under|below|less than|up to|no more than|not more than)\s*(?P<rest>.*)",
    re.IGNORECASE,
)
_LIKE_AT_LEAST = re.compile(
    r"(?P<word>>=|≥|>|min(?:imum|\.)?|over|above|more than|from|no less than|not less than)\s*(?P<rest>.*)",
    re.IGNORECASE,
)
_BETWEEN = re.compile(r"between\s+(.*?)\s+and\s+(.*)", re.IGNORECASE)
# Ten times the relative slack a recipe is verified with: narrower is no tolerance but a slip of the pen.
_NARROWEST = Fraction(1, 10**6)
_Form = Literal["plain", "at most", "at least", "exactly", "to", "±"]


@dataclass(frozen=True, slots=True)
class Band:
    """Limits on one figure, in the canonical unit of its dimension.

    Attributes
    ----------
    lower, upper : float or None
        The ends, both allowed; None where there is no limit.
    dimension : Dimension
        What is limited.
    text : str
        As typed (not compared).
    plain : bool
        True for a single value without tolerance: ``lower == upper`` until `with_tolerance`.
    """

    lower: float | None
    upper: float | None
    dimension: Dimension
    text: str = field(default="", compare=False)
    plain: bool = False

    def with_tolerance(self, tolerance: float) -> Band:
        """Return the band ``value ± tolerance`` of a plain value; any other band is returned as it is.

        Ends below nothing or above the whole (100 % vol) are cut off there.

        Parameters
        ----------
        tolerance : float
            Half the width in the canonical unit, above zero.

        Raises
        ------
        UnitError
            If the tolerance is not above zero.
        """
        if not self.plain or self.lower is None or self.upper is None:
            return self
        if not tolerance > 0:
            raise UnitError(f"a tolerance must be above zero, got {tolerance:g}.")
        lower = self.lower - tolerance
        if self.dimension is not Dimension.TEMPERATURE:
            lower = max(lower, 0.0)
        upper = self.upper + tolerance
        if self.dimension in AT_MOST_ONE:
            upper = min(upper, float(AT_MOST_ONE[self.dimension]))
        return replace(self, lower=lower, upper=upper, plain=False)


def parse_quantity(text: object, dimension: Dimension) -> float:
    """Read one quantity with its unit.

    Parameters
    ----------
    text : str
        Such as ``70 cl``. A plain number is accepted for `Dimension.RATIO` and `Dimension.BITTERNESS` only.
    dimension : Dimension
        What is expected.

    Returns
    -------
    float
        In the canonical unit of the dimension, correctly rounded.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    example = EXAMPLES[dimension]
    typed = text_of(text, dimension, example)
    about = ABOUT.match(typed)
    if about:
        raise UnitError(
            f"'{about['word']}' says no number to work with, got {shown(typed)}. Write {about['rest']}."
        )
    if "±" in typed or _ONE_SIDED.match(typed):
        raise UnitError(f"one value is meant here, not a band, got {shown(typed)}. Write e.g. {example}.")
    refuse_range(typed)
    number, unit = split(typed, typed, example)
    return float(read_number(number, unit, typed, dimension))


def band_form(typed: str, example: str, about_advice: str) -> tuple[_Form, list[Number]]:
    """Find the form of a band and its numbers; a missing first unit is taken from the second."""
    got = shown(typed)
    about = ABOUT.match(typed)
    if about:
        raise UnitError(f"'{about['word']}' is not a limit, got {got}. {about_advice}")
    one_sided = _ONE_SIDED.match(typed)
    if one_sided:
        form: _Form = one_sided[1].lower()  # type: ignore[assignment]
        return form, [split(one_sided[2], typed, example)]
    for pattern, words in ((_LIKE_AT_MOST, "at most"), (_LIKE_AT_LEAST, "at least")):
        like = pattern.match(typed)
        if like:
            raise UnitError(f"a limit is written with words, got {got}. Write {words} {like['rest']}.")
    between = _BETWEEN.match(typed)
    if between:
        raise UnitError(f"a range is written with 'to', got {got}. Write {between[1]} to {between[2]}.")
    separator = "±" if "±" in typed else " to " if re.search(r" to ", typed, re.IGNORECASE) else None
    if separator is None:
        return "plain", [split(typed, typed, example)]
    ends = re.split(r"\s*±\s*" if separator == "±" else r"(?i) to ", typed)
    if len(ends) != 2:
        raise UnitError(f"not one band, got {got}. Write e.g. {example}.")
    first, second = (split(end.strip(), typed, example) for end in ends)
    if not first[1]:
        first = (first[0], second[1])
    if separator == "±":
        if second[0] < 0:
            raise UnitError(f"a tolerance must be positive, got {got}. Write e.g. {example}.")
        if second[0] <= abs(first[0]) * _NARROWEST:
            value = re.split(r"\s*±", typed)[0]
            exact = value if re.search(r"[^-+.0-9eE]", value) else f"{value} {second[1]}".rstrip()
            size = "of zero" if second[0] == 0 else "this small"
            raise UnitError(
                f"a tolerance {size} cannot be met, got {got}. Write exactly {exact} if that is meant."
            )
        if first[1] != second[1]:
            raise UnitError(f"the tolerance needs the unit of the value, got {got}. Write e.g. {example}.")
        return "±", [first, second]
    return "to", [first, second]


def limits(
    form: _Form,
    numbers: list[Number],
    typed: str,
    read: Callable[[Fraction, str], Fraction],
    *,
    below_zero: bool = False,
    whole: Fraction | None = None,
) -> tuple[float | None, float | None]:
    """Turn the form and numbers of a band into its two ends."""
    first, unit = numbers[0]
    if form == "±":
        tolerance = numbers[1][0]
        read(first, unit)
        bottom = first - tolerance if below_zero else max(first - tolerance, Fraction(0))
        if whole is None:
            return float(read(bottom, unit)), float(read(first + tolerance, unit))
        top = read(first, unit) + read(tolerance, unit)
        return float(read(bottom, unit)), float(min(top, whole))
    value = float(read(first, unit))
    if form == "to":
        upper = float(read(*numbers[1]))
        if value > upper:
            low, high = re.split(r"(?i) to ", typed)
            number = re.match(r"[-+.0-9eE]+", high)
            tail = high[number.end() :] if number and re.fullmatch(r"[-+.0-9eE]+", low) else ""
            swapped = f"{high.removesuffix(tail)} to {low}{tail}"
            raise UnitError(
                f"the lower end is above the upper end, got {shown(typed)}. Did you mean {swapped}?"
            )
        return value, upper
    return (None if form == "at most" else value), (None if form == "at least" else value)


def parse_band(text: object, dimension: Dimension) -> Band:
    """Read limits such as ``22 ± 0.3 % vol``, ``170 to 190 g/L``, ``at most 9 g/L`` or a plain value.

    Parameters
    ----------
    text : str
        ``A ± B unit`` (or ``+/-``), ``A to B unit``, ``at most``, ``at least``,
        ``exactly`` or one plain value.
    dimension : Dimension
        What is expected.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    example = _EXAMPLE_BAND.get(dimension, f"at most {EXAMPLES[dimension]}")
    typed = text_of(text, dimension, example)
    advice = f"Give a band: {example}, or leave it plain: the shelf's usual_tolerance is used."
    form, numbers = band_form(typed, example, advice)
    lower, upper = limits(
        form,
        numbers,
        typed,
        lambda number, unit: read_number(number, unit, typed, dimension),
        below_zero=dimension is Dimension.TEMPERATURE,
        whole=AT_MOST_ONE.get(dimension),
    )
    return Band(lower, upper, dimension, typed, plain=form == "plain")


def _friendly(value: float, dimension: Dimension) -> tuple[Fraction, str]:
    """Choose the unit a person would read, and the exact value in it."""
    exact, size = Fraction(value), abs(value)
    if dimension is Dimension.MASS:
        return (
            (exact, "kg")
            if size >= 1
            else (exact * 1000, "g")
            if size >= 1e-3 or not size
            else (exact * 10**6, "mg")
        )
    if dimension is Dimension.VOLUME:
        return (exact, "L") if size >= 1 else (exact * 1000, "mL")
    if dimension is Dimension.MASS_CONCENTRATION:
        return (exact, "g/L") if size >= 0.1 or not size else (exact * 1000, "mg/L")
    if dimension is Dimension.CONTENT:
        return (exact, "g/kg") if size >= 0.1 or not size else (exact * 1000, "mg/kg")
    if dimension is Dimension.TIME:
        return (
            (exact / 24, "days")
            if size >= 72
            else (exact, "h")
            if size >= 1 or not size
            else (exact * 60, "min")
        )
    if dimension in (Dimension.MASS_FRACTION, Dimension.SHARE):
        return exact * 100, accepted_units(dimension)[0]
    return exact, accepted_units(dimension)[0]


def _decimal_text(value: Fraction, digits: int) -> str:
    rounded = Context(prec=digits).divide(Decimal(value.numerator), Decimal(value.denominator))
    text = format(rounded, "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def format_quantity(value: float, dimension: Dimension, digits: int = 3) -> str:
    """Write a canonical value in the unit a person would read, such as 0.25 kg as ``250 g``.

    Parameters
    ----------
    value : float
        In the canonical unit of the dimension; finite.
    dimension : Dimension
        What it measures.
    digits : int
        Significant digits; trailing zeros are dropped. With 17 the text reads back to the same float.
    """
    exact, unit = _friendly(value, dimension)
    return f"{_decimal_text(exact, digits)} {unit}".rstrip()
