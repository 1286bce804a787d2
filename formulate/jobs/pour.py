"""`pour`: a drink file to what is in the glass, what it costs, and how to batch it ahead."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from formulate.bar.opening import open_pantry
from formulate.bar.serve import serve_of
from formulate.describe.pour_record import PourRecord
from formulate.describe.poured import pour_record, prebatch
from formulate.errors import UnitError
from formulate.files.aims import parse_size
from formulate.files.drink import load_drink
from formulate.files.models import Source
from formulate.planning.house_bottles import with_house_of
from formulate.quantity.words import read_option

__all__ = ["pour_drink"]


def pour_drink(
    path: Source, *, batch: str | None = None, leave_out: Sequence[str] = (), today: date | None = None
) -> PourRecord:
    """Work out a drink file.

    Parameters
    ----------
    batch : str, optional
        Size of a batch to make ahead, as a bottle file says it: ``6 bottles of 70 cl``, ``5 L bottled``,
        ``fill keg-10l (90 % of the vessel)``.
    leave_out : sequence of str
        What is kept out of the batch and added to each glass.
    today : date, optional
        What the age of the stock is counted to.

    Raises
    ------
    SpecError
        If a file is wrong.
    UnitError
        If the size is none, or a thing left out is not in the drink.
    """
    drink = load_drink(path)
    pantry = open_pantry(drink.shelf_path, drink.places, today=today)
    serve = serve_of(drink, with_house_of(drink, pantry))
    ahead = None if batch is None else prebatch(serve, read_option("--batch", batch, parse_size), leave_out)
    if batch is None and leave_out:
        raise UnitError("--leave-out is for a batch. Add --batch '6 bottles of 70 cl', or drop it.")
    return pour_record(serve, ahead)
