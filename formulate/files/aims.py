"""How a bottle says how much of it there shall be, and how bitter: short texts to frozen records."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Literal, cast

from formulate.errors import UnitError
from formulate.files.fields import LEAST_KG_OR_L, did_you_mean, shown
from formulate.quantity import (
    LARGEST_KG_OR_L,
    Amount,
    AmountBasis,
    Band,
    Dimension,
    parse_amount,
    parse_band,
    parse_quantity,
)

__all__ = [
    "BITTERNESS_WORDS",
    "BitternessAim",
    "Bottled",
    "Fill",
    "Like",
    "Measured",
    "SameAs",
    "Size",
    "Use",
    "Word",
    "parse_bitterness",
    "parse_size",
]

BITTERNESS_WORDS = ("light", "medium", "firm", "strong")
MOST_DIGITS = 6
_ID = r"[a-z0-9]+(?:-[a-z0-9]+)*"
_SIZE_EXAMPLES = (
    "`5 L bottled`, `12 bottles of 50 cl`, `use 3 bottles of vodka-40`, `use all damson` or "
    "`fill jar-4l (80 % of the vessel)`"
)
_THREE_WAYS = "Write light, medium, firm or strong; or `like 1.2 g/L gentian-root`; or `25 ± 4 (measured)`."


@dataclass(frozen=True, slots=True)
class Bottled:
    """So much in the bottle: `volume_l` litres, perhaps as `bottles` of `bottle_l` litres."""

    volume_l: float
    bottles: int | None = None
    bottle_l: float | None = None
    text: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Use:
    """As much as `amount` of an ingredient makes; None uses all that is on hand."""

    ingredient: str
    amount: Amount | None = None
    text: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Fill:
    """As much as fills `fraction` (0 to 1) of a vessel."""

    vessel: str
    fraction: float
    text: str = field(default="", compare=False)


Size = Bottled | Use | Fill


@dataclass(frozen=True, slots=True)
class Word:
    """A working band by name."""

    word: Literal["light", "medium", "firm", "strong"]
    text: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Like:
    """As bitter as `amount` (kg per L bottled) of a botanical."""

    amount: Amount
    ingredient: str
    text: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class SameAs:
    """As bitter as a reference thinned one part in `dilution` until the bitterness is just gone."""

    reference: str
    dilution: float
    text: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Measured:
    """A measured bitterness value."""

    band: Band
    text: str = field(default="", compare=False)


BitternessAim = Word | Like | SameAs | Measured


def parse_size(value: object) -> Size:
    """Read the size of a batch.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    if not isinstance(value, str):
        raise UnitError(
            f"must say what is bottled, used or filled, got {shown(value)}. Write {_SIZE_EXAMPLES}."
        )
    text = " ".join(value.split())
    several = re.fullmatch(r"([0-9]+) bottles? of (.+)", text, re.IGNORECASE)
    if several:
        bottle_l = _above_zero(parse_quantity(several[2], Dimension.VOLUME), text)
        if len(several[1]) > MOST_DIGITS:
            raise UnitError(f"more bottles than any bar fills, got {shown(text)}. Check the number.")
        count = int(_above_zero(int(several[1]), text))
        return Bottled(_a_batch(count * bottle_l, text), count, bottle_l, text)
    bottled = re.fullmatch(r"(.+?) bottled", text, re.IGNORECASE)
    if bottled:
        return Bottled(_a_batch(parse_quantity(bottled[1], Dimension.VOLUME), text), text=text)
    use_all = re.fullmatch(rf"use all (?:of )?(?:the )?({_ID})", text, re.IGNORECASE)
    if use_all:
        return Use(use_all[1], None, text)
    use = re.fullmatch(rf"use (.+) of ({_ID})", text, re.IGNORECASE)
    if use:
        amount = parse_amount(use[1])
        if amount.basis not in (
            AmountBasis.MASS,
            AmountBasis.VOLUME,
            AmountBasis.BOTTLES,
            AmountBasis.PIECES,
        ):
            raise UnitError(f"not an amount to use up, got {shown(text)}. Write e.g. use 2.4 kg of {use[2]}.")
        _a_batch(amount.value, text)
        return Use(use[2], amount, text)
    fill = re.fullmatch(rf"fill ({_ID}) \((.+?) of (?:the|it)(?: vessel)?\)", text, re.IGNORECASE)
    if fill:
        fraction = parse_quantity(fill[2], Dimension.SHARE)
        return Fill(fill[1], _above_zero(fraction, text), text)
    vessel = re.fullmatch(rf"fill ({_ID})", text, re.IGNORECASE)
    if vessel:
        raise UnitError(
            f"how full is missing, got {shown(text)}. Write fill {vessel[1]} (80 % of the vessel)."
        )
    volume = re.fullmatch(r"[-+.0-9]+ ?(?:L|l|ml|mL|cl|gal|litres?|liters?)", text)
    if volume:
        raise UnitError(f"a volume of what is missing, got {shown(text)}. Write {text} bottled.")
    raise UnitError(f"not a size, got {shown(text)}. Write {_SIZE_EXAMPLES}.")


