"""Starting the page: one address on this machine, printed and opened."""

from __future__ import annotations

import socket
from collections.abc import Callable
from pathlib import Path

from formulate.errors import FormulateError
from formulate.page.folder import Folder
from formulate.page.guard import KEY, new_key

__all__ = ["serve_folder"]

HERE = "127.0.0.1"


def serve_folder(root: Path, *, port: int, tell: Callable[[str], None], open_browser: bool) -> None:
    """Serve the page of a folder until it is stopped.

    Parameters
    ----------
    root : Path
    port : int
        0 for any that is free.
    tell : callable
        Given the address to open.
    open_browser : bool
        Whether to open it here too.

    Raises
    ------
    FormulateError
        If the folder is none, the port is taken, or the libraries for the page are not installed.
    """
    folder = Folder(root)
    try:
        import uvicorn

        from formulate.page.app import make_app
    except ImportError as error:
        raise FormulateError(
            f"The page needs more libraries ({error.name}). Install them with: pip install '.[page]'"
        ) from None
    listening = _listen(port)
    port = listening.getsockname()[1]
    key = new_key()
    app = make_app(folder, key=key, hosts=frozenset({f"{HERE}:{port}", f"localhost:{port}"}))
    address = f"http://{HERE}:{port}/?{KEY}={key}"
    tell(address)
    if open_browser:
        import webbrowser

        webbrowser.open(address)
    config = uvicorn.Config(app, log_level="warning", access_log=False, server_header=False, lifespan="off")
    with listening:
        uvicorn.Server(config).run(sockets=[listening])


def _listen(port: int) -> socket.socket:
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((HERE, port))
    except (OSError, OverflowError) as error:
        listening.close()
        reason = getattr(error, "strerror", None) or "no such port"
        raise FormulateError(
            f"Port {port} cannot be used ({reason}). Name another with --port, or 0 for any that is free."
        ) from None
    return listening
