"""`init`: a folder to start from."""

from __future__ import annotations

from pathlib import Path

from formulate.errors import FormulateError
from formulate.files.disk import is_there, read_plain, write_all
from formulate.files.standards import specs_folder

__all__ = ["start_folder"]


def start_folder(folder: Path, *, force: bool) -> tuple[Path, ...]:
    """Write a shelf and a first bottle file to change.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    force : bool
        Replace files that are there already, as long as nobody changed them.

    Returns
    -------
    tuple of Path
        The files written, in the order to read them.

    Raises
    ------
    FormulateError
        If a file is there already, or the folder cannot be made; nothing is written then.
    """
    texts = {
        folder / item.relative_to(specs_folder() / "start"): item.read_text(encoding="utf-8")
        for item in sorted((specs_folder() / "start").rglob("*.yaml"))
    }
    there = [path for path in texts if is_there(path)]
    if there and not force:
        names = ", ".join(path.as_posix() for path in there)
        raise FormulateError(f"{names}: there already. Nothing was written; add --force to replace.")
    changed = ", ".join(path.as_posix() for path in there if not _as_written(path, texts[path]))
    if changed:
        raise FormulateError(
            f"{changed}: not as this command writes it, and --force does not replace what somebody changed. "
            "Nothing was written; move it away, or name another folder."
        )
    for parent in dict.fromkeys(path.parent for path in texts):
        try:
            parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise FormulateError(
                f"{parent.as_posix()}: this folder cannot be made ({error.strerror}). Nothing was written."
            ) from error
    write_all(texts, replace=force)
    return tuple(texts)


def _as_written(path: Path, text: str) -> bool:
    """Tell whether a file holds what this command writes, and nothing of anybody's."""
    try:
        return read_plain(path, len(text.encode())) == text.encode()
    except OSError:
        return False
