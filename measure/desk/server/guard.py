"""Who may talk to the desk: a pure ASGI gate before every route and every WebSocket."""

import secrets
import time
from collections.abc import Awaitable, Callable, Mapping, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_HEADERS: tuple[tuple[bytes, bytes], ...] = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
)
_REFUSALS = {
    401: "Open the desk with the link that cardspan printed; this address alone gives no access.",
    403: "This request came from another page and is refused.",
    421: "This is not the name under which the desk is served; use the link that cardspan printed.",
}


def new_token() -> str:
    """Return an unguessable token for a link."""
    return secrets.token_urlsafe(16)


class Guard:
    """Lets a request through only by the right name, from our own page, with the token's cookie.

    Parameters
    ----------
    app : ASGI application
        What is guarded.
    port : int
        Port served; part of the cookie's name, since cookies know no ports.
    tokens : mapping of str to str
        ``host:port`` as the browser sends it, with the token that opens the desk under that name.
    style_hash : str, optional
        Of the styles within the page, the only ones that are let in there.

    Notes
    -----
    The checks, in this order: Host in the list (421), which stops DNS rebinding; Origin, where sent, is that
    very host (403); Sec-Fetch-Site, where sent, same-origin or none (403), since another port of this
    computer counts as the same site for cookies; the token's cookie (401). ``/open?t=TOKEN`` sets the cookie.
    """

    def __init__(self, app: App, port: int, tokens: Mapping[str, str], *, style_hash: str = "") -> None:
        self._app = app
        styles = f"style-src 'self' '{style_hash}'" if style_hash else "style-src 'self'"
        policy = POLICY.replace("style-src 'self'", styles)
        self._headers = ((b"content-security-policy", policy.encode()), *_HEADERS[1:])
        self._cookie = f"desk_{port}"
        self.tokens = dict(tokens)
        self.last_seen_s = dict.fromkeys(tokens, time.monotonic())

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check one connection and pass it on or refuse it."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        headers = {key.decode("latin-1"): value.decode("latin-1") for key, value in scope["headers"]}
        host = headers.get("host", "").lower()
        status = self._refusal(host, headers)
        if status is None and scope["type"] == "http" and scope["path"] == "/open":
            await self._open(host, scope, send)
            return
        if status is None and not self._has_cookie(host, headers):
            status = 401
        if status is not None:
            await _refuse(status, scope, receive, send)
            return
        self.last_seen_s[host] = time.monotonic()
        await self._app(scope, receive, _with_headers(send, self._headers))

    def _refusal(self, host: str, headers: Mapping[str, str]) -> int | None:
        if host not in self.tokens:
            return 421
        origin = headers.get("origin")
        if origin is not None and origin.lower() != f"http://{host}":
            return 403
        if headers.get("sec-fetch-site", "none") not in ("same-origin", "none"):
            return 403
        return None

    def _has_cookie(self, host: str, headers: Mapping[str, str]) -> bool:
        try:
            cookie = SimpleCookie(headers.get("cookie", "")).get(self._cookie)
        except CookieError:
            return False
        return cookie is not None and secrets.compare_digest(
            cookie.value.encode(), self.tokens[host].encode()
        )

    async def _open(self, host: str, scope: Scope, send: Send) -> None:
        given = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("t", [""])[0]
        if not secrets.compare_digest(given.encode(), self.tokens[host].encode()):
            await _answer(send, 401, _REFUSALS[401])
            return
        cookie = f"{self._cookie}={self.tokens[host]}; HttpOnly; SameSite=Strict; Path=/"
        extra = ((b"location", b"/"), (b"set-cookie", cookie.encode()), (b"cache-control", b"no-store"))
        await _answer(send, 303, "", extra)


def _with_headers(send: Send, headers: tuple[tuple[bytes, bytes], ...]) -> Send:
    names = {name for name, _ in headers}

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            own = [(key, value) for key, value in message.get("headers", []) if key not in names]
            message["headers"] = [*own, *headers]
        await send(message)

    return sending


async def _refuse(status: int, scope: Scope, receive: Receive, send: Send) -> None:
    if scope["type"] == "websocket":
        # Closing before accepting makes the server answer 403 to the handshake.
        await receive()
        await send({"type": "websocket.close", "code": 4000 + status % 1000})
        return
    await _answer(send, status, _REFUSALS[status])


async def _answer(send: Send, status: int, text: str, extra: tuple[tuple[bytes, bytes], ...] = ()) -> None:
    headers = [(b"content-type", b"text/plain; charset=utf-8"), *extra, *_HEADERS]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": text.encode()})
