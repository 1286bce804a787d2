"""Commands in the order of a week's work, each with an example; what somebody new is told to type."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from typer.core import TyperGroup

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["EXAMPLES", "FIRST_TIME", "WEEK", "WeekGroup", "example_of"]

EXAMPLES: Mapping[str, str] = {
    "init": "bar",
    "solve": "bar/bottles/raspberry-liqueur.yaml",
    "predict": "examples/recipes/damson-aperitif.yaml",
    "infuse": "examples/bottles/blackcurrant-liqueur.yaml",
    "scale": "examples/recipes/damson-aperitif.yaml --to '24 bottles of 50 cl'",
    "compare": "examples/trials/warm.yaml examples/trials/fridge.yaml",
    "learn": "examples/trials/warm.yaml examples/trials/fridge.yaml",
    "adjust": "examples/jars/damson-jar.yaml",
    "gauge": "--density 'SG 1.0425' --refraction '31.2 Brix'",
    "reformulate": "examples/recipes/damson-aperitif.yaml --without centaury-herb",
    "pour": "examples/drinks/amber-hour.yaml",
    "label": "examples/recipes/amber-digestif.yaml --serve '30 mL'",
    "sheet": "examples/recipes/damson-aperitif.yaml -o batch.pdf",
    "menu": "examples/menus/autumn.yaml --part order",
    "buy": "examples/bottles/damson-aperitif.yaml",
    "prices": "examples/price-list-shelf.yaml",
    "tradeoff": "examples/bottles/damson-aperitif.yaml --vary strength --from 18%vol --to 26%vol",
    "suppose": "examples/scenarios/damson-year.yaml",
    "library": "bitter roots",
    "check": "bar/shelf.yaml bar/bottles/raspberry-liqueur.yaml",
    "standards": "quinine",
    "schema": "bottle",
    "serve": "bar",
    "workbook": "bar -o bar.xlsx",
    "take": "bar.xlsx --into bar",
}
"""What is typed after the name of each command."""

WEEK: Mapping[str, tuple[str, ...]] = {
    "Make": ("solve", "predict", "infuse", "scale", "compare", "learn", "init"),
    "Mend": ("adjust", "gauge", "reformulate"),
    "Pour": ("pour", "label", "sheet"),
    "Plan": ("menu", "buy", "prices", "tradeoff", "suppose"),
    "Look up": ("library", "check", "standards", "schema", "serve", "workbook", "take"),
}
"""Commands by the week's work; the first of each gives the example."""

FIRST_TIME = "First time:\n  formulate init bar\n  formulate solve bar/bottles/raspberry-liqueur.yaml"


def example_of(command: str) -> str:
    """Give a line to type, for the end of a command's help; empty where there is none."""
    return f"Example: formulate {command} {EXAMPLES[command]}" if command in EXAMPLES else ""


class WeekGroup(TyperGroup):
    """Lists commands by the week's work; tells somebody who leaves out the file what to type."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:  # noqa: ARG002
        """Write each group of commands with an example below its heading."""
        left = {name: command for name, command in self.commands.items() if not command.hidden}
        groups = {title: [name for name in names if name in left] for title, names in WEEK.items()}
        grouped = {name for names in groups.values() for name in names}
        groups["Look up"] += [name for name in left if name not in grouped]
        room = formatter.width - 6 - max(map(len, left))
        for title, names in groups.items():
            with formatter.section(f"{title}, such as `formulate {names[0]} {EXAMPLES[names[0]]}`"):
                formatter.write_dl([(name, left[name].get_short_help_str(room)) for name in names])

    def format_epilog(self, ctx: Any, formatter: Any) -> None:  # noqa: ARG002
        """Write what to type first."""
        formatter.write(f"\n{FIRST_TIME}\n")

    def invoke(self, ctx: Any) -> Any:
        """Run a command; where its file is left out, say what could be written."""
        try:
            return super().invoke(ctx)
        except Exception as error:
            if type(error).__name__ == "MissingParameter" and not getattr(error, "message", ""):
                name = ctx.invoked_subcommand or ""
                text = f"Write, for example:\n  formulate {name} {EXAMPLES.get(name, '')}\n{FIRST_TIME}"
                error.message = text  # type: ignore[attr-defined]
            raise
