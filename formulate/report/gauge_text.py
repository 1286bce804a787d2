"""What readings say, as text and as a document."""

from __future__ import annotations

from typing import TYPE_CHECKING

from formulate.report.plain import notes_text, paragraph, table_text

if TYPE_CHECKING:
    from formulate.learn.doubt import Figure
    from formulate.learn.readings import GaugeRecord

__all__ = ["gauge_text"]


def gauge_text(record: GaugeRecord) -> str:
    """Write what readings say, at most 80 columns."""
    readings = record.readings
    read = []
    if readings.density is not None:
        read.append(f"{readings.density.text} at {readings.density_c:.3g} °C")
    if readings.refraction is not None:
        read.append(f"{readings.refraction.text} at {readings.refraction_c:.3g} °C")
    lines = [*paragraph(f"{readings.name + ': ' if readings.name else ''}{' and '.join(read)}"), ""]
    rows = [["in the drink, at 20 °C", "is", "", "between", "and", ""]]
    for name, figure, unit, digits, most in (
        ("strength", record.strength, "% vol", 1, 100.0),
        ("sugar, as sucrose", record.sugar, "g/L", 0, float("inf")),
    ):
        digits = _digits(figure, digits)
        low, high = max(figure.value - figure.expanded, 0.0), min(figure.value + figure.expanded, most)
        ends = [f"{low:.{digits}f}", f"{high:.{digits}f}"] if figure.expanded else ["", ""]
        rows.append([name, f"{figure.value:.{digits}f}", unit, *ends, "as given" if figure.given else ""])
    lines += table_text(rows, right=(1, 3, 4))
    lines += ["", *paragraph("It lies between them in 95 of 100 such readings.")]
    doubted = next((one for one in (record.strength, record.sugar) if not one.given and one.doubts), None)
    if doubted is not None:
        unit = "% vol" if doubted is record.strength else "g/L"
        digits = max(_digits(doubted, 1), 1)
        causes = [(doubt.cause, f"{doubt.expanded:.{digits}f}") for doubt in doubted.doubts]
        shown = [f"{cause} ±{much}" for cause, much in causes if float(much) > 0.0]
        lines += paragraph(f"What it comes from, in {unit}: {'; '.join(shown)}.")
    lines += notes_text("Good to know", record.notes)
    return "\n".join(lines)


def _digits(figure: Figure, usual: int) -> int:
    """Show one digit more where the doubt is small enough to mean something."""
    return usual + 1 if 0.0 < figure.expanded < 0.3 * 10.0**-usual * 10.0 else usual
