"""The desk's forms: short, plain text in UTF-8, without marks that a page could take for its own."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator
from urllib.parse import parse_qsl

from analysis.texts import desk_text
from pipelines.errors import BatchError

MOST_BYTES = 256 * 1024
"""Bytes of a form: some thousand times what one holds."""
_MOST_FIELDS = 2_000
_LONGEST = 4_000  # letters of one answer
_MARKUP = re.compile(r"<[A-Za-z/!?]|[\x00-\x08\x0b\x0c\x0e-\x1f]")


class FormError(BatchError):
    """A form is not what the desk's own page sends."""


class Form:
    """The fields of one form; a name may stand several times."""

    def __init__(self, fields: list[tuple[str, str]]) -> None:
        """Keep fields, spaces around their values taken off."""
        self._fields = [(name, value.strip()) for name, value in fields]

    def __getitem__(self, name: str) -> str:
        """Return the last value of a field; blank where it is not there."""
        return next((value for key, value in reversed(self._fields) if key == name), "")

    def all(self, name: str) -> list[str]:
        """Return all values of a field."""
        return [value for key, value in self._fields if key == name]

    def under(self, start: str) -> dict[str, str]:
        """Return the fields whose names begin with something, by what follows it."""
        return {key.removeprefix(start): value for key, value in self._fields if key.startswith(start)}


async def read_form(kind: str, content: AsyncIterator[bytes]) -> Form:
    """Read a form.

    Args:
        kind: The content type.
        content: Its bytes, piece by piece.

    Raises:
        FormError: It is no plain form, too large, not UTF-8, or a value holds markup.
    """
    if kind.partition(";")[0].strip().lower() != "application/x-www-form-urlencoded":
        raise FormError(desk_text.NO_FORM)
    body = b""
    async for piece in content:
        body += piece
        if len(body) > MOST_BYTES:
            raise FormError(desk_text.FORM_TOO_LARGE)
    try:
        fields = parse_qsl(body.decode("ascii"), keep_blank_values=True, max_num_fields=_MOST_FIELDS, errors="strict")
    except ValueError as error:
        raise FormError(desk_text.NO_FORM) from error
    if any(_MARKUP.search(value) or _MARKUP.search(name) or len(value) > _LONGEST for name, value in fields):
        raise FormError(desk_text.MARKUP)
    return Form(fields)
