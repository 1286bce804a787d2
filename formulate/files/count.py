"""The count file: what is there on a day, what is on order, and which batches are under way."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Field

from formulate.files.days import DayText
from formulate.files.fields import AmountText, FrozenDict, Id, Text, Tuple, shown
from formulate.files.frozen import Frozen, FrozenMap
from formulate.files.models import FileModel, Source, opened
from formulate.quantity import Amount, AmountBasis

__all__ = ["Begun", "Count", "CountedLot", "OnOrder", "load_count"]

_COUNTED = (AmountBasis.MASS, AmountBasis.VOLUME, AmountBasis.BOTTLES, AmountBasis.PIECES)


def _counted(amount: Amount) -> Amount:
    if amount.basis not in _COUNTED:
        raise ValueError(f"not an amount on a shelf, got {shown(amount.text)}. Write e.g. 2.3 bottles.")
    return amount


CountedText = Annotated[AmountText, AfterValidator(_counted)]


class CountedLot(Frozen):
    """What is left of one delivery or batch."""

    name: Id = Field(validation_alias="of", description="What it is.", examples=["damson-aperitif"])
    amount: CountedText = Field(description="What is there of it.", examples=["3.5 L"])
    since: DayText = Field(description="When it came or was ready.", examples=["5 November 2026"])


class OnOrder(Frozen):
    """Something that was ordered and has not come."""

    name: Id = Field(validation_alias="of", description="What it is.", examples=["gin-40"])
    amount: CountedText = Field(description="How much comes.", examples=["6 bottles"])
    comes: DayText = Field(description="When.", examples=["12 November 2026"])


class Begun(Frozen):
    """A batch that is under way."""

    name: Id = Field(validation_alias="of", description="What it will be.", examples=["damson-aperitif"])
    gives: CountedText = Field(description="How much it gives.", examples=["9.1 L"])
    ready: DayText = Field(description="From when it may be poured.", examples=["11 November 2026"])
    vessel: Id | None = Field(default=None, description="Which one it holds until then.")


class Count(FileModel):
    """A count file."""

    day: DayText = Field(
        validation_alias="count",
        description="Day of the count, before opening.",
        examples=["9 November 2026"],
    )
    name: Text = Field(default="count", description="Name of the count.")
    on_hand: FrozenDict[CountedText] = Field(
        default_factory=FrozenMap,
        description="What is there, as fresh as a delivery; what is not named here or under `lots` is not.",
        examples=["{gin-40: 2.3 bottles}"],
    )
    lots: Tuple[CountedLot] = Field(default=(), description="What is there and since when.")
    on_order: Tuple[OnOrder] = Field(default=(), description="What was ordered and has not come.")
    begun: Tuple[Begun] = Field(default=(), description="Batches under way.")


def load_count(path: Source) -> Count:
    """Read a count file.

    Raises
    ------
    SpecError
        With every problem found, in file order.
    """
    return opened(Count, path)
