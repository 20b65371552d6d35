"""Who may speak to the desk: its own page in the browser of whoever started it, and nobody else.

The desk listens on 127.0.0.1 alone, but every page that a browser shows and every user of the computer can send
requests there.  So each request is held against the desk's own address (``Host``: a name that was rebound to this
computer is another), against where it comes from (``Origin`` and ``Sec-Fetch-Site``), against the cookie of this start,
and, where it changes something, against the form's token.  What fails is refused before any of it is read.

Source: Fetch Metadata Request Headers, W3C working draft; RFC 6265bis, section 4.1.2.7 (SameSite); OWASP Cross-Site
Request Forgery Prevention Cheat Sheet (synchroniser token, origin check).
"""

from __future__ import annotations

from collections.abc import Iterable
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from analysis.texts import desk_text
from pipelines.desk.keys import Keys, same

HOST = "127.0.0.1"
TOKEN_HEADER = "x-desk-token"  # noqa: S105 - a header's name
METHODS = ("GET", "HEAD", "POST")
_OWN_SITE = ("same-origin", "none")
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; frame-src 'self'; frame-ancestors 'none'; base-uri 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    # Not no-referrer: a browser would then send forms with the origin "null".
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
    "permissions-policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}


class Guard:
    """Lets a request through to the desk, or refuses it."""

    def __init__(self, app: ASGIApp, keys: Keys, port: int) -> None:
        """Guard an application.

        Args:
            app: What answers the requests that may pass.
            keys: The secret of this start.
            port: The port that the desk listens on.
        """
        self._app, self._keys = app, keys
        self._host = f"{HOST}:{port}"
        # Cookies know no ports: two desks on one computer must not take each other's.
        self.cookie_name = f"knockon_desk_{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no web sockets here; the server then closes the connection
        headers = _headers(scope)
        why = self._foreign(scope["method"], headers)
        if why is not None:
            await _answer(send, 403 if scope["method"] in METHODS else 405, why)
            return
        key = parse_qs(scope["query_string"].decode("latin-1")).get("key")
        if scope["path"] == "/" and scope["method"] == "GET" and key:
            await self._enter(send, key[-1])
            return
        if not same(_cookie(headers, self.cookie_name), self._keys.cookie):
            await _answer(send, 403, desk_text.NO_KEY)
            return
        if scope["method"] == "POST" and not self._from_own_page(headers):
            await _answer(send, 403, desk_text.FOREIGN)
            return
        await self._app(scope, receive, _hardened(send))

    def _foreign(self, method: str, headers: dict[str, list[str]]) -> str | None:
        """Return why a request is another site's, or None."""
        if method not in METHODS:
            return desk_text.NO_SUCH_METHOD
        if headers.get("host") != [self._host]:
            return desk_text.WRONG_HOST
        if headers.get("origin", [self._origin]) != [self._origin]:
            return desk_text.FOREIGN
        if any(site not in _OWN_SITE for site in headers.get("sec-fetch-site", [])):
            return desk_text.FOREIGN
        return None

    @property
    def _origin(self) -> str:
        return f"http://{self._host}"

    def _from_own_page(self, headers: dict[str, list[str]]) -> bool:
        """Tell whether what changes something says that it comes from our own page; a browser always says it."""
        return headers.get("origin") == [self._origin] or headers.get("sec-fetch-site") == ["same-origin"]

    async def _enter(self, send: Send, key: str) -> None:
        """Exchange the key of an address for the cookie, and take it out of the address."""
        if not self._keys.enters(key):
            await _answer(send, 403, desk_text.NO_KEY)
            return
        cookie = f"{self.cookie_name}={self._keys.cookie}; Path=/; HttpOnly; SameSite=Strict"
        await _answer(send, 303, "", [("location", "/"), ("set-cookie", cookie)])


def _headers(scope: Scope) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, value in scope["headers"]:
        found.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return found


def _cookie(headers: dict[str, list[str]], name: str) -> str:
    for line in headers.get("cookie", []):
        try:
            jar = SimpleCookie(line)
        except CookieError:
            continue
        if name in jar:
            return jar[name].value
    return ""


async def _answer(send: Send, status: int, said: str, more: Iterable[tuple[str, str]] = ()) -> None:
    headers = {**HEADERS, "content-type": "text/plain; charset=utf-8", **dict(more)}
    raw = [(name.encode("latin-1"), value.encode("latin-1")) for name, value in headers.items()]
    await send({"type": "http.response.start", "status": status, "headers": raw})
    await send({"type": "http.response.body", "body": said.encode()})


def _hardened(send: Send) -> Send:
    """Add the headers that every answer carries; an answer that has one of its own keeps it."""

    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            there = {name.lower() for name, _ in message["headers"]}
            more = [(name.encode(), value.encode()) for name, value in HEADERS.items() if name.encode() not in there]
            message = {**message, "headers": [*message["headers"], *more]}
        await send(message)

    return sent
