"""Changes in the text of a file: what was asked for, and nothing else."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.files.editing import quoted, with_item, with_value, without
from formulate.files.located import load_document
from tests.commands import EXAMPLES

TEXT = """\
# What it is for.
name: Test liqueur   # its name

targets:
  strength: 30 % vol   # as sold
  sugar: 240 g/L

# What goes in.
ingredients:
  - neutral-spirit-96
  - water   # from the tap
  - lemon-leaf: {exactly: 45 g per L bottled}   # fresh
  - lemon-zest: {at_least: 10 g per L bottled, at_most: 20 g per L bottled}
steps: [infuse, finish]
# The end.
"""


def comments(text: str) -> list[str]:
    return [line[line.index("#") :] for line in text.splitlines() if "#" in line]


def changed(path: tuple[str | int, ...], value: Any) -> dict[str, Any]:
    data = copy.deepcopy(load_document(TEXT).data)
    node: Any = data
    for part in path[:-1]:
        node = node.setdefault(part, {}) if isinstance(node, dict) else node[part]
    node[path[-1]] = value
    return data


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("name",), "A: b # c"),
        (("name",), 'Say "when"\nand stop'),
        (("targets", "strength"), "25 ± 0.5 % vol"),
        (("targets", "bitterness"), "firm"),
        (("size",), "2 L bottled"),
        (("choose", "plants"), 2),
        (("ingredients", 0), {"vodka-40": {"at_most": "3 kg"}}),
        (("ingredients", 2, "lemon-leaf", "exactly"), "40 g per L bottled"),
        (("ingredients", 3, "lemon-zest", "optional"), True),
        (("ingredients", 1), "no"),
        (("steps",), ["infuse"]),
        (("steps", 1), "12"),
        (("targets",), {"sugar": "0 g/L", "strength": "40 % vol"}),
    ],
)
def test_a_value_is_set_and_no_comment_lost(path: tuple[str | int, ...], value: Any) -> None:
    document = with_value(load_document(TEXT, "bottle.yaml"), path, value)
    assert document.data == changed(path, value)
    assert document.places.file == "bottle.yaml"
    kept = comments(TEXT) if path != ("targets",) else comments(TEXT)[:2] + comments(TEXT)[3:]
    assert [line for line in kept if line not in document.places.text] == []


def test_a_key_without_a_value_gets_one() -> None:
    assert with_value(load_document("name:   # here\nsize: 2 L\n"), ("name",), "x").data == {
        "name": "x",
        "size": "2 L",
    }


@pytest.mark.parametrize(
    ("path", "left_out"),
    [
        (("targets", "sugar"), []),
        (("targets", "strength"), ["# as sold"]),
        (("ingredients", 1), ["# from the tap"]),
        (("ingredients", 2), ["# fresh"]),
        (("ingredients", 3, "lemon-zest", "at_least"), []),
        (("ingredients", 3, "lemon-zest", "at_most"), []),
        (("steps", 0), []),
        (("steps", 1), []),
    ],
)
def test_a_key_or_an_item_is_taken_out(path: tuple[str | int, ...], left_out: list[str]) -> None:
    document = without(load_document(TEXT), path)
    data = copy.deepcopy(load_document(TEXT).data)
    node: Any = data
    for part in path[:-1]:
        node = node[part]
    del node[path[-1]]
    assert document.data == data
    assert [c for c in comments(TEXT) if c not in document.places.text] == left_out


def test_what_held_a_value_alone_goes_with_it() -> None:
    document = without(load_document("a: 1\nb:\n  c: {d: 2}\n"), ("b", "c", "d"))
    assert document.data == {"a": 1}
    with pytest.raises(KeyError):
        without(document, ("a", "b"))


def test_the_first_key_of_an_item_leaves_its_dash_to_the_next() -> None:
    document = without(load_document("rows:\n  - a: 1\n    b: 2\n  - c\n"), ("rows", 0, "a"))
    assert document.data == {"rows": [{"b": 2}, "c"]}


@pytest.mark.parametrize(
    "text", [TEXT, "steps: []\n", "other: 1\n", "steps: [a]", "steps:\n- a\n- b   # c\n"]
)
def test_an_item_goes_to_the_end_of_its_list(text: str) -> None:
    before = load_document(text)
    document = with_item(before, ("steps",), {"rest": {"time": "2 h"}})
    assert document.data == {
        **before.data,
        "steps": [*before.data.get("steps", []), {"rest": {"time": "2 h"}}],
    }
    assert comments(document.places.text) == comments(text)


def test_a_list_that_is_not_there_has_no_item() -> None:
    with pytest.raises(KeyError):
        with_value(load_document(TEXT), ("ingredients", 9), "water")


@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1))
def test_any_text_reads_back(value: str) -> None:
    assert load_document(f"name: {quoted(value)}\n").data == {"name": value}
    assert load_document(f"rows: [{quoted(value)}, 1]\n").data == {"rows": [value, 1]}


ONE_OF_EACH = [
    EXAMPLES / name
    for name in ("bottles/lemon-leaf-liqueur.yaml", "drinks/amber-hour.yaml", "jars/damson-jar.yaml")
]


@pytest.mark.parametrize("path", ONE_OF_EACH, ids=lambda path: path.stem)
def test_every_value_of_an_example_can_be_set_and_taken_out(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    document = load_document(text)
    for way in filter(None, document.places.values):
        node: Any = document.data
        for part in way:
            node = node[part]
        same = with_value(document, way, node)
        assert same.data == document.data, way
        shorter = without(document, way) if len(document.data) > 1 or len(way) > 1 else document
        assert set(shorter.places.values) != set(document.places.values) or shorter is document, way
