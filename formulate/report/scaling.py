"""A recipe at another size, for JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from formulate.report.document import drink_document, fill_documents

if TYPE_CHECKING:
    from formulate.bar.emptying import EmptyingSize, PackCount
    from formulate.jobs.scale import ScaledRecipe

__all__ = ["scaled_document"]


def scaled_document(scaled: ScaledRecipe) -> dict[str, Any]:
    """Lay the recipe out as any other drink, with how it was scaled.

    Parameters
    ----------
    scaled : ScaledRecipe
    """
    scaling = {
        "before_l": scaled.before_l,
        "after_l": scaled.after_l,
        "factors": [{"step": step, "factor": factor} for step, factor in scaled.factors],
        "vessels": fill_documents(scaled.fills),
        "packs": [_pack(one) for one in scaled.packs],
        "empties_packs": None if scaled.empties is None else _emptying(scaled.empties),
    }
    return {**drink_document(scaled.drink), "scaling": scaling}


def _pack(one: PackCount) -> dict[str, Any]:
    return {
        "ingredient": one.ingredient,
        "pack": one.pack,
        "packs": one.packs,
        "used_g": one.used_kg * 1000.0,
        "left_g": one.left_kg * 1000.0,
    }


def _emptying(size: EmptyingSize) -> dict[str, Any]:
    return {
        "ingredient": size.ingredient,
        "pack": size.pack,
        "packs": size.packs,
        "use_g": size.use_kg * 1000.0,
        "volume_l": size.volume_l,
    }
