"""Where the data that travels with the package lies."""

from __future__ import annotations

from pathlib import Path

__all__ = ["specs_folder"]


def specs_folder() -> Path:
    """Return the folder of ingredients and starting files: in the wheel, or beside it in a checkout."""
    package = Path(__file__).resolve().parents[1]
    packaged = package / "specs"
    return packaged if packaged.is_dir() else package.parent / "specs"
