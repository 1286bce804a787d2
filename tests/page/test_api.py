"""What other programs may ask of the page, by its own OpenAPI description: nothing brings it down."""

from __future__ import annotations

import shutil
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT
from hypothesis import HealthCheck, given, settings

from formulate.page.folder import Folder
from formulate.page.guard import COOKIE
from page.site import HOST, KEY, OWN

schemathesis = pytest.importorskip("schemathesis", reason="schemathesis is not here")
make_app = pytest.importorskip("formulate.page.app", reason="the page's libraries are not here").make_app
WHO = {"host": HOST, "cookie": f"{COOKIE}={KEY}", **OWN}


CALLS = 200


@pytest.mark.slow
def test_no_call_brings_it_down(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "examples", tmp_path, dirs_exist_ok=True)
    app = make_app(Folder(tmp_path), key=KEY, hosts=frozenset({HOST}))
    schema = schemathesis.openapi.from_asgi("/openapi.json", app, headers=WHO)
    answered: Counter[tuple[str, int]] = Counter()
    for found in schema.get_all_operations():
        operation = found.ok()

        @settings(max_examples=CALLS, deadline=None, suppress_health_check=list(HealthCheck))
        @given(case=operation.as_strategy())
        def calls(case: Any) -> None:
            reply = case.call(headers=WHO)
            answered[case.operation.path, reply.status_code] += 1
            assert reply.status_code < 500
            assert reply.status_code != 403

        calls()
    assert {path for path, _ in answered} == {"/api/files", "/api/solve"}
    assert answered["/api/files", 200] >= 1
