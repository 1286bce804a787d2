"""Commands about what is there already: `gauge`, `adjust`, `scale`."""

from pathlib import Path
from typing import Annotated

import typer

from formulate.cli.options import (
    All,
    AsJson,
    Cautions,
    Force,
    Law,
    Middle,
    Output,
    Parts,
    Why,
    option,
)
from formulate.cli.telling import NO_RECIPE, OFF_TARGET, write_told

__all__ = ["adjust", "gauge", "scale"]


def gauge(
    file: Annotated[
        Path | None, typer.Argument(help="Reading file, instead of the options.", dir_okay=False)
    ] = None,
    density: Annotated[
        str | None, option("Hydrometer: 'SG 1.0425', 'SG 1.0425 60/60', '1042.5 kg/m3', '10.6 Plato'.")
    ] = None,
    refraction: Annotated[str | None, option("Refractometer: '31.2 Brix' or 'nD 1.3625'.")] = None,
    at: Annotated[str | None, option("Temperature of the drink; 20 °C if not said.")] = None,
    refraction_at: Annotated[str | None, option("Temperature at the refractometer, if another.")] = None,
    strength: Annotated[str | None, option("Known strength, with one reading: '22 ± 0.3 % vol'.")] = None,
    sugar: Annotated[str | None, option("Known sugar, with one reading: '180 ± 5 g/L'.")] = None,
    acid: Annotated[str | None, option("Acid in it, as citric acid: '6 g/L'.")] = None,
    solids: Annotated[str | None, option("Other dissolved solids, no sugar: '8 g/L'.")] = None,
    density_step: Annotated[
        str | None, option("Division of the hydrometer; 0.002 SG, 2 kg/m3 or 0.5 Plato if not said.")
    ] = None,
    refraction_step: Annotated[
        str | None, option("Division of the refractometer; 0.2 Brix or 0.0002 nD if not said.")
    ] = None,
    thermometer: Annotated[
        str | None, option("How far the thermometer may be off; 1 °C if not said.")
    ] = None,
    corrects_itself: Annotated[
        bool | None,
        typer.Option(
            "--corrects-itself/--no-correction",
            help="Whether the refractometer corrects for temperature; yes for Brix, no for nD if not said.",
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Strength and sugar from a hydrometer and a refractometer."""
    from formulate.jobs.gauge import gauge_file, gauge_texts

    texts = {
        "density": density,
        "refraction": refraction,
        "at": at,
        "refraction_at": refraction_at,
        "strength": strength,
        "sugar": sugar,
        "acid": acid,
        "solids": solids,
        "density_step": density_step,
        "refraction_step": refraction_step,
        "thermometer": thermometer,
    }
    if file is not None:
        if any(text is not None for text in texts.values()) or corrects_itself is not None:
            raise typer.BadParameter("give a reading file or the readings themselves, not both")
        record = gauge_file(file)
    else:
        record = gauge_texts(**texts, self_correcting=corrects_itself)
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(record))
        return
    from formulate.report.measuring_text import gauge_text

    typer.echo(gauge_text(record))


def adjust(
    file: Annotated[
        Path | None, typer.Argument(help="Jar, recipe or reading file of the batch.", dir_okay=False)
    ] = None,
    bottle: Annotated[
        Path | None,
        typer.Option(help="Bottle file with the aims; else the one the file names.", dir_okay=False),
    ] = None,
    volume: Annotated[str | None, option("How much there is: '4.4 L'.")] = None,
    strength: Annotated[str | None, option("What it is: '19.8 % vol'.")] = None,
    sugar: Annotated[str | None, option("What it has: '212 g/L'.")] = None,
    acid: Annotated[str | None, option("What it has, as citric acid: '6 g/L'.")] = None,
    bitterness: Annotated[str | None, option("Its bitterness value, a plain number.")] = None,
    also: Annotated[
        list[str] | None, typer.Option("--with", help="An ingredient that may be added too; may be repeated.")
    ] = None,
    blend_with: Annotated[
        Path | None, typer.Option(help="Another batch that may be blended in.", dir_okay=False)
    ] = None,
    room: Annotated[str | None, option("How much there may be in the end: '6 L'.")] = None,
    cheapest: Annotated[bool, typer.Option("--cheapest", help="Least cost instead of least mass.")] = False,
    middle: Annotated[
        bool, typer.Option("--middle", help="Bring it to the middle of each aim, not just inside.")
    ] = False,
    card: Annotated[
        bool, typer.Option("--card", help="Also the table of a prep card: if it reads this, add that.")
    ] = False,
    why: Why = False,
    law: Law = False,
    cautions: Cautions = False,
    everything: All = False,
    as_json: AsJson = False,
) -> None:
    """Find the least to add to a batch that is off."""
    from formulate.jobs.adjust import adjust_texts

    record = adjust_texts(
        file,
        bottle=bottle,
        volume=volume,
        strength=strength,
        sugar=sugar,
        acid=acid,
        bitterness=bitterness,
        also=also or (),
        blend_with=blend_with,
        room=room,
        cheapest=cheapest,
        middle=middle,
        card=card,
    )
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(record))
    else:
        from formulate.report.measuring_text import adjust_text, card_text, care_text

        # Without a recipe the answer is no answer: it goes where every other refusal goes.
        impossible = record.status == "impossible"
        more = Parts(why, law, cautions, everything).more
        typer.echo(adjust_text(record, more), err=impossible)
        if record.card:
            typer.echo(card_text(record.card, record.volume_l))
        typer.echo(care_text(record, more), err=impossible and not record.card)
    if record.status == "impossible":
        raise typer.Exit(NO_RECIPE)
    if record.off_target:
        raise typer.Exit(OFF_TARGET)


def scale(
    recipe: Annotated[Path, typer.Argument(help="Recipe file.", dir_okay=False)],
    to: Annotated[
        str,
        option("'12 L bottled', '24 bottles of 50 cl', 'fill kettle-12l (80 % of the vessel)'."),
    ],
    middle: Middle = False,
    output: Output = None,
    force: Force = False,
    as_json: AsJson = False,
    why: Why = False,
    law: Law = False,
    cautions: Cautions = False,
    everything: All = False,
) -> None:
    """Make a recipe in another size, losses counted."""
    from formulate.jobs.files import check_writable
    from formulate.jobs.scale import scale_recipe, written_recipe

    check_writable(output, force=force, read=recipe)
    scaled = scale_recipe(recipe, to, middle=middle)
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(scaled))
    else:
        Parts(why, law, cautions, everything).show(scaled.drink)
    if output is not None:
        write_told({output: written_recipe(scaled, output)}, force=force)
    if scaled.missed or scaled.drink.off_target:
        raise typer.Exit(OFF_TARGET)
