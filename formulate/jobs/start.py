"""`init`: a folder to start from."""

from __future__ import annotations

from pathlib import Path

from formulate.errors import FormulateError
from formulate.files.standards import specs_folder
from formulate.jobs.files import write_whole

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
        If a file is there already, or the folder cannot be made; nothing is written then.
    """
    texts = {
        folder / item.relative_to(specs_folder() / "start"): item.read_text(encoding="utf-8")
        for item in sorted((specs_folder() / "start").rglob("*.yaml"))
    }
    there = [path for path in texts if path.exists()]
    if there and not force:
        names = ", ".join(path.as_posix() for path in there)
        raise FormulateError(f"{names}: there already. Nothing was written; add --force to replace.")
    for parent in dict.fromkeys(path.parent for path in texts):
        try:
            parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise FormulateError(
                f"{parent.as_posix()}: this folder cannot be made ({error.strerror}). Nothing was written."
            ) from error
    for path, text in texts.items():
        write_whole(path, text)
    return tuple(texts)
