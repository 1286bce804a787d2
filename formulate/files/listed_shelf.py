"""A shelf with what its price lists say: their rows become offers, their stock what is on hand."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from formulate.errors import SpecError, SpecProblem
from formulate.files.frozen import FrozenMap
from formulate.files.issues import IssuesError
from formulate.files.library import Library
from formulate.files.list_rows import ListedRows, ListRow, read_list
from formulate.files.models import Source, opened, resolved_beside
from formulate.files.price_list import PriceList
from formulate.files.shelf import Offer, Shelf
from formulate.quantity import AmountBasis, Money

__all__ = ["list_path", "load_shelf", "read_lists", "stocked_from_lists", "with_price_lists"]

_POURED = (AmountBasis.VOLUME, AmountBasis.BOTTLES, AmountBasis.MASS)


def list_path(shelf: Shelf, given: PriceList) -> Path:
    """Return where a price list is, seen from where the shelf file was read."""
    path = resolved_beside(shelf.path, given.file)
    assert path is not None
    return path


def read_lists(shelf: Shelf) -> tuple[ListedRows, ...]:
    """Read every price list of a shelf, each with what is wrong with it."""
    return tuple(
        read_list(given, number, shelf.places, list_path(shelf, given), shelf.currency)
        for number, given in enumerate(shelf.price_lists)
    )


def stocked_from_lists(shelf: Shelf, read: tuple[ListedRows, ...] | None = None) -> Shelf:
    """Put the rows of the price lists among the offers of a shelf.

    Parameters
    ----------
    shelf : Shelf
        As its file says.
    read : tuple of ListedRows, optional
        Its lists, where they were read already.

    Raises
    ------
    SpecError
        With everything wrong in the lists, or between them and the shelf; nothing is taken then.
    """
    lists = read_lists(shelf) if read is None else read
    if problems := [problem for one in lists for problem in one.problems]:
        raise SpecError(dict.fromkeys(problems))
    stocking = _Stocking(shelf)
    for number, (given, one) in enumerate(zip(shelf.price_lists, lists, strict=True)):
        for row in one.rows:
            stocking.take(number, given, row)
    if stocking.problems:
        raise SpecError(dict.fromkeys(stocking.problems))
    return shelf.model_copy(
        update={
            "offers": stocking.sold(lambda name: name not in shelf.supplies),
            "supplies": stocking.sold(lambda name: name in shelf.supplies),
            "whole": FrozenMap(stocking.whole),
            "house_on_hand": FrozenMap(stocking.house),
            "house_made": FrozenMap(stocking.house_made),
        }
    )


class _Stocking:
    """Takes row by row; what is typed in the shelf and stands in a list too is refused, not guessed at."""

    def __init__(self, shelf: Shelf) -> None:
        self.shelf = shelf
        self.offers = {
            name: list(offers) for name, offers in (*shelf.offers.items(), *shelf.supplies.items())
        }
        self.whole = dict(shelf.whole)
        self.house = dict(shelf.house_on_hand)
        self.house_made = dict(shelf.house_made)
        self.problems: list[SpecProblem] = []
        self.taken: set[str] = set()
        self.counted: dict[str, int | None] = {
            name: None for name, offers in self.offers.items() if any(offer.on_hand for offer in offers)
        }
        self.counted |= {name: None for name, one in shelf.whole.items() if one.on_hand is not None}
        self.counted |= {name: None for name, one in shelf.house_made.items() if one.on_hand is not None}

    def sold(self, wanted: Callable[[str], bool]) -> FrozenMap[str, tuple[Offer, ...]]:
        """Return the offers of some names."""
        return FrozenMap({name: tuple(offers) for name, offers in self.offers.items() if wanted(name)})

    def take(self, number: int, given: PriceList, row: ListRow) -> None:
        """Take one row of a list."""
        if row.values.on_hand is not None and self.counted.setdefault(row.name, number) != number:
            self._refuse(row, "what is on hand of it is said elsewhere on the shelf too. Keep one.")
            return
        if row.values.price is None:
            self._count(row)
            return
        if row.name in self.shelf.house_made:
            self._refuse(row, "the shelf makes it itself. Give what is sold another name.")
            return
        if row.name in self.whole:
            self._price_whole(row, given)
            return
        try:
            offer = Offer(
                pack=row.values.pack,
                price=row.values.price,
                supplier=given.supplier,
                on_hand=row.values.on_hand,
                tax=given.tax,
                tax_rate=row.values.tax_rate,
                deposit=row.values.deposit,
                seen=given.seen,
                until=given.until,
            )
        except ValidationError as error:
            self._refuse(row, " ".join(_messages(error)))
            return
        pieces = offer.pack is not None and offer.pack.basis is AmountBasis.PIECES
        if row.name in self.shelf.supplies and not (pieces and offer.price.per is None):
            self._refuse(row, "a supply is bought by the pack, counted in pieces. Write e.g. 24 pieces.")
            return
        there = self.offers.setdefault(row.name, [])
        for other in there:
            if (other.supplier, other.pack) == (offer.supplier, offer.pack):
                what = f"{other.price.text} for {other.pack.text if other.pack else 'it'}"
                who = f" from {other.supplier}" if other.supplier else ""
                self._refuse(row, f"the shelf has a price for the same already, {what}{who}. Keep one.")
                return
        there.append(offer)

    def _price_whole(self, row: ListRow, given: PriceList) -> None:
        """Give a whole fruit the price of a list: by weight, by the piece or by the case."""
        price, pack, whole = row.values.price, row.values.pack, self.whole[row.name]
        assert price is not None
        pieces = 1 if pack is None else round(pack.value)
        if price.per is None and pack is not None and pack.basis is AmountBasis.MASS:
            price = Money(price.value / pack.value, price.currency, "kg", price.text)
        elif price.per is None and pack is not None and pack.basis is AmountBasis.PIECES:
            price = Money(price.value / pieces, price.currency, None, price.text)
        if price.per == "L" or (price.per is None and whole.piece_kg is None):
            self._refuse(row, "a whole thing is priced per piece, with `piece:` on the shelf, or per kg.")
            return
        self.whole[row.name] = whole.model_copy(
            update={
                "price": price,
                "supplier": given.supplier or whole.supplier,
                "case_pieces": pieces if price.per is None else 1,
                "tax": given.tax,
                "tax_rate": row.values.tax_rate,
                **({} if row.values.on_hand is None else {"on_hand": row.values.on_hand}),
            }
        )

    def _count(self, row: ListRow) -> None:
        """Take what is on hand from a list without prices."""
        amount = row.values.on_hand
        assert amount is not None
        if row.name in self.taken and (row.name in self.house_made or row.name in self.whole):
            self._refuse(row, "counted in two rows. Add them up in one.")
            return
        self.taken.add(row.name)
        if row.name in self.house_made:
            self.house_made[row.name] = self.house_made[row.name].model_copy(update={"on_hand": amount})
        elif row.name in self.whole:
            whole = self.whole[row.name]
            fits = amount.basis is AmountBasis.MASS or (
                amount.basis is AmountBasis.PIECES and whole.piece_kg is not None
            )
            if not fits:
                self._refuse(row, f"a whole thing is counted or weighed, got {amount.text}.")
                return
            self.whole[row.name] = whole.model_copy(update={"on_hand": amount})
        elif offers := self.offers.get(row.name):
            free = next((at for at, offer in enumerate(offers) if offer.on_hand is None), None)
            if free is None:  # several rows of one list for one thing
                offers.append(offers[0].model_copy(update={"on_hand": amount}))
            else:
                offers[free] = offers[free].model_copy(update={"on_hand": amount})
        elif row.name in self.house:
            self._refuse(row, "counted in two rows. Add them up in one.")
        elif amount.basis in _POURED and row.name not in Library.built_in():
            self.house[row.name] = amount  # a bottle of the house, which menus know
        else:
            self._refuse(row, "nobody sells it on this shelf. Add an offer, or a list with its price first.")

    def _refuse(self, row: ListRow, message: str) -> None:
        self.problems.append(SpecProblem(row.place, row.name, message))


def _messages(error: ValidationError) -> list[str]:
    found: list[str] = []
    for item in error.errors(include_url=False):
        cause: Any = item.get("ctx", {}).get("error")
        if isinstance(cause, IssuesError):
            found += [issue.message for issue in cause.issues]
        else:
            found.append(str(cause or item["msg"]))
    return found


def load_shelf(path: Source) -> Shelf:
    """Read a shelf file and the price lists it names.

    Raises
    ------
    SpecError
        With every problem found, in file order; where a row of a list that is asked for is wrong, nothing of
        that list is taken.
    """
    return with_price_lists(opened(Shelf, path))


def with_price_lists(shelf: Shelf) -> Shelf:
    """Put what the price lists of a shelf say among its offers.

    Raises
    ------
    SpecError
        With every row that is asked for and cannot be used.
    """
    if not shelf.price_lists:
        return shelf
    return stocked_from_lists(shelf)
