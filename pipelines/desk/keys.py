"""The secret of one start of the desk, and the three things that are made of it.

The address that opens the desk carries a key that is good once; it is exchanged for a cookie, and every form carries a
token.  All three are keyed digests of the one secret, so nobody who knows one of them can make another: not a page of
another site, not another user of the computer who reads the browser's command line after the address was used.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets

_BYTES = 32


class Keys:
    """The secret of one start."""

    def __init__(self, secret: str | None = None) -> None:
        """Draw a secret.

        Args:
            secret: The one of a desk that is open already, to make an address for it.
        """
        self._secret = (secret or secrets.token_hex(_BYTES)).encode()
        self._used: set[str] = set()

    @property
    def secret(self) -> str:
        """The secret itself, for a file that its owner alone can read."""
        return self._secret.decode()

    @property
    def cookie(self) -> str:
        """What the cookie holds."""
        return self._digest("cookie")

    @property
    def token(self) -> str:
        """What every form carries."""
        return self._digest("form")

    def entry(self) -> str:
        """Return a key for an address that opens the desk; it is good once."""
        nonce = secrets.token_hex(16)
        return f"{nonce}.{self._digest('entry ' + nonce)}"

    def enters(self, key: str) -> bool:
        """Tell whether a key opens the desk; from now on it does not any more."""
        nonce, _, digest = key.partition(".")
        good = same(digest, self._digest("entry " + nonce)) and nonce not in self._used
        if good:
            self._used.add(nonce)
        return good

    def _digest(self, purpose: str) -> str:
        return hmac.new(self._secret, purpose.encode("utf-8", "surrogatepass"), hashlib.sha256).hexdigest()


def same(given: str, wanted: str) -> bool:
    """Compare two texts in a time that does not tell where they differ."""
    return hmac.compare_digest(given.encode("utf-8", "surrogatepass"), wanted.encode("utf-8", "surrogatepass"))
