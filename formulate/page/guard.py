"""What may come in: this machine's own browser with the key of this start, and not too much at once."""

from __future__ import annotations

import base64
import hashlib
import hmac
import re
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

__all__ = ["COOKIE", "KEY", "LARGEST_BODY_BYTES", "Guard", "new_key", "only_styles_of"]

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE, KEY = "formulate_key", "key"
LARGEST_BODY_BYTES = 1_000_000
LONGEST_QUERY_BYTES = 8_000
READING = frozenset({"GET", "HEAD"})
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}


def only_styles_of(html: str) -> str:
    """Write the policy of a page that carries its own styles: these, by fingerprint, and nothing else."""
    found = re.findall(r"<style>(.*?)</style>", html, re.DOTALL)
    prints = (base64.b64encode(hashlib.sha256(style.encode()).digest()).decode() for style in found)
    allowed = " ".join(f"'sha256-{one}'" for one in prints) or "'none'"
    return f"default-src 'none'; style-src {allowed}; base-uri 'none'; frame-ancestors 'none'"


def new_key() -> str:
    """Make the key that one start is opened with."""
    return secrets.token_urlsafe(24)


class Guard:
    """Lets through only requests to this server's own address, from its own pages, with its key.

    Parameters
    ----------
    app : ASGI application
    key : str
        Given once in the address that is opened; a cookie carries it from then on.
    hosts : frozenset of str
        Names with port that the server answers to. A page elsewhere that had its name point here is refused.
    """

    def __init__(self, app: App, *, key: str, hosts: frozenset[str]) -> None:
        self.app, self.key, self.hosts = app, key, hosts
        self.origins = frozenset(f"http://{host}" for host in hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or refuse it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        headers = [(name.lower(), value) for name, value in scope["headers"]]
        refused = self._refusal(scope, headers)
        if refused is not None:
            await _answer(send, *refused)
            return
        if given := parse_qs(scope["query_string"].decode("latin-1")).get(KEY):
            if not hmac.compare_digest(given[0].encode(), self.key.encode()):
                await _answer(send, 403, "This address is of an earlier start. Use the one printed last.")
                return
            cookie = f"{COOKIE}={self.key}; HttpOnly; SameSite=Strict; Path=/"
            await _answer(send, 303, "", [(b"location", b"/"), (b"set-cookie", cookie.encode())])
            return
        if not self._knows(headers):
            await _answer(send, 403, "Open the address that was printed when the page was started.")
            return
        await self.app(scope, _counted(receive), _with_headers(send))

    def _refusal(self, scope: Scope, headers: list[tuple[bytes, bytes]]) -> tuple[int, str] | None:
        hosts = [value.decode("latin-1") for name, value in headers if name == b"host"]
        if len(hosts) != 1 or hosts[0].lower() not in self.hosts:
            return 421, "This is not the address of this page."
        if len(scope["query_string"]) > LONGEST_QUERY_BYTES:
            return 414, "This address is too long."
        origins = [value.decode("latin-1") for name, value in headers if name == b"origin"]
        site = [value for name, value in headers if name == b"sec-fetch-site"]
        if origins and (len(origins) > 1 or origins[0] not in self.origins):
            return 403, "Another page cannot ask here."
        if scope["method"] not in READING and not origins:
            return 403, "Another page cannot ask here."
        if site and site[0] not in (b"same-origin", b"none"):
            return 403, "Another page cannot ask here."
        lengths = [value for name, value in headers if name == b"content-length"]
        if lengths and (not lengths[0].isdigit() or int(lengths[0]) > LARGEST_BODY_BYTES):
            return 413, "This is too much at once."
        return None

    def _knows(self, headers: list[tuple[bytes, bytes]]) -> bool:
        for name, value in headers:
            if name != b"cookie":
                continue
            try:
                cookie = SimpleCookie(value.decode("latin-1")).get(COOKIE)
            except CookieError:
                continue
            if cookie is not None and hmac.compare_digest(cookie.value.encode(), self.key.encode()):
                return True
        return False


def _counted(receive: Receive) -> Receive:
    """Read on while it is not too much: a length that was never told counts too."""
    left = LARGEST_BODY_BYTES

    async def counted() -> Message:
        nonlocal left
        message = await receive()
        left -= len(message.get("body", b""))
        return message if left >= 0 else {"type": "http.disconnect"}

    return counted


def _with_headers(send: Send) -> Send:
    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            own = {name.lower() for name, _ in message["headers"]}
            added = [(name.lower().encode(), value.encode()) for name, value in HEADERS.items()]
            message["headers"] = [*message["headers"], *(one for one in added if one[0] not in own)]
        await send(message)

    return with_headers


async def _answer(
    send: Send, status: int, text: str, headers: list[tuple[bytes, bytes]] | None = None
) -> None:
    body = text.encode()
    kept = [(b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(body)).encode())]
    await _with_headers(send)(
        {"type": "http.response.start", "status": status, "headers": [*kept, *(headers or [])]}
    )
    await send({"type": "http.response.body", "body": body})