def _a_batch(value: float, text: str) -> float:
    """Refuse a size (L, kg or a count) that no bar makes."""
    _above_zero(value, text)
    if not LEAST_KG_OR_L <= value <= LARGEST_KG_OR_L:
        what = "less than a drop" if value < LEAST_KG_OR_L else "more than any bar holds"
        raise UnitError(f"{what}, got {shown(text)}. Check the number and the unit.")
    return value


def _above_zero(value: float, text: str) -> float:
    if not value > 0:
        raise UnitError(f"must be above zero, got {shown(text)}. Check the number.")
    return value


def _unmeasured(value: object) -> UnitError:
    return UnitError(f"a bitterness value that nobody measured, got {shown(value)}. {_THREE_WAYS}")


def parse_bitterness(value: object) -> BitternessAim:
    """Read how bitter a bottle shall be.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        raise _unmeasured(value)
    if not isinstance(value, str):
        raise UnitError(f"not a way to say how bitter, got {shown(value)}. {_THREE_WAYS}")
    text = " ".join(value.split())
    if text.lower() in BITTERNESS_WORDS:
        return Word(cast("Literal['light', 'medium', 'firm', 'strong']", text.lower()), text)
    like = re.fullmatch(rf"like (.+?)(?: of)? ({_ID})", text, re.IGNORECASE)
    if like:
        amount = parse_amount(like[1])
        if amount.basis is not AmountBasis.MASS_PER_LITRE:
            raise UnitError(
                f"a mass per litre is needed, got {shown(text)}. Write e.g. like 1.2 g/L {like[2]}."
            )
        _above_zero(amount.value, text)
        return Like(amount, like[2], text)
    same = re.fullmatch(r"same as (.+?), thinned (\S+) in (\S+)", text, re.IGNORECASE)
    if same:
        part = parse_quantity(same[2], Dimension.RATIO)
        whole = parse_quantity(same[3], Dimension.RATIO)
        if not 0 < part <= whole:
            raise UnitError(
                f"thinning needs one part in a larger whole, got {shown(text)}. Write e.g. thinned 1 in 30."
            )
        return SameAs(same[1], whole / part, text)
    if re.match(r"same as ", text, re.IGNORECASE):
        raise UnitError(
            f"how far it was thinned is missing, got {shown(text)}. Write {shown(text)}, thinned 1 in 30: "
            "thin it with water until the bitterness is just gone."
        )
    measured = re.fullmatch(r"(.+?) ?\(measured\)", text, re.IGNORECASE)
    if measured:
        band = parse_band(measured[1], Dimension.BITTERNESS)
        return Measured(band, text)
    if re.match(r"[-+.0-9]|at most|at least|exactly", text, re.IGNORECASE):
        raise _unmeasured(text)
    hint = did_you_mean(text.lower(), BITTERNESS_WORDS, list_up_to=0)
    raise UnitError(
        f"not a way to say how bitter, got {shown(text)}. {hint + ' ' if hint else ''}{_THREE_WAYS}"
    )
