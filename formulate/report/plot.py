"""A trade-off as a picture. Needs matplotlib, which is installed only where somebody wants pictures."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from formulate.errors import FormulateError
from formulate.files.measures import COST
from formulate.quantity.document import MARK

if TYPE_CHECKING:
    from formulate.describe.tradeoff_record import Tradeoff

__all__ = ["PICTURES", "tradeoff_picture"]

PICTURES = {".png": "png", ".svg": "svg"}
"""File endings and what is written for them."""


def tradeoff_picture(record: Tradeoff, ending: str) -> bytes:
    """Draw every point.

    Parameters
    ----------
    ending : str
        One of `PICTURES`.

    Returns
    -------
    bytes
        Of the file.

    Raises
    ------
    FormulateError
        If the ending names no kind of picture, or matplotlib is not installed.
    """
    if ending not in PICTURES:
        got = ending or "no ending"
        raise FormulateError(f"--plot: a picture is written as {' or '.join(PICTURES)}, got {got}.")
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise FormulateError(
            "--plot: drawing a picture needs matplotlib, which is not installed. "
            "Type pip install '.[plot]' in the folder of the program, or leave --plot out: the table has a "
            "plot of its own."
        ) from None
    figure = Figure(figsize=(7.0, 4.5), layout="constrained")
    axes: Any = figure.add_subplot()
    found = [point for point in record.points if point.found == "recipe"]
    values = [point.value for point in found]
    if record.against == COST:
        axes.plot(values, [point.low for point in found], marker=".", color="black")
    else:
        axes.plot(values, [point.low for point in found], marker=".", color="black", label="least")
        open_ended = [point.high if point.high is not None else float("nan") for point in found]
        axes.plot(values, open_ended, marker="+", color="gray", label="most")
        axes.legend()
    for point in record.points:
        if point.found != "recipe":
            axes.axvline(point.value, color="lightgray", linewidth=2.0, zorder=0)
    axes.set_xlabel(f"{record.vary} {record.unit}".strip())
    axes.set_ylabel(f"{record.against} {record.against_unit}".strip())
    axes.set_title(record.name)
    out = io.BytesIO()
    # No date in the file: the same question draws the same picture.
    metadata = {"Date": None, "Description": MARK} if ending == ".svg" else {"Software": MARK}
    figure.savefig(out, format=PICTURES[ending], metadata=metadata, dpi=150)
    return out.getvalue()
