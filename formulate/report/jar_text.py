"""What is in a jar, as text and as a document."""

from __future__ import annotations

from typing import TYPE_CHECKING

from formulate.report.plain import paragraph

if TYPE_CHECKING:
    from formulate.jobs.jar import JarRecord

__all__ = ["jar_text"]


def jar_text(record: JarRecord) -> str:
    """Write what went in, came out and stayed behind, at most 80 columns; the drink is shown besides."""
    lines = [f"{record.weighed_in_kg:.3f} kg went in."]
    for out in record.out:
        where = "stayed in the cake" if out.in_cake else "was lost"
        lines += paragraph(
            f"{out.step}: {out.text} came out ({out.mass_kg:.3f} kg, {out.volume_l:.2f} L); "
            f"{out.missing_kg * 1000:.0f} g {where}. By the starting values it had been "
            f"{out.calculated_kg:.3f} kg, {out.calculated_l:.2f} L."
        )
    if not record.out:
        lines += paragraph("What came out is not said: losses are the starting values of the ingredients.")
    for fill in record.fills:
        lines += paragraph(
            f"{fill.step}: {fill.volume_l:.2f} L with the solids in it, {fill.share * 100:.0f} % of "
            f"{fill.vessel} ({fill.holds_l:g} L)."
        )
    return "\n".join(lines)
