"""A page over a copy of the examples, asked without a network."""

from __future__ import annotations

import shutil
import warnings
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT

from formulate.page.folder import Folder

HOST, KEY = "127.0.0.1:8462", "key-of-this-start"
OWN = {"origin": f"http://{HOST}"}
BOTTLE = "bottles/lemon-leaf-liqueur.yaml"


def opened_page(folder: Path) -> Any:
    """Copy the examples and open a client that has followed the printed address."""
    shutil.copytree(ROOT / "examples", folder, dirs_exist_ok=True)
    client = client_of(folder)
    assert client.get("/", params={"key": KEY}).status_code == 200
    return client


def client_of(folder: Path) -> Any:
    """Open a client that knows no key yet."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        testclient = pytest.importorskip("fastapi.testclient", reason="the page's libraries are not here")
    from formulate.page.app import make_app

    app = make_app(Folder(folder), key=KEY, hosts=frozenset({HOST}))
    return testclient.TestClient(app, base_url=f"http://{HOST}", headers=OWN)
