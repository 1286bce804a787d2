"""Who may ask: this machine's own browser, with the key, for files of the folder. Every trick is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from formulate.page.guard import COOKIE, LARGEST_BODY_BYTES
from page.site import BOTTLE, HOST, KEY, OWN, client_of, opened_page


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Any:
    return opened_page(tmp_path_factory.mktemp("bar"))


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        f"evil.example:{HOST.split(':')[1]}",
        "127.0.0.1",
        "127.0.0.1:80",
        f"{HOST}.evil.example",
        "",
        "0.0.0.0:8462",
        "[::1]:8462",
    ],
)
def test_another_name_is_refused(page: Any, host: str) -> None:
    assert page.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": f"https://{HOST}"},
        {"origin": f"http://{HOST}.evil.example"},
        {"origin": "http://127.0.0.1"},
        {"origin": ""},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_another_page_is_refused(page: Any, headers: dict[str, str], method: str) -> None:
    reply = page.request(method, "/bottle" if method == "POST" else "/", headers=headers)
    assert reply.status_code == 403
    assert "another page" in reply.text.lower()


def test_what_changes_something_needs_its_origin(page: Any) -> None:
    request = page.build_request("POST", "/bottle", data={"file": BOTTLE})
    del request.headers["origin"]
    assert page.send(request).status_code == 403


@pytest.mark.parametrize("key", ["wrong", KEY + "x", KEY[:-1], "é", ""])
def test_another_key_is_refused(tmp_path: Path, key: str) -> None:
    stranger = client_of(tmp_path)
    assert stranger.get("/").status_code == 403
    assert stranger.get("/", params={"key": key}).status_code == 403
    assert stranger.get("/", headers={"cookie": f"{COOKIE}={KEY}x"}).status_code == 403
    assert stranger.get("/static/page.js").status_code == 403


@pytest.mark.parametrize(
    "name",
    [
        "../secret.yaml",
        "bottles/../../secret.yaml",
        "bottles/..%2f..%2fsecret.yaml",
        "/etc/passwd",
        "/etc/hosts.yaml",
        "..\\secret.yaml",
        "bottles//lemon-leaf-liqueur.yaml",
        ".hidden.yaml",
        ".git/config.yaml",
        "out.yaml",
        "away/secret.yaml",
        "bottles/lemon-leaf-liqueur.yaml\0.txt",
        "README.md",
        "bottles",
        "loop.yaml",
        "a" * 201 + ".yaml",
        "",
    ],
)
def test_no_name_leads_out_of_the_folder(tmp_path: Path, name: str) -> None:
    page = opened_page(tmp_path / "bar")
    (tmp_path / "secret.yaml").write_text("name: secret\n")
    (tmp_path / "bar" / ".hidden.yaml").write_text("name: secret\n")
    (tmp_path / "bar" / "out.yaml").symlink_to(tmp_path / "secret.yaml")
    (tmp_path / "bar" / "away").symlink_to(tmp_path)
    (tmp_path / "bar" / "loop.yaml").symlink_to(tmp_path / "bar" / "loop.yaml")
    for reply in (
        page.get("/bottle", params={"file": name}),
        page.post("/bottle", data={"file": name, "do": "save", "version": ""}),
        page.post("/api/solve", params={"file": name}),
    ):
        assert reply.status_code in (404, 422), reply.text
        assert "secret" not in reply.text
    listed = page.get("/api/files").json()["files"]
    assert BOTTLE in listed
    assert not {"out.yaml", "away/secret.yaml", ".hidden.yaml", "loop.yaml"} & set(listed)
    assert (tmp_path / "secret.yaml").read_text() == "name: secret\n"


def test_too_much_is_refused_told_or_untold(page: Any) -> None:
    body = b"file=" + b"a" * LARGEST_BODY_BYTES
    assert page.post("/bottle", content=body).status_code == 413

    def pieces() -> Any:
        yield from (body[start : start + 65_536] for start in range(0, len(body), 65_536))

    reply = page.post(
        "/bottle/answer", content=pieces(), headers={"content-type": "application/x-www-form-urlencoded"}
    )
    assert reply.status_code in (400, 413)


def test_nothing_comes_from_elsewhere_and_no_script_stands_in_a_page(page: Any) -> None:
    for path in ("/", f"/bottle?file={BOTTLE}", "/static/page.js", "/nothing"):
        reply = page.get(path)
        policy = reply.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "http" not in policy
        assert reply.headers["x-content-type-options"] == "nosniff"
        assert "<script>" not in reply.text
        assert " on" not in "".join(part.split(">")[0] for part in reply.text.split("<button")[1:])
        assert "style=" not in reply.text
    assert page.get("/docs").status_code == 404
    assert OWN["origin"] not in page.get("/").headers.get("access-control-allow-origin", "")
