"""Reading files with places: what is typed, what is refused, where things stand."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest
from conftest import ROOT
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import SourceLocation, SpecError
from formulate.files import located
from formulate.files.issues import Places
from formulate.files.located import load_document

BOTTLE = """\
name: Damson   # plain text
size: 5 L bottled
targets:
  strength: 22 ± 0.3 % vol
ingredients:
  - vodka-40
  - damson: {at_least: 250 g per L bottled, step: infuse}
"""


def test_only_what_can_mean_one_thing_is_more_than_text() -> None:
    # The values in the first column are those other readers turn into False, 750, 8, a date and so on.
    text = """\
no: NO
clock: 12:30
octal: 010
date: 2024-01-01
hex: 0x1F
underscore: 1_000
bare: .5
point: "5."
signs: ++1
quoted: '12'
big: 123456789012345678901234567890
far: 1e999
yes: yes
capital: True
nothing: Null
int: 12
negative: -3
float: -1.50
power: 1e-3
true: true
false: false
empty:
tilde: ~
null_: null
"""
    with pytest.raises(SpecError, match=r"text:20:1: a key must be a word, got true\."):
        load_document(text)
    data = load_document(text.replace("\ntrue: ", "\nt: ").replace("\nfalse: ", "\nf: ")).data
    numbers = {"int": 12, "negative": -3, "float": -1.5, "power": 0.001, "t": True, "f": False}
    empties = {"empty": None, "tilde": None, "null_": None}
    for key, value in data.items():
        if key in numbers:
            assert value == numbers[key]
            assert type(value) is type(numbers[key])
        elif key in empties:
            assert value is None
        else:
            assert isinstance(value, str), key


def test_places_are_those_an_editor_shows() -> None:
    places = load_document(BOTTLE, "bar/damson.yaml").places
    limit = ("ingredients", 1, "damson", "at_least")
    assert places.value(("name",)) == SourceLocation("bar/damson.yaml", 1, 7)
    assert places.value(limit) == SourceLocation("bar/damson.yaml", 7, 24)
    assert places.key(limit) == SourceLocation("bar/damson.yaml", 7, 14)
    assert places.value(("ingredients", 0)) == SourceLocation("bar/damson.yaml", 6, 5)
    assert places.typed(limit) == "250 g per L bottled"
    assert places.typed(("name",)) == "Damson"


def test_a_missing_path_gives_its_nearest_parent() -> None:
    places = load_document(BOTTLE).places
    assert places.value(("targets", "sugar")) == places.key(("targets",)) == SourceLocation("text", 3, 1)
    assert places.key(("ingredients", 1, "damson", "at_most")) == places.key(("ingredients", 1, "damson"))
    assert places.value(("nowhere", 3, "at", "all")) == SourceLocation("text", 1, 1)
    assert Places().value(("anything",)) == SourceLocation("", 1, 1)


def test_an_excerpt_shows_the_line_above_and_a_caret() -> None:
    places = load_document(BOTTLE).places
    assert places.excerpt(("targets", "strength")) == (
        "   3 | targets:\n   4 |   strength: 22 ± 0.3 % vol\n     |             ^^^^^^^^^^^^^^"
    )
    assert places.excerpt(("name",), key=True) == "   1 | name: Damson   # plain text\n     | ^^^^"


def test_an_excerpt_of_a_long_line_stays_readable() -> None:
    places = load_document("notes: {first: " + "x" * 300 + ", second: here}").places
    rows = places.excerpt(("notes", "second")).splitlines()
    assert max(len(row) for row in rows) <= 110
    caret = rows[-1].index("^")
    assert rows[0][caret : caret + 4] == "here"


def test_line_ends_of_windows_and_a_byte_order_mark_do_not_move_places(tmp_path: Path) -> None:
    path = tmp_path / "bottle.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + BOTTLE.replace("\n", "\r\n").encode())
    document = load_document(path)
    assert document.data == load_document(BOTTLE).data
    assert document.places.value(("targets", "strength")) == SourceLocation(path.as_posix(), 4, 13)
    assert "\r" not in document.places.excerpt(("targets", "strength"))


def test_a_piece_of_a_file_keeps_the_lines_of_the_whole() -> None:
    places = load_document("  plum:\n    ph: 3.3\n", "fruits.yaml", first_line=40).places
    assert places.value(("plum", "ph")) == SourceLocation("fruits.yaml", 41, 9)
    assert places.excerpt(("plum", "ph")).startswith("  40 |   plum:")


def test_documents_survive_a_process_pool() -> None:
    document = load_document(BOTTLE)
    assert pickle.loads(pickle.dumps(document)) == document


def _refusal(source: str | Path) -> str:
    with pytest.raises(SpecError) as caught:
        load_document(source)
    assert len(caught.value.problems) == 1
    return str(caught.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    assert _refusal(tmp_path / "none.yaml").endswith("none.yaml:1:1: there is no such file. Check the path.")
    assert _refusal(tmp_path).endswith(":1:1: this is a folder. Name a file in it.")


def test_a_large_file_is_refused_before_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "large.yaml"
    path.write_bytes(b"a" * (located.LARGEST_FILE_BYTES + 1))

    def no_reading(self: Path) -> bytes:
        raise AssertionError("the file was read")

    monkeypatch.setattr(Path, "read_bytes", no_reading)
    assert "the file is too large, got 5000001 bytes. At most 5000000 are read." in _refusal(path)


def test_many_values_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(located, "MOST_NODES", 1000)
    assert "more than 1000 values in one file. Split it." in _refusal("a: [" + "1, " * 1001 + "]")
    assert load_document("a: [" + "1, " * 990 + "]").data["a"] == [1] * 990


def test_nesting_is_allowed_up_to_forty() -> None:
    assert load_document("a: " + "[" * 39 + "]" * 39).data
    assert "nested more than 40 deep" in _refusal("a: " + "[" * 40 + "]" * 40)
    assert "nested more than 40 deep" in _refusal("a: " + "[" * 20_000)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("a: [1, 2", "text:1:4: the [ opened here is never closed. Close it."),
        ("a: {b: [1, 2}", "text:1:13: a comma or a closing bracket is missing before this."),
        ("a: 'x", "text:1:4: a quote opened here is never closed. Close it."),
        ("a: @x", "text:1:4: text cannot start with @. Put it in quotes."),
        ("a: `x`", "text:1:4: text cannot start with `. Put it in quotes."),
        ("a: &", "text:1:4: text cannot start with &. Put it in quotes."),
        ("a: * 2", "text:1:4: text cannot start with *. Put it in quotes."),
        ("a: !x!y z", "text:1:4: text cannot start with !. Put it in quotes."),
        ("a: 'b' c", "text:1:8: this does not line up with the lines above it."),
        ("a: }", "text:1:4: the file cannot be read from here on."),
        ("a: x\n=======\nb: y", "text:2:1: marks of an unfinished merge."),
        ("a: x\n>>>>>>> theirs", "text:2:1: marks of an unfinished merge."),
        ("? a\n: b\n? a\n: c", "text:3:3: a: 'a' is given twice, first in line 1. Keep one."),
        ("\n# c\n%TAG ! x\n---\na: b", "text:3:1: a line that starts with %. Delete it."),
        ("a: b\u0085c\x1b[31m", "text:1:7: a character that cannot be printed (U+001B). Delete it."),
    ],
)
def test_refusals_in_our_own_words(text: str, message: str) -> None:
    assert _refusal(text).startswith(message)


def test_nothing_typed_can_move_the_cursor_of_a_terminal() -> None:
    places = load_document('"a\\e[31m": "b\\r\\u202ec"').places
    problem = places.problem(("a\x1b[31m",), "got b\r\u202ec.")
    assert problem.path == r"a\x1b[31m"
    assert problem.message == r"got b\r\u202ec."


@given(st.text(max_size=60) | st.from_regex(r"[-a-z:{}\[\],'\"\n #|>&*!%@0-9.~?]{1,60}", fullmatch=True))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        document = load_document(text)
    except SpecError as refusal:
        places = [problem.location for problem in refusal.problems]
    else:
        places = [document.places.value((key,)) for key in document.data]
    lines = text.count("\n") + 1
    assert all(place is not None and 1 <= place.line <= lines and place.column >= 1 for place in places)


def test_our_own_files_are_read_alike_by_the_compiled_and_the_plain_parser(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Every tree and every place; and without the compiled part the plain one is taken."""
    pytest.importorskip("_ruamel_yaml")
    paths = sorted((ROOT / "specs").rglob("*.yaml"))
    plain = [load_document(path) for path in paths]
    assert len(paths) > 30
    assert [load_document(path, ours=True) for path in paths] == plain
    monkeypatch.setattr("ruamel.yaml.main.CParser", None)
    assert load_document(paths[0], ours=True) == plain[0]
