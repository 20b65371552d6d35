"""Other names for cars, jobs and suppliers: always the same for the same key, and back only with the original list.

A name is replaced by a keyed hash of it.  The key is kept in the workspace, for its owner alone, and never leaves it:
with the same key a car has the same other name next month, so that shared sets can be joined; without it nobody can
try out stock numbers until one fits.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import os
import secrets
from functools import cached_property
from pathlib import Path

from pipelines.errors import WorkspaceError

_KEY_BYTES = 32
_NAME_BYTES = 10  # 80 bits: among a million names, two equal ones once in 2,400,000,000,000
_MOST_WEEKS = 52


class Pseudonyms:
    """Gives other names under one key."""

    def __init__(self, key: bytes) -> None:
        """Use a key of 32 bytes."""
        self._key = key

    def name(self, kind: str, *words: str) -> str:
        """Return the other name of something.

        Args:
            kind: One letter that the other name begins with, so that a car and a job of one name differ.
            words: What names it; a job is named by its car and its own number.

        Returns:
            For example ``V-7QK2...``: 16 letters and digits behind the kind.

        Source:
            HMAC with SHA-256 (RFC 2104, FIPS 198-1), cut to 80 bits, in the alphabet of RFC 4648.
        """
        return f"{kind}-{base64.b32encode(self._hash(kind, *words)[:_NAME_BYTES]).decode()}"

    def weeks_back(self, vehicle: str) -> int:
        """Return by how many weeks, 1 to 52, the days of one car are moved back."""
        return 1 + int.from_bytes(self._hash("weeks", vehicle)[:8]) % _MOST_WEEKS

    @cached_property
    def mark(self) -> str:
        """Eight hex digits that are the same for sets made with the same key; they tell nothing of the key."""
        return self._hash("mark")[:4].hex()

    def _hash(self, *words: str) -> bytes:
        return hmac.digest(self._key, "\x1f".join(words).encode(), hashlib.sha256)


def kept_key(path: Path, *, new: bool = False) -> bytes:
    """Return the workspace's key; make one where there is none.

    Args:
        path: The file that holds it, readable for its owner alone.
        new: Put a new key in the place of the old one, which is gone then.

    Raises:
        WorkspaceError: The file is not a key, or others may read it.
    """
    if path.exists() and not new:
        key = path.read_bytes()
        if len(key) != _KEY_BYTES:
            raise WorkspaceError(
                f"{path} is no key of {_KEY_BYTES} bytes; 'knockon share --new-key' makes another. Nothing was shared."
            )
        if os.name != "nt" and path.stat().st_mode & 0o077:
            raise WorkspaceError(
                f"{path} can be read by others; 'chmod 600' it, or make another with 'knockon share --new-key'. "
                "Nothing was shared."
            )
        return key
    key = secrets.token_bytes(_KEY_BYTES)
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_name(path.name + ".new")
    fresh.unlink(missing_ok=True)
    with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as handle:
        handle.write(key)
    fresh.replace(path)
    return key
