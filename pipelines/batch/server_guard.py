"""Who may speak to the engine's server: the run that started it, and whoever can read the key that it keeps.

The server listens on 127.0.0.1 alone, but every page that a browser shows and every user of the computer can send
requests there.  So each request, of whatever path and kind, has to carry the key of this start.  No browser has any
business here: what says where it comes from, or calls the server by another name (one that was rebound to this
computer), is refused whatever key it carries.

Source: RFC 7617 (Basic authentication); Fetch Metadata Request Headers, W3C working draft.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Message, Receive, Send], Awaitable[None]]

HOST = "127.0.0.1"
PROOF_PATH = "/proof"
NONCE_HEADER = "X-Nonce"
_BROWSERS = ("origin", "sec-fetch-site", "sec-fetch-mode")


def new_key() -> str:
    """Draw the key of one start: a name and a password that nobody can guess, as basic authentication wants it."""
    return f"knockon:{secrets.token_urlsafe(32)}"


def basic(key: str) -> str:
    """Return the header ``Authorization`` that carries a key."""
    return "Basic " + base64.b64encode(key.encode()).decode()


def proof(key: str, nonce: str, side: str) -> str:
    """Return what only somebody who knows the key can make of ``nonce``, and what does not tell the key.

    Args:
        key: The key.
        nonce: Drawn anew for each question.
        side: ``asks`` or ``answers``, so that nobody can give a question back as its answer.
    """
    return hmac.new(key.encode(), f"{side} {nonce}".encode("utf-8", "surrogatepass"), hashlib.sha256).hexdigest()


class ServerGuard:
    """Lets a request through to the engine's server, or refuses it before any of it is read."""

    def __init__(self, app: App, key: str, port: int) -> None:
        """Guard an application.

        Args:
            app: What answers the requests that may pass.
            key: The key of this start.
            port: The port that the server listens on.
        """
        self._app, self._key = app, key
        self._host = f"{HOST}:{port}"

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        """Answer one request or web socket."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        headers = _headers(scope)
        if headers.get("host") != [self._host] or any(name in headers for name in _BROWSERS):
            await _answer(scope, send, 403, "This server answers no browser and no other name.")
            return
        given = headers.get("authorization", [])
        if scope["type"] == "http" and scope["path"] == PROOF_PATH:
            nonce = "".join(headers.get(NONCE_HEADER.lower(), []))
            if _same(given, proof(self._key, nonce, "asks")):
                await _answer(scope, send, 200, proof(self._key, nonce, "answers"))
                return
        if not _same(given, basic(self._key)):
            await _answer(scope, send, 401, "This server wants its key.")
            return
        await self._app(scope, receive, send)


def _same(given: list[str], wanted: str) -> bool:
    """Compare in a time that does not tell where they differ."""
    return len(given) == 1 and hmac.compare_digest(given[0].encode(), wanted.encode())


def _headers(scope: Message) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, value in scope["headers"]:
        found.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return found


async def _answer(scope: Message, send: Send, status: int, said: str) -> None:
    if scope["type"] != "http":
        await send({"type": "websocket.close", "code": 1008})  # before it was accepted: the server says 403
        return
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"cache-control", b"no-store")]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": said.encode()})
