"""What the JSON of every command has in common: one document, its version, and remarks under one name."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from conftest import RunCommand

DAMSON = "examples/bottles/damson-aperitif.yaml"
COMMANDS = [
    ["check", DAMSON],
    ["solve", DAMSON, "--prices"],
    ["solve", "examples/bottles/few-things.yaml", "--weigh"],
    ["solve", "examples/bottles/damson-too-cheap.yaml", "--nearest"],
    ["predict", "examples/recipes/amber-digestif.yaml"],
    ["predict", "examples/jars/damson-jar.yaml"],
    ["scale", "examples/recipes/damson-aperitif.yaml", "--to", "12 L bottled"],
    ["infuse", "examples/bottles/blackcurrant-liqueur.yaml"],
    ["gauge", "examples/jars/damson-reading.yaml"],
    ["adjust", "examples/jars/damson-reading.yaml", "--card"],
    ["reformulate", "examples/recipes/damson-aperitif.yaml", "--without", "citric-acid"],
    [
        *("tradeoff", "examples/bottles/few-things.yaml", "--vary", "sugar"),
        *("--from", "145 g/L", "--to", "155 g/L", "--points", "3"),
    ],
    ["prices", "examples/price-list-shelf.yaml"],
    ["buy", "examples/bottles/quince-cordial.yaml"],
    ["menu", "examples/menus/autumn.yaml"],
    ["suppose", "examples/scenarios/damson-year.yaml"],
    ["pour", "examples/drinks/amber-hour.yaml", "--batch", "3 bottles of 70 cl"],
    ["compare", "examples/trials/fridge.yaml", "examples/trials/warm.yaml"],
]
REMARK = {"code", "text", "source"}
"""What every remark has; a caution has its short words, its place in the work and its rank besides."""
SILENT = {"check", "compare", "prices"}
"""Commands with nothing to remark."""


def _maps(value: Any) -> Iterator[dict[str, Any]]:
    if isinstance(value, dict):
        yield value
    for item in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from _maps(item)


@pytest.mark.parametrize("arguments", COMMANDS, ids=lambda arguments: " ".join(arguments[:2]))
def test_remarks_stand_under_one_name_with_their_source(arguments: list[str], run_here: RunCommand) -> None:
    done = run_here(*arguments, "--json")
    assert (done.exit_code, done.stderr, done.crash) == (4 if "--nearest" in arguments else 0, "", "")
    document = json.loads(done.stdout)
    assert document["schema_version"] == 1
    assert document["status"]
    maps = list(_maps(document))
    assert not [given for given in maps if "notes" in given]
    told = [set(given) for given in maps if "code" in given]
    assert all(keys in (REMARK, REMARK | {"short", "place", "rank", "for_guests"}) for keys in told)
    if arguments[0] not in SILENT:
        assert document["warnings"]


def test_a_reformulated_recipe_keeps_what_solve_would_remark(run_here: RunCommand) -> None:
    asked = ["reformulate", "examples/recipes/quince-cordial.yaml", "--without", "malic-acid", "--json"]
    codes = [note["code"] for note in json.loads(run_here(*asked).stdout)["warnings"]]
    assert codes[0] == "handed_over"
    assert "priced_by_use" in codes
