"""The most methanol that an enzyme can free from pectin, against the limits for fruit spirits."""

from __future__ import annotations

from formulate.blend.pectin import PectinRun
from formulate.files.standards import load_rows
from formulate.files.trade_rows import MethanolRow

__all__ = ["methanol_short", "methanol_text"]

LEAST_ALCOHOL_PCT_VOL = 1.2
"""Below this a drink counts as without alcohol, and a figure per litre of alcohol says nothing."""


def methanol_text(pectin: PectinRun) -> str:
    """Say the most methanol an enzyme can free, against the limits for fruit spirits."""
    text = f"Methanol freed from pectin by the enzyme: at most {_methanol_mg_l(pectin):.0f} mg/L bottled"
    if not _has_alcohol(pectin):
        text += "; published work finds treated juice within the natural range of juices"
        return f"{text} (LSBU enzyme pages)."
    limit = _fruit_spirit_g_hl()
    per_hl = 100.0 * pectin.methanol_g / pectin.pure_alcohol_l
    text += (
        f", {per_hl:.0f} g per hL of pure alcohol: {_beside(per_hl)} the {limit:.0f} that EU law allows a "
        "fruit spirit (a yardstick: liqueurs have no general limit)."
    )
    if per_hl > limit:
        text += (
            " It is an upper bound; less fruit per litre of spirit lowers it. Ask a licensed professional."
        )
    return text


def methanol_short(pectin: PectinRun) -> str:
    """Say the same in a few words."""
    text = f"at most {_methanol_mg_l(pectin):.0f} mg/L here"
    if not _has_alcohol(pectin):
        return f"{text}, as juices hold by nature"
    beside = _beside(100.0 * pectin.methanol_g / pectin.pure_alcohol_l)
    return f"{text}, {beside} the EU's limit for fruit spirit"


def _fruit_spirit_g_hl() -> float:
    most = load_rows("methanol", MethanolRow)["eu-fruit-spirit"].most_g_l_pure_alcohol
    assert most is not None
    return 100.0 * float(most)


def _methanol_mg_l(pectin: PectinRun) -> float:
    return pectin.methanol_g / pectin.bottled_l * 1000.0 if pectin.bottled_l else 0.0


def _has_alcohol(pectin: PectinRun) -> bool:
    strength = 100.0 * pectin.pure_alcohol_l / pectin.bottled_l if pectin.bottled_l else 0.0
    return strength >= LEAST_ALCOHOL_PCT_VOL


def _beside(per_hl: float) -> str:
    limit = _fruit_spirit_g_hl()
    return "well below" if per_hl <= 0.5 * limit else "below" if per_hl <= limit else "above"
