"""Text with marks for a page in it, as notes are kept: the marks around a word are no part of it.

Backticks around a code, and stars around the cell of a table or the first words of a line in a list.
"""

from __future__ import annotations

import re

_CODE = re.compile(r"`([^`\n]{1,80})`")
_STRONG_FIRST = re.compile(r"^(\s*[-*+•]\s+)(\*\*|__)(?=\S)([^*_\n]+)\2", re.MULTILINE)
_STRONG = re.compile(r"(?<=\|)(\s*)(\*\*|__)(?=\S)([^*_|\n]+)\2(?=\s*(?:\||$))", re.MULTILINE)


def without_marks(text: str) -> str:
    """Return a text without the marks around its words; line ends stay where they are."""
    plain = _CODE.sub(r"\1", text) if "`" in text else text
    if "**" not in plain and "__" not in plain:
        return plain
    return _STRONG.sub(r"\1\3", _STRONG_FIRST.sub(r"\1\3", plain))
