"""Everything `formulate` raises on purpose, and where in a file it points.

::

    FormulateError                 anything raised on purpose
    + SpecError (ValueError)       a file a person wrote is wrong; .problems lists all of them
    + UnitError (ValueError)       a quantity, unit or band cannot be read
    + RangeError (ValueError)      a published formula was asked outside its range
    + ReadingError (ValueError)    what an instrument shows belongs to no drink, or readings contradict
    + NotWrittenError              a file asked for beside an answer cannot be written
    + SolveError
    |   + InfeasibleError          proved: no recipe meets every limit; .explanation says why
    |   + RoundingError            no recipe in weighing steps is in spec; .explanation says why
    |   + UnboundedError           nothing in the file fixes the size of the batch
    |   + NotConvergedError        the loop stopped without an answer and without proof that none exists
    + VerificationError            the solver's recipe failed the independent re-computation (our fault)

Exceptions hold parts and build their text late, so that they survive a process pool and
can be rendered by any report. This room imports nothing of ours.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

__all__ = [
    "FORBIDDING",
    "GUESTS",
    "VESSEL_TOO_SMALL",
    "FormulateError",
    "InfeasibleError",
    "NotConvergedError",
    "NotWrittenError",
    "Note",
    "Place",
    "RangeError",
    "ReadingError",
    "RoundingError",
    "SolveError",
    "SourceLocation",
    "SpecError",
    "SpecProblem",
    "StoppedEarlyError",
    "UnboundedError",
    "UnitError",
    "VerificationError",
]

PROBLEMS_SHOWN = 20


FORBIDDING = frozenset({"over_limit", "too_weak"})
"""Codes of notes on a drink that may not be served as it is."""


GUESTS: Place = "serving"
"""The place of what is about the health of who drinks it."""


Place = Literal["buying", "preparing", "heating", "pressing", "tasting", "bottling", "storing", "serving"]


VESSEL_TOO_SMALL = "vessel_too_small"
"""Code of the remark that a step does not fit the vessel its file names: off target."""


@dataclass(frozen=True, slots=True, order=True)
class SourceLocation:
    """A place in a file, counted from 1 as editors do; of a table row, column, and the `cell` by its name.

    What was given in Python has a `file` that says so, and no line.
    """

    file: str
    line: int
    column: int
    cell: str = ""

    def __str__(self) -> str:
        if not self.line:
            return self.file
        return f"{self.file}:{self.cell}" if self.cell else f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class SpecProblem:
    """One thing wrong in one place of a file.

    Attributes
    ----------
    location : SourceLocation or None
        Where; None only when no file could be read at all.
    path : str
        Dotted way to the value, such as ``targets.sugar``; empty for the whole file.
    message : str
        What is wrong and what to do, without the place.
    excerpt : str
        The lines of the file around the place with a caret, or empty.
    """

    location: SourceLocation | None
    path: str
    message: str
    excerpt: str = ""

    def __str__(self) -> str:
        parts = [str(self.location)] if self.location else []
        if self.path:
            parts.append(self.path)
        head = ": ".join([*parts, self.message])
        return f"{head}\n{self.excerpt}" if self.excerpt else head


class FormulateError(Exception):
    """Anything raised on purpose; catch this to catch all of them."""


class SpecError(FormulateError, ValueError):
    """One or more files cannot be used.

    Parameters
    ----------
    problems : iterable of SpecProblem
        Every problem found in this phase; shown in file order.
    """

    def __init__(self, problems: Iterable[SpecProblem]) -> None:
        self.problems: tuple[SpecProblem, ...] = tuple(
            sorted(problems, key=lambda p: p.location or SourceLocation("", 0, 0))
        )
        super().__init__(self.problems)

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.problems,)

    def __str__(self) -> str:
        shown = [str(p) for p in self.problems[:PROBLEMS_SHOWN]]
        hidden = len(self.problems) - len(shown)
        if hidden > 0:
            shown.append(f"... and {hidden} more.")
        return "\n".join(shown)


class UnitError(FormulateError, ValueError):
    """A quantity, unit or band cannot be read; the text says what is accepted."""


class RangeError(FormulateError, ValueError):
    """A published formula was asked outside the range it was published for.

    Parameters
    ----------
    name : str
        The function and the input, such as ``density_ethanol_water: mass_fraction``.
    value, lower, upper : float
        What was asked and what is published.
    unit : str
        Unit of the three numbers.
    source : str
        Where the range comes from.
    """

    def __init__(self, name: str, value: float, lower: float, upper: float, unit: str, source: str) -> None:
        self.name, self.value, self.lower, self.upper = name, value, lower, upper
        self.unit, self.source = unit, source
        super().__init__(name, value, lower, upper, unit, source)

    def __str__(self) -> str:
        unit = f" {self.unit}" if self.unit else ""
        return (
            f"{self.name} {self.value:g}{unit} is outside {self.lower:g} to {self.upper:g}{unit}, "
            f"the range of {self.source}. Nothing was extrapolated."
        )


class NotWrittenError(FormulateError):
    """A file that was asked for beside an answer could not be written; the answer is shown all the same."""


class ReadingError(FormulateError, ValueError):
    """What an instrument shows belongs to no drink, or two readings contradict; the text explains."""


class SolveError(FormulateError):
    """The solve ended without a recipe."""


class InfeasibleError(SolveError):
    """Proved: no recipe meets every limit.

    Parameters
    ----------
    explanation : object
        A frozen record that says what is reachable and which limits clash.
    """

    def __init__(self, explanation: Any) -> None:
        self.explanation = explanation
        super().__init__(explanation)

    def __str__(self) -> str:
        return str(self.explanation)


class RoundingError(SolveError):
    """No recipe in the steps of the bar's balances is in spec.

    Parameters
    ----------
    explanation : object
        A frozen record that says which limits rounding misses and what batch would fit.
    """

    def __init__(self, explanation: Any) -> None:
        self.explanation = explanation
        super().__init__(explanation)

    def __str__(self) -> str:
        return str(self.explanation)


class UnboundedError(SolveError):
    """Nothing in the file fixes the size of the batch."""


class StoppedEarlyError(FormulateError):
    """The person stopped a search before it had found anything."""


class NotConvergedError(SolveError):
    """The loop stopped without an answer and without proof that there is none."""

    def __init__(self, passes: int, violation: float) -> None:
        self.passes, self.violation = passes, violation
        super().__init__(passes, violation)

    def __str__(self) -> str:
        finite = self.violation < float("inf")
        off = f" (still off by {self.violation:.2g} of a tolerance)" if finite else ""
        return (
            f"No recipe found after {self.passes} passes{off}, and no proof that none exists. "
            "Try narrower limits, fewer ingredients, or fewer packs and choices."
        )


class VerificationError(FormulateError):
    """The recipe failed its independent re-computation; nothing is shown as solved."""


@dataclass(frozen=True, slots=True)
class Note:
    """Something a person should know beside the figures.

    Attributes
    ----------
    code : str
        Stable name for JSON.
    text : str
        In plain words.
    source : str
        Where the fact comes from, or the file and line it is about; may be empty.
    short : str
        The same in one line for the screen; empty where `text` is short itself.
    place : str
        Where in the work it belongs; empty for a remark on figures.
    rank : int
        How serious a caution is, 1 most; 4 is told only in full; 0 for a remark on figures.
    about : tuple of str
        What sets a caution off, as it is shown: ``mint (in house-amaro)``.
    about_itself : tuple of str
        The same by name alone: ``mint``.
    on_menu : str
        Of a caution about guests, a line for several drinks, ``{drinks}`` in it.
    of_several : str
        Of a remark that several things may draw, one line for all of them, ``{about}`` in it.
    """

    code: str
    text: str
    source: str = ""
    short: str = ""
    place: str = ""
    rank: int = 0
    about: tuple[str, ...] = ()
    about_itself: tuple[str, ...] = ()
    on_menu: str = ""
    of_several: str = ""

    @property
    def forbids(self) -> bool:
        """Whether it says that a drink may not be served as it is."""
        return self.code in FORBIDDING

    @property
    def for_guests(self) -> bool:
        """Whether it is about the health of who drinks it; such a caution is shown always, and first."""
        return self.place == GUESTS
