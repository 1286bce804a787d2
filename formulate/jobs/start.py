"""`init`: a folder to start from."""

from __future__ import annotations

from pathlib import Path

from formulate.errors import FormulateError
from formulate.spec.folder import specs_folder

__all__ = ["start_folder"]


def start_folder(folder: Path, *, force: bool) -> tuple[Path, ...]:
    """Write a shelf and a first bottle file to change.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    force : bool
        Replace files that are there already.

    Returns
    -------
    tuple of Path
        The files written, in the order to read them.

    Raises
    ------
    FormulateError
        If a file is there already; nothing is written then.
    """
    texts = {
        folder / item.relative_to(specs_folder() / "start"): item.read_text(encoding="utf-8")
        for item in sorted((specs_folder() / "start").rglob("*.yaml"))
    }
    there = [path for path in texts if path.exists()]
    if there and not force:
        names = ", ".join(path.as_posix() for path in there)
        raise FormulateError(f"{names}: there already. Nothing was written; add --force to replace.")
    for path, text in texts.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return tuple(texts)
