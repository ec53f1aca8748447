"""The lock on the door: who may ask the server, and what an answer may do in a browser.

* **Host** (RFC 9110, 7.2) must be one that the server was opened with: a name that another site
  lets point here (DNS rebinding) is refused.
* **Secret**: 256 bits, new at every start, handed over in the address that is printed; a cookie
  keeps it, HttpOnly and SameSite=Strict (RFC 6265bis), named after the port, as cookies know none.
* **Origin** (RFC 6454), and ``Sec-Fetch-Site`` where the browser sends it, must be the server's own
  for whatever changes something.
* **Size**: a body larger than `MOST_BYTES` is refused before it is read.
* **Policy** (W3C, Content Security Policy Level 3): only what comes from here is run, shown or
  asked; nothing may frame a page.

A pure ASGI layer around the application: nothing gets past it.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any, Final
from urllib.parse import parse_qsl, urlencode

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

#: The largest body that is read.
MOST_BYTES: Final = 1_000_000
#: The parameter of the address that hands the secret over.
KEY: Final = "key"
SAFE: Final = ("GET", "HEAD")
POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; font-src 'self'; manifest-src 'self'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'"
)
HEADERS: Final = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), geolocation=(), microphone=(), payment=()"),
    (b"x-frame-options", b"DENY"),
)


def new_secret() -> str:
    """Return a secret of 256 bits that can stand in an address."""
    return secrets.token_urlsafe(32)


class Guard:
    """An application behind the lock.

    Args:
        app: The application.
        secret: What opens it.
        hosts: The values of Host that are answered, such as ``127.0.0.1:8080``.
        most_bytes: The largest body.
    """

    def __init__(
        self, app: App, secret: str, hosts: tuple[str, ...], most_bytes: int = MOST_BYTES
    ) -> None:
        self.app = app
        self.secret = secret
        self.hosts = hosts
        self.most_bytes = most_bytes
        port = hosts[0].rpartition(":")[2]
        self.cookie = f"workshop-{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers: dict[str, str] = {}
        for raw, value in scope["headers"]:
            headers[raw.decode("latin-1").lower()] = value.decode("latin-1")
        hosts = [v.decode("latin-1") for k, v in scope["headers"] if k.lower() == b"host"]
        if len(hosts) != 1 or hosts[0] not in self.hosts:
            await refuse(send, 421, "This address is not the workshop's.")
            return
        query = parse_qsl(scope.get("query_string", b"").decode("latin-1"), keep_blank_values=True)
        given = [value for name, value in query if name == KEY]
        if given and scope["method"] == "GET":
            await self._hand_over(scope, send, given[0], query)
            return
        if not self._knows(headers.get("cookie", "")):
            await refuse(
                send, 403, "Open the address that `motifsearch workshop` printed when it started."
            )
            return
        if scope["method"] not in SAFE and not self._own(headers):
            await refuse(send, 403, "This was asked by another page.")
            return
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > self.most_bytes:
            await refuse(send, 413, "That is too large.")
            return
        await self._answer(scope, receive, send)

    def _knows(self, cookies: str) -> bool:
        try:
            one = SimpleCookie(cookies).get(self.cookie)
        except CookieError:
            return False
        return one is not None and _same(one.value, self.secret)

    def _own(self, headers: dict[str, str]) -> bool:
        """Return whether a page of ours asks: by Origin, and by Sec-Fetch-Site where it is sent."""
        origin = headers.get("origin")
        if origin is None or origin not in {f"http://{host}" for host in self.hosts}:
            return False
        return headers.get("sec-fetch-site", "same-origin") == "same-origin"

    async def _hand_over(
        self, scope: Scope, send: Send, given: str, query: list[tuple[str, str]]
    ) -> None:
        if not _same(given, self.secret):
            await refuse(send, 403, "This address is of an earlier start of the workshop.")
            return
        rest = urlencode([(name, value) for name, value in query if name != KEY])
        path = "/" + scope["path"].lstrip("/")
        to = _escaped(path + (f"?{rest}" if rest else ""))
        # A page that goes on by itself, not a redirect: SameSite=Strict leaves the cookie out of a
        # redirect that another program or page began.
        body = (
            f'<!doctype html><html lang="en"><title>Workshop</title>'
            f'<meta http-equiv="refresh" content="0;url={to}">'
            f'<p><a href="{to}">To the workshop</a></p></html>'
        )
        cookie = f"{self.cookie}={self.secret}; Path=/; HttpOnly; SameSite=Strict"
        await _plain(
            send,
            200,
            body.encode(),
            b"text/html; charset=utf-8",
            ((b"set-cookie", cookie.encode()),),
        )

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        size = 0

        async def counted() -> Message:
            nonlocal size
            message = await receive()
            size += len(message.get("body", b""))
            # What is too large is never handed on: the application sees a caller who went away.
            return {"type": "http.disconnect"} if size > self.most_bytes else message

        async def headed(message: Message) -> None:
            if message["type"] == "http.response.start":
                names = {k.lower() for k, _ in message.get("headers", [])}
                more = [(k, v) for k, v in HEADERS if k not in names]
                if b"cache-control" not in names:
                    more.append((b"cache-control", b"no-store"))
                status = 413 if size > self.most_bytes else message["status"]
                headers = [*message.get("headers", []), *more]
                message = {**message, "status": status, "headers": headers}
            await send(message)

        await self.app(scope, counted, headed)


def _same(one: str, other: str) -> bool:
    return hmac.compare_digest(one.encode("utf-8", "replace"), other.encode())


def _escaped(text: str) -> str:
    for old, new in (("&", "&amp;"), ('"', "&quot;"), ("<", "&lt;"), (">", "&gt;"), ("'", "&#39;")):
        text = text.replace(old, new)
    return text


async def refuse(send: Send, status: int, why: str) -> None:
    """Answer with a status and one sentence."""
    await _plain(send, status, f"{why}\n".encode(), b"text/plain; charset=utf-8", ())


async def _plain(
    send: Send, status: int, body: bytes, kind: bytes, more: tuple[tuple[bytes, bytes], ...]
) -> None:
    headers = [
        (b"content-type", kind),
        (b"content-length", str(len(body)).encode()),
        (b"cache-control", b"no-store"),
        *more,
        *HEADERS,
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
