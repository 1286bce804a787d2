"""Breaks a good file as people, editors and disks do; the same seed breaks it the same way."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

__all__ = ["mutate"]

Change = Callable[[str, random.Random], str]

NUMBERS = (
    "0", "-1", "-0", "1e9", "1e-12", "1e400", "nan", "inf", "-inf", "9" * 40, "0x10", "010", "1_000",
    "1,5", "1.2.3", ".5", "5.", "½", "٣", "１２", "", "1 000", "22 22", "+-3", "1e", "null", "true", "NO",
    "12:30", "2024-01-01", "0.000000000001", "123456789012345678901234567890",
)  # fmt: skip

UNITS = (
    "g", "kg", "mg", "oz", "lb", "mL", "cl", "L", "fl oz", "gal", "us gal", "pint", "cup", "dash",
    "drops", "parts", "pieces", "bottles", "%", "% vol", "% w/w", "% v/v", "g/L", "g/kg", "mg/L",
    "kg/m3", "oz/gal", "lb/gal", "g/100 mL", "g per L bottled", "oz per gal bottled", "mL per L bottled",
    "EUR", "EUR/L", "EUR/kg", "USD/L", "EUR/gal", "€/L", "proof", "°Bx", "°C", "m", "s", "furlongs", "",
)  # fmt: skip

SIZES = (
    "0 L bottled", "-5 L bottled", "1e6 L bottled", "1e-9 L bottled", "20000 L bottled", "50 mL bottled",
    "2 gal bottled", "101 fl oz bottled", "5 bottled", "5 L", "5", "bottled", "12 bottles of 50 cl",
    "0 bottles of 50 cl", "12 bottles of 0 cl", "1.5 bottles of 50 cl", "use all damson",
    "use all quince", "use all lemon-leaf", "use all vodka-40", "use all water",
    "use 0 bottles of vodka-40", "use 3 bottles of vodka-40", "use 2.4 kg of damson",
    "use 2.4 kg of water", "use 1 g of gentian-root", "use 3 pieces of quince",
    "use 1000000 kg of white-sugar", "use 10 % of damson", "use all everything",
    "use 3 pieces of lemon-zest", "use 1e-7 g of lemon-zest", "fill jar-4l",
    "fill jar-4l (0 % of the vessel)", "fill jar-4l (80 % of the vessel)",
    "fill jar-4l (200 % of the vessel)", "fill kettle-12l (1 % of it)",
    "fill nowhere (80 % of the vessel)", "fill jar-4l (80 of the vessel)",
)  # fmt: skip

VALUES = (
    "", "~", "null", "true", "[]", "{}", "[1, 2]", "{a: 1}", "''", '""', "''''", "'", '"', "[", "{", "]",
    "}", "|", ">", "- a", "? a", "&a 1", "*a", "!!int 3", "!x", "%", "@", "`", "#", ": :", "<<", "---",
    "...", "\\", '"\\x"', "22 % vol", "firm", "light", "strong", "like 1.2 g/L gentian-root",
    "like 1 g/L water", "like 99999 g/L gentian-root", "same as house, thinned 1 in 30",
    "same as house, thinned 30 in 1", "25 ± 4 (measured)", "exactly 0 g/L", "at least 0 g/L",
    "at most 0 g/L", "0 to 0 g/L", "200 to 100 g/L", "100 % vol", "0 % vol", "at most 96 % vol",
    "exactly 22 % vol", "22 ± 0 % vol", "0 ± 5 % vol", "95 to 99 % vol", "at least 1500 g/L",
    "at most 0.01 EUR/L", "at least 100 EUR/L", "at most 40 EUR", "at most 9.50 USD/L", "about 22 % vol",
    "30 to 60 %", "at least 100 %", "exactly 50 %", "at most 0 %", "infuse", "finish", "mix",
    "../shelf.yaml", "shelf.yaml", "nowhere.yaml", "..", "/dev/null.yaml", "x" * 3000,
)  # fmt: skip

IDS = (
    "water", "vodka-40", "gin-40", "neutral-spirit-96", "damson", "plum", "raspberry", "quince", "honey",
    "white-sugar", "citric-acid", "lemon-juice", "gentian-root", "wormwood", "grapefruit-pith",
    "lemon-zest", "damsom", "Vodka-40", "vodka 40", "vodka_40", "", "-", "--", "π-root", "nothing-such",
    "infuse", "name",
)  # fmt: skip

LINES = (
    "together:\n  - {ratio: damson to vodka-40, is: 0.2 to 0.3}",
    "together:\n  - {ratio: water to water, is: 1 to 2}",
    "together:\n  - {sum: [damson, white-sugar], is: at least 250 g per L bottled}",
    "together:\n  - {sum: [water, white-sugar], is: at most 40 %}",
    "together:\n  - {share: [gentian-root], of: bitterness, is: at least 100 %}",
    "together:\n  - {share: [damson, quince], of: acid, is: 30 to 60 %}",
    "together:\n  - {share: [water], of: joy, is: 30 to 60 %}",
    "measured:\n  gentian-root: {bitterness: 18500, lot: A, tasters: 3}",
    "measured:\n  grapefruit-pith: {bitterness: 1e300}",
    "measured:\n  damson: {bitterness: 10}\n  house: {bitterness: 5}",
    "steps:\n  - infuse: {loss: 99.999 %}\n  - finish",
    "steps:\n  - infuse: {fixed_loss: 400 kg}\n  - finish",
    "steps:\n  - mix\n  - mix",
    "steps:\n  - infuse: {strain: false}\n  - simmer: {loss: 100 %}\n  - finish",
    "vessels:\n  jar-4l: 0 L",
    "balances:\n  - {name: bench, step: 1 g, up_to: 5 kg}",
    "ingredients:\n  damson: {based_on: damson, retention: 90 kg/kg}",
    "ingredients:\n  damson: {based_on: damson, composition: {water: 10 % w/w, insoluble: 90 % w/w}}",
    "ingredients:\n  damson: {based_on: plum}\n  quince: {based_on: nothing-such}",
    "ingredients:\n  white-sugar: {name: Brine, composition: {water: 50 % w/w, salt: 50 % w/w}}",
    "ingredients:\n  vodka-40: {name: Vodka, strength: 0.1 % vol}",
    "ingredients:\n  neutral-spirit-96: {name: Pure, strength: 100 % vol}",
    "ingredients:\n  citric-acid: {name: Acid, composition: {citric_acid: 0 % w/w}}",
    "ingredients:\n  gentian-root: {based_on: gentian-root, bitterness: {value: 0}}",
    "ingredients:\n  gentian-root: {based_on: gentian-root, bitterness: {value: 1, low: 5, high: 0}}",
    "ingredients:\n  lemon-leaf: {based_on: lemon-leaf, piece: 1 g, density: 1e-9 kg/m3}",
    "usual_tolerance: {strength: 90 % vol}",
    "usual_tolerance: {sugar: 0 g/L}",
    "notes: 'quoted \\ text'",
    "nots: typo",
    "<<: {name: x}",
    "<<<<<<< ours\nname: a\n=======\nname: b\n>>>>>>> theirs",
    "---\nname: second",
    "...",
    "%YAML 1.1",
    "? complex\n: value",
    "- item",
    "just words",
    "key:value",
    "1: one",
    "null: x",
    "\tname: tab",
    "name: again",
)

CHARACTERS = (
    "\x00", "\x07", "\x1b[31m", "\r", "\x85", "\u2028", "\ufeff", "\u200b", "\u202e", "\xa0", "\t", "é",
    "e\u0301", "😀", "−", "–", "’", "“", "：", "，", "ß", "İ", "\U0010ffff", "\ud7ff", "±", "µ", "％", "{",
    "}", "[", "]", ":", ",", "#", "&", "*", "!", "|", ">", "'", '"', "%", "@", "`", "?", "-", "\\",
)  # fmt: skip


def mutate(text: str, rng: random.Random) -> bytes:
    """Break a file, or make it odd: readable still, with figures nobody would think of.

    Parameters
    ----------
    text : str
        A good file.
    rng : random.Random
        Decides everything.

    Returns
    -------
    bytes
        As it would stand on the disk; not always UTF-8.
    """
    if rng.random() < 0.5:
        for _ in range(rng.choices((1, 2, 4, 7), weights=(3, 3, 2, 2))[0]):
            text = rng.choice(ODD_CHANGES)(text, rng)
        return text.encode()
    for _ in range(rng.choices((1, 2, 3), weights=(6, 3, 1))[0]):
        text = rng.choice(CHANGES)(text, rng)
    raw = text.encode("utf-8", errors="surrogatepass")
    return rng.choice(BYTE_CHANGES)(raw, rng) if rng.random() < 0.06 else raw


def _lines(text: str) -> list[str]:
    return text.split("\n")


def _delete_line(text: str, rng: random.Random) -> str:
    lines = _lines(text)
    del lines[rng.randrange(len(lines))]
    return "\n".join(lines)


def _delete_block(text: str, rng: random.Random) -> str:
    """Delete a line and whatever is indented deeper below it."""
    lines = _lines(text)
    start = rng.randrange(len(lines))
    depth = len(lines[start]) - len(lines[start].lstrip())
    end = start + 1
    while end < len(lines) and lines[end].strip() and len(lines[end]) - len(lines[end].lstrip()) > depth:
        end += 1
    return "\n".join(lines[:start] + lines[end:])


def _duplicate_line(text: str, rng: random.Random) -> str:
    lines = _lines(text)
    at = rng.randrange(len(lines))
    return "\n".join([*lines[: at + 1], *([lines[at]] * rng.choice((1, 1, 1, 40))), *lines[at + 1 :]])


def _swap_lines(text: str, rng: random.Random) -> str:
    lines = _lines(text)
    one, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return "\n".join(lines)


def _indent(text: str, rng: random.Random) -> str:
    lines = _lines(text)
    at = rng.randrange(len(lines))
    indent = rng.choice(("", " ", "  ", "   ", "      ", "\t", " \t"))
    lines[at] = indent + (lines[at].lstrip() if rng.random() < 0.5 else lines[at])
    return "\n".join(lines)


def _truncate(text: str, rng: random.Random) -> str:
    return text[: rng.randrange(len(text) + 1)]


def _replace(pattern: str, text: str, rng: random.Random, new: Callable[[str], str]) -> str:
    found = list(re.finditer(pattern, text))
    if not found:
        return text
    match = rng.choice(found)
    return text[: match.start()] + new(match[0]) + text[match.end() :]


def _number(text: str, rng: random.Random) -> str:
    return _replace(r"\d+(?:\.\d+)?", text, rng, lambda _: rng.choice(NUMBERS))


def _other_number(text: str, rng: random.Random) -> str:
    """Change a number to another a person might have meant."""

    def changed(typed: str) -> str:
        factor = rng.choice((0.5, 0.9, 0.99, 1.01, 1.1, 2.0, 10.0, 1000.0, 0.001, 1e6))
        return f"{float(typed) * factor:.10g}"

    return _replace(r"\d+(?:\.\d+)?", text, rng, changed)


_UNIT = (
    r"(?<=\d )(?:g per L bottled|mL per L bottled|L bottled|% vol|bottles|EUR/kg|EUR/L|EUR"
    r"|g/L|mL|cl|kg|g|L|%)"
)


def _unit(text: str, rng: random.Random) -> str:
    return _replace(_UNIT, text, rng, lambda _: rng.choice(UNITS))


def _id(text: str, rng: random.Random) -> str:
    return _replace(r"\b[a-z]+(?:-[a-z0-9]+)+\b|\bdamson\b|\bwater\b", text, rng, lambda _: rng.choice(IDS))


def _value(text: str, rng: random.Random) -> str:
    return _replace(r"(?<=: )[^{}\n,#]+", text, rng, lambda _: rng.choice(VALUES))


def _value_of_another(text: str, rng: random.Random) -> str:
    values = re.findall(r"(?<=: )[^{}\n,#]+", text) or ["x"]
    return _replace(r"(?<=: )[^{}\n,#]+", text, rng, lambda _: rng.choice(values))


def _size(text: str, rng: random.Random) -> str:
    return re.sub(r"(?m)^(size|volume): .*$", lambda match: f"{match[1]}: {rng.choice(SIZES)}", text)


def _bounds(text: str, rng: random.Random) -> str:
    swaps = {
        "at_least": "at_most",
        "at_most": "at_least",
        "exactly": "at_least",
        " to ": " ± ",
        " ± ": " to ",
    }
    swaps |= {"at most": "at least", "at least": "at most"}
    pattern = "|".join(map(re.escape, swaps)) + r"|(\d+) to (\d+)"

    def changed(typed: str) -> str:
        if typed in swaps:
            return swaps[typed]
        low, high = typed.split(" to ")
        return f"{high} to {low}"

    return _replace(pattern, text, rng, changed)


def _key(text: str, rng: random.Random) -> str:
    def changed(typed: str) -> str:
        at = rng.randrange(len(typed))
        return rng.choice(
            (typed[:at] + typed[at + 1 :], typed.upper(), typed + "s", f"'{typed}'", "", "[a]", "{a: 1}")
        )

    return _replace(r"[a-z_]+(?=:)", text, rng, changed)


def _line_in(text: str, rng: random.Random) -> str:
    lines = _lines(text)
    at = rng.randrange(len(lines) + 1)
    lines[at:at] = rng.choice(LINES).split("\n")
    return "\n".join(lines)


def _line_at_end(text: str, rng: random.Random) -> str:
    """Add a block at the end in place of the block of the same name: the likeliest to be read in full."""
    block = rng.choice(LINES)
    key = block.partition(":")[0]
    without = (
        re.sub(rf"(?m)^{re.escape(key)}:.*\n(?:[ \t-].*\n)*", "", text) if key != "ingredients" else text
    )
    return f"{without.rstrip()}\n{block}\n"


def _character(text: str, rng: random.Random) -> str:
    at = rng.randrange(len(text) + 1)
    return text[:at] + rng.choice(CHARACTERS) + text[at + rng.choice((0, 0, 1)) :]


def _deep(text: str, rng: random.Random) -> str:
    depth = rng.choice((3, 30, 300, 5000))
    nested = rng.choice(
        ("[" * depth, "[" * depth + "]" * depth, "{a: " * depth + "1" + "}" * depth, "- " * depth)
    )
    return _replace(r"(?<=: )[^{}\n,#]+", text, rng, lambda _: nested)


def _anchors(text: str, rng: random.Random) -> str:
    return _replace(
        r"(?<=: )[^{}\n,#]+", text, rng, lambda typed: rng.choice((f"&x {typed}", "*x", f"!!str {typed}"))
    )


def _line_ends(text: str, rng: random.Random) -> str:
    return text.replace("\n", rng.choice(("\r\n", "\r", "\n\n", "  \n", "\u2028")))


def _comment(text: str, rng: random.Random) -> str:
    lines = _lines(text)
    at = rng.randrange(len(lines))
    lines[at] = f"#{lines[at]}"
    return "\n".join(lines)


CHANGES: tuple[Change, ...] = (
    _delete_line, _delete_line, _delete_block, _duplicate_line, _swap_lines, _indent, _truncate, _number,
    _number, _other_number, _other_number, _other_number, _unit, _unit, _id, _id, _value, _value,
    _value_of_another, _size, _size, _bounds, _key, _line_in, _line_at_end, _line_at_end, _character,
    _deep, _anchors, _line_ends, _comment,
)  # fmt: skip


ODD_TARGETS = {
    "strength": (
        "0 to 100 % vol", "at least 0 % vol", "at most 0 % vol", "exactly 0 % vol", "22 % vol",
        "50 % vol", "95 ± 1 % vol", "at least 39.9 % vol", "at most 5 % vol", "0 ± 0.1 % vol",
        "exactly 22 % vol", "21.999999 to 22 % vol", "40 proof", "10 to 15 % vol",
    ),
    "sugar": (
        "at least 0 g/L", "at most 0 g/L", "exactly 0 g/L", "0.1 g/L", "600 ± 5 g/L", "850 to 900 g/L",
        "exactly 180 g/L", "24 oz/gal", "at most 1e6 g/L", "at least 1300 g/L", "0 ± 1 g/L",
        "10 g/100 mL",
    ),
    "acid": (
        "at most 0 g/L", "exactly 0 g/L", "at least 0 g/L", "300 g/L", "0.001 g/L", "exactly 6 g/L",
        "at most 900 g/L",
    ),
    "bitterness": (
        "light", "medium", "firm", "strong", "like 1.2 g/L gentian-root", "like 1e-6 g/L gentian-root",
        "like 100 g/L gentian-root", "like 2 g/L wormwood", "same as house amaro, thinned 1 in 30",
        "same as it, thinned 1 in 1", "25 ± 4 (measured)", "at most 1 (measured)", "0 ± 1 (measured)",
    ),
    "cost": (
        "at most 0 EUR/L", "at least 0 EUR/L", "at most 0.01 EUR/L", "at most 40 EUR",
        "at least 60 EUR/L", "exactly 11 EUR/L", "at most 1e9 EUR/L", "at most 40 EUR/gal",
        "9 to 9.01 EUR/L",
    ),
    "loss": (
        "0 %", "99.9 %", "50 %", "1e-9 %",
    ),
    "fixed_loss": (
        "0 g", "20 kg", "1 mg", "400 g",
    ),
    "share_of_bitterness": (
        "exactly 0 %", "exactly 100 %", "exactly 50 %", "0 to 100 %", "at least 99.99 %",
    ),
    "price": (
        "0 EUR/kg", "1e-9 EUR/kg", "1e9 EUR/kg", "0.01 EUR/L", "1 EUR/oz", "5 EUR/gal",
    ),
    "pack": (
        "1 g", "1000 kg", "1 fl oz", "5 gal", "12 oz", "6 pieces", "0.001 mL",
    ),
    "on_hand": (
        "0 g", "1 mg", "1e6 kg", "3 pieces", "0 bottles", "1e-9 L",
    ),
    "time": ("0 h", "1 s", "14 days", "8784 h", "10 years", "3 h"),
    "temperature": ("0 °C", "60 °C", "-20 °C", "100 °C", "140 °F", "300 K"),
    "rinse": ("0 kg/kg", "5 kg/kg", "0.1 kg/kg"),
    "keep_by": ("1999-01-01", "9999-12-31"),
    "separate": ("coarse-sieve", "fine-sieve", "cloth", "press", "paper"),
    "piece": ("1 mg", "380 g", "400 kg", "1 oz"),
    "grapefruit-zest": ("0 %", "100 %", "1e-9 %", "60 %"),
    "grapefruit-juice": ("0 %", "100 %", "40 % w/w"),
    "made": ("2026-10-12", "1999-12-31", "9999-12-31"),
    "recipe": ("recipes/gentian-tincture.yaml", "recipes/quince-cordial.yaml", "shelf.yaml", "nowhere.yaml"),
    "amount": (
        "0 g", "1 mg", "1e6 kg", "1e-9 g", "5 fl oz", "2 bottles", "3 pieces", "1 gal", "70 cl",
    ),
}  # fmt: skip

ODD_LIMITS = (
    "at_least: 0 g", "at_most: 0 g", "exactly: 0 g", "exactly: 1 kg", "at_most: 1 mg",
    "at_least: 900 g per L bottled", "at_most: 50 %", "at_least: 99 %", "exactly: 10 %",
    "share_of_mass: exactly 20 %", "share_of_mass: 0 to 100 %", "share_of_bitterness: at least 50 %",
    "share_of_bitterness: exactly 0 %", "at_least: 3 oz per gal bottled", "at_most: 2 fl oz",
    "at_least: 2 bottles", "exactly: 3 pieces", "at_least: 1e-9 g", "at_least: 50 mL per L bottled",
    "at_least: 10 g, at_most: 10 g", "at_least: 1 kg, at_most: 5 g per L bottled", "at_most: 1e9 kg",
)  # fmt: skip

ODD_ADDED = (
    "water", "vodka-40", "gin-40", "neutral-spirit-96", "damson", "plum", "raspberry", "quince", "honey",
    "white-sugar", "citric-acid", "malic-acid", "lemon-juice", "gentian-root", "chicory-root",
    "seville-orange-peel-dried", "grapefruit-pith", "lemon-zest", "lemon-leaf",
)  # fmt: skip

ODD_BLOCKS = (
    *LINES[:14],
    *LINES[16:26],
    "together:\n  - {ratio: white-sugar to water, is: 1 to 1.1}",
    "together:\n  - {sum: [white-sugar, water], is: at least 400 g per L bottled}",
    "together:\n  - {sum: [white-sugar, water], is: at most 1 g}",
    "together:\n  - {share: [white-sugar], of: sugar, is: exactly 50 %}",
    "together:\n  - {share: [white-sugar, water], of: mass, is: at least 100 %}",
    "together:\n  - {share: [water], of: bitterness, is: 10 to 20 %}",
    "steps:\n  - infuse: {time: 14 days, temperature: 55 °C, separate: [press]}\n  - finish",
    "steps:\n  - infuse: {time: 1 s, temperature: 0 °C, separate: [paper], rinse: 0.5 kg/kg}\n  - finish",
    "steps:\n  - infuse: {time: 8784 h, temperature: 100 °C}\n  - finish: {time: 1 h, temperature: 20 °C}",
    "steps:\n  - infuse\n  - simmer: {loss: 50 %}\n  - mix: {strain: true}\n  - finish: {strain: true}",
    "steps:\n  - finish: {strain: false}\n  - simmer\n  - infuse: {strain: true}\n  - mix",
    "usual_tolerance: {strength: 1e-9 % vol, sugar: 1e-9 g/L}",
    "vessels: {jar-4l: 1e-6 L, kettle-12l: 1e6 L}", "vessels: {jar-4l: 1 gal}",
    "ingredients:\n  damson: {name: Stone, composition: {insoluble: 100 % w/w}}",
    "ingredients:\n  white-sugar: {name: Air, composition: {}}",
    "ingredients:\n  water: {name: Sea, composition: {water: 60 % w/w, salt: 30 % w/w, glycerol: 10 % w/w}}",
    "ingredients:\n  vodka-40: {name: Weak, strength: 0 % vol}",
    "ingredients:\n  vodka-40: {name: Syrupy, composition: {ethanol: 30 % w/w, sucrose: 70 % w/w}}",
    "ingredients:\n  gentian-root: {based_on: gentian-root, bitterness: {value: 1e12}}",
    "ingredients:\n  damson: {based_on: damson, retention: 3 kg/kg, piece: 12 g}",
)  # fmt: skip


def _odd_value(text: str, rng: random.Random) -> str:
    keys = "|".join(ODD_TARGETS)
    found = list(re.finditer(rf"\b({keys}): ([^,{{}}\n#]+)", text))
    if not found:
        return text
    match = rng.choice(found)
    return text[: match.start(2)] + rng.choice(ODD_TARGETS[match[1]]) + text[match.end(2) :]


def _odd_target(text: str, rng: random.Random) -> str:
    """Drop a target, or add one that is not there."""
    name = rng.choice(("strength", "sugar", "acid", "bitterness", "cost"))
    if re.search(rf"(?m)^  {name}: ", text):
        return re.sub(rf"(?m)^  {name}: .*\n", "", text, count=1)
    return text.replace("targets:", f"targets:\n  {name}: {rng.choice(ODD_TARGETS[name])}\n  #", 1)


def _odd_limit(text: str, rng: random.Random) -> str:
    """Put other limits on one ingredient of a bottle file, its step kept."""

    def changed(typed: str) -> str:
        name = re.match(r"  - ([a-z0-9-]+)", typed)
        step = re.search(r"step: [a-z]+", typed)
        limits = [rng.choice(ODD_LIMITS), *([step[0]] if step and rng.random() < 0.8 else [])]
        return f"  - {name[1] if name else 'water'}: {{{', '.join(limits)}}}"

    return _replace(
        r"(?m)^  - (?:" + "|".join(ODD_ADDED) + r")(?:: \{[^}\n]*\})?(?=\s|$)", text, rng, changed
    )


def _odd_ingredient(text: str, rng: random.Random) -> str:
    """Add an ingredient, perhaps limited, or take one out."""
    if rng.random() < 0.4:
        return _replace(r"(?m)^  - (?:" + "|".join(ODD_ADDED) + r")\b.*\n", text, rng, lambda _: "")
    limits = rng.choice(("", "", f": {{{rng.choice(ODD_LIMITS)}}}"))
    if re.search(r"(?m)^recipe:", text):
        limits = f": {{amount: {rng.choice(ODD_TARGETS['amount'])}}}"
    return re.sub(
        r"(?m)^ingredients:\n", lambda _: f"ingredients:\n  - {rng.choice(ODD_ADDED)}{limits}\n", text
    )


def _odd_block(text: str, rng: random.Random) -> str:
    """Add a whole part of a file, one that belongs there."""
    shelf = "offers:" in text
    fits = [
        block
        for block in ODD_BLOCKS
        if block.startswith(("usual_", "vessels", "ingredients", "whole", "house_made")) == shelf
    ]
    block = rng.choice(fits)
    key = block.partition(":")[0]
    without = re.sub(rf"(?m)^{re.escape(key)}:.*\n(?:[ \t-].*\n)*", "", text)
    return f"{without.rstrip()}\n{block}\n"


ODD_CHANGES: tuple[Change, ...] = (
    _odd_value, _odd_value, _odd_value, _odd_target, _odd_limit, _odd_limit, _odd_ingredient, _odd_block,
    _size, _other_number, _bounds,
)  # fmt: skip


def _flip(raw: bytes, rng: random.Random) -> bytes:
    changed = bytearray(raw)
    for _ in range(rng.choice((1, 4, 64))):
        if changed:
            changed[rng.randrange(len(changed))] = rng.randrange(256)
    return bytes(changed)


def _other_encoding(raw: bytes, rng: random.Random) -> bytes:
    return raw.decode("utf-8", errors="ignore").encode(
        rng.choice(("utf-16", "latin-1", "cp1252")), errors="replace"
    )


def _noise(_: bytes, rng: random.Random) -> bytes:
    return rng.randbytes(rng.choice((0, 1, 100, 3000)))


BYTE_CHANGES = (_flip, _flip, _other_encoding, _noise)
