"""Changing one value in the text of a file, so that all else that somebody wrote stays as it is."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from formulate.files.issues import KeyPath, Span
from formulate.files.located import Document, load_document, reads_as_text

__all__ = ["in_one_line", "quoted", "with_item", "with_value", "without"]

_PLAIN = re.compile(r"(?:\.\./)*[^\W_][\w./±%()°+-]*(?: [\w./±%()°+-]+)*")
_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r"}


def quoted(value: str) -> str:
    """Write text so that it is read back as the same text, quoted unless it is plain words and figures."""
    if _PLAIN.fullmatch(value) and reads_as_text(value):
        return value
    escaped = "".join(
        _ESCAPES.get(one) or (one if one.isprintable() else f"\\U{ord(one):08X}") for one in value
    )
    return f'"{escaped}"'


def with_value(document: Document, path: KeyPath, value: Any) -> Document:
    """Set a value; comments, order and blank lines stay.

    Parameters
    ----------
    document : Document
        Read from a file or a text.
    path : tuple of str or int
        Way to the value. Its last keys may be missing: they are added at the end of what holds them.
    value : str, number, bool, list or mapping
        Text is written so that it reads back as that text.

    Returns
    -------
    Document
        The changed text, read again.

    Raises
    ------
    KeyError
        If a list on the way has no such item.
    SpecError
        If the changed text cannot be read.
    """
    if not path:
        raise KeyError(path)
    if path in document.places.values:
        start, end = _span(document, path)
        if not _inin_one_line(document, path) and isinstance(path[-1], int):
            column = start - document.places.text.rfind("\n", 0, start) - 1
            return _replaced(document, start, end, _block(value, " " * column).lstrip())
        if document.places.keys.get(path) == (start, end):  # a key that nothing stands behind
            start = end = document.places.text.index(":", end) + 1
            return _replaced(document, start, end, f" {in_one_line(value)}")
        return _replaced(document, start, end, in_one_line(value))
    parent, key = path[:-1], path[-1]
    if isinstance(key, int):
        raise KeyError(path)
    if parent not in document.places.values or not isinstance(_node(document, parent), dict):
        return with_value(document, parent, {key: value})
    if parent and _inin_one_line(document, parent, itself=True):
        return _into_flow(document, parent, f"{in_one_line(key)}: {in_one_line(value)}")
    siblings = [one for one in document.places.keys if one[:-1] == parent]
    indent = " " * _column(document, document.places.keys[siblings[0]][0]) if siblings else ""
    line = _block({key: value}, indent)
    return _new_line(document, _span(document, parent)[1], line)


def with_item(document: Document, path: KeyPath, value: Any) -> Document:
    """Add an item at the end of a list; the list is made where there is none.

    Parameters
    ----------
    document : Document
    path : tuple of str or int
        Way to the list.
    value : str, number, bool, list or mapping

    Raises
    ------
    SpecError
        If the changed text cannot be read.
    """
    items = _node(document, path) if path in document.places.values else None
    if not isinstance(items, list) or not items:
        return with_value(document, path, [value])
    if _inin_one_line(document, path, itself=True):
        return _into_flow(document, path, in_one_line(value))
    first = document.places.values[(*path, 0)][0]
    dash = document.places.text.rfind("-", 0, first)
    indent = " " * _column(document, dash)
    return _new_line(document, _span(document, path)[1], _block([value], indent))


def without(document: Document, path: KeyPath) -> Document:
    """Take out a key or an item of a list, with the remark on its line; what held it alone goes too.

    Parameters
    ----------
    document : Document
    path : tuple of str or int

    Raises
    ------
    KeyError
        If it is not there, or nothing else is.
    SpecError
        If the changed text cannot be read.
    """
    if path not in document.places.values:
        raise KeyError(path)
    parent = path[:-1]
    if len(_node(document, parent)) == 1:
        return without(document, parent)
    start, end = _span(document, path)
    start = document.places.keys.get(path, (start, end))[0]
    text = document.places.text
    if _inin_one_line(document, path):
        before = re.search(r",\s*$", text[:start])
        after = re.match(r"\s*,\s*", text[end:])
        if after:
            return _replaced(document, start, end + after.end(), "")
        return _replaced(document, before.start() if before else start, end, "")
    line_start = text.rfind("\n", 0, start) + 1
    line_end = text.find("\n", end)
    if isinstance(path[-1], str) and text[line_start:start].strip():
        # The first key of an item stands behind its dash: the next key takes that place.
        others = (span[0] for key, span in document.places.keys.items() if key[:-1] == parent)
        following = min(other for other in others if other > end)
        return _replaced(document, start, following, "")
    return _replaced(document, line_start, len(text) if line_end < 0 else line_end + 1, "")


def _replaced(document: Document, start: int, end: int, new: str) -> Document:
    places = document.places
    text = places.text[:start] + new + places.text[end:]
    return replace(load_document(text, places.file, first_line=places.first_line), path=document.path)


def _new_line(document: Document, end: int, line: str) -> Document:
    """Put a line below the one that an offset stands in."""
    text = document.places.text
    line_end = text.find("\n", end)
    if line_end < 0:
        return _replaced(document, len(text), len(text), f"\n{line}\n")
    return _replaced(document, line_end, line_end, f"\n{line}")


def _into_flow(document: Document, path: KeyPath, new: str) -> Document:
    """Put an entry before the closing bracket of a map or list written in one line."""
    start, end = _span(document, path)
    inner = document.places.text[start + 1 : end - 1].rstrip()
    comma = "" if not inner or inner.endswith(",") else ", "
    return _replaced(document, start + 1 + len(inner), end - 1, f"{comma}{new}")


def _column(document: Document, offset: int) -> int:
    return offset - document.places.text.rfind("\n", 0, offset) - 1


def _node(document: Document, path: KeyPath) -> Any:
    node: Any = document.data
    for part in path:
        node = node[part]
    return node


def _inin_one_line(document: Document, path: KeyPath, *, itself: bool = False) -> bool:
    """Tell whether a value stands between brackets, or is a bracket `itself`."""
    text, values = document.places.text, document.places.values
    longest = len(path) + 1 if itself else len(path)
    return any(
        isinstance(_node(document, path[:length]), (dict, list)) and text[values[path[:length]][0]] in "{["
        for length in range(1, longest)
    )


def _span(document: Document, path: KeyPath) -> Span:
    """Find the first character of a value and the one past its last: a bracket included, comments not."""
    start, end = document.places.values[path]
    node = _node(document, path)
    if not isinstance(node, (dict, list)):
        return start, end
    if path and document.places.text[start] in "{[":
        return start, end + 1
    children = [(*path, key) for key in (node if isinstance(node, dict) else range(len(node)))]
    return start, max((_span(document, child)[1] for child in children), default=start)


def in_one_line(value: Any) -> str:
    """Write a value in one line."""
    if isinstance(value, Mapping):
        return (
            "{" + ", ".join(f"{in_one_line(key)}: {in_one_line(item)}" for key, item in value.items()) + "}"
        )
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(in_one_line(item) for item in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return quoted(value) if isinstance(value, str) else repr(value)


def _block(value: Any, indent: str) -> str:
    """Write a map or a list in lines, what is inside it in one line each; else the value itself."""
    if isinstance(value, Mapping):
        return "\n".join(f"{indent}{in_one_line(key)}: {in_one_line(item)}" for key, item in value.items())
    if isinstance(value, (list, tuple)):
        return "\n".join(f"{indent}- {_block(item, indent + '  ').lstrip()}" for item in value)
    return in_one_line(value)
