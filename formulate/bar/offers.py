"""Dates of offers: which prices have run out, which are old, and what is said of them.

An offer past its last day is not bought from while another of the same thing still holds. Where none does
the old price is counted on, since a bar must plan, and every answer says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from formulate.bar.pantry import Pantry
from formulate.errors import Note
from formulate.files.shelf import Offer

__all__ = ["offer_notes"]

OLD_DAYS = 180
"""A price seen longer ago is worth asking for again; our choice."""


def offer_notes(pantry: Pantry, used: Sequence[str]) -> list[Note]:
    """Say which prices of what is used ran out or are old.

    Parameters
    ----------
    used : sequence of str
        Ids, supplies among them.
    """
    if pantry.shelf is None:
        return []
    notes = []
    for name in dict.fromkeys(used):
        every, counted = pantry.every_offer(name), pantry.offers(name)
        for offer in every:
            if not offer.is_past(pantry.day):
                continue
            ran_out = f"{name}: the price{_from(offer)} ran out on {_day(offer.until)}"
            if offer in counted:
                text = f"{ran_out}, and there is no other. It is still counted on: ask before you order."
                notes.append(Note("price_past", text))
            else:
                notes.append(Note("offer_past", f"{ran_out}; it is left out."))
        for offer in counted:
            days = 0 if offer.seen is None else (pantry.day - offer.seen).days
            if days > OLD_DAYS and not offer.is_past(pantry.day):
                text = (
                    f"{name}: the price{_from(offer)} was seen on {_day(offer.seen)}. Ask whether it holds."
                )
                notes.append(Note("price_old", text))
    return notes


def _from(offer: Offer) -> str:
    return "" if offer.supplier is None else f" from {offer.supplier}"


def _day(day: date | None) -> str:
    return "" if day is None else day.isoformat()
