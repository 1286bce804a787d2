"""Files a person wrote, read so that every value knows its line and column.

The tree is built from the parser's events with a stack of our own: nothing is guessed (``NO``,
``12:30``, ``010`` and dates stay text), nothing is overwritten (a key given twice is refused), and a
hostile file is stopped by size, depth or count before it costs memory. This is the one door to the
YAML library; its words never reach the person.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from formulate.errors import SourceLocation, SpecError, SpecProblem
from formulate.files.disk import NotPlainError, read_plain, resolved
from formulate.files.issues import KeyPath, Places, Span, dotted, printable

if TYPE_CHECKING:
    from ruamel.yaml.events import Event

__all__ = ["Document", "load_document", "note_file", "noting_files", "reads_as_text"]

_NOTED: ContextVar[dict[Path, bytes] | None] = ContextVar("noted", default=None)


@contextlib.contextmanager
def noting_files() -> Iterator[dict[Path, bytes]]:
    """Note every file that is read meanwhile, with what stood in it; yields the notes."""
    noted: dict[Path, bytes] = {}
    before = _NOTED.set(noted)
    try:
        yield noted
    finally:
        _NOTED.reset(before)


def note_file(path: Path, raw: bytes | None = None) -> None:
    """Note that a file was read, for whoever asked by `noting_files`; without `raw` it is read for that."""
    noted = _NOTED.get()
    if noted is not None:
        noted[resolved(path)] = read_plain(path, LARGEST_NOTED_BYTES) if raw is None else raw


Node = dict[str, Any] | list[Any] | str | int | float | bool | None

LARGEST_FILE_BYTES = 5_000_000
LARGEST_NOTED_BYTES = 200_000_000
DEEPEST_NESTING = 40
MOST_NODES = 100_000

_INTEGER = re.compile(r"[-+]?(?:0|[1-9][0-9]{0,17})")
_DECIMAL = re.compile(
    r"[-+]?(?:0|[1-9][0-9]{0,17})(?:\.[0-9]{1,30}(?:[eE][-+]?[0-9]{1,2})?|[eE][-+]?[0-9]{1,2})"
)
_CONFLICT = re.compile(r"^(?:<{7}(?: .*)?|={7}|>{7}(?: .*)?)\r?$", re.MULTILINE)
_TAB = re.compile(r"^ *\t", re.MULTILINE)
_DIRECTIVE = re.compile(r"(?:[ \t]*(?:#[^\n]*)?\n)*%")
_HALF = re.compile(r"[\ud800-\udfff]")
_FORBIDDEN = re.compile(r"[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, slots=True)
class Document:
    """A file as a plain tree of dict, list, text, number, bool and None, with its places."""

    data: dict[str, Any]
    places: Places
    path: Path | None = None


def load_document(
    source: Path | str, name: str | None = None, *, first_line: int = 1, ours: bool = False
) -> Document:
    """Read one YAML map, refusing whatever could be read in two ways.

    Parameters
    ----------
    source : Path or str
        A path to read, or the text itself.
    name : str, optional
        How to call the file in messages; the path as given if not said, else ``text``.
    first_line : int
        Number of the first line, when the text was cut out of a longer file.
    ours : bool
        Of the data that travel with the package: read eight times as fast by the compiled part of the YAML
        library, where it is there. It gives the same for those files, which a test proves; other files may
        hold what YAML 1.1 and 1.2 read differently.

    Returns
    -------
    Document
        The tree and the places.

    Raises
    ------
    SpecError
        If the file cannot be read or is not one plain map; the problem carries the place.
    """
    if isinstance(source, Path):
        name = (name or source.as_posix()).replace("\\", "/")
        text = _read_text(source, name)
    else:
        name = name or "text"
        text = source
    text = text.removeprefix("\ufeff")
    starts = (0, *(match.end() for match in re.finditer("\n", text)))
    builder = _Builder(Places(file=name, text=text, first_line=first_line, line_starts=starts))
    return Document(*builder.build(ours), source if isinstance(source, Path) else None)


def _read_text(path: Path, name: str) -> str:
    try:
        raw = read_plain(path, LARGEST_FILE_BYTES)
    except FileNotFoundError:
        raise _whole_file(name, f"there is no such file. {_nearest_file(path)}") from None
    except IsADirectoryError:
        raise _whole_file(name, "this is a folder. Name a file in it.") from None
    except NotPlainError:
        raise _whole_file(name, "this is a pipe or a device, not a file. Name a file.") from None
    except OSError as error:
        raise _whole_file(
            name, f"the file cannot be read ({error.strerror}). Check the path and the permissions."
        ) from error
    if len(raw) > LARGEST_FILE_BYTES:
        raise _whole_file(
            name,
            f"the file is too large, got {path.stat().st_size} bytes. At most {LARGEST_FILE_BYTES} are read.",
        )
    note_file(path, raw)
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        column = len(raw[raw.rfind(b"\n", 0, error.start) + 1 : error.start].decode("utf-8")) + 1
        byte = f"byte {error.start} is 0x{raw[error.start]:02x}"
        message = f"not UTF-8 text: {byte}. Save the file as UTF-8 in your editor."
        raise SpecError([SpecProblem(SourceLocation(name, line, column), "", message)]) from error


MOST_NEIGHBOURS = 1000
"""So many files of a folder are looked at for a name that is meant."""


def _nearest_file(path: Path) -> str:
    """Advise the file that may be meant, out of the same folder."""
    from difflib import get_close_matches
    from itertools import islice

    try:
        names = [one.name for one in islice(path.parent.iterdir(), MOST_NEIGHBOURS) if one.is_file()]
    except OSError:
        names = []
    near = get_close_matches(path.name, names, n=1)
    return f"Did you mean {path.with_name(near[0]).as_posix()}?" if near else "Check the path."


def _whole_file(name: str, message: str) -> SpecError:
    return SpecError([SpecProblem(SourceLocation(name, 1, 1), "", message)])


def _scalar(text: str) -> Node:
    """Type an unquoted scalar: only what can mean one thing is more than text."""
    if text in ("", "~", "null"):
        return None
    if text in ("true", "false"):
        return text == "true"
    if _INTEGER.fullmatch(text):
        return int(text)
    if _DECIMAL.fullmatch(text):
        return float(text)
    return text


def reads_as_text(text: str) -> bool:
    """Tell whether unquoted characters are read as text, and not as a number, a yes or no, or nothing."""
    return isinstance(_scalar(text), str)


@dataclass(slots=True)
class _Frame:
    """A map or list that is still open."""

    path: KeyPath
    start: int
    node: dict[str, Any] | list[Any]
    key: str | None = None

    def child_path(self) -> KeyPath:
        if isinstance(self.node, list):
            return (*self.path, len(self.node))
        return (*self.path, self.key or "")


class _Builder:
    """Turn events into the tree, stopping at the first thing refused."""

    def __init__(self, places: Places) -> None:
        self.places = places
        self.values: dict[KeyPath, Span] = {}
        self.keys: dict[KeyPath, Span] = {}
        self.nodes = 0
        self.stack: list[_Frame] = []
        self.root: Node = None

    def fail(self, start: int, end: int, message: str, path: KeyPath = ()) -> SpecError:
        start = min(start, len(self.places.text.rstrip("\r\n")))
        excerpt = self.places.excerpt_at(start, max(end, start + 1))
        return SpecError(
            [SpecProblem(self.places.location(start), dotted(path), printable(message), excerpt)]
        )

    def build(self, ours: bool) -> tuple[dict[str, Any], Places]:
        """Read the whole text."""
        text = self.places.text
        if len(text) > LARGEST_FILE_BYTES:
            raise _whole_file(
                self.places.file, f"the file is too large. At most {LARGEST_FILE_BYTES} bytes are read."
            )
        self._before_parsing(text)
        documents = 0
        for event in self._events(text, ours):
            kind = type(event).__name__
            if kind == "DocumentStartEvent":
                documents += 1
                if documents > 1:
                    start = event.start_mark.index
                    raise self.fail(
                        start, start + 3, "a second document starts here. Keep one document per file."
                    )
            elif kind in ("MappingStartEvent", "SequenceStartEvent"):
                self._open(event, {} if kind == "MappingStartEvent" else [])
            elif kind in ("MappingEndEvent", "SequenceEndEvent"):
                frame = self.stack.pop()
                self.values[frame.path] = (frame.start, max(frame.start + 1, event.start_mark.index))
            elif kind == "ScalarEvent":
                self._scalar_event(event)
            elif kind == "AliasEvent":
                raise self._no_alias(event)
        if not isinstance(self.root, dict):
            shown = "a list" if isinstance(self.root, list) else "a single value"
            if self.root is None:
                raise _whole_file(self.places.file, "the file is empty. Write `key: value` lines.")
            start, _ = self.values[()]
            raise self.fail(start, start + 1, f"the file must hold `key: value` lines, got {shown}.")
        self.values.setdefault((), (0, 0))
        places = Places(
            self.places.file, text, self.places.first_line, self.values, self.keys, self.places.line_starts
        )
        return self.root, places

    def _before_parsing(self, text: str) -> None:
        forbidden = _FORBIDDEN.search(text)
        if forbidden:
            code = ord(forbidden[0])
            raise self.fail(
                forbidden.start(),
                forbidden.end(),
                f"a character that cannot be printed (U+{code:04X}). Delete it.",
            )
        conflict = _CONFLICT.search(text)
        if conflict:
            raise self.fail(
                conflict.start(),
                conflict.start() + 7,
                "marks of an unfinished merge. Choose one version and delete them.",
            )
        directive = _DIRECTIVE.match(text)
        if directive:
            raise self.fail(directive.end() - 1, directive.end(), "a line that starts with %. Delete it.")
        tab = _TAB.search(text)
        if tab:
            raise self.fail(tab.end() - 1, tab.end(), "a tab in the indentation. Indent with spaces.")

    def _events(self, text: str, ours: bool) -> Iterator[Event]:
        from ruamel.yaml import YAML
        from ruamel.yaml.error import MarkedYAMLError, YAMLError

        try:
            yield from YAML(typ="safe", pure=not ours).parse(text)
        except MarkedYAMLError as error:
            raise self._syntax(
                error.context_mark, error.problem_mark, error.context or "", error.problem or ""
            ) from None
        except YAMLError:
            raise self.fail(0, 1, "the file cannot be read. Check it for stray characters.") from None

    def _syntax(self, context_mark: Any, problem_mark: Any, context: str, problem: str) -> SpecError:
        start: int = problem_mark.index if problem_mark is not None else 0
        opened: int = context_mark.index if context_mark is not None else start
        at_end = "end" in problem or "\\x00" in problem or start >= len(self.places.text.rstrip())
        character = self.places.text[start : start + 1]
        if "anchor" in context or "alias" in context:
            message = f"text cannot start with {self.places.text[opened : opened + 1]}. Put it in quotes."
            start = opened
        elif "quoted scalar" in context and "escape" in problem:
            message = "a backslash in double quotes starts a code that is not known. Use single quotes."
        elif "quoted scalar" in context:
            message, start = "a quote opened here is never closed. Close it.", opened
        elif "flow" in context and at_end:
            start = self._open_bracket(start)
            message = f"the {self.places.text[start : start + 1]} opened here is never closed. Close it."
        elif "flow" in context:
            message = "a comma or a closing bracket is missing before this. Check the brackets."
        elif "cannot start any token" in problem:
            name = "a tab" if character == "\t" else character
            message = f"text cannot start with {name}. " + (
                "Use a space." if character == "\t" else "Put it in quotes."
            )
        elif "mapping values are not allowed" in problem:
            message = (
                "a colon where none is expected. Put text with a colon in quotes, or check the indentation."
            )
        elif "expected ':'" in problem:
            message, start = "neither `key: value` nor a list item `- value`. Write one of the two.", opened
        elif "block" in context and "expected <block end>" in problem:
            message = "this does not line up with the lines above it. Check the indentation and the quotes."
        elif "tag" in context or "tag" in problem:
            message = "text cannot start with !. Put it in quotes."
        else:
            message = "the file cannot be read from here on. Check the indentation, colons and quotes."
        return self.fail(start, start + 1, message)

    def _open_bracket(self, fallback: int) -> int:
        """Find the innermost bracket still open: the text is at its end."""
        for frame in reversed(self.stack):
            if self.places.text[frame.start : frame.start + 1] in ("{", "["):
                return frame.start
        return fallback

    def _no_alias(self, event: Event) -> SpecError:
        start, end = event.start_mark.index, event.end_mark.index
        return self.fail(
            start, end, "a reference (*) to another place. Write the value out; quote it if it is text."
        )

    def _check_plain(self, event: Any) -> None:
        start = event.start_mark.index
        if event.anchor is not None:
            raise self.fail(
                start, start + 1 + len(event.anchor), "an anchor (&). Write the value out where it is needed."
            )
        if getattr(event, "tag", None) is not None:
            end = start + len(re.match(r"\S*", self.places.text[start:])[0])  # type: ignore[index]
            raise self.fail(start, end, "a type mark (!). Write the plain value; quote it if it is text.")

    def _count(self, start: int) -> None:
        self.nodes += 1
        if self.nodes > MOST_NODES:
            raise self.fail(start, start + 1, f"more than {MOST_NODES} values in one file. Split it.")

    def _place(self, node: Node, start: int) -> KeyPath:
        """Hang a node into the open map or list and return its path."""
        self._count(start)
        if not self.stack:
            self.root = node
            return ()
        frame = self.stack[-1]
        path = frame.child_path()
        if isinstance(frame.node, list):
            frame.node.append(node)
        else:
            frame.node[frame.key or ""] = node
            frame.key = None
        return path

    def _wants_key(self) -> bool:
        return bool(self.stack) and isinstance(self.stack[-1].node, dict) and self.stack[-1].key is None

    def _open(self, event: Any, node: dict[str, Any] | list[Any]) -> None:
        self._check_plain(event)
        start = event.start_mark.index
        if self._wants_key():
            raise self.fail(
                start, start + 1, "a key must be a word, got a bracket. Put it in quotes if it is text."
            )
        if len(self.stack) >= DEEPEST_NESTING:
            raise self.fail(start, start + 1, f"nested more than {DEEPEST_NESTING} deep. Flatten the file.")
        self.stack.append(_Frame(self._place(node, start), start, node))

    def _scalar_event(self, event: Any) -> None:
        self._check_plain(event)
        start, end = event.start_mark.index, event.end_mark.index
        plain = not event.style
        typed: str = event.value
        if not plain and _HALF.search(typed):
            # JSON writes a character beyond the first 65 536 as two halves; one half alone is none.
            try:
                typed = typed.encode("utf-16", "surrogatepass").decode("utf-16")
            except UnicodeDecodeError:
                raise self.fail(start, end, "half a character is written by its code. Delete it.") from None
        if not self._wants_key():
            path = self._place(_scalar(typed) if plain else typed, start)
            if start == end and path in self.keys:
                start, end = self.keys[path]  # an empty value has no characters of its own
            self.values[path] = (start, end)
            return
        frame = self.stack[-1]
        key = typed
        assert isinstance(frame.node, dict)
        path = (*frame.path, key)
        if key == "<<" and plain:
            raise self.fail(start, end, "a merge key (<<). Write the keys out here.", frame.path)
        if plain and not isinstance(_scalar(key), str):
            shown = key or "nothing"
            raise self.fail(
                start,
                end,
                f"a key must be a word, got {shown}. Put it in quotes if it is a name.",
                frame.path,
            )
        if key in frame.node:
            first = self.places.location(self.keys[path][0])
            raise self.fail(
                start, end, f"{key!r} is given twice, first in line {first.line}. Keep one.", path
            )
        self._count(start)
        self.keys[path] = (start, end)
        frame.key = key
