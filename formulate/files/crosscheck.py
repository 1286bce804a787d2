"""Names that must agree across one file: ingredients, steps, and whatever refers to them.

The same checks run on the finished model and, when something else in the file is wrong, on the tree as
typed, so that a person is told everything in one go.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from formulate.errors import UnitError
from formulate.files.aims import SameAs, Use, parse_bitterness, parse_size
from formulate.files.fields import did_you_mean
from formulate.files.issues import Issue

__all__ = ["DEFAULT_STEPS", "Names", "cross_issues", "names_as_typed", "together_names"]

DEFAULT_STEPS = ("infuse", "finish")
_Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Names:
    """Every name a file gives or refers to; None where a list item cannot be read.

    Attributes
    ----------
    used : tuple of (id, step)
        The ingredients in order; step None if not said.
    steps : tuple
        Names of the steps in order; empty if the file has none.
    referred : tuple of (path, id)
        Ids that limits on several ingredients name, with their paths.
    measured : tuple
        Keys under ``measured``.
    size_ingredient, reference : str or None
        What the size uses up, and what the bitterness is compared with.
    once_per_step : bool
        Whether an ingredient may stand in several steps.
    candidates : tuple of (id, step)
        Further ingredients that may be used, in order.
    """

    used: tuple[tuple[str | None, str | None], ...]
    steps: tuple[str | None, ...] = ()
    referred: tuple[tuple[_Path, str], ...] = ()
    measured: tuple[str, ...] = ()
    size_ingredient: str | None = None
    reference: str | None = None
    once_per_step: bool = False
    candidates: tuple[tuple[str | None, str | None], ...] = ()

    @property
    def everywhere(self) -> list[tuple[_Path, str | None, str | None]]:
        """Every ingredient that may be used, with its place: path, id and step."""
        listed = [(("ingredients", index), *one) for index, one in enumerate(self.used)]
        return [*listed, *((("may_use", index), *one) for index, one in enumerate(self.candidates))]


def cross_issues(names: Names) -> list[Issue]:
    """Find names given twice and names that do not exist."""
    issues: list[Issue] = []
    seen_steps: set[str] = set()
    for index, step in enumerate(names.steps):
        if step in seen_steps:
            issues.append(Issue(("steps", index), f"step '{step}' is given twice. Keep one."))
        if step is not None:
            seen_steps.add(step)
    known_steps = [step for step in names.steps if step is not None] or list(DEFAULT_STEPS)
    steps_readable = None not in names.steps
    seen: set[tuple[str, str | None]] = set()
    for path, name, step in names.everywhere:
        if name is None:
            continue
        mark = (name, step if names.once_per_step else None)
        if mark in seen:
            where = f" in step {step}" if names.once_per_step and step else ""
            issues.append(Issue(path, f"'{name}' is listed twice{where}. Keep one line."))
        seen.add(mark)
        if step is not None and steps_readable and step not in known_steps:
            message = f"no step called '{step}'. {did_you_mean(step, known_steps)}"
            issues.append(Issue((*path, name, "step"), message))
    known = [name for _, name, _ in names.everywhere if name is not None]
    referred: list[tuple[_Path, str, bool]] = [(path, name, False) for path, name in names.referred]
    referred += [(("measured", name), name, True) for name in names.measured if name != names.reference]
    if names.size_ingredient is not None:
        referred.append((("size",), names.size_ingredient, False))
    readable = all(name is not None for _, name, _ in names.everywhere)
    issues += [
        Issue(path, f"'{name}' is not among the ingredients. {did_you_mean(name, known)}".rstrip(), at_key)
        for path, name, at_key in referred
        if readable and known and name not in known
    ]
    return issues


def together_names(index: int, kind: str, ids: Sequence[str]) -> list[tuple[_Path, str]]:
    """Give the paths of the ids that one limit on several ingredients names."""
    if kind == "ratio":
        return [(("together", index, kind), name) for name in ids]
    return [(("together", index, kind, position), name) for position, name in enumerate(ids)]


def _named(item: Any) -> tuple[str | None, Mapping[str, Any]]:
    if isinstance(item, str):
        return item, {}
    if isinstance(item, dict) and len(item) == 1:
        name, details = next(iter(item.items()))
        return name, details if isinstance(details, dict) else {}
    return None, {}


def _list(raw: Mapping[str, Any], key: str) -> list[Any]:
    value = raw.get(key)
    return value if isinstance(value, list) else []


def names_as_typed(raw: Mapping[str, Any], *, once_per_step: bool = False) -> Names:
    """Collect the names of a file from the tree as typed, passing over what cannot be read."""
    referred: list[tuple[_Path, str]] = []
    for index, rule in enumerate(_list(raw, "together")):
        for kind in ("ratio", "sum", "share"):
            ids = rule.get(kind) if isinstance(rule, dict) else None
            if kind == "ratio" and isinstance(ids, str) and len(ids.split(" to ")) == 2:
                referred += together_names(index, kind, [part.strip() for part in ids.split(" to ")])
            elif kind != "ratio" and isinstance(ids, list) and all(isinstance(name, str) for name in ids):
                referred += together_names(index, kind, ids)
    if isinstance(raw.get("lead"), str):
        referred.append((("lead",), raw["lead"]))
    measured = raw.get("measured")
    targets = raw.get("targets")
    size = _read(parse_size, raw.get("size"))
    aim = _read(parse_bitterness, targets.get("bitterness") if isinstance(targets, dict) else None)
    return Names(
        _used(raw, "ingredients"),
        tuple(_named(item)[0] for item in _list(raw, "steps")),
        tuple(referred),
        tuple(measured) if isinstance(measured, dict) else (),
        size.ingredient if isinstance(size, Use) else None,
        aim.reference if isinstance(aim, SameAs) else None,
        once_per_step,
        _used(raw, "may_use"),
    )


def _used(raw: Mapping[str, Any], key: str) -> tuple[tuple[str | None, str | None], ...]:
    used = []
    for item in _list(raw, key):
        name, details = _named(item)
        step = details.get("step")
        used.append((name, step if isinstance(step, str) else None))
    return tuple(used)


def _read(parse: Any, value: Any) -> Any:
    try:
        return parse(value)
    except UnitError:
        return None
