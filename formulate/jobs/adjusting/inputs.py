"""What `adjust` works on, from a file or from figures typed as options."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from formulate.describe.adjust_record import Adjustment, CardRow
from formulate.errors import ReadingError, SpecError, SpecProblem
from formulate.formulation.middle import narrowed
from formulate.jobs.adjust import adjust_lot, card_rows, open_bottle
from formulate.learn.lot import Lot, lot_of_figures, lot_of_file
from formulate.quantity import Dimension, parse_quantity
from formulate.quantity.words import listed, read_given

__all__ = ["adjust_texts"]


def adjust_texts(
    file: Path | None = None,
    *,
    bottle: Path | None = None,
    volume: str | None = None,
    strength: str | None = None,
    sugar: str | None = None,
    acid: str | None = None,
    bitterness: str | None = None,
    also: Sequence[str] = (),
    blend_with: Path | None = None,
    room: str | None = None,
    cheapest: bool = False,
    middle: bool = False,
    card: bool = False,
    today: date | None = None,
) -> tuple[Adjustment, tuple[CardRow, ...]]:
    """Put a batch right.

    Parameters
    ----------
    file : Path, optional
        A jar, recipe or reading file; else the figures.
    bottle : Path, optional
        The bottle file with the aims; else the one the file names.
    volume, strength, sugar, acid, bitterness, room : str, optional
        Typed with their units; bitterness is a plain number.
    also : sequence of str
        Ids that may be added besides the bottle's list.
    blend_with : Path, optional
        Another batch.
    cheapest : bool
    middle : bool
        Whether to aim at the middle of each band instead of just inside.
    card : bool
        Whether the table of the prep card is worked out too.
    today : date, optional

    Returns
    -------
    Adjustment
    tuple of CardRow

    Raises
    ------
    SpecError, UnitError, ReadingError
        What cannot be read or belongs to no drink.
    """
    figures = (volume, strength, sugar, acid, bitterness)
    if file is not None:
        if any(text is not None for text in figures):
            raise ReadingError("A file and figures were given for the batch. Give one of the two.")
        lot = lot_of_file(file, today)
    else:
        lot = _lot_of_texts(*figures)
    path = bottle or lot.bottle_path
    if path is None:
        raise ReadingError("What it shall become is not said. Add --bottle with a bottle file.")
    if not path.exists():
        raise SpecError([SpecProblem(None, "", f"{path.as_posix()}: no such bottle file. Check the path.")])
    aims = open_bottle(path, today)
    aims = narrowed(aims) if middle else aims
    other = None if blend_with is None else lot_of_file(blend_with, today)
    room_l = read_given("--room", room, _litres)
    if room_l is not None and room_l < lot.volume_l:
        there = f"{lot.volume_l:.2f} L"
        raise ReadingError(f"--room: less than the batch itself, {there}, got '{room}'. Give more.")
    record = adjust_lot(lot, aims, also=also, other=other, cheapest=cheapest, room_l=room_l)
    if not card:
        return record, ()
    return record, card_rows(lot, aims, also=also, other=other, cheapest=cheapest, room_l=room_l)


def _litres(text: str) -> float:
    return parse_quantity(text, Dimension.VOLUME)


def _lot_of_texts(
    volume: str | None, strength: str | None, sugar: str | None, acid: str | None, bitterness: str | None
) -> Lot:
    missing = [
        f"--{name}"
        for name, text in (("volume", volume), ("strength", strength), ("sugar", sugar))
        if text is None
    ]
    if missing:
        are = "is" if len(missing) == 1 else "are"
        raise ReadingError(
            f"Without a file the batch needs its figures, and {listed(missing)} {are} missing. "
            "Give e.g. --volume '4.4 L' --strength '19.8 % vol' --sugar '212 g/L'."
        )

    def grams(text: str) -> float:
        return parse_quantity(text, Dimension.MASS_CONCENTRATION)

    litres = read_given("--volume", volume, _litres)
    pct = read_given("--strength", strength, lambda t: parse_quantity(t, Dimension.STRENGTH))
    sweet = read_given("--sugar", sugar, grams)
    assert litres is not None
    assert pct is not None
    assert sweet is not None
    if not litres > 0.0:
        raise ReadingError("--volume: must be above zero. Check the number.")
    return lot_of_figures(
        litres,
        pct,
        sweet,
        read_given("--acid", acid, grams),
        read_given("--bitterness", bitterness, lambda t: parse_quantity(t, Dimension.BITTERNESS)),
    )
