"""Duty on what a bar makes: told as a dated table or at the bar's own rate, and never put into a price."""

from __future__ import annotations

from datetime import date

from formulate.errors import Note
from formulate.files.shelf import Shelf
from formulate.files.standards import load_rows
from formulate.files.trade_rows import DutyRow

__all__ = ["duty_note"]

ALCOHOL_FROM_PCT_VOL = 1.2
"""What is no stronger pays no duty (EU, UK: from memory)."""

ADVICE = (
    "What you buy has mostly paid it already; it is in no price here. Check locally: rates change, and you "
    "may need a licence to make or bottle drinks"
)


def duty_note(
    strengths_pct_vol: tuple[float, ...],
    pure_alcohol_l: float | None,
    shelf: Shelf | None,
    jurisdiction: str | None,
    today: date,
) -> Note | None:
    """Say what duty might be due on drinks made here.

    Parameters
    ----------
    strengths_pct_vol : tuple of float
        Of each drink made.
    pure_alcohol_l : float or None
        In all of it; None where only a rate is told.
    shelf : Shelf or None
        Whose own rate goes before the table.
    jurisdiction : str or None
        All for None.
    today : date
        What the dates of the rates are held against.

    Returns
    -------
    Note or None
        None where nothing is strong enough.
    """
    strong = [strength for strength in strengths_pct_vol if strength > ALCOHOL_FROM_PCT_VOL]
    if not strong:
        return None
    own = None if shelf is None else shelf.duty
    if own is not None:
        since = "" if own.seen is None else f", seen {own.seen.isoformat()}"
        rate = f"{own.rate.value:.2f} {own.rate.currency} per litre of pure alcohol{since}"
        text = f"Duty on what you make, at your own rate ({rate})"
        if pure_alcohol_l is not None:
            money = f"{own.rate.value * pure_alcohol_l:.2f} {own.rate.currency}"
            text += f": {money} for {pure_alcohol_l:.2f} L of it"
        return Note("duty", f"{text}. {ADVICE}.", "your shelf")
    rows = [
        row
        for row in load_rows("duty", DutyRow).holding_in(jurisdiction)
        if any(row.is_on(strength, today) for strength in strong)
    ]
    if not rows:
        return None
    rates = ", ".join(
        f"{', '.join(row.jurisdiction)} {_at_least(row)}{row.rate.value:.2f} {row.rate.currency}"
        for row in rows
        if row.rate is not None
    )
    amount = "" if pure_alcohol_l is None else f" ({pure_alcohol_l:.2f} L of it)"
    text = f"Duty on what you make{amount} may be, per litre of pure alcohol: {rates}. {ADVICE}"
    trust = ", ".join(dict.fromkeys(row.confidence for row in rows))
    doubt = "" if all(row.verified for row in rows) else ", not verified"
    return Note("duty", f"{text} (formulate standards duty).", f"{trust}{doubt}")


def _at_least(row: DutyRow) -> str:
    return "at least " if row.id.endswith("-least") else ""
