"""The command that opens the page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["serve"]


def serve(
    folder: Annotated[Path, typer.Argument(help="Folder of your files.", file_okay=False)] = Path(),
    port: Annotated[int, typer.Option(min=0, max=65_535, help="Port on this machine; 0 for any.")] = 8462,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Only print the address.")] = False,
) -> None:
    """Open your files in a browser on this machine, to try things out."""
    from formulate.page.serving import serve_folder

    def tell(address: str) -> None:
        typer.echo(f"Open {address}")
        typer.echo("Only this machine can. Stop with Ctrl-C.", err=True)

    serve_folder(folder, port=port, tell=tell, open_browser=not no_browser)
